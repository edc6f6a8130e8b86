"""Compiled: laying timbers through a drawn pile, in which a slab may stand many times."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from futtock.layout.chances import chance, pick
from futtock.layout.discs import compiled
from futtock.layout.feel import settle, signs
from futtock.layout.filling import MOST, Poses, Rules, copy_ground, fill
from futtock.layout.ground import Ground
from futtock.layout.pattern import Patterns

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Raster = NDArray[np.float32]
_TRIES = 24
_POSES = 60  # kept poses tried where a timber is left over


@compiled
def through(
    P: Patterns,
    G: Ground,
    Q: Poses,
    rules: Rules,
    draw: Ints,
    left: Ints,
    grade: int,
    top: Raster,
    bottom: Raster,
    state: NDArray[np.uint64],
    items: Array,
    count: Ints,
) -> int:
    """Lay what is left on the drawn slabs in order, until all is placed; how many were turned over.

    ``draw`` names slabs; ``left`` (patterns,) is brought down in place. ``items`` (draws, MOST, 7)
    and ``count`` (draws,) take what lies on each.
    """
    for q in range(draw.shape[0]):
        if left.sum() == 0:
            return q
        count[q] = fill(
            P,
            G,
            Q,
            draw[q],
            left,
            Q.worth[grade],
            0.0,
            rules.end,
            rules.grain,
            1,
            _TRIES,
            rules.gap,
            top,
            bottom,
            items[q],
            0,
            state,
        )
        for j in range(count[q]):
            left[int(items[q, j, 0])] -= 1
    return int(draw.shape[0])


@compiled
def anywhere(
    P: Patterns,
    G: Ground,
    Q: Poses,
    rules: Rules,
    k: int,
    i: int,
    top: Raster,
    bottom: Raster,
    item: Array,
) -> bool:
    """Place pattern i on slab k, empty, at the first of its kept poses that comes to fit."""
    a, b = Q.start[k, i], Q.start[k, i + 1]
    if a == b:
        return False
    copy_ground(G, k, top, bottom)
    for q in range(a, b, max(1, (b - a) // _POSES)):
        variant = int(Q.row[q, 4])
        sx, sy = signs(variant)
        up, down = (top, bottom) if variant < 2 else (bottom, top)
        ok, x, y, ang, worst, mean, _s = settle(
            P,
            i,
            up,
            down,
            0,
            G.grain,
            G.off[k],
            G.rows[k],
            G.columns[k],
            sx,
            sy,
            Q.row[q, 0],
            Q.row[q, 1],
            Q.row[q, 2],
            0.0,
            rules.end,
            rules.grain,
            16.0,
        )
        if ok:
            item[0] = i
            item[1] = variant
            item[2] = x
            item[3] = y
            item[4] = ang
            item[5] = mean
            item[6] = worst
            return True
    return False


@compiled
def eked_out(
    P: Patterns,
    G: Ground,
    Q: Poses,
    rules: Rules,
    draw: Ints,
    left: Ints,
    moves: int,
    top: Raster,
    bottom: Raster,
    state: NDArray[np.uint64],
    items: Array,
    count: Ints,
) -> None:
    """Empty a slab or two and fill them again, a timber that is left over first; keep what is no
    worse. Stops when nothing is left; ``left``, ``items`` and ``count`` change in place.
    """
    n, m = P.area.shape[0], draw.shape[0]
    if m == 0:
        return
    names = np.empty(n, np.int64)
    new = np.empty((2, MOST, 7))
    made = np.zeros(2, np.int64)
    which = np.zeros(2, np.int64)
    for _ in range(moves):
        some = 0
        before = 0.0
        for i in range(n):
            if left[i] > 0:
                names[some] = i
                some += 1
                before += left[i] * P.area[i]
        if some == 0:
            return
        i = names[pick(state, some)]
        q = pick(state, m)
        for _try in range(12):
            if Q.ok[i, draw[q]]:
                break
            q = pick(state, m)
        which[0] = q
        which[1] = pick(state, m)
        slabs = 2 if which[1] != q and chance(state) < 0.6 else 1
        stock = left.copy()
        for t in range(slabs):
            for j in range(count[which[t]]):
                stock[int(items[which[t], j, 0])] += 1
        key = Q.worth[pick(state, 3)].copy()
        key[i] *= 8.0
        for t in range(slabs):
            first = 0
            if t == 0 and anywhere(P, G, Q, rules, draw[q], i, top, bottom, new[0, 0]):
                first = 1
                stock[i] -= 1
            made[t] = fill(
                P,
                G,
                Q,
                draw[which[t]],
                stock,
                key,
                0.4,
                rules.end,
                rules.grain,
                1 if chance(state) < 0.7 else 2,
                _TRIES,
                rules.gap,
                top,
                bottom,
                new[t],
                first,
                state,
            )
            for j in range(first, made[t]):
                stock[int(new[t, j, 0])] -= 1
        after = 0.0
        for i in range(n):
            after += stock[i] * P.area[i]
        if after <= before + 1e-9:
            left[:] = stock
            for t in range(slabs):
                count[which[t]] = made[t]
                items[which[t], : made[t]] = new[t, : made[t]]
