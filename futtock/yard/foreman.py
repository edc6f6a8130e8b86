"""One run of the yard: a foreman's rules on top of a discrete-event clock.

Whenever someone or something becomes free the foreman starts the first task in the building order
that can be started; he keeps a free hand back for the next task where that needs two.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from typing import TYPE_CHECKING, Any

import numpy as np

from futtock.yard.pace import Pace
from futtock.yard.plan import FrameToBuild, YardPlan
from futtock.yard.stages import FRAME_STAGES, STAGES, TIMBER_STAGES

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

_LUCK = 0.25
"""Standard deviation of the logarithm of one task's own luck (common practice, no source)."""

PEOPLE, DRYING = "people", "slabs to dry"


@dataclass(slots=True)
class Run:
    """What one run gave, in working hours.

    When the last frame was done, and each one by its number; hours waited for people or machines
    by those that had begun, and hours of use.
    """

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
class Draws:
    """A run's random numbers.

    The pace (n,); each task's luck (frames, 2, stages), normal, for the first time and for pieces
    made again; and each timber's chance to spoil (frames, timbers), even.
    """

    parameters: Array
    luck: Array
    spoils: Array


def drawn(seed: int, run: int, pace: Pace, queue: Sequence[FrameToBuild]) -> Draws:
    """A run's random numbers, the same whatever the yard: so that yards compare run by run."""
    rng = np.random.default_rng([seed, run])
    return Draws(
        pace.drawn(rng.standard_normal(pace.mean.size)),
        rng.standard_normal((max(len(queue), 1), 2, len(STAGES))),
        rng.random((max(len(queue), 1), max((f.timbers for f in queue), default=1))),
    )


class Foreman:
    """The yard in one run.

    ``queue`` is what is left in the building order; ``earlier`` frames were done before it; ``wet``
    are the working hours until each frame's slabs are dry, or nothing.
    """

    def __init__(
        self,
        plan: YardPlan,
        queue: Sequence[FrameToBuild],
        pace: Pace,
        earlier: int,
        draws: Draws,
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
        self.result = Run(0.0, {}, dict.fromkeys(self.free, 0.0), dict.fromkeys(self.free, 0.0))
        self.spoils = draws.spoils
        # Plain lists: a task looks up single figures, at which arrays are slow.
        self.luck: list[list[list[float]]] = np.exp(_LUCK * draws.luck).tolist()
        self.left = [dict(frame.left) for frame in queue]
        each = np.exp(draws.parameters[0] + draws.parameters[1:-1])
        self.hours: list[float] = (each * [plan.hours_of(s) for s in STAGES]).tolist()
        self.slow = float(np.exp(draws.parameters[-1]))
        self.earlier = earlier
        self.again: dict[int, int] = {}  # pieces to be made a second time, by place
        self.needs = [
            (plan.people_of(s), plan.machine_of(s)) for s in STAGES
        ]  # fmt: skip
        self.rest = plan.hours_of_rest()

    def run(self) -> Run:
        """Work until nothing is left."""
        for place, frame in enumerate(self.queue):
            self._offer(place, STAGES.index(frame.left[0][0]))
        self._start_what_can()
        self.clock.run()
        self.result.finish = self.clock.now if self.queue else 0.0
        return self.result

    def _offer(self, place: int, step: int) -> None:
        dry = self.wet[place] if self.wet and STAGES[step] == "roughed" else 0.0
        if dry > self.clock.now:
            wait = dry - float(self.clock.now)
            self.result.waited[DRYING] = self.result.waited.get(DRYING, 0.0) + wait
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
        second = task.place in self.again
        items = self.again.get(task.place) or self.left[task.place].get(STAGES[task.step], 0)
        slow = self.slow if self.earlier + task.place < self.plan.learning_frames else 1.0
        luck = self.luck[task.place][int(second)][task.step]
        return self.hours[task.step] * items * slow * luck

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
            spoiled = self._spoiled(place, self.left[place].get(word, 0))
            if spoiled and place not in self.again:
                self.again[place] = spoiled
                self._offer(place, STAGES.index("laid-out"))
                return
            self.again.pop(place, None)
        left = self.left[place]
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
