"""A layout by prices: fillings gathered where they are worth more than their slab, then chosen.

The mix of fillings that gets every timber at the least cost uses slabs in parts, and its prices say
which further fillings would better it: those are sought, slab by slab, and the mix is made again
(column generation). A layout is then dived for: the fillings of which the mix uses most are taken
whole, and for the timbers and slabs that remain everything is done again.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor

import numpy as np
from numpy.typing import NDArray

from futtock.layout.budget import FILLS_A_ROUND, Budget
from futtock.layout.islands import Island, rules_of
from futtock.layout.prices import Fillings, Mix
from futtock.layout.problem import Problem

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
Chosen = dict[int, Array]

TRIALS = 4  # fillings of a slab tried at one set of prices
BATCH = 100  # slabs tried between one mix and the next
_MOST = 1000  # fillings told by one island at once
_SMOOTH = 0.5  # share of the former prices that is kept: they swing less
_FORGET, _LEAST_HOPE = 0.3, 0.02
_HASTE = 0.08  # share of the timbers that is settled at once where it is to end soon


class Diver:
    """Gathers fillings with all islands, and dives for layouts."""

    def __init__(
        self, problem: Problem, islands: list[Island], pool: Executor, demand: Ints, seed: int
    ) -> None:
        self.problem, self.islands, self.pool = problem, islands, pool
        self.fillings = Fillings(problem.ground.cost, problem.patterns.area, demand)
        self.hope = np.where(problem.poses.ok[demand > 0].any(0), 1.0, 0.0)
        self.rng = np.random.default_rng([seed, 11])
        self._rules = rules_of(problem.settings)

    def know(self, island: Island) -> None:
        """Take over the fillings of an island's best layout."""
        for k in np.flatnonzero(island.best_count):
            self.fillings.add(int(k), island.best_items[k, : island.best_count[k]])

    def gather(
        self, wanted: Ints, free: Flags, budget: Budget, goes: Callable[[], bool], till: float
    ) -> Mix | None:
        """Seek fillings and mix them until ``till`` of the budget is done; the last mix."""
        self.fillings.want(wanted, free)
        mix = self.fillings.mix()
        price = None if mix is None else mix.price
        while mix is not None and price is not None and budget.done < till and goes():
            if not self._seek(price, mix.slab_price, wanted, free, budget):
                break
            mix = self.fillings.mix()
            if mix is not None:
                price = _SMOOTH * price + (1.0 - _SMOOTH) * mix.price
        return mix

    def _seek(
        self,
        price: Array,
        slab_price: Array,
        wanted: Ints,
        free: Flags,
        budget: Budget,
        batch: int = BATCH,
    ) -> bool:
        """One batch of slabs filled at these prices; False where there is no slab to try."""
        from futtock.layout import pricing
        from futtock.layout.filling import MOST

        P, G, Q = self.problem.patterns, self.problem.ground, self.problem.poses
        odds = self.hope * free
        some = int((odds > 0).sum())
        if not some or not wanted.any():
            return False
        slabs = self.rng.choice(
            len(odds), size=min(batch, some), replace=False, p=odds / odds.sum()
        )
        slabs = np.sort(slabs).astype(np.int64)
        base, base_count = self._bases(slabs, price, wanted)
        least = G.cost + slab_price

        def one(q: int) -> tuple[Array, Ints, Ints, int]:
            island, mine = self.islands[q], slabs[q :: len(self.islands)]
            out = np.empty((_MOST, MOST, 7))
            count, slab = np.empty(_MOST, np.int64), np.empty(_MOST, np.int64)
            made = pricing.worth_beginning(
                P,
                G,
                Q,
                self._rules,
                mine,
                price,
                least,
                wanted,
                TRIALS,
                island.all_top,
                island.all_bottom,
                island.state,
                base[q :: len(self.islands)].copy(),
                base_count[q :: len(self.islands)].copy(),
                out,
                count,
                slab,
            )
            return out, count, slab, int(made)

        found = np.zeros(len(odds), bool)
        for out, count, slab, made in self.pool.map(one, range(len(self.islands))):
            for a in range(made):
                if self.fillings.add(int(slab[a]), out[a, : count[a]]):
                    found[slab[a]] = True
        self.hope[slabs] += _FORGET * (found[slabs] - self.hope[slabs]) + _LEAST_HOPE
        budget.spend(TRIALS * len(slabs) / FILLS_A_ROUND)
        return True

    def _bases(self, slabs: Ints, price: Array, wanted: Ints) -> tuple[Array, Ints]:
        """The best filling known of each of these slabs at these prices."""
        from futtock.layout.filling import MOST

        base = np.zeros((len(slabs), MOST, 7))
        count = np.zeros(len(slabs), np.int64)
        best = np.full(len(self.hope), -1)
        order = np.argsort(self.fillings.worth(price, wanted), kind="stable")
        best[np.array(self.fillings.slab, int)[order]] = order
        for a, k in enumerate(slabs.tolist()):
            if best[k] >= 0:
                items = self.fillings.still_wanted(int(best[k]), wanted)
                count[a] = len(items)
                base[a, : len(items)] = items
        return base, count

    def dive(
        self, wanted: Ints, free: Flags, budget: Budget, goes: Callable[[], bool], till: float
    ) -> tuple[Chosen, Ints]:
        """Choose whole fillings for these timbers on these slabs by ``till`` of the budget.

        Returns items by slab, and the timbers left over. Once it is to stop, little is sought any
        more, so that it ends soon.
        """
        start, whole = budget.done, max(1, int(wanted.sum()))
        wanted, free = wanted.copy(), free.copy()
        chosen: Chosen = {}
        while wanted.any():
            self.fillings.want(wanted, free)
            mix = self.fillings.mix()
            if mix is None:
                break
            hurried = not goes()
            span = max(till - start, 1e-9)
            aim = whole * max(0.0, 1.0 - (budget.done + 0.04 * span - start) / span)
            if hurried:
                aim = max(aim, wanted.sum() - _HASTE * whole)
            if not self._fix(mix.share, wanted, free, chosen, aim):
                break
            if hurried or budget.done < till:
                self.fillings.want(wanted, free)
                mix = self.fillings.mix()
                if mix is not None:
                    few = BATCH // 3 if hurried else BATCH
                    self._seek(mix.price, mix.slab_price, wanted, free, budget, few)
        return chosen, wanted

    def _fix(self, share: Array, wanted: Ints, free: Flags, chosen: Chosen, aim: float) -> bool:
        """Take fillings whole, the largest shares first, until ``aim`` timbers are left to do."""
        any_ = False
        for j in np.argsort(-share, kind="stable")[:120].tolist():
            if share[j] < 1e-6 or (any_ and wanted.sum() <= aim and share[j] < 0.98):
                break
            k = self.fillings.slab[j]
            if not free[k]:
                continue
            items = self.fillings.still_wanted(j, wanted)
            if any_ and len(items) < len(self.fillings.items[j]):
                continue
            free[k] = False
            any_ = True
            if len(items):
                chosen[k] = items
                np.subtract.at(wanted, items[:, 0].astype(int), 1)
        return any_
