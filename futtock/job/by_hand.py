"""What a person adds to a photograph from files: corrections, and wane widths by tape."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from futtock.errors import Misused, Unreadable
from futtock.findings import Finding, Severity

if TYPE_CHECKING:
    from futtock.stock.photo.by_hand import ByHand
    from futtock.stock.tape import TapeRecord
    from futtock.stock.wane import Wane
    from futtock.vessel.papers import Papers

_MOST_BYTES = 20_000_000


def corrections_from(file: str) -> ByHand:
    """The corrections of a file; :class:`Unreadable` with its finding where there are none."""
    from futtock.stock.kinds import CORRECTIONS_FILE
    from futtock.stock.photo.by_hand import by_hand_from_text

    path = Path(file)
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise OSError(0, f"more than {_MOST_BYTES // 1_000_000} MB")
        text = path.read_text("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else "it is no text"
        words = f"'{file}' cannot be opened: {why}."
        raise Unreadable(words, [CORRECTIONS_FILE.found(words, file=path.name)]) from None
    return by_hand_from_text(text, path.name)


def wane_from(papers: Papers, file: str, name: str, unit: str) -> tuple[Wane, tuple[Finding, ...]]:
    """The wane of the slab of that name in a tape record, and what was noticed.

    A record of one slab need not name it. What else it holds is the tape's own, and passed over.

    Raises
    ------
    Unreadable
        With findings where a cell cannot be read, or it holds no wane of this slab.
    """
    from futtock.stock.tape import read_tape_rows
    from futtock.vessel.grid import GridRow, read_grid

    rows = read_grid(papers, file)
    if rows is None:
        raise Unreadable(f"'{file}' cannot be read.", papers.findings)
    if not any(row.text(0).strip().lower() == "slab" for row in rows):
        rows = (GridRow(rows[0].line, ("slab", name)), *rows)
    records, found = read_tape_rows(rows, file, unit)
    return wane_in(records, found, name), (*papers.findings, *found)


def wane_in(records: tuple[TapeRecord, ...], found: tuple[Finding, ...], name: str) -> Wane:
    """The wane of the slab of that name among tape records; :class:`Unreadable` where none."""
    from futtock.stock.wane import wane_of

    if any(f.severity is Severity.FAULT for f in found):
        raise Unreadable("The wane cannot be read as it stands.", found)
    mine = [r for r in records if r.name == name] or (list(records) if len(records) == 1 else [])
    if not mine:
        names = ", ".join(r.name for r in records)
        raise Misused(f"There is no slab {name} in the record of wane: it holds {names}.")
    return wane_of(mine[0])
