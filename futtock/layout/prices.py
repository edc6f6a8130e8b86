"""Fillings of slabs gathered, and the prices of timbers that the best mix of them gives.

Mixing fillings in parts so that every timber is got at the least cost is a linear programme; its
dual prices say what each timber is worth to the layout: better than its area, or the count of slabs
it fits. They steer the search and prove nothing: fillings that nobody tried are not in the mix.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

_DEAR = 8.0  # cost per m2 of a timber that goes without


@dataclass(frozen=True)
class Mix:
    """The best mix: its cost, the share of each filling, prices of timbers and of slabs.

    A filling is worth adding to the mix where the prices of its timbers together come to more than
    its slab's cost and ``slab_price`` (slabs,).
    """

    cost: float
    share: Array
    price: Array
    slab_price: Array


class Fillings:
    """Distinct fillings: a slab and the items on it, with the linear programme over them.

    Parameters
    ----------
    cost
        Of each slab (slabs,).
    area
        Of each pattern (patterns,), m2.
    demand
        Timbers wanted of each pattern (patterns,).
    """

    def __init__(self, cost: Array, area: Array, demand: Ints) -> None:
        from ortools.linear_solver import pywraplp

        self.cost, self.area = cost, area
        self.slab: list[int] = []
        self.items: list[Array] = []
        self._known: set[tuple[int, tuple[int, ...]]] = set()
        n, m = len(area), len(cost)
        self._count = np.zeros((1024, n), np.int8)
        self._solver: Any = pywraplp.Solver.CreateSolver("GLOP")
        self._solver.SuppressOutput()
        self._got = [self._solver.Constraint(float(d), self._solver.infinity()) for d in demand]
        self._once = [self._solver.Constraint(-self._solver.infinity(), 1.0) for _ in range(m)]
        self._share: list[Any] = []
        aim = self._solver.Objective()
        aim.SetMinimization()
        self._aim = aim
        for i in range(n):
            without = self._solver.NumVar(0.0, self._solver.infinity(), "")
            aim.SetCoefficient(without, _DEAR * float(area[i]))
            self._got[i].SetCoefficient(without, 1.0)

    def add(self, k: int, items: Array) -> bool:
        """Take over a filling of slab k; False where the same timbers on it are known."""
        which = items[:, 0].astype(int)
        key = (k, tuple(sorted(which.tolist())))
        if not len(items) or key in self._known:
            return False
        self._known.add(key)
        j = len(self.slab)
        if j == len(self._count):
            self._count = np.vstack([self._count, np.zeros_like(self._count)])
        np.add.at(self._count[j], which, 1)
        self.slab.append(k)
        self.items.append(items.copy())
        share = self._solver.NumVar(0.0, self._solver.infinity(), "")
        self._aim.SetCoefficient(share, float(self.cost[k]))
        self._once[k].SetCoefficient(share, 1.0)
        for i in np.flatnonzero(self._count[j]).tolist():
            self._got[i].SetCoefficient(share, float(self._count[j, i]))
        self._share.append(share)
        return True

    def want(self, demand: Ints, free: Flags) -> None:
        """From now on only these timbers are wanted, and only these slabs may be begun."""
        for got, d in zip(self._got, demand.tolist(), strict=True):
            got.SetLb(float(d))
        for once, may in zip(self._once, free.tolist(), strict=True):
            once.SetUb(1.0 if may else 0.0)

    def mix(self) -> Mix | None:
        """The best mix of all fillings; None where the solver finds none."""
        if self._solver.Solve() != self._solver.OPTIMAL:
            self._solver.Reset()  # forget the former basis, which changed bounds may have spoiled
            if self._solver.Solve() != self._solver.OPTIMAL:
                return None
        return Mix(
            float(self._aim.Value()),
            np.array([s.solution_value() for s in self._share]),
            np.maximum([g.dual_value() for g in self._got], 0.0),
            np.maximum([-o.dual_value() for o in self._once], 0.0),
        )

    def worth(self, price: Array, demand: Ints) -> Array:
        """What each filling's timbers (fillings,) are worth, as far as they are wanted."""
        count = self._count[: len(self.slab)]
        worth: Array = np.minimum(count, np.minimum(demand, 127).astype(np.int8)) @ price
        return worth

    def still_wanted(self, j: int, demand: Ints) -> Array:
        """The items of filling j that are wanted, no more of a pattern than ``demand``."""
        left = demand.copy()
        keep = []
        for row in self.items[j]:
            i = int(row[0])
            if left[i] > 0:
                left[i] -= 1
                keep.append(row)
        return np.array(keep).reshape(-1, 7)
