"""The work of the yard as it is planned: what each stage takes, the order of frames, the days.

The hours are common practice, no source: they are set so that two people with a tilting saw and a
planer settle at about one double frame of thirteen timbers a day, and by hand at one a week. They
only serve until the journal has shown the yard's own pace.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import TYPE_CHECKING, Literal

from futtock.errors import Misused
from futtock.yard.stages import FRAME_STAGES, STAGES, TIMBER_STAGES
from futtock.yard.state import YardState

if TYPE_CHECKING:
    from futtock.vessel.workshop import Yard

_WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")

BY_HAND = 5.5
"""How much longer everything takes by hand (common practice, no source: one frame a week)."""

TILTING_SAW, PLANER = "tilting saw", "planer"


@dataclass(frozen=True, slots=True)
class StageWork:
    """What one stage takes: hours per timber (or per frame), people at once, and a machine."""

    hours: float
    people: int = 1
    machine: str | None = None


WORK: dict[str, StageWork] = {
    "moulded": StageWork(0.05),
    "laid-out": StageWork(0.05),
    "roughed": StageWork(0.09),
    "rested": StageWork(0.02),
    "flattened": StageWork(0.04, 1, PLANER),
    "thicknessed": StageWork(0.04, 1, PLANER),
    "bevelled": StageWork(0.07, 2, TILTING_SAW),
    "dry-fitted": StageWork(0.35, 2),
    "bedded": StageWork(0.30, 2),
    "bored": StageWork(0.40),
    "treenailed": StageWork(0.45, 2),
    "wedged": StageWork(0.15),
    "faired": StageWork(0.35),
    "heel-cut": StageWork(0.15),
    "spalled": StageWork(0.15),
    "standing": StageWork(0.35, 2),
    "horned": StageWork(0.15, 2),
    "ribbanded": StageWork(0.20, 2),
}
"""Hours with machines: a timber up to ``bevelled``, a frame from ``dry-fitted`` on."""


@dataclass(frozen=True)
class YardPlan:
    """People, machines and days, as ``[yard]`` in vessel.toml states them.

    ``days`` are weekdays, Monday 0; ``spoilage`` is a share of timbers; ``hours`` replaces what
    :data:`WORK` says of a stage; ``out_at_once`` is set where she stands: so many adjacent frames
    may be out of her at once.
    """

    people: int = 2
    machines: Mapping[str, int] = field(default_factory=lambda: {TILTING_SAW: 1, PLANER: 1})
    days: tuple[int, ...] = (0, 1, 2, 3, 4)
    hours_a_day: float = 7.0
    holidays: frozenset[date] = frozenset()
    start: date | None = None
    pace: Literal["machines", "by hand"] = "machines"
    hours: Mapping[str, float] = field(default_factory=dict)
    spoilage: float = 0.05
    rest_days: float = 2.0
    learning_frames: int = 5
    out_at_once: int | None = None
    control_every: int = 4

    def __post_init__(self) -> None:
        if self.people < 1 or not self.days or self.hours_a_day <= 0:
            raise Misused("A yard needs a person, a working day and hours to work.")
        if not 0 <= self.spoilage < 0.9:
            raise Misused(f"A spoilage of {self.spoilage:g} leaves nothing; expected 0 to 0.9.")
        unknown = set(self.hours) - set(STAGES)
        if unknown:
            raise Misused(f"Hours are stated for {', '.join(sorted(unknown))}: no such stage.")

    @classmethod
    def stated(cls, yard: Yard) -> YardPlan:
        """The plan that ``[yard]`` in vessel.toml states."""
        return cls(
            yard.people,
            dict(yard.machines),
            tuple(sorted({_WEEKDAYS.index(d) for d in yard.days})),
            yard.hours_a_day,
            frozenset(yard.holidays),
            yard.start,
            yard.pace,
            dict(yard.hours),
            yard.spoilage_percent / 100.0,
            yard.rest_days,
            yard.learning_frames,
            yard.out_at_once,
            yard.control_every,
        )

    def hours_of(self, stage: str) -> float:
        """Hours that a stage is reckoned to take before anything has been learned."""
        if stage in self.hours:
            return float(self.hours[stage])
        return WORK[stage].hours * (BY_HAND if self.pace == "by hand" else 1.0)

    def machine_of(self, stage: str) -> str | None:
        """The machine that a stage needs, if the yard has it; by hand none is needed."""
        machine = WORK[stage].machine
        return machine if machine and self.machines.get(machine, 0) > 0 else None

    def people_of(self, stage: str) -> int:
        """People a stage takes at once, as far as there are so many."""
        return min(WORK[stage].people, self.people)

    def works_on(self, day: date) -> bool:
        """Whether that day is worked."""
        return day.weekday() in self.days and day not in self.holidays

    def day_of(self, first: date, hours: float) -> date:
        """The day on which so many working hours from the beginning of ``first`` are over."""
        left = hours
        day = first
        for _ in range(40_000):
            if self.works_on(day):
                if left <= self.hours_a_day:
                    return day
                left -= self.hours_a_day
            day += timedelta(days=1)
        raise Misused("The yard's days leave none to work on.")

    def hours_until(self, first: date, day: date) -> float:
        """Working hours from the beginning of one day to the beginning of another; 0 if past."""
        days = (day - first).days
        return self.hours_a_day * sum(self.works_on(first + timedelta(n)) for n in range(days))

    def hours_of_rest(self) -> float:
        """The rest after roughing, in working hours: days pass on Sundays too."""
        return self.rest_days * self.hours_a_day * len(self.days) / 7.0


def build_order(
    frames: Iterable[int],
    control_every: int = 4,
    out_at_once: int | None = None,
    begun: Iterable[int] = (),
) -> tuple[int, ...]:
    """The order in which frames are best built.

    Those begun already come first; then control frames, one in ``control_every`` with the first
    and the last, that ribbands may be run over them; then those between, from the middle of each
    gap outwards. In a standing hull the frames that stay in between come last, so that no more
    than ``out_at_once`` adjacent ones need be out at once.

    >>> build_order(range(1, 10), 4)
    (1, 5, 9, 3, 2, 4, 7, 6, 8)
    >>> build_order(range(1, 7), 4, out_at_once=2)
    (1, 4, 2, 5, 3, 6)
    """
    numbers = sorted(set(frames))
    first = [n for n in sorted(set(begun)) if n in numbers]
    if out_at_once is None:
        passes = [numbers]
    else:
        kept = set(numbers[out_at_once :: out_at_once + 1])
        passes = [[n for n in numbers if n not in kept], [n for n in numbers if n in kept]]
    order = list(first)
    for one in filter(None, passes):
        control = one[::control_every]
        if out_at_once is None and one[-1] not in control:
            control.append(one[-1])
        order += [n for n in control if n not in order]
        ends = [one.index(n) for n in control]
        for a, b in zip(ends, [*ends[1:], len(one)], strict=True):
            order += [n for n in _from_the_middle(one[a + 1 : b]) if n not in order]
    return tuple(order)


def _from_the_middle(gap: Sequence[int]) -> list[int]:
    if not gap:
        return []
    middle = len(gap) // 2
    return [gap[middle], *_from_the_middle(gap[:middle]), *_from_the_middle(gap[middle + 1 :])]


@dataclass(frozen=True, slots=True)
class FrameToBuild:
    """What is still to be done to one frame: timbers by stage, and stages of the frame."""

    number: int
    timbers: int
    left: tuple[tuple[str, int], ...]

    @property
    def done(self) -> bool:
        """Whether nothing is left."""
        return not self.left


def work_left(state: YardState, timbers: Mapping[int, Sequence[str]]) -> tuple[FrameToBuild, ...]:
    """What the journal leaves to be done, frame by frame.

    A stage counts as done where it or a later one is entered: not every yard enters them all.

    Parameters
    ----------
    state
        The yard's state.
    timbers
        Marks of each frame's timbers by the frame's number.
    """
    found = []
    for number in sorted(timbers):
        marks, frame = timbers[number], str(number)
        furthest = max((i for i, w in enumerate(STAGES) if state.has(frame, w)), default=-1)
        left = []
        for index, word in enumerate(STAGES):
            if index <= furthest:
                continue
            if word in TIMBER_STAGES:
                later = TIMBER_STAGES[TIMBER_STAGES.index(word) :]
                todo = sum(not any(state.has(m, w) for w in later) for m in marks)
            else:
                later = FRAME_STAGES[FRAME_STAGES.index(word) :]
                todo = 1
            if todo:
                left.append((word, todo))
        found.append(FrameToBuild(number, len(marks), tuple(left)))
    return tuple(found)
