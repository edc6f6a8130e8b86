"""The search, run on islands side by side that tell each other of their best."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from futtock.layout.prices import Fillings
from futtock.layout.problem import Problem
from futtock.layout.settings import LaySettings
from futtock.progress import Progress, Report

if TYPE_CHECKING:
    from futtock.layout.filling import Rules

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

ISLANDS = 2  # searches that run side by side and help each other; not tied to the machine
MEETINGS = (0.6, 0.8)
_SHORT, _APART = 4.0, 0.5
DEFAULT_ROUNDS = 2000
PRICINGS = tuple(0.1 * q for q in range(1, 10))
_REMEMBERED = 4000
_STARTS = 4
_TO_END, _TO_GRAIN = 8.0, 6.0
_LEAST = 0.25
Clock = Callable[[], float]


@dataclass
class Island:
    """One running search: a layout being worked on, and the best it has had."""

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
    seen: Ints
    seen_count: Ints

    def take(self, other: Island) -> None:
        """Go on from where another stands, and hold its best if it is better."""
        self.items[:], self.count[:], self.left[:] = other.items, other.count, other.left
        if tuple(other.best) < tuple(self.best):
            self.best_items[:], self.best_count[:] = other.best_items, other.best_count
            self.best_left[:], self.best[:] = other.best_left, other.best

    def stands(self, problem: Problem) -> float:
        """What the present layout counts, with timbers not placed at the search's middle price."""
        from futtock.layout import filling

        cost, short = filling.cost_of(problem.patterns, problem.ground, self.count, self.left)
        return float(cost + _SHORT * short)

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


def new_island(problem: Problem, demand: Ints, seed: int) -> Island:
    """An island with nothing placed."""
    from futtock.layout.filling import MOST

    m = len(problem.slabs)
    cells = int(np.diff(problem.ground.off).max(initial=1))
    # splitmix, so that neighbouring seeds start far apart
    z = (seed * 0x9E3779B97F4A7C15 + 0x1234567) % 2**64
    z = ((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9) % 2**64
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
        np.zeros((_REMEMBERED, 2 + MOST), np.int64),
        np.zeros(1, np.int64),
    )


def begin(problem: Problem, island: Island, demand: Ints, rules: Rules) -> None:
    """The best of a few greedy layouts."""
    from futtock.layout import filling

    for turn in range(_STARTS):
        island.items[:] = 0.0
        island.count[:] = 0
        island.left[:] = demand
        filling.start_layout(
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
        cost, short = filling.cost_of(problem.patterns, problem.ground, island.count, island.left)
        if (short, cost) < tuple(island.best):
            island.best[:] = short, cost
            island.keep()
    island.items[:], island.count[:] = island.best_items, island.best_count
    island.left[:] = island.best_left


def searched(
    problem: Problem,
    demand: Ints,
    settings: LaySettings,
    report: Report,
    seed: int,
    rounds: int | None,
    seconds: float | None,
    clock: Clock | None,
) -> tuple[Island, bool]:
    """The best island after the search, and whether it was stopped."""
    from futtock.layout import filling, search

    rules = rules_of(settings)
    open_slabs = problem.ground.cost.copy()
    kept = [k for k, s in enumerate(problem.slabs) if s.name in settings.keep_for_later]
    poses = problem.poses
    if kept:
        ok = poses.ok.copy()
        ok[:, kept] = False
        problem = replace(problem, poses=poses._replace(ok=ok))
    islands = [new_island(problem, demand, seed * ISLANDS + q) for q in range(ISLANDS)]
    if seconds is None and rounds is None:
        rounds = DEFAULT_ROUNDS
    start = clock() if clock else 0.0
    done, made, chunk, stopped = 0.0, 0, 60, False
    meetings, pricings, fillings = list(MEETINGS), list(PRICINGS), Fillings()
    total = int(demand.sum())

    def run(island: Island, moves: int, till: float) -> None:
        search.rounds(
            problem.patterns,
            problem.ground,
            problem.poses,
            rules,
            island.items,
            island.count,
            island.left,
            island.best_items,
            island.best_count,
            island.best_left,
            island.best,
            moves,
            done,
            till,
            island.top,
            island.bottom,
            island.state,
            island.seen,
            island.seen_count,
        )

    with ThreadPoolExecutor(ISLANDS) as pool:
        list(pool.map(lambda i: begin(problem, i, demand, rules), islands))
        while total:
            says = _said(problem, min(islands, key=lambda i: tuple(i.best)), total)
            if rounds is not None:
                going = report(Progress("laying out", made, rounds, says))
            else:
                going = report(Progress("laying out", done * (seconds or 0), seconds or 0, says))
            if not going:
                stopped = True
                break
            if rounds is not None:
                moves = min(chunk, rounds - made)
                if moves <= 0:
                    break
                till = (made + moves) / rounds
                list(pool.map(lambda i: run(i, moves, till), islands))  # noqa: B023
                made += moves
                done = till
            else:
                assert clock is not None
                assert seconds is not None
                spent = clock() - start
                if spent >= seconds:
                    break
                till = min(1.0, (spent + 0.3) / seconds)
                before = clock()
                list(pool.map(lambda i: run(i, chunk, till), islands))  # noqa: B023
                took = max(clock() - before, 1e-4)
                chunk = int(np.clip(chunk * 0.3 / took, 1, 4 * chunk))
                done = min(1.0, (clock() - start) / seconds)
            while meetings and done >= meetings[0]:
                meetings.pop(0)
                values = [i.stands(problem) for i in islands]
                first = int(np.argmin(values))
                for island, value in zip(islands, values, strict=True):
                    if value > values[first] + _APART:
                        island.take(islands[first])
            if pricings and done >= pricings[0]:
                pricings = [p for p in pricings if p > done]
                for island in islands:
                    fillings.remember(island.seen, island.seen_count)
                dear = fillings.prices(problem.ground.cost, problem.patterns.area, demand)
                if dear is not None:
                    worth = np.ascontiguousarray(
                        np.stack([problem.patterns.area, problem.poses.worth[1], dear, dear])
                    )
                    problem = replace(problem, poses=problem.poses._replace(worth=worth))
    best = min(islands, key=lambda i: tuple(i.best))
    best.items[:], best.count[:], best.left[:] = best.best_items, best.best_count, best.best_left
    if kept and best.left.sum():
        _into_kept(problem, poses.ok, kept, open_slabs, best, rules)
    for k in np.flatnonzero(best.count):
        filling.true_up(
            problem.patterns,
            problem.ground,
            rules,
            best.items,
            best.count,
            int(k),
            2,
            best.top,
            best.bottom,
        )
    return best, stopped


def _said(problem: Problem, leader: Island, total: int) -> str:
    """How far a search has come, in words."""
    used = leader.best_count > 0
    area = sum(
        float(
            problem.patterns.area[leader.best_items[k, : leader.best_count[k], 0].astype(int)].sum()
        )
        for k in np.flatnonzero(used)
    )
    sound = float(problem.sound_m2[used].sum())
    placed = total - int(leader.best_left.sum())
    share = f", yield {100.0 * area / sound:.1f} %" if sound > 0 else ""
    return f"{placed} of {total} timbers placed on {int(used.sum())} slabs{share}"


def _into_kept(
    problem: Problem,
    ok: NDArray[np.bool_],
    kept: list[int],
    cost: Array,
    best: Island,
    rules: Rules,
) -> None:
    """Timbers that would go without are laid on slabs kept for later, as few as may be."""
    from futtock.layout import filling

    only = np.zeros_like(ok)
    only[:, kept] = ok[:, kept]
    filling.start_layout(
        problem.patterns,
        problem.ground._replace(cost=cost),
        problem.poses._replace(ok=only),
        rules,
        best.left,
        best.items,
        best.count,
        1,
        0.0,
        0.0,
        best.top,
        best.bottom,
        best.state,
    )
