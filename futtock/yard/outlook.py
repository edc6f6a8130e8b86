"""When she will be framed: the work that is left, simulated through the yard's people and machines.

Each run draws the yard's pace from what is known of it, every task's own luck, and the pieces that
spoil; a foreman then starts, whenever someone or something becomes free, the first task in the
building order that can be started.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from heapq import heappop, heappush
from typing import TYPE_CHECKING, Any

import numpy as np

from futtock.errors import Interrupted
from futtock.progress import Progress, Report, quiet
from futtock.yard.event import Event
from futtock.yard.pace import Pace, learned
from futtock.yard.plan import FrameToBuild, YardPlan, build_order, work_left
from futtock.yard.stages import FRAME_STAGES, STAGES, TIMBER_STAGES
from futtock.yard.state import fold

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

_LUCK = 0.25
"""Standard deviation of the logarithm of one task's own luck (common practice, no source)."""

_PARTS = (0.1, 0.5, 0.9)
PEOPLE = "people"


@dataclass(frozen=True, slots=True)
class Holdup:
    """What work waits for: ``people`` or a machine; hours waited for it, and its use (0 to 1)."""

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

    def many(what: YardPlan, count: int, done: int) -> list[_Run]:
        found = []
        for i in range(count):
            if not report(Progress("forecast", done + i, total, f"{done + i} of {total} runs")):
                break
            found.append(_Yard(what, queue, pace, earlier, _draws(seed, i, pace, queue), wet).run())
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


@dataclass(slots=True)
class _Run:
    finish: float
    done_at: dict[int, float]
    waited: dict[str, float]
    busy: dict[str, float]


@dataclass(slots=True)
class _Task:
    place: int
    step: int
    ready: float
    lacked: str = ""


@dataclass(frozen=True, slots=True)
class _Draws:
    parameters: Array
    luck: Array
    spoils: Array


def _draws(seed: int, run: int, pace: Pace, queue: Sequence[FrameToBuild]) -> _Draws:
    """A run's random numbers, the same whatever the yard: so that yards compare run by run."""
    rng = np.random.default_rng([seed, run])
    return _Draws(
        pace.drawn(rng.standard_normal(pace.mean.size)),
        rng.standard_normal((max(len(queue), 1), 2, len(STAGES))),
        rng.random((max(len(queue), 1), 60)),
    )


class _Yard:
    """One run: the foreman's rules on top of a discrete-event clock."""

    def __init__(
        self,
        plan: YardPlan,
        queue: Sequence[FrameToBuild],
        pace: Pace,
        earlier: int,
        draws: _Draws,
        wet: Sequence[float] = (),
    ) -> None:
        import simpy

        self.plan = plan
        self.wet = wet
        self.queue = queue
        self.clock = simpy.Environment()
        self.free: dict[str, int] = {PEOPLE: plan.people} | dict(plan.machines)
        self.waiting: list[tuple[int, int, _Task]] = []
        self.out: set[int] = set()
        self.result = _Run(0.0, {}, dict.fromkeys(self.free, 0.0), dict.fromkeys(self.free, 0.0))
        self.spoils = draws.spoils
        self.luck = np.exp(_LUCK * draws.luck)
        each = np.exp(draws.parameters[0] + draws.parameters[1:-1])
        self.hours = each * [plan.hours_of(s) for s in STAGES]
        self.slow = float(np.exp(draws.parameters[-1]))
        self.earlier = earlier
        self.again: dict[int, int] = {}  # pieces to be made a second time, by place
        self.needs = [
            (plan.people_of(s), plan.machine_of(s)) for s in STAGES
        ]  # fmt: skip
        self.rest = plan.hours_of_rest()

    def run(self) -> _Run:
        for place, frame in enumerate(self.queue):
            self._offer(place, STAGES.index(frame.left[0][0]))
        self._start_what_can()
        self.clock.run()
        self.result.finish = self.clock.now if self.queue else 0.0
        return self.result

    def _offer(self, place: int, step: int) -> None:
        dry = self.wet[place] if self.wet and STAGES[step] == "roughed" else 0.0
        if dry > self.clock.now:
            dried: Any = self.clock.timeout(dry - self.clock.now, (place, step))
            dried.callbacks.append(self._rested)
            return
        heappush(self.waiting, (place, step, _Task(place, step, float(self.clock.now))))

    def _start_what_can(self) -> None:
        """Start tasks in the building order, as far as there are people for the next one."""
        later = []
        while self.waiting:
            place, step, task = heappop(self.waiting)
            lacked = self._lacks(task)
            if lacked:
                task.lacked = lacked
                later.append((place, step, task))
                if lacked == PEOPLE:
                    break  # the foreman keeps a free hand for the task that needs two
            else:
                self._start(task)
        for item in later:
            heappush(self.waiting, item)

    def _lacks(self, task: _Task) -> str:
        people, machine = self.needs[task.step]
        if self.free[PEOPLE] < people:
            return PEOPLE
        if machine and self.free[machine] < 1:
            return machine
        if self.plan.out_at_once and STAGES[task.step] == FRAME_STAGES[0]:
            number = self.queue[task.place].number
            run = 1
            for way in (-1, 1):
                near = number + way
                while near in self.out:
                    run, near = run + 1, near + way
            if run > self.plan.out_at_once:
                return "frames out"
        return ""

    def _start(self, task: _Task) -> None:
        people, machine = self.needs[task.step]
        waited = float(self.clock.now) - task.ready
        begun = STAGES[task.step] != self.queue[task.place].left[0][0] or task.place in self.again
        if begun and waited > 0:  # a frame not begun waits for its turn, not for anyone
            what = task.lacked or PEOPLE
            self.result.waited[what] = self.result.waited.get(what, 0.0) + waited
        self.free[PEOPLE] -= people
        if machine:
            self.free[machine] -= 1
        if STAGES[task.step] == FRAME_STAGES[0]:
            self.out.add(self.queue[task.place].number)
        hours = self._hours(task)
        self.result.busy[PEOPLE] += hours * people
        if machine:
            self.result.busy[machine] += hours
        end: Any = self.clock.timeout(hours, task)
        end.callbacks.append(self._ended)

    def _hours(self, task: _Task) -> float:
        frame = self.queue[task.place]
        second = task.place in self.again
        items = self.again.get(task.place) or dict(frame.left).get(STAGES[task.step], 0)
        slow = self.slow if self.earlier + task.place < self.plan.learning_frames else 1.0
        luck = self.luck[task.place, int(second), task.step]
        return float(self.hours[task.step] * items * slow * luck)

    def _ended(self, event: Any) -> None:
        task: _Task = event.value
        people, machine = self.needs[task.step]
        self.free[PEOPLE] += people
        if machine:
            self.free[machine] += 1
        self._go_on(task)
        self._start_what_can()

    def _go_on(self, task: _Task) -> None:
        place, word = task.place, STAGES[task.step]
        frame = self.queue[place]
        if word == TIMBER_STAGES[-1]:
            spoiled = self._spoiled(place, dict(frame.left).get(word, 0))
            if spoiled and place not in self.again:
                self.again[place] = spoiled
                self._offer(place, STAGES.index("laid-out"))
                return
            self.again.pop(place, None)
        left = {s for s, _ in frame.left}
        step = next(
            (i for i in range(task.step + 1, len(STAGES))
             if STAGES[i] in left or (place in self.again and i < len(TIMBER_STAGES))),
            None,
        )  # fmt: skip
        if step is None:
            self.result.done_at[frame.number] = float(self.clock.now)
            self.out.discard(frame.number)
        elif word == "roughed":
            rested: Any = self.clock.timeout(self.rest, (place, step))
            rested.callbacks.append(self._rested)
        else:
            self._offer(place, step)

    def _rested(self, event: Any) -> None:
        self._offer(*event.value)
        self._start_what_can()

    def _spoiled(self, place: int, timbers: int) -> int:
        """Pieces of a frame that spoil between laying out and bevelling."""
        return int((self.spoils[place, :timbers] < self.plan.spoilage).sum())


def _resources(plan: YardPlan, queue: Sequence[FrameToBuild]) -> list[str]:
    stages = {s for f in queue for s, _ in f.left}
    machines = {m for s in stages if (m := plan.machine_of(s))}
    return [PEOPLE, *sorted(machines)] if queue else []


def _with_one_more(plan: YardPlan, what: str) -> YardPlan:
    if what == PEOPLE:
        return replace(plan, people=plan.people + 1)
    return replace(plan, machines={**plan.machines, what: plan.machines.get(what, 0) + 1})


def _holdups(results: Sequence[_Run], plan: YardPlan) -> tuple[Holdup, ...]:
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
    results: Sequence[_Run],
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
