"""When she will be framed: the work that is left, simulated through the yard's people and machines.

Each run draws the yard's pace from what is known of it, every task's own luck, and the pieces that
spoil; a foreman then starts, whenever someone or something becomes free, the first task in the
building order that can be started.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import TYPE_CHECKING

import numpy as np

from futtock.errors import Interrupted
from futtock.progress import Progress, Report, quiet
from futtock.yard.event import Event
from futtock.yard.foreman import PEOPLE, Foreman, Run, drawn
from futtock.yard.pace import Pace, learned
from futtock.yard.plan import FrameToBuild, YardPlan, build_order, work_left
from futtock.yard.stages import FRAME_STAGES, STAGES
from futtock.yard.state import fold

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

_PARTS = (0.1, 0.5, 0.9)


@dataclass(frozen=True, slots=True)
class Holdup:
    """What work waits for: people, a machine or drying; hours waited, and its use (0 to 1)."""

    what: str
    waited_hours: float
    use: float


@dataclass(frozen=True, slots=True)
class Gain:
    """What one more hand or machine would gain, in days of the calendar, in the middle case."""

    what: str
    days: float


@dataclass(frozen=True)
class BurnUp:
    """Frames done by day: what was, then the 10, 50 and 90 % course of what will be.

    ``past`` holds (day, frames done) from the journal; ``days`` (n,) and ``p10``, ``p50``, ``p90``
    (n,) the forecast: by ``days[i]`` at least ``p10[i]`` frames are done in nine runs of ten.
    """

    past: tuple[tuple[date, int], ...]
    days: tuple[date, ...]
    p10: tuple[float, ...]
    p50: tuple[float, ...]
    p90: tuple[float, ...]
    frames: int


@dataclass(frozen=True)
class Forecast:
    """The answer to "when".

    Attributes
    ----------
    p10, p50, p90
        Days on which the last frame is ribbanded in the best tenth of runs, the middle, and all
        but the worst tenth; today where nothing is left.
    working_days
        Working days until then, in the same three cases.
    left, frames
        Frames still to be done, of all.
    order
        The building order proposed for them.
    holdups
        What work waits for, greatest first.
    gains
        What one more of each would gain, greatest first.
    burn_up
        The picture's figures.
    pace
        What was learned of the pace.
    runs
        How many runs it rests on.
    """

    p10: date
    p50: date
    p90: date
    working_days: tuple[float, float, float]
    left: int
    frames: int
    order: tuple[int, ...]
    holdups: tuple[Holdup, ...]
    gains: tuple[Gain, ...]
    burn_up: BurnUp
    pace: Pace
    runs: int


def forecast(
    events: Sequence[Event],
    timbers: Mapping[int, Sequence[str]],
    plan: YardPlan,
    now: datetime,
    *,
    dry: Mapping[int, date] | None = None,
    runs: int = 1000,
    seed: int = 0,
    gains: bool = True,
    report: Report = quiet,
) -> Forecast:
    """When she will be framed, from what has been done.

    Parameters
    ----------
    events
        The journal's records.
    timbers
        Marks of each frame's timbers by the frame's number.
    plan
        People, machines, days.
    now
        The clock's time, with its zone.
    dry
        Day from which the slabs of a frame's timbers are dry enough to be roughed out, by the
        frame's number (see :func:`futtock.yard.drying.dry_on`); absent: they are.
    runs, seed
        How many runs, and the start of their random numbers: the same for the same.
    gains
        Whether to try what one more hand or machine would gain, with a fifth of the runs each.
    report
        Told of each run; may stop it, and then the answer rests on the runs done so far.
    """
    today = now.date()
    first = max(today, plan.start) if plan.start else today
    state = fold(events)
    frames = work_left(state, timbers)
    pace = learned(events, plan, today)
    open_frames = {f.number: f for f in frames if not f.done}
    begun = [n for n, f in open_frames.items() if f.left[0] != (STAGES[0], f.timbers)]
    order = build_order(open_frames, plan.control_every, plan.out_at_once, begun)
    earlier = len(frames) - len(open_frames)
    queue = [open_frames[n] for n in order]
    wet = [plan.hours_until(first, dry[n]) if dry and n in dry else 0.0 for n in order]
    extra = _resources(plan, queue) if gains else []
    total = runs + len(extra) * (runs // 5)

    def many(what: YardPlan, count: int, done: int) -> list[Run]:
        found = []
        for i in range(count):
            if not report(Progress("forecast", done + i, total, f"{done + i} of {total} runs")):
                break
            found.append(
                Foreman(what, queue, pace, earlier, drawn(seed, i, pace, queue), wet).run()
            )
        return found

    results = many(plan, runs, 0)
    if not results:
        raise Interrupted("The forecast was stopped before its first run was over.")
    finish = np.array([r.finish for r in results])
    hours = [float(h) for h in np.quantile(finish, _PARTS)]
    p10, p50, p90 = (plan.day_of(first, h) for h in hours)
    gained: list[Gain] = []
    for k, what in enumerate(extra):
        fewer = many(_with_one_more(plan, what), runs // 5, runs + k * (runs // 5))
        if fewer:
            sooner = finish[: len(fewer)] - np.array([r.finish for r in fewer])
            per_day = plan.hours_a_day * len(plan.days) / 7.0
            gained.append(Gain(what, float(np.median(sooner)) / per_day))
    return Forecast(
        p10,
        p50,
        p90,
        (hours[0] / plan.hours_a_day, hours[1] / plan.hours_a_day, hours[2] / plan.hours_a_day),
        len(open_frames),
        len(frames),
        order,
        _holdups(results, plan),
        tuple(sorted(gained, key=lambda g: -g.days)),
        _burn_up(events, timbers, frames, results, plan, first),
        pace,
        len(results),
    )


def _resources(plan: YardPlan, queue: Sequence[FrameToBuild]) -> list[str]:
    stages = {s for f in queue for s, _ in f.left}
    machines = {m for s in stages if (m := plan.machine_of(s))}
    return [PEOPLE, *sorted(machines)] if queue else []


def _with_one_more(plan: YardPlan, what: str) -> YardPlan:
    if what == PEOPLE:
        return replace(plan, people=plan.people + 1)
    return replace(plan, machines={**plan.machines, what: plan.machines.get(what, 0) + 1})


def _holdups(results: Sequence[Run], plan: YardPlan) -> tuple[Holdup, ...]:
    found = []
    there = {PEOPLE: plan.people} | dict(plan.machines)
    for what in sorted({w for r in results for w in r.waited}):
        waited = float(np.mean([r.waited.get(what, 0.0) for r in results]))
        use = np.mean(
            [r.busy.get(what, 0.0) / max(r.finish * there.get(what, 1), 1e-9) for r in results]
        )
        if waited > 0 or use > 0:
            found.append(Holdup(what, waited, float(use)))
    return tuple(sorted(found, key=lambda h: (-h.waited_hours, -h.use, h.what)))


def _burn_up(
    events: Sequence[Event],
    timbers: Mapping[int, Sequence[str]],
    frames: Sequence[FrameToBuild],
    results: Sequence[Run],
    plan: YardPlan,
    first: date,
) -> BurnUp:
    state = fold(events)
    ends = sorted(
        date.fromisoformat(e.at[:10])
        for n in timbers
        if (e := state.record(str(n), FRAME_STAGES[-1])) is not None
    )
    past = tuple((day, i) for i, day in enumerate(ends, start=1))
    before = sum(f.done for f in frames)
    last = max((r.finish for r in results), default=0.0)
    # A point a working day; over a long job every few days, so that the picture stays light.
    count = int(np.ceil(last / plan.hours_a_day))
    step = max(1, count // 200)
    edges = np.arange(0, count + step, step) * plan.hours_a_day
    ends_by_run = [np.sort(np.array(list(r.done_at.values()))) for r in results]
    done = np.array([np.searchsorted(e, edges, "right") for e in ends_by_run])
    worst, middle, best = np.quantile(done, _PARTS, axis=0) + before
    return BurnUp(
        past,
        tuple(plan.day_of(first, float(h)) for h in edges),
        tuple(map(float, worst)),
        tuple(map(float, middle)),
        tuple(map(float, best)),
        len(frames),
    )
