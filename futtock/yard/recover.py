"""Making a damaged journal good: all that can be read, and its dated copies, in a new file."""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from futtock.errors import Unreadable, Unwritable
from futtock.findings import Finding
from futtock.yard import kinds, schema
from futtock.yard.carrying import event_of
from futtock.yard.copies import Copies
from futtock.yard.doors import Broken, SqliteDoor, in_turn
from futtock.yard.event import Event, seal
from futtock.yard.rows import values_of

_SMALLEST_RECORD = 150
_BESIDE = ("", "-wal", "-shm")


def recover(
    path: Path, copies: Copies | None, reason: str, *, force: bool = False
) -> tuple[Finding, ...]:
    """Make a new journal of all that can be read, and keep the damaged one beside it.

    Parameters
    ----------
    path
        The damaged SQLite file, or where one was.
    copies
        Its dated copies.
    reason
        What was found wrong.
    force
        Do it even where the file is sound.

    Returns
    -------
    tuple of Finding
        What was found, how many records were got back, and which numbers are missing.
    """
    with in_turn(path.parent / ".futtock" / "journal.lock"):
        if not force and _sound(path, copies):  # another program has made it good meanwhile
            return ()
        found = {e.seq: e for e in _salvaged(path) if seal(e) == e.hash}
        from_file = len(found)
        for record in copies.lines() if copies else ():
            with contextlib.suppress(ValueError):
                event = event_of(record)
                if event.seq not in found and seal(event) == event.hash:
                    found[event.seq] = event
        if not found and path.exists() and path.stat().st_size:
            said = f"'{path.name}': {reason}; nothing can be read of it, and there are no copies."
            finding = kinds.NOT_A_JOURNAL.found(said, file=path.name, read=reason)
            raise Unreadable(said, [finding])
        kept = _put_aside(path)
        _write(path, [found[seq] for seq in sorted(found)])
    last = max(found, default=0)
    missing = [seq for seq in range(1, last + 1) if seq not in found]
    said = (
        f"'{path.name}': {reason}. {len(found)} records were got back, {from_file} from it and "
        f"{len(found) - from_file} from the dated copies; "
    )
    said += f"lost: {_numbers(missing)}." if missing else "none before the last of them is lost."
    if kept:
        said += f" The damaged file is kept as '{kept}'."
    return (kinds.RECOVERED.found(said, file=path.name, read=reason),)


def _sound(path: Path, copies: Copies | None) -> bool:
    """Whether the file is a whole journal that is not behind its copies."""
    if not path.exists():
        return False
    copied = copies.last() if copies else 0
    try:
        with contextlib.closing(SqliteDoor(path)) as door:
            if door.version() != schema.HEAD or door.rows("PRAGMA quick_check") != [("ok",)]:
                return False
            rows = door.rows(f"SELECT {schema.COLUMNS} FROM events ORDER BY seq")
        events = [_event_of_row(row) for row in rows]
    except (Broken, Unwritable, ValueError, TypeError):
        return False
    whole = all(seal(e) == e.hash for e in events)
    return whole and copied <= (events[-1].seq if events else 0)


def _salvaged(path: Path) -> Iterator[Event]:
    """Records that can still be read: all in one go, or else one by one round what is damaged."""
    if not path.exists():
        return
    question = f"SELECT {schema.COLUMNS} FROM events"
    with (
        tempfile.TemporaryDirectory(prefix="futtock-") as work,
        contextlib.suppress(sqlite3.Error),
        contextlib.closing(sqlite3.connect(_padded(path, Path(work)))) as db,
    ):
        try:
            rows = db.execute(f"{question} ORDER BY seq").fetchall()
        except sqlite3.Error:
            rows = []
            # No record takes less than so many bytes, so there cannot be more of them.
            for seq in range(1, 1 + path.stat().st_size // _SMALLEST_RECORD):
                with contextlib.suppress(sqlite3.Error):
                    rows += db.execute(f"{question} WHERE seq = ?", (seq,)).fetchall()
        for row in rows:
            with contextlib.suppress(ValueError, TypeError, KeyError):
                yield _event_of_row(row)


def _padded(path: Path, work: Path) -> Path:
    """A copy to read from, made as long as its header says, so that what is there can be read."""
    copy = work / path.name
    for end in ("", "-wal"):
        with contextlib.suppress(OSError):
            shutil.copyfile(path.with_name(path.name + end), copy.with_name(copy.name + end))
    with contextlib.suppress(OSError), copy.open("r+b") as file:
        head = file.read(100)
        page = int.from_bytes(head[16:18], "big")
        size = (65_536 if page == 1 else page) * int.from_bytes(head[28:32], "big")
        if copy.stat().st_size < size < 2**36:
            file.truncate(size)
    return copy


def _event_of_row(row: tuple[Any, ...]) -> Event:
    import json

    record = dict(zip(schema.COLUMNS.split(", "), row, strict=True))
    body = json.loads(record["body"])
    return event_of({**record, "when": record["at"], "body": body})


def _put_aside(path: Path) -> str | None:
    if not path.exists() or not path.stat().st_size:
        for end in _BESIDE:
            path.with_name(path.name + end).unlink(missing_ok=True)
        return None
    number = 1
    while (aside := path.with_name(f"{path.stem}-damaged-{number}{path.suffix}")).exists():
        number += 1
    for end in reversed(_BESIDE):
        with contextlib.suppress(FileNotFoundError):
            os.rename(path.with_name(path.name + end), aside.with_name(aside.name + end))
    return aside.name


def _write(path: Path, events: list[Event]) -> None:
    """A new journal, whole and synced under another name before it takes the old one's."""
    part = path.with_name(path.name + ".part")
    for end in _BESIDE:
        part.with_name(part.name + end).unlink(missing_ok=True)
    try:
        with contextlib.closing(sqlite3.connect(part, isolation_level=None)) as db:
            db.execute("PRAGMA journal_mode=WAL")
            db.execute("PRAGMA synchronous=FULL")
            db.execute("BEGIN IMMEDIATE")
            for statement in schema.SQLITE:
                db.execute(statement)
            db.executemany(schema.INSERT, [values_of(e) for e in events])
            db.execute("COMMIT")
        os.replace(part, path)
    except (sqlite3.Error, OSError) as error:
        part.unlink(missing_ok=True)
        finding = kinds.CANNOT_WRITE.found(f"The journal could not be made good: {error}.")
        raise Unwritable(f"'{path}' could not be made good: {error}.", [finding]) from None


def _numbers(missing: list[int]) -> str:
    runs: list[list[int]] = []
    for seq in missing:
        if runs and runs[-1][1] == seq - 1:
            runs[-1][1] = seq
        else:
            runs.append([seq, seq])
    return ", ".join(f"{a}" if a == b else f"{a} to {b}" for a, b in runs[:10])
