"""Prints: what was printed is kept by its revision, so that a stale pattern is known.

A print carries its revision in its code. The moulds as they were printed lie in ``prints/`` in the
vessel folder, a file a revision, and as they were when a layout was accepted in ``prints/laid/``;
they are a record, not a cache.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from futtock.errors import Misused
from futtock.job.accepted import read_accepted
from futtock.job.answer import Answer
from futtock.job.keep import Keep
from futtock.job.whole import Job
from futtock.progress import Report

if TYPE_CHECKING:
    from futtock.findings import Finding
    from futtock.moulds.mould import Mould
    from futtock.moulds.stale import Stale

PRINTS = Path("prints")
LAID = PRINTS / "laid"
_CUT = "roughed"  # the first stage at which a timber's own wood is cut


def stretch(text: str) -> tuple[float, float]:
    """What a check line measures over its true length, across and up: ``0.997,1.002``, or one.

    Raises
    ------
    Misused
        Where it is no such pair, or no printer stretches so.
    """
    try:
        found = [float(part) for part in text.split(",")]
    except ValueError:
        found = []
    if len(found) not in (1, 2) or not all(0.95 <= f <= 1.05 for f in found):
        raise Misused(
            f"--stretch '{text}': expected one or two figures from 0.95 to 1.05, as 0.997,1.002."
        )
    return (found[0], found[-1])


def record(job: Job) -> None:
    """Keep the moulds of this revision as printed."""
    Keep(job.folder / PRINTS, at_most=None).put(job.revision, job.moulds)


def record_laid(job: Job) -> None:
    """Keep the moulds of this revision as those of the accepted layout."""
    Keep(job.folder / LAID, at_most=None).put(job.revision, job.moulds)


def printed(job: Job) -> dict[str, tuple[Mould, ...]]:
    """Moulds by the revision under which they were printed, oldest first."""
    return {path.stem: moulds for path, moulds in _kept(job.folder / PRINTS)}


def _kept(folder: Path) -> list[tuple[Path, tuple[Mould, ...]]]:
    """The records of a folder, oldest first."""
    keep = Keep(folder, at_most=None)
    paths = sorted(folder.glob("*.npz"), key=lambda p: p.stat().st_mtime)
    return [(p, moulds) for p in paths if isinstance(moulds := keep.get(p.stem), tuple)]


def stale(folder: str, report: Report) -> Answer:
    """Every timber printed, laid out or sawn that is now wrong, by how many mm and degrees."""
    from futtock.moulds.stale import stale_patterns

    job = Job(folder, report)
    laid = _laid_out(job)
    newest: dict[str, Mould] = {}
    state: dict[str, str] = {}
    records = [*_kept(job.folder / PRINTS), *_kept(job.folder / LAID)]
    records.sort(key=lambda r: r[0].stat().st_mtime)
    for path, moulds in records:
        layout = path.parent.name == LAID.name
        for mould in moulds:
            if layout and mould.mark not in laid:
                continue
            newest[mould.mark] = mould
            state[mould.mark] = "laid out" if layout or mould.mark in laid else "printed"
    for mark in _sawn(job, newest):
        state[mark] = "sawn"
    found = stale_patterns(newest.values(), job.moulds)
    return _told(found, state)


def _laid_out(job: Job) -> set[str]:
    """Marks of the accepted layout."""
    return {p.mark for p in read_accepted(job.folder).placements}


def _sawn(job: Job, marks: Iterable[str]) -> set[str]:
    """Of the timbers those that are cut from their slabs, roughly or to the line."""
    from futtock.yard import Journal, place_of

    place = place_of(job.folder)
    if isinstance(place, Path) and not place.exists():
        return set()
    with Journal(place, create=False) as journal:
        state = journal.state()
    return {m for m in marks if state.has(m, _CUT)}


def look_up(folder: str, report: Report, code: str) -> Answer:
    """Whether the print that carries this code still holds."""
    from futtock.moulds.stale import stale_patterns
    from futtock.yard.event import read_code

    mark, _, revision = read_code(code)
    if not revision:
        raise Misused(f"'{code}' is no code of a print; expected futtock:REVISION:MARK.")
    job = Job(folder, report)
    moulds = printed(job).get(revision)
    if moulds is None:
        raise Misused(f"Nothing is recorded as printed at revision {revision}.")
    # a mould's code bears its mark, a half pattern's or a traveller's the number of its frame
    old = [m for m in moulds if mark in (m.mark, str(m.frame))]
    if not old:
        raise Misused(f"No mould {mark} was printed at revision {revision}.")
    return _told(stale_patterns(old, job.moulds), {m.mark: "printed" for m in old})


def _told(found: tuple[Stale, ...], state: dict[str, str]) -> Answer:
    prints = len(state)
    document = {
        "printed": prints,
        "laid": sum(s == "laid out" for s in state.values()),
        "sawn": sum(s == "sawn" for s in state.values()),
        "stale": [
            {
                "mark": s.mark,
                "state": state[s.mark],
                "was": s.was,
                "now": s.now,
                "proud_mm": round(s.proud_mm, 3),
                "short_mm": round(s.short_mm, 3),
                "bevel_deg": round(s.bevel_deg, 4),
                "sided_mm": round(s.sided_mm, 3),
                "gone": s.gone,
            }
            for s in found
        ],
    }
    if not prints:
        account = "Nothing is recorded as printed: 'futtock moulds --out DIR' prints and records."
    elif not found:
        account = f"All {prints} prints still hold." if prints > 1 else "This print still holds."
    else:
        account = f"{len(found)} of {prints} prints are now wrong"
        others = [
            f"{n} of them {word}"
            for word in ("laid out", "sawn")
            if (n := sum(state[s.mark] == word for s in found))
        ]
        account += f" ({', '.join(others)})." if others else "."
    findings: tuple[Finding, ...] = tuple(s.finding(state[s.mark]) for s in found)
    return Answer(document, account, findings)
