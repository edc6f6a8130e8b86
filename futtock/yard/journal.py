"""The journal: entries are added, never changed; each is durable before it is acknowledged."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from futtock.errors import Misused, Unreadable, Unwritable
from futtock.findings import Finding
from futtock.yard import kinds, schema
from futtock.yard.carrying import Imported, read_lines, same
from futtock.yard.copies import Copies, line
from futtock.yard.doors import Broken, Door, ServerDoor, SqliteDoor
from futtock.yard.event import FIRST, Entry, Event, corrected, made
from futtock.yard.proof import proven
from futtock.yard.rows import event_of_row, values_of
from futtock.yard.rules import judge
from futtock.yard.stages import CORRECTION
from futtock.yard.state import YardState, effective, fold

FILE = "journal.sqlite"
COPIES = "journal-copies"
_CHUNK = 20_000
_EVERY = 2**62


@dataclass(frozen=True, slots=True)
class Entered:
    """An entry that is kept: its record, whether it was there before, and what was noticed."""

    event: Event
    known: bool
    findings: tuple[Finding, ...] = ()


def place_of(folder: Path) -> Path | str:
    """Where a vessel's journal is: the address that ``[yard] journal`` states, else a file.

    An address is the server's, as ``postgresql+psycopg://HOST/NAME``; a password belongs into
    the server's own password file, not here.
    """
    import tomllib

    with contextlib.suppress(OSError, ValueError):
        stated = tomllib.loads((folder / "vessel.toml").read_text("utf-8")).get("yard")
        if isinstance(stated, dict) and isinstance(stated.get("journal"), str):
            return str(stated["journal"])
    return folder / FILE


class Journal:
    """An open journal. One is for one thread; any number of programs may have it open at once.

    Parameters
    ----------
    place
        The SQLite file (its folder must be there), or a server's address.
    copies
        Folder of the dated copies; None: beside a file, none for a server.
    create
        Make a new journal where there is none.

    Raises
    ------
    Unreadable, Unwritable
        Where it cannot be opened; a damaged file is made good from its copies first, and
        :attr:`findings` then say what was found.
    """

    def __init__(self, place: Path | str, copies: Path | None = None, create: bool = True) -> None:
        self.place = place
        self.findings: tuple[Finding, ...] = ()
        self._turning = False
        beside = place.parent / COPIES if isinstance(place, Path) else None
        folder = copies or beside
        self._copies = Copies(folder) if folder is not None else None
        self._door: Door = self._opened(create)

    def __enter__(self) -> Journal:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the journal."""
        self._door.close()

    # --- entering ---------------------------------------------------------------------------

    def enter(
        self, entry: Entry, now: datetime, *, known_marks: Iterable[str] | None = None
    ) -> Entered:
        """Keep one entry.

        It is on disk when this returns. Sending the same id again changes nothing. What breaks a
        rule is kept too, and said; of two entries that cannot both hold the first counts.

        Parameters
        ----------
        entry
            What was done.
        now
            The clock's time, with its zone.
        known_marks
            Marks of the vessel's timbers, where they are known.

        Raises
        ------
        Misused
            Where the entry cannot be meant, or its id has been used for another.
        Unwritable
            Where it could not be put on disk; then nothing was changed.
        """
        marks = None if known_marks is None else tuple(known_marks)
        return self._add([made(entry, now)], marks)[0]

    def enter_all(self, entries: Sequence[Entry], now: datetime) -> tuple[Entered, ...]:
        """Keep several entries at once: all of them, or none."""
        return tuple(self._add([made(e, now) for e in entries], None))

    def undo(
        self, who: str, now: datetime, *, id: str = "", because: str = "", new_id: str = ""
    ) -> Entered:
        """Undo an entry by a correcting one: that of ``id``, else the last that ``who`` made.

        Undoing a correction (by its id) makes what it corrected count again.
        """
        event = self.event(id) if id else self._last_of(who)
        if event is None:
            what = f"no entry has the id '{id}'" if id else f"'{who}' has nothing to undo"
            raise Misused(f"Nothing was undone: {what}.")
        return self._add([corrected(event, who, now, because=because, id=new_id)], None)[0]

    def amend(
        self, id: str, put: Mapping[str, Any], who: str, now: datetime, *, because: str = ""
    ) -> Entered:
        """Put right the time, the name or particulars of an entry by a correcting one."""
        event = self.event(id)
        if event is None:
            raise Misused(f"Nothing was amended: no entry has the id '{id}'.")
        return self._add([corrected(event, who, now, put=put, because=because)], None)[0]

    def _add(self, events: Sequence[Event], marks: tuple[str, ...] | None) -> list[Entered]:
        try:
            return self._add_once(events, marks)
        except Broken as error:
            self._reopened(error)
            return self._add_once(events, marks)

    def _add_once(self, events: Sequence[Event], marks: tuple[str, ...] | None) -> list[Entered]:
        entered: list[Entered] = []
        new: list[Event] = []
        copied: list[Finding] = []
        with self._turn() as then:
            before, previous = self._head()
            seq = before
            for event in events:
                there = self.event(event.id)
                if there is not None:
                    if (there.mark, there.stage, there.who, dict(there.body)) != (
                        event.mark, event.stage, event.who, dict(event.body),
                    ):  # fmt: skip
                        raise Misused(f"The id '{event.id}' belongs to another entry.")
                    entered.append(Entered(there, True))
                    continue
                seq += 1
                kept = event.sealed(seq, previous)
                found = judge(self._near(kept), kept, marks)
                self._door.run(schema.INSERT, [values_of(kept)])
                previous = kept.hash
                new.append(kept)
                entered.append(Entered(kept, False, found))
            behind = self._copies.last() if self._copies and new else before
            missed = self.events(behind, before) if behind < before else []
            then.append(lambda: copied.extend(self._copy([*missed, *new])))
        if copied:
            entered[-1] = Entered(
                entered[-1].event, entered[-1].known, (*entered[-1].findings, *copied)
            )
        return entered

    def _copy(self, events: Sequence[Event]) -> tuple[Finding, ...]:
        """Copies are a second line of defence: where they fail the entry is kept all the same."""
        if self._copies is None or not events:
            return ()
        try:
            self._copies.add(events)
        except OSError as error:
            said = f"The dated copy could not be written: {error.strerror}."
            return (kinds.COPY_BEHIND.found(said, file=str(self._copies.folder)),)
        return ()

    def _near(self, event: Event) -> list[Event]:
        """Records that have to do with a new one: of its frame, its slab or its mark."""
        values = {"mark": event.mark, "frame": event.frame, "slab": event.slab}
        return [event_of_row(row) for row in self._ask(schema.NEAR, values)]

    def _last_of(self, who: str) -> Event | None:
        mine = [event_of_row(r) for r in self._ask(schema.BY_WHO, {"who": who.strip()})]
        for event in mine:
            if event.stage == CORRECTION:
                continue
            if any(e.id == event.id for e in effective(self._near(event))[0]):
                return event
        return None

    # --- reading ----------------------------------------------------------------------------

    def event(self, id: str) -> Event | None:
        """The record with this id, or None."""
        found = self._ask(schema.BY_ID, {"id": id})
        return event_of_row(found[0]) if found else None

    def events(self, after: int = 0, upto: int | None = None) -> list[Event]:
        """Records in their order, those after one number up to another."""
        values = {"after": after, "upto": _EVERY if upto is None else upto}
        return [event_of_row(row) for row in self._ask(schema.FROM_TO, values)]

    def last(self) -> int:
        """Number of the last record; 0 where there is none."""
        return self._head()[0]

    def state(self, *, upto: int | None = None, at: datetime | None = None) -> YardState:
        """The state of the yard, now or as it was; see :func:`futtock.yard.state.fold`."""
        return fold(self.events(0, upto), at=at)

    def _ask(
        self, statement: str, values: Mapping[str, Any] | None = None
    ) -> list[tuple[Any, ...]]:
        """All rows of a question, from the journal made good where it is found damaged."""
        try:
            return self._door.rows(statement, values)
        except Broken as error:
            if self._turning:
                raise
            self._reopened(error)
            return self._door.rows(statement, values)

    def _reopened(self, error: Broken) -> None:
        if not isinstance(self.place, Path):
            raise Unreadable(f"The journal's database is damaged: {error}.") from None
        self._door.close()
        self._door = self._recovered(self.place, str(error))

    @contextlib.contextmanager
    def _turn(self) -> Iterator[list[Callable[[], None]]]:
        """A writer's turn, in which nothing is made good (it is tried again from the start)."""
        self._turning = True
        try:
            with self._door.turn() as then:
                yield then
        finally:
            self._turning = False

    def _head(self) -> tuple[int, str]:
        found = self._ask(schema.LAST)
        return (int(found[0][0]), str(found[0][1])) if found else (0, FIRST)

    def _each(self) -> Iterator[Event]:
        """Every record, read in pieces."""
        after = 0
        while many := self.events(after, after + _CHUNK) or self._beyond_gap(after):
            yield from many
            after = many[-1].seq

    def _beyond_gap(self, after: int) -> list[Event]:
        last = self.last()
        return self.events(after, last)[:_CHUNK] if last > after else []

    # --- carrying over ----------------------------------------------------------------------

    def lines(self) -> Iterator[str]:
        """The whole journal as JSON lines, each with its newline."""
        for event in self._each():
            yield line(event.as_json())

    def take_in(self, lines: Iterable[str], file: str | None = None) -> Imported:
        """Add the records of exported lines; those already there change nothing.

        A line that is no record, or was changed after it was sealed, is told of; then nothing of
        the whole is added. Records keep their place in the chain where it is free, and are
        chained on at the end where the journal has gone on by itself.
        """
        findings: list[Finding] = []
        events: list[Event] = []
        for found in read_lines(lines, file):
            (findings if isinstance(found, Finding) else events).append(found)  # type: ignore[arg-type]
        if findings:
            return Imported(0, 0, tuple(findings))
        try:
            return self._take_in(events, file)
        except Broken as error:
            self._reopened(error)
            return self._take_in(events, file)

    def _take_in(self, events: Sequence[Event], file: str | None) -> Imported:
        new: list[Event] = []
        known = 0
        findings: list[Finding] = []
        with self._turn() as then:
            there = {e.id: e for e in self._each()}
            chain = {0: FIRST} | {e.seq: e.hash for e in there.values()}
            seq, previous = self._head()
            for event in events:
                mine = there.get(event.id)
                if mine is not None:
                    known += 1
                    if not same(mine, event):
                        said = f"Record {event.seq} has the id of record {mine.seq} and differs."
                        findings.append(kinds.OTHER_CONTENT.found(said, file=file, read=event.id))
                    continue
                if event.seq in chain or chain.get(event.seq - 1) != event.previous:
                    event = event.sealed(seq + 1, previous)
                if event.seq == seq + 1:
                    seq, previous = event.seq, event.hash
                there[event.id] = event
                chain[event.seq] = event.hash
                new.append(event)
            if findings:
                return Imported(0, known, tuple(findings))
            if new:
                self._door.run(schema.INSERT, [values_of(e) for e in new])
            then.append(lambda: findings.extend(self._copy(new)))
        return Imported(len(new), known, tuple(findings))

    def verify(self) -> tuple[Finding, ...]:
        """What is wrong with the chain of records, and between it and the dated copies.

        Empty where every record stands as it was written (notes about the clock apart).
        """
        file = self.place.name if isinstance(self.place, Path) else "journal"
        found = tuple(proven(self._each(), file, self._copies))
        return (*self.findings, *found)

    def make_good(self) -> tuple[Finding, ...]:
        """Put records that do not match their seal, or are missing, back from the dated copies.

        The file as it was is kept beside the new one. What was found is told; nothing is done
        to a journal on a server, whose own backups are for that.
        """
        if not isinstance(self.place, Path):
            raise Misused("A journal on a server is made good from the server's own backups.")
        from futtock.yard.recover import recover

        self._door.close()
        try:
            return recover(self.place, self._copies, "it was asked to be made good", force=True)
        finally:
            self._door = SqliteDoor(self.place, schema.SQLITE)

    # --- opening ----------------------------------------------------------------------------

    def _opened(self, create: bool) -> Door:
        if isinstance(self.place, str):
            server = ServerDoor(self.place)
            self._brought_up(server)
            return server
        path = self.place
        there = path.exists() and path.stat().st_size > 0
        if not there and self._copies and self._copies.files():
            return self._recovered(
                path, "the file is empty" if path.exists() else "the file is gone"
            )
        if not there and not create:
            raise Unreadable(f"There is no journal at '{path}'.")
        try:
            door = SqliteDoor(path, schema.SQLITE)
            self._brought_up(door)
            copied = self._copies.last() if self._copies else 0
            found = door.rows(schema.LAST)
            if copied > (int(found[0][0]) if found else 0):
                door.close()
                raise Broken("its last records are gone")
            return door
        except Broken as error:
            return self._recovered(path, str(error))

    def _brought_up(self, door: Door) -> None:
        """Bring an older schema up to this one's; the migrations are only looked at then."""
        version = door.version()
        if version == schema.HEAD:
            return
        if version is not None and version not in schema.VERSIONS:
            door.close()
            said = f"Its version is {version}; this Futtock reads up to {schema.HEAD}."
            raise Unreadable(said, [kinds.NEWER_JOURNAL.found(said, read=version)])
        from futtock.yard.migrate import bring_up

        bring_up(self.place)

    def _recovered(self, path: Path, reason: str) -> Door:
        from futtock.yard.recover import recover

        self.findings = (*self.findings, *recover(path, self._copies, reason))
        return SqliteDoor(path, schema.SQLITE)


__all__ = ["COPIES", "FILE", "Entered", "Journal", "Unwritable", "place_of"]
