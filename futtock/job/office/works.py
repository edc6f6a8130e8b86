"""What the journal says of the work, read again only where something was entered."""

from __future__ import annotations

import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from futtock.job.whole import Job
    from futtock.yard import Event, YardState

Stamp = tuple[tuple[int, int, int], ...]
_lock = threading.Lock()
_read: dict[Path, tuple[int, YardState, Stamp]] = {}
_SETTLED_NS = 100_000_000
"""A file that was written less long ago may be written again without its time being another."""


def yard_state(folder: Path) -> YardState:
    """The state of the yard; an empty one where there is no journal yet."""
    from futtock.yard import Journal, YardState, place_of

    place = place_of(folder)
    if _none_yet(place):
        return YardState()
    with _lock:
        stamp = _stamp(place) if isinstance(place, Path) else ()
        known = _read.get(folder)
        if known is not None and stamp and known[2] == stamp:
            return known[1]
        with Journal(place, create=False) as journal:
            last = journal.last()
            state = known[1] if known is not None and known[0] == last else journal.state()
        _read.clear()
        _read[folder] = (last, state, stamp)
        return state


def _stamp(journal: Path) -> Stamp:
    """What tells that a journal's files were not written since; empty where that is not sure."""
    found = []
    for path in (journal, journal.with_name(journal.name + "-wal")):
        try:
            seen = path.stat()
        except OSError:
            continue
        found.append((seen.st_ino, seen.st_size, seen.st_mtime_ns))
    if not found or time.time_ns() - max(f[2] for f in found) < _SETTLED_NS:
        return ()
    return tuple(found)


def _none_yet(place: Path | str) -> bool:
    """Whether no journal is there: no file, or one that is being made by its first entry."""
    from futtock.yard.journal import COPIES

    if not isinstance(place, Path):
        return False
    try:
        size = place.stat().st_size
    except OSError:
        return True
    return size == 0 and not any((place.parent / COPIES).glob("*"))


def frame_states(job: Job, state: YardState) -> dict[int, str]:
    """Each frame's state as the framing plan draws it: the furthest that all her timbers are."""
    laid = laid_on(job)
    out: dict[int, str] = {}
    for frame in job.framing.frames:
        number, marks = str(frame.number), [t.mark for t in frame.timbers]
        if state.has(number, "standing"):
            said = "standing"
        elif state.has(number, "treenailed"):
            said = "fastened"
        elif marks and all(state.has(m, "bevelled") for m in marks):
            said = "sawn"
        elif marks and all(m in laid or state.has(m, "laid-out") for m in marks):
            said = "laid out"
        elif marks and all(state.has(m, "moulded") for m in marks):
            said = "moulded"
        else:
            said = "drawn"
        out[frame.number] = said
    return out


def laid_on(job: Job) -> dict[str, str]:
    """The slab of each timber that has a place in the accepted layout; empty where it is none."""
    from futtock.errors import FuttockError
    from futtock.job.accepted import read_accepted
    from futtock.job.pile import slab_of

    try:
        return slab_of(read_accepted(job.folder).placements)
    except FuttockError:
        return {}


def laid_here(job: Job) -> dict[str, str]:
    """:func:`laid_on`, of the timbers that her frames have now."""
    hers = {t.mark for f in job.framing.frames for t in f.timbers}
    return {mark: slab for mark, slab in laid_on(job).items() if mark in hers}


def events(folder: Path) -> list[Event]:
    """Every record of the journal, in order."""
    from futtock.yard import Journal, place_of

    place = place_of(folder)
    if _none_yet(place):
        return []
    with Journal(place, create=False) as journal:
        return journal.events()
