"""Compiled: every pose on a grid at which a timber nearly fits; the grain fixes the angle."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from futtock.layout.discs import compiled
from futtock.layout.feel import CELL, clear, nearest, signs, turned
from futtock.layout.ground import Ground
from futtock.layout.pattern import Patterns

Raster = NDArray[np.float32]


@compiled
def first_angle(
    P: Patterns,
    i: int,
    up: Raster,
    grain: Raster,
    o: int,
    rows: int,
    columns: int,
    sx: float,
    sy: float,
    x: float,
    y: float,
    ang: float,
    c: float,
    s: float,
    ease: float,
    slack: float,
) -> tuple[bool, float]:
    """By the ends alone: whether they lie on sound wood and the grain can follow, at what angle.

    ``ang`` (cosine c, sine s) fits the middle already.
    """
    sg = sx * sy
    g = P.grain_off[i]
    low, high = 0.0, 0.0
    for k in range(g, g + 2):
        u, v = sx * P.grain[k, 0], sy * P.grain[k, 1]
        r = int((y + s * u + c * v) * CELL + 0.5)
        q = int((x + c * u - s * v) * CELL + 0.5)
        if r < 0 or q < 0 or r >= rows or q >= columns or up[o + r * columns + q] < -slack:
            return False, 0.0
        d = turned(grain[o + r * columns + q] - ang - sg * P.grain[k, 2])
        low = min(low, d)
        high = max(high, d)
    if high - low > 2.0 * ease * max(P.grain[g, 3], P.grain[g + 2, 3]):
        return False, 0.0
    return True, ang + 0.5 * (low + high)


@compiled
def along_grain(
    P: Patterns,
    i: int,
    grain: Raster,
    o: int,
    rows: int,
    columns: int,
    sx: float,
    sy: float,
    x: float,
    y: float,
    ang: float,
    count: int,
    ease: float,
) -> tuple[bool, float, float]:
    """The angle near ``ang`` at which the grain follows pattern i best at (x, y), the mean slope.

    Uses the pattern's first ``count`` grain samples; False where even then some sample is steeper
    than ``ease`` times what is allowed.
    """
    sg = sx * sy
    g0 = P.grain_off[i]
    n = min(count, P.grain_off[i + 1] - g0)
    c, s = np.cos(ang), np.sin(ang)
    low, high, most = 1e9, -1e9, 0.0
    for k in range(g0, g0 + n):
        u, v = sx * P.grain[k, 0], sy * P.grain[k, 1]
        d = turned(
            nearest(grain, o, rows, columns, x + c * u - s * v, y + s * u + c * v)
            - ang
            - sg * P.grain[k, 2]
        )
        low = min(low, d)
        high = max(high, d)
        most = max(most, P.grain[k, 3])
        if high - low > 2.0 * ease * most:
            return False, 0.0, 0.0
    ang += 0.5 * (low + high)
    c, s = np.cos(ang), np.sin(ang)
    mean = 0.0
    for k in range(g0, g0 + n):
        u, v = sx * P.grain[k, 0], sy * P.grain[k, 1]
        d = abs(
            turned(
                nearest(grain, o, rows, columns, x + c * u - s * v, y + s * u + c * v)
                - ang
                - sg * P.grain[k, 2]
            )
        )
        if d > ease * P.grain[k, 3]:
            return False, 0.0, 0.0
        mean += d
    return True, ang, mean / n


@compiled
def places(
    P: Patterns,
    G: Ground,
    k: int,
    wanted: NDArray[np.bool_],
    along: float,
    across: float,
    slack: float,
    ease: float,
    cap: int,
    seed: int,
    out: Raster,
    start: NDArray[np.int64],
) -> int:
    """Every pose on a grid of slab k at which a wanted pattern nearly fits, ``cap`` a pattern.

    Where there are more, a fair sample is kept. Fills ``out`` rows (x, y, angle, mean slope,
    variant) pattern by pattern, ``start`` (n + 1,) their bounds; returns the count.
    """
    state = np.uint64(seed * 2654435761 + k * 40503 + 88172645463325252)
    o, rows, columns = G.off[k], G.rows[k], G.columns[k]
    n = P.area.shape[0]
    sxs = max(1, int(along * CELL))
    sys = max(1, int(across * CELL))
    count = 0
    for i in range(n):
        start[i] = count
        if not wanted[i]:
            continue
        first = P.disc_off[i]
        need = P.disc[first, 2] - P.lead[i] - slack
        seen = 0
        for r in range(0, rows, sys):
            for c in range(0, columns, sxs):
                cell = o + r * columns + c
                if G.top[cell] < need and G.bottom[cell] < need:
                    continue
                x, y = c / CELL, r / CELL
                mid = P.grain_off[i] + 2
                for variant in range(4):
                    sx, sy = signs(variant)
                    ang = G.grain[cell] - sx * sy * P.grain[mid, 2]
                    if variant % 2 == 0:  # the same for both ends first
                        co, si = np.cos(ang), np.sin(ang)
                    up = G.top if variant < 2 else G.bottom
                    down = G.bottom if variant < 2 else G.top
                    ok, ang = first_angle(
                        P,
                        i,
                        up,
                        G.grain,
                        o,
                        rows,
                        columns,
                        sx,
                        sy,
                        x,
                        y,
                        ang,
                        co,
                        si,
                        ease,
                        slack + 3.0,
                    )
                    if not ok or not clear(
                        P,
                        i,
                        up,
                        down,
                        o,
                        rows,
                        columns,
                        sx,
                        sy,
                        x,
                        y,
                        np.cos(ang),
                        np.sin(ang),
                        1,
                        6,
                        slack + 3.0,
                    ):
                        continue
                    ok, ang, mean = along_grain(
                        P, i, G.grain, o, rows, columns, sx, sy, x, y, ang, 11, ease
                    )
                    if not ok or not clear(
                        P,
                        i,
                        up,
                        down,
                        o,
                        rows,
                        columns,
                        sx,
                        sy,
                        x,
                        y,
                        np.cos(ang),
                        np.sin(ang),
                        0,
                        40,
                        slack,
                    ):
                        continue
                    seen += 1
                    if seen <= cap:
                        w = count + seen - 1
                    else:
                        state ^= state << np.uint64(13)
                        state ^= state >> np.uint64(7)
                        state ^= state << np.uint64(17)
                        pick = int(state % np.uint64(seen))
                        if pick >= cap:
                            continue
                        w = count + pick
                    out[w, 0] = x
                    out[w, 1] = y
                    out[w, 2] = ang
                    out[w, 3] = mean
                    out[w, 4] = variant
        count += min(seen, cap)
    start[n] = count
    return count
