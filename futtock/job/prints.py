"""Prints: what was printed is kept by its revision, so that a stale pattern is known.

A print carries its revision in its code. The moulds as they were printed lie in ``prints/`` in the
vessel folder, a file a revision; they are a record, not a cache.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from futtock.errors import Misused
from futtock.job.answer import Answer
from futtock.job.keep import Keep
from futtock.job.whole import Job
from futtock.progress import Report

if TYPE_CHECKING:
    from futtock.findings import Finding
    from futtock.moulds.mould import Mould
    from futtock.moulds.stale import Stale

PRINTS = "prints"


def record(job: Job) -> None:
    """Keep the moulds of this revision as printed."""
    Keep(job.folder / PRINTS, at_most=None).put(job.revision, job.moulds)


def printed(job: Job) -> dict[str, tuple[Mould, ...]]:
    """Moulds by the revision under which they were printed, oldest first."""
    folder = job.folder / PRINTS
    if not folder.is_dir():
        return {}
    keep = Keep(folder, at_most=None)
    found = {}
    for path in sorted(folder.glob("*.npz"), key=lambda p: p.stat().st_mtime):
        moulds = keep.get(path.stem)
        if isinstance(moulds, tuple):
            found[path.stem] = moulds
    return found


def stale(folder: str, report: Report) -> Answer:
    """Every timber whose newest print is now wrong, by how many millimetres and degrees."""
    from futtock.moulds.stale import stale_patterns

    job = Job(folder, report)
    newest: dict[str, Mould] = {}
    for moulds in printed(job).values():
        newest.update({m.mark: m for m in moulds})
    found = stale_patterns(newest.values(), job.moulds)
    return _told(found, len(newest))


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
    old = [m for m in moulds if m.mark == mark]
    if not old:
        raise Misused(f"No mould {mark} was printed at revision {revision}.")
    return _told(stale_patterns(old, job.moulds), 1)


def _told(found: tuple[Stale, ...], prints: int) -> Answer:
    document = {
        "printed": prints,
        "stale": [
            {
                "mark": s.mark,
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
        account = f"{len(found)} of {prints} prints are now wrong."
    findings: tuple[Finding, ...] = tuple(s.finding() for s in found)
    return Answer(document, account, findings)
