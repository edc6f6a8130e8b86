"""Compiled: a whole layout, begun greedily, counted, and turned to where the grain runs truest.

A layout is as :mod:`futtock.layout.filling` has it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from futtock.layout.chances import chance
from futtock.layout.discs import compiled
from futtock.layout.feel import settle, signs
from futtock.layout.filling import (
    MOST,
    Poses,
    Rules,
    copy_ground,
    cut_item,
    fill,
    try_place,
    worth_of,
)
from futtock.layout.ground import Ground
from futtock.layout.pattern import Patterns

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Raster = NDArray[np.float32]


@compiled
def start_layout(
    P: Patterns,
    G: Ground,
    Q: Poses,
    rules: Rules,
    left: Ints,
    items: Array,
    count: Ints,
    grade: int,
    shake: float,
    least: float,
    top: Raster,
    bottom: Raster,
    state: NDArray[np.uint64],
) -> None:
    """Greedy: the most useful slabs first, on each the dearest timbers first.

    Slabs that would be used below ``least`` of what they count wait for a second pass.
    """
    m = G.cost.shape[0]
    n = P.area.shape[0]
    use = np.empty(m)
    for k in range(m):
        a = 0.0
        for i in range(n):
            if Q.ok[i, k]:
                a += P.area[i] * left[i]
        use[k] = -a * (1.0 - shake * chance(state)) / (0.3 + G.cost[k])
    order = np.argsort(use)
    out = np.empty((MOST, 7))
    for turn in range(2):
        for q in range(m):
            k = order[q]
            if count[k] > 0:
                continue
            got = fill(
                P,
                G,
                Q,
                k,
                left,
                Q.worth[grade],
                0.0,
                rules.end,
                rules.grain,
                1,
                80,
                rules.gap,
                top,
                bottom,
                out,
                0,
                state,
            )
            if got == 0 or (turn == 0 and worth_of(P, out, got) < least * G.cost[k]):
                continue
            count[k] = got
            for j in range(got):
                items[k, j] = out[j]
                left[int(out[j, 0])] -= 1


@compiled
def cost_of(P: Patterns, G: Ground, count: Ints, left: Ints) -> tuple[float, float]:
    """What the slabs begun count, and the area of timbers not placed."""
    cost = 0.0
    for k in range(count.shape[0]):
        if count[k] > 0:
            cost += G.cost[k]
    short = 0.0
    for i in range(left.shape[0]):
        short += left[i] * P.area[i]
    return cost, short


@compiled
def true_up(
    P: Patterns,
    G: Ground,
    rules: Rules,
    items: Array,
    count: Ints,
    k: int,
    turns: int,
    top: Raster,
    bottom: Raster,
) -> None:
    """Turn and slide each timber of slab k to where the grain runs truest within its own room."""
    rows, columns = G.rows[k], G.columns[k]
    for _ in range(turns):
        for j in range(count[k]):
            copy_ground(G, k, top, bottom)
            for q in range(count[k]):
                if q != j:
                    cut_item(P, G, k, top, bottom, items[k, q], rules.gap)
            variant = int(items[k, j, 1])
            sx, sy = signs(variant)
            up, down = (top, bottom) if variant < 2 else (bottom, top)
            ok, x, y, ang, worst, mean, _s = settle(
                P,
                int(items[k, j, 0]),
                up,
                down,
                0,
                G.grain,
                G.off[k],
                rows,
                columns,
                sx,
                sy,
                items[k, j, 2],
                items[k, j, 3],
                items[k, j, 4],
                0.0,
                0.0,
                1000.0,
                8.0,
            )
            if ok and mean < items[k, j, 5]:
                items[k, j, 2] = x
                items[k, j, 3] = y
                items[k, j, 4] = ang
                items[k, j, 5] = mean
                items[k, j, 6] = worst


@compiled
def move_truer(
    P: Patterns,
    G: Ground,
    Q: Poses,
    rules: Rules,
    items: Array,
    count: Ints,
    k: int,
    turns: int,
    top: Raster,
    bottom: Raster,
) -> None:
    """Lift each timber of slab k and lay it where, beside the others, the grain runs truest."""
    row = np.empty(7)
    for _ in range(turns):
        for j in range(count[k]):
            copy_ground(G, k, top, bottom)
            for q in range(count[k]):
                if q != j:
                    cut_item(P, G, k, top, bottom, items[k, q], rules.gap)
            score = try_place(P, G, Q, k, int(items[k, j, 0]), top, bottom, 0.0, 1000.0, row)
            if score < 1e17 and row[5] < items[k, j, 5]:
                items[k, j] = row
