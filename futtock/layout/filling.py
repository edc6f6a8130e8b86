"""Compiled: filling one slab with timbers, greedily and snug.

An item is a row (pattern, variant, x, y, angle, mean slope, worst slope). A layout is ``items``
(slabs, MOST, 7), ``count`` (slabs,) and ``left`` (patterns,), the timbers still to be placed.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from futtock.layout.chances import bell
from futtock.layout.discs import compiled
from futtock.layout.feel import cut_out, put_back, settle, signs
from futtock.layout.ground import Ground
from futtock.layout.pattern import Patterns

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Raster = NDArray[np.float32]
MOST = 28  # timbers on one slab
ROUGH = 24  # discs by which kept poses are sifted
NEAR_SLACK = 7.0  # mm by which a kept pose may seem not to fit


class Poses(NamedTuple):
    """Poses kept for every pair: rows (x, y, angle, mean slope, variant, cosine, sine); pair (k, i)
    owns start[k, i]:start[k, i + 1]. ``ok`` (patterns, slabs) where there are any, and ``worth``
    (patterns,) the area counted dearer the fewer slabs a pattern fits: three grades (3, patterns).
    """

    row: Raster
    start: Ints
    ok: NDArray[np.bool_]
    worth: Array


class Rules(NamedTuple):
    """What the search weighs: gap in mm between blanks, weight of slope and of lying at an end."""

    gap: float
    grain: float
    end: float


@compiled
def copy_ground(G: Ground, k: int, top: Raster, bottom: Raster) -> None:
    """The rasters of slab k, uncut, into working rasters."""
    o = G.off[k]
    for c in range(G.off[k + 1] - o):
        top[c] = G.top[o + c]
        bottom[c] = G.bottom[o + c]


@compiled
def cut_item(
    P: Patterns, G: Ground, k: int, top: Raster, bottom: Raster, item: Array, gap: float
) -> None:
    """Take an item out of slab k's working rasters."""
    sx, sy = signs(int(item[1]))
    cut_out(
        P,
        int(item[0]),
        top,
        bottom,
        G.rows[k],
        G.columns[k],
        sx,
        sy,
        item[2],
        item[3],
        item[4],
        gap,
    )


@compiled
def seek(
    P: Patterns,
    G: Ground,
    Q: Poses,
    k: int,
    i: int,
    top: Raster,
    bottom: Raster,
    to_end: float,
    to_grain: float,
    live: Ints,
    alive: int,
    item: Array,
) -> tuple[float, int]:
    """Place pattern i on what is left of slab k, snug, at one of its poses in ``live[:alive]``.

    The three best of these that seem to fit are settled in turn; fills ``item`` and returns its
    score, 1e18 where none comes to fit, and how many are still alive: those that cannot fit any
    more are taken out of ``live``.
    """
    rows, columns = G.rows[k], G.columns[k]
    wide = columns * 5.0
    best = np.full(3, 1e18)
    who = np.full(3, -1)
    d0 = P.disc_off[i]
    d1 = min(d0 + ROUGH, P.disc_off[i + 1])
    e0, e1 = P.edge_off[i], P.edge_off[i + 1]
    left = 0
    for z in range(alive):
        q = live[z]
        x, y = Q.row[q, 0], Q.row[q, 1]
        variant = int(Q.row[q, 4])
        sx, sy = signs(variant)
        cu, su = sx * Q.row[q, 5], sx * Q.row[q, 6]
        cv, sv = sy * Q.row[q, 5], sy * Q.row[q, 6]
        up, down = (top, bottom) if variant < 2 else (bottom, top)
        fit = True
        for d in range(d0, d1):
            u, v = P.disc[d, 0], P.disc[d, 1]
            gx, gy = x + cu * u - sv * v, y + su * u + cv * v
            r, w = int(gy * 0.2 + 0.5), int(gx * 0.2 + 0.5)
            if gx < 0.0 or gy < 0.0 or r >= rows or w >= columns:
                fit = False
                break
            need = P.disc[d, 2] - NEAR_SLACK
            cell = r * columns + w
            face = P.disc[d, 3]
            if (face != 1.0 and up[cell] < need) or (face != 0.0 and down[cell] < need):
                fit = False
                break
        if not fit:
            continue
        live[left] = q
        left += 1
        snug = 0.0
        for e in range(e0, e1, 2):
            u, v = P.edge[e, 0], P.edge[e, 1]
            f = up if P.edge[e, 2] != 1.0 else down
            gx, gy = x + cu * u - sv * v, y + su * u + cv * v
            r, w = int(gy * 0.2 + 0.5), int(gx * 0.2 + 0.5)
            if 0 <= r < rows and 0 <= w < columns and gx >= 0.0 and gy >= 0.0:
                snug += min(max(f[r * columns + w], 0.0), 90.0)
        score = (
            2.0 * snug / (e1 - e0)
            + 10.0 * to_grain * Q.row[q, 3]
            + to_end * min(x, wide - x) / 1000.0
        )
        if score < best[2]:
            t = 2
            while t > 0 and best[t - 1] > score:
                best[t] = best[t - 1]
                who[t] = who[t - 1]
                t -= 1
            best[t] = score
            who[t] = q
    for t in range(3):
        q = who[t]
        if q < 0:
            break
        variant = int(Q.row[q, 4])
        sx, sy = signs(variant)
        up, down = (top, bottom) if variant < 2 else (bottom, top)
        ok, x, y, ang, worst, mean, score = settle(
            P,
            i,
            up,
            down,
            0,
            G.grain,
            G.off[k],
            rows,
            columns,
            sx,
            sy,
            Q.row[q, 0],
            Q.row[q, 1],
            Q.row[q, 2],
            0.0,
            to_end,
            to_grain,
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
            return score, left
    return 1e18, left


@compiled
def try_place(
    P: Patterns,
    G: Ground,
    Q: Poses,
    k: int,
    i: int,
    top: Raster,
    bottom: Raster,
    to_end: float,
    to_grain: float,
    item: Array,
) -> float:
    """Place pattern i on what is left of slab k, snug; fills ``item`` and returns its score.

    The three best of the kept poses are settled in turn; 1e18 where none comes to fit.
    """
    live = np.arange(Q.start[k, i], Q.start[k, i + 1])
    score, _left = seek(P, G, Q, k, i, top, bottom, to_end, to_grain, live, len(live), item)
    return score


@compiled
def fill_here(
    P: Patterns,
    G: Ground,
    Q: Poses,
    k: int,
    left: Ints,
    key: Array,
    noise: float,
    to_end: float,
    to_grain: float,
    look: int,
    tries: int,
    gap: float,
    top: Raster,
    bottom: Raster,
    out: Array,
    kept: int,
    state: NDArray[np.uint64],
) -> int:
    """Fill slab k, whose uncut ground ``top`` and ``bottom`` hold; see :func:`fill`."""
    used = 0.0
    for j in range(kept):
        cut_item(P, G, k, top, bottom, out[j], gap)
        used += P.plan[int(out[j, 0])]
    n = P.area.shape[0]
    names = np.empty(n, np.int64)
    order = np.empty(n)
    m = 0
    for i in range(n):
        if left[i] > 0 and Q.ok[i, k]:
            names[m] = i
            order[m] = -key[i] * np.exp(noise * bell(state))
            m += 1
    if m == 0:
        return kept
    by = np.argsort(order[:m])
    m = min(m, tries)
    names = names[by[:m]].copy()
    stock = left.copy()
    alive = np.empty(m, np.int64)  # poses of each that may still fit: -1 all, 0 given up
    off = np.zeros(m + 1, np.int64)
    for j in range(m):
        alive[j] = -1
        off[j + 1] = off[j] + Q.start[k, names[j] + 1] - Q.start[k, names[j]]
    live = np.empty(off[m], np.int64)
    room = 0.94 * G.sound[k]
    filled = kept
    item = np.empty(7)
    best_item = np.empty(7)
    while filled < MOST:
        got = 0
        best = 1e17
        who = -1
        for j in range(m):
            if alive[j] == 0:
                continue
            i = names[j]
            if used + P.plan[i] > room:
                alive[j] = 0
                continue
            if alive[j] < 0:
                alive[j] = off[j + 1] - off[j]
                for q in range(alive[j]):
                    live[off[j] + q] = Q.start[k, i] + q
            mine = live[off[j] : off[j + 1]]
            score, alive[j] = seek(
                P, G, Q, k, i, top, bottom, to_end, to_grain, mine, alive[j], item
            )
            if score > 1e17:
                alive[j] = 0
                continue
            got += 1
            if score < best:
                best = score
                who = j
                best_item[:] = item
            if got >= look:
                break
        if who < 0:
            break
        out[filled] = best_item
        filled += 1
        i = names[who]
        used += P.plan[i]
        stock[i] -= 1
        if stock[i] == 0:
            alive[who] = 0
        cut_item(P, G, k, top, bottom, best_item, gap)
    return filled


@compiled
def fill(
    P: Patterns,
    G: Ground,
    Q: Poses,
    k: int,
    left: Ints,
    key: Array,
    noise: float,
    to_end: float,
    to_grain: float,
    look: int,
    tries: int,
    gap: float,
    top: Raster,
    bottom: Raster,
    out: Array,
    kept: int,
    state: NDArray[np.uint64],
) -> int:
    """Fill slab k from the timbers left, dearest first by ``key`` shaken by ``noise``.

    ``out``'s first ``kept`` items lie there already. Of ``look`` timbers that fit, the snuggest
    is placed. ``left`` is not changed. Returns how many items the slab then holds. ``top`` and
    ``bottom`` are working room for one slab.
    """
    copy_ground(G, k, top, bottom)
    return fill_here(
        P,
        G,
        Q,
        k,
        left,
        key,
        noise,
        to_end,
        to_grain,
        look,
        tries,
        gap,
        top,
        bottom,
        out,
        kept,
        state,
    )


@compiled
def fill_in_place(
    P: Patterns,
    G: Ground,
    Q: Poses,
    k: int,
    left: Ints,
    key: Array,
    noise: float,
    to_end: float,
    to_grain: float,
    look: int,
    tries: int,
    gap: float,
    top: Raster,
    bottom: Raster,
    out: Array,
    kept: int,
    state: NDArray[np.uint64],
) -> int:
    """As :func:`fill`, ``top`` and ``bottom`` being the uncut ground of all slabs: what is cut is
    put back afterwards, which is quicker than copying a slab each time.
    """
    a, b = G.off[k], G.off[k + 1]
    up, down = top[a:b], bottom[a:b]
    got = fill_here(
        P,
        G,
        Q,
        k,
        left,
        key,
        noise,
        to_end,
        to_grain,
        look,
        tries,
        gap,
        up,
        down,
        out,
        kept,
        state,
    )
    for j in range(got):
        sx, sy = signs(int(out[j, 1]))
        put_back(
            P,
            int(out[j, 0]),
            up,
            down,
            G.top[a:b],
            G.bottom[a:b],
            G.rows[k],
            G.columns[k],
            sx,
            sy,
            out[j, 2],
            out[j, 3],
            out[j, 4],
        )
    return got


@compiled
def worth_of(P: Patterns, items: Array, count: int) -> float:
    """Area of the timbers on one slab, m2."""
    a = 0.0
    for j in range(count):
        a += P.area[int(items[j, 0])]
    return a
