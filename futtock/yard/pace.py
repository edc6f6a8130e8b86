"""The yard's own pace, learned from the journal, with what is reckoned where there is little.

Every stage's true duration is its reckoned hours times exp(mu + delta_stage), and in the first
frames times exp(lambda) more. All are normal beforehand; a day of a person's entries, or an entry
that states its hours, is an observation. With normal errors the posterior is exact (Bayesian
linear regression, any textbook).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import log
from typing import TYPE_CHECKING

import numpy as np

from futtock.yard.event import Event
from futtock.yard.plan import YardPlan
from futtock.yard.stages import STAGES, frame_of
from futtock.yard.state import effective

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

_SD_ALL, _SD_STAGE, _SD_FIRST = 0.5, 0.3, 0.3
_FIRST = log(1.6)
_NOISE_DAY, _NOISE_STATED = 0.5, 0.35
_LEAST_SHARE = 0.25
"""A day whose entries are reckoned at less than this share of it says nothing of the pace."""


@dataclass(frozen=True)
class Pace:
    """What is known of the pace.

    ``mean`` (n,) and ``root`` (n, n) give the posterior of (mu, delta by stage, lambda);
    ``observed`` counts observations by stage, ``in_first`` those within the first frames.
    """

    mean: Array
    root: Array
    observed: dict[str, int]
    in_first: int

    def factor(self, stage: str, first: bool = False) -> float:
        """How many times its reckoned hours a stage is expected to take (median)."""
        value = self.mean[0] + self.mean[1 + STAGES.index(stage)] + (self.mean[-1] if first else 0)
        return float(np.exp(value))

    def drawn(self, normals: Array) -> Array:
        """One draw of the parameters from standard normals (n,)."""
        drawn: Array = self.mean + self.root @ normals
        return drawn


def learned(events: Sequence[Event], plan: YardPlan, today: date | None = None) -> Pace:
    """The pace as the journal shows it.

    An entry with ``hours`` in its body says what the stage took. The rest of a person's day is
    shared among that day's other entries as they are reckoned; ``today`` itself, not yet over, is
    left out. The first ``learning_frames`` that were begun are told apart.
    """
    done = [e for e in effective(events)[0] if e.stage in STAGES and e.frame is not None]
    begun: list[int] = []
    for event in done:
        number = frame_of(event.mark)
        if number is not None and number not in begun:
            begun.append(number)
    first = set(begun[: plan.learning_frames])
    n = len(STAGES) + 2
    precision = np.diag([_SD_ALL**-2, *[_SD_STAGE**-2] * len(STAGES), _SD_FIRST**-2])
    pull = np.zeros(n)
    pull[-1] = _FIRST * _SD_FIRST**-2
    counts: dict[str, int] = defaultdict(int)
    in_first = 0
    for stage, early, ratio, noise in _observations(done, plan, first, today):
        row = np.zeros(n)
        row[0] = row[1 + STAGES.index(stage)] = 1.0
        row[-1] = float(early)
        precision += np.outer(row, row) / noise**2
        pull += row * log(ratio) / noise**2
        counts[stage] += 1
        in_first += early
    covariance: Array = np.asarray(np.linalg.inv(precision), dtype=np.float64)
    root: Array = np.asarray(np.linalg.cholesky((covariance + covariance.T) / 2), dtype=np.float64)
    mean: Array = np.asarray(covariance @ pull, dtype=np.float64)
    return Pace(mean, root, dict(counts), in_first)


def _observations(
    done: Sequence[Event], plan: YardPlan, first: set[int], today: date | None
) -> list[tuple[str, bool, float, float]]:
    """(stage, in the first frames, times its reckoned hours, noise of the logarithm)."""
    found: list[tuple[str, bool, float, float]] = []
    days: dict[tuple[str, str], list[Event]] = defaultdict(list)
    stated: dict[tuple[str, str], float] = defaultdict(float)
    for event in done:
        day = (event.who, event.at[:10])
        hours = event.body.get("hours")
        if isinstance(hours, (int, float)) and hours > 0:
            stated[day] += float(hours)
            ratio = float(hours) / plan.hours_of(event.stage)
            early = frame_of(event.mark) in first
            found.append((event.stage, early, _within(ratio), _NOISE_STATED))
        elif today is None or event.at[:10] != today.isoformat():
            days[day].append(event)
    for day, events in days.items():
        reckoned = sum(plan.hours_of(e.stage) for e in events)
        left = plan.hours_a_day - stated[day]
        if reckoned < _LEAST_SHARE * plan.hours_a_day or left <= 0:
            continue
        # One day is one observation, however many entries it has: its weight is shared out.
        noise = _NOISE_DAY * len(events) ** 0.5
        for event in events:
            early = frame_of(event.mark) in first
            found.append((event.stage, early, _within(left / reckoned), noise))
    return found


def _within(ratio: float) -> float:
    return min(max(ratio, 0.1), 10.0)
