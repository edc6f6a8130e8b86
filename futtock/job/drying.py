"""Which frames wait for their slabs to dry, from what is laid out and what was metered."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from futtock.findings import Finding

if TYPE_CHECKING:
    from futtock.job.whole import Job
    from futtock.stock.slab import Slab
    from futtock.yard import YardState


@dataclass(frozen=True)
class Waits:
    """One frame that waits: for which slab, and until when."""

    frame: int
    slab: str
    dry_on: date


@dataclass(frozen=True)
class Drying:
    """The frames that wait for a slab, each with its last one, and what was noticed."""

    waits: tuple[Waits, ...] = ()
    findings: tuple[Finding, ...] = ()

    @property
    def dry(self) -> dict[int, date]:
        """The day from which each waiting frame's slabs are dry enough, by its number."""
        return {w.frame: w.dry_on for w in self.waits}


def drying(job: Job, state: YardState, today: date) -> Drying:
    """Which frames wait for slabs that are too wet to be roughed out; none where none is asked.

    A timber's slab is the one it was given in the journal, else the accepted layout's. A reading
    without a date is taken as of ``today``. A slab without a reading is waited for by nobody.
    """
    from futtock.stock.moisture import equilibrium_percent
    from futtock.yard import kinds
    from futtock.yard.drying import dry_on
    from futtock.yard.stages import TIMBER_STAGES

    yard = job.sound.vessel.yard
    target = yard.dry_to_percent
    if target is None:
        return Drying()
    air = equilibrium_percent(yard.air_temperature_c, yard.air_humidity_percent)
    there = TIMBER_STAGES[TIMBER_STAGES.index("roughed") :]
    laid, slabs = job.slab_names, {s.name: s for s in job.rack.slabs}
    frames_of: dict[str, set[int]] = {}
    for frame in job.framing.frames:
        for timber in frame.timbers:
            piece = state.pieces.get(timber.mark)
            name = (piece.slab if piece else None) or laid.get(timber.mark)
            if name in slabs and not any(state.has(timber.mark, w) for w in there):
                frames_of.setdefault(name, set()).add(frame.number)
    last: dict[int, Waits] = {}
    never = []
    for name in sorted(frames_of):
        readings = _readings(slabs[name], state, today)
        if not readings:
            continue
        day = dry_on(readings, target, air, slabs[name].thickness_mm)
        if day is None:
            never.append(name)
        elif day > today:
            for number in frames_of[name]:
                if number not in last or last[number].dry_on < day:
                    last[number] = Waits(number, name, day)
    found: tuple[Finding, ...] = ()
    if never:
        said = (
            f"{', '.join(never[:8])}{' and others' if len(never) > 8 else ''}: not dry by "
            f"{target:g} % as they were read, in air where wood comes to rest at {air:.1f} %."
        )
        found = (kinds.NEVER_DRY.found(said, read=f"{air:.1f} %", expected=f"{target:g} %"),)
    return Drying(tuple(last[n] for n in sorted(last)), found)


def _readings(slab: Slab, state: YardState, today: date) -> list[tuple[date, float]]:
    """Every reading of a slab's moisture: the rack's own and the journal's."""
    known = state.slabs.get(slab.name)
    readings = [(date.fromisoformat(at[:10]), m) for at, m in known.moisture] if known else []
    if slab.moisture_percent is not None:
        if slab.moisture_date:
            readings.append((date.fromisoformat(slab.moisture_date), slab.moisture_percent))
        elif not readings:
            readings.append((today, slab.moisture_percent))
    return readings
