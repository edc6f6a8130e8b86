"""The whole search: greedy layouts, then by prices, then ruined and made again; when each stops."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from futtock.layout.budget import FILLS_A_ROUND, Budget, Clock
from futtock.layout.diving import TRIALS, Chosen, Diver
from futtock.layout.islands import DEFAULT_ROUNDS, ISLANDS, Island, begin, new_island, rules_of
from futtock.layout.problem import Problem
from futtock.layout.settings import LaySettings
from futtock.progress import Progress, Report

if TYPE_CHECKING:
    from futtock.layout.filling import Rules

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

GATHERED, DIVED = 0.58, 0.88  # shares of the search by which fillings are gathered, then chosen
_PASSES = 4  # over all slabs, for which there must be time if prices are to be worth seeking
_CHUNK = 60
_CHUNK_S = 0.3
_MEETINGS = (0.6, 0.8)
_SHORT, _APART = 4.0, 0.5


def searched(
    problem: Problem,
    demand: Ints,
    settings: LaySettings,
    report: Report,
    seed: int,
    rounds: int | None,
    seconds: float | None,
    clock: Clock | None,
    till_got: bool = False,
) -> tuple[Island, bool]:
    """The best island after the search, and whether it was stopped.

    ``till_got``: search no further once every timber has a place, however many slabs that takes.
    """
    rules = rules_of(settings)
    open_slabs = problem.ground.cost.copy()
    kept = [k for k, s in enumerate(problem.slabs) if s.name in settings.keep_for_later]
    poses = problem.poses
    if kept:
        ok = poses.ok.copy()
        ok[:, kept] = False
        problem = replace(problem, poses=poses._replace(ok=ok))
    islands = [new_island(problem, demand, seed * ISLANDS + q, whole=True) for q in range(ISLANDS)]
    if seconds is None and rounds is None:
        rounds = DEFAULT_ROUNDS
    budget = Budget(rounds, seconds, clock)
    hunt = _Hunt(problem, islands, demand, rules, report, budget, seed, till_got)
    with ThreadPoolExecutor(ISLANDS) as pool:
        list(pool.map(lambda i: begin(problem, i, demand, rules), islands))
        if demand.any():
            hunt.run(pool)
    best = hunt.leader
    best.items[:], best.count[:], best.left[:] = best.best_items, best.best_count, best.best_left
    if kept and best.left.sum():
        _into_kept(problem, poses.ok, kept, open_slabs, best, rules)
    _truer(problem, best, rules)
    return best, hunt.stopped


def _truer(problem: Problem, best: Island, rules: Rules) -> None:
    """Let the grain run truer in every timber of the layout, each on its slab."""
    from futtock.layout import whole

    P, G, Q = problem.patterns, problem.ground, problem.poses
    room = best.items, best.count
    for k in map(int, np.flatnonzero(best.count)):
        whole.true_up(P, G, rules, *room, k, 2, best.top, best.bottom)
        whole.move_truer(P, G, Q, rules, *room, k, 2, best.top, best.bottom)
        whole.true_up(P, G, rules, *room, k, 2, best.top, best.bottom)


class _Hunt:
    """One search as it goes on."""

    def __init__(
        self,
        problem: Problem,
        islands: list[Island],
        demand: Ints,
        rules: Rules,
        report: Report,
        budget: Budget,
        seed: int,
        till_got: bool,
    ) -> None:
        self.problem, self.islands, self.demand, self.rules = problem, islands, demand, rules
        self._report, self.budget, self.seed = report, budget, seed
        self.stopped, self.till_got = False, till_got

    @property
    def leader(self) -> Island:
        """The island that has had the best layout."""
        return min(self.islands, key=lambda i: tuple(i.best))

    def goes(self) -> bool:
        """Tell how far it is; False where it is to stop."""
        done, whole = self.budget.told()
        says = _said(self.problem, self.leader, int(self.demand.sum()))
        if not self.stopped and not self._report(Progress("laying out", done, whole, says)):
            self.stopped = True
        return not self.stopped and not (self.till_got and not self.leader.best_left.any())

    def run(self, pool: ThreadPoolExecutor) -> None:
        """Search until the budget is spent or it is stopped."""
        if not self.goes():
            return
        slabs = int(self.problem.poses.ok[self.demand > 0].any(0).sum())
        rounds = self.budget.rounds
        enough = rounds is None or rounds * GATHERED * FILLS_A_ROUND >= _PASSES * slabs * TRIALS
        cooled = 0.0
        if enough and slabs and self.demand.sum() > 1:
            self._by_prices(pool)
            cooled = self.budget.done
        self._ruin_and_recreate(pool, cooled)

    def _by_prices(self, pool: ThreadPoolExecutor) -> None:
        free = np.ones(len(self.problem.slabs), bool)
        diver = Diver(self.problem, self.islands, pool, self.demand, self.seed)
        for island in self.islands:
            diver.know(island)
        mix = diver.gather(self.demand, free, self.budget, self.goes, GATHERED)
        if mix is None:
            return
        chosen, left = diver.dive(self.demand, free, self.budget, self.goes, DIVED)
        for island in self.islands:
            self._stand_on(island, chosen, left)
        dear = np.maximum(mix.price, 0.05 * self.problem.patterns.area)
        worth = np.stack([self.problem.patterns.area, self.problem.poses.worth[1], dear, dear])
        poses = self.problem.poses._replace(worth=np.ascontiguousarray(worth))
        self.problem = replace(self.problem, poses=poses)

    def _stand_on(self, island: Island, chosen: Chosen, left: Ints) -> None:
        """Let an island go on from a layout, and keep it if it is the best."""
        from futtock.layout import whole

        island.count[:] = 0
        for k, items in chosen.items():
            island.count[k] = len(items)
            island.items[k, : len(items)] = items
        island.left[:] = left
        P, G = self.problem.patterns, self.problem.ground
        cost, short = whole.cost_of(P, G, island.count, island.left)
        if (short, cost) < tuple(island.best):
            island.best[:] = short, cost
            island.keep()

    def _ruin_and_recreate(self, pool: ThreadPoolExecutor, cooled: float) -> None:
        budget, chunk = self.budget, _CHUNK
        meetings = list(_MEETINGS)
        while budget.done < 1.0 and self.goes():
            start = budget.done
            before = budget.now()
            if budget.rounds is not None:
                moves = int(min(chunk, np.ceil(budget.rounds - budget.made)))
                till = min(1.0, start + moves / budget.rounds)
            else:
                moves = chunk
                till = min(1.0, start + _CHUNK_S / max(budget.seconds or 0.0, 1e-9))
            list(pool.map(lambda i: self._rounds(i, moves, start, till), self.islands))  # noqa: B023
            budget.spend(moves)
            if budget.rounds is None:
                took = max(budget.now() - before, 1e-4)
                chunk = int(np.clip(chunk * _CHUNK_S / took, 1, 4 * chunk))
            while meetings and budget.done >= cooled + (1.0 - cooled) * meetings[0]:
                meetings.pop(0)
                values = [i.stands(self.problem, _SHORT) for i in self.islands]
                first = int(np.argmin(values))
                for island, value in zip(self.islands, values, strict=True):
                    if value > values[first] + _APART:
                        island.take(self.islands[first])

    def _rounds(self, island: Island, moves: int, start: float, till: float) -> None:
        from futtock.layout import search

        search.rounds(
            self.problem.patterns,
            self.problem.ground,
            self.problem.poses,
            self.rules,
            island.items,
            island.count,
            island.left,
            island.best_items,
            island.best_count,
            island.best_left,
            island.best,
            moves,
            start,
            till,
            island.all_top,
            island.all_bottom,
            island.state,
        )


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
    from futtock.layout import whole

    only = np.zeros_like(ok)
    only[:, kept] = ok[:, kept]
    whole.start_layout(
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
