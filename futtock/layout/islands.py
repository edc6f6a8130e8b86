"""Islands: searches that run side by side, each with a layout of its own, and help each other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from futtock.layout.problem import Problem
from futtock.layout.settings import LaySettings

if TYPE_CHECKING:
    from futtock.layout.filling import Rules

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

ISLANDS = 2  # searches that run side by side and help each other; not tied to the machine
DEFAULT_ROUNDS = 2000
_STARTS = 4
_TO_END, _TO_GRAIN = 8.0, 6.0
_LEAST = 0.25


@dataclass
class Island:
    """One running search: a layout being worked on, and the best it has had.

    ``top``, ``bottom`` are working room for one slab; ``all_top``, ``all_bottom`` the uncut ground
    of all slabs (see :func:`futtock.layout.filling.fill_in_place`), empty where it is not needed.
    """

    items: Array
    count: Ints
    left: Ints
    best_items: Array
    best_count: Ints
    best_left: Ints
    best: Array
    state: NDArray[np.uint64]
    top: NDArray[np.float32]
    bottom: NDArray[np.float32]
    all_top: NDArray[np.float32]
    all_bottom: NDArray[np.float32]

    def take(self, other: Island) -> None:
        """Go on from where another stands, and hold its best if it is better."""
        self.items[:], self.count[:], self.left[:] = other.items, other.count, other.left
        if tuple(other.best) < tuple(self.best):
            self.best_items[:], self.best_count[:] = other.best_items, other.best_count
            self.best_left[:], self.best[:] = other.best_left, other.best

    def stands(self, problem: Problem, short: float) -> float:
        """What the present layout counts, with timbers not placed at this price."""
        from futtock.layout import whole

        cost, area = whole.cost_of(problem.patterns, problem.ground, self.count, self.left)
        return float(cost + short * area)

    def keep(self) -> None:
        """The present layout is the best so far."""
        self.best_items[:], self.best_count[:] = self.items, self.count
        self.best_left[:] = self.left


def rules_of(settings: LaySettings) -> Rules:
    """What the compiled search weighs."""
    from futtock.layout.filling import Rules

    return Rules(
        settings.gap_mm + settings.guard_mm, _TO_GRAIN * settings.weights.straight_grain, _TO_END
    )


def new_island(problem: Problem, demand: Ints, seed: int, *, whole: bool = False) -> Island:
    """An island with nothing placed; with the ``whole`` ground where it is to search."""
    from futtock.layout.filling import MOST

    m = len(problem.slabs)
    cells = int(np.diff(problem.ground.off).max(initial=1))
    # splitmix, so that neighbouring seeds start far apart
    z = (seed * 0x9E3779B97F4A7C15 + 0x1234567) % 2**64
    z = ((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9) % 2**64
    all_top = all_bottom = np.empty(0, np.float32)
    if whole:
        all_top = all_bottom = problem.ground.top.copy()
        if not np.array_equal(problem.ground.top, problem.ground.bottom):
            all_bottom = problem.ground.bottom.copy()
    state = np.array([(z ^ (z >> 27)) | 1], np.uint64)
    return Island(
        np.zeros((m, MOST, 7)),
        np.zeros(m, np.int64),
        demand.copy(),
        np.zeros((m, MOST, 7)),
        np.zeros(m, np.int64),
        demand.copy(),
        np.array([1e18, 1e18]),
        state,
        np.empty(cells, np.float32),
        np.empty(cells, np.float32),
        all_top,
        all_bottom,
    )


def begin(problem: Problem, island: Island, demand: Ints, rules: Rules) -> None:
    """The best of a few greedy layouts."""
    from futtock.layout import whole

    for turn in range(_STARTS):
        island.items[:] = 0.0
        island.count[:] = 0
        island.left[:] = demand
        whole.start_layout(
            problem.patterns,
            problem.ground,
            problem.poses,
            rules,
            island.left,
            island.items,
            island.count,
            turn % 3,
            0.1 + 0.1 * turn,
            _LEAST,
            island.top,
            island.bottom,
            island.state,
        )
        cost, short = whole.cost_of(problem.patterns, problem.ground, island.count, island.left)
        if (short, cost) < tuple(island.best):
            island.best[:] = short, cost
            island.keep()
    island.items[:], island.count[:] = island.best_items, island.best_count
    island.left[:] = island.best_left
