"""What each timber is worth to the layout: the prices of the best mix of all fillings seen so far.

Every filling of a slab that the search tries is remembered. Mixing them in parts so that every
timber is got at the least cost is a linear programme; its dual prices say which timbers are dear,
better than their area or the count of slabs they fit. They steer the search and prove nothing.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

_DEAR = 3.0  # cost per m2 of a timber that goes without
_MOST = 12000


class Fillings:
    """Distinct fillings: a slab and the patterns on it."""

    def __init__(self) -> None:
        self._kept: dict[tuple[int, tuple[int, ...]], None] = {}

    def remember(self, seen: Ints, count: Ints) -> None:
        """Take over what a search has gathered (see :func:`futtock.layout.search.rounds`)."""
        for row in seen[: min(int(count[0]), len(seen))].tolist():
            self._kept.setdefault((row[0], tuple(sorted(row[2 : 2 + row[1]]))), None)
        count[0] = 0
        while len(self._kept) > _MOST:
            del self._kept[next(iter(self._kept))]

    def prices(self, cost: Array, area: Array, demand: Ints) -> Array | None:
        """Price of one timber of each pattern (n,), or None where nothing can be said yet."""
        from scipy.optimize import linprog
        from scipy.sparse import coo_matrix

        if not self._kept:
            return None
        n, m = len(area), len(cost)
        rows: list[int] = []
        columns: list[int] = []
        values: list[float] = []
        price: list[float] = []
        for j, (k, patterns) in enumerate(self._kept):
            rows += patterns
            rows.append(n + k)
            columns += [j] * (len(patterns) + 1)
            values += [-1.0] * len(patterns) + [1.0]
            price.append(float(cost[k]))
        first = len(price)
        rows += range(n)
        columns += range(first, first + n)
        values += [-1.0] * n
        where = (np.array(rows), np.array(columns))
        matrix = coo_matrix((np.array(values), where), shape=(n + m, first + n)).tocsr()
        answer: Any = linprog(  # type: ignore[call-overload]  # its types know no sparse matrix
            np.r_[price, _DEAR * area],
            A_ub=matrix,
            b_ub=np.r_[-demand.astype(float), np.ones(m)],
            method="highs",
        )
        if answer.status != 0:
            return None
        dual: Array = -np.asarray(answer.ineqlin.marginals[:n], float)
        return np.maximum(dual, 0.05 * area)
