"""Compiled: whether a timber fits a slab at a pose, how snugly, and what it takes out of the slab.

A pose is (variant, x, y, angle): the pattern's origin lies at (x, y) mm from the slab raster's
corner, turned by the angle in radians. Variants: 0 as drawn, 1 end for end, 2 slab turned over,
3 both. Turned over, the up face feels the slab's bottom.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from futtock.layout.discs import compiled
from futtock.layout.pattern import Patterns

Array = NDArray[np.float64]
Raster = NDArray[np.float32]

CELL = 0.2  # one over the step of the rasters
OFF = -50.0  # distance told off the raster
SNUG = 90.0  # farther than this from anything counts alike
HALF = 1.5707963267948966


@compiled
def nearest(f: Raster, o: int, rows: int, columns: int, x: float, y: float) -> float:
    """Value of the nearest node of a raster that starts at cell o."""
    r = int(y * CELL + 0.5)
    c = int(x * CELL + 0.5)
    if x < 0.0 or y < 0.0 or r >= rows or c >= columns:
        return OFF
    return float(f[o + r * columns + c])


@compiled
def between(f: Raster, o: int, rows: int, columns: int, x: float, y: float) -> float:
    """Value between four nodes of a raster that starts at cell o."""
    gx = x * CELL
    gy = y * CELL
    if gx < 0.0 or gy < 0.0:
        return OFF
    c = int(gx)
    r = int(gy)
    if r >= rows - 1 or c >= columns - 1:
        return OFF
    a = gx - c
    b = gy - r
    k = o + r * columns + c
    near = (1.0 - a) * f[k] + a * f[k + 1]
    far = (1.0 - a) * f[k + columns] + a * f[k + columns + 1]
    return float((1.0 - b) * near + b * far)


@compiled
def turned(a: float) -> float:
    """An angle of grain modulo pi, brought within a right angle of nought."""
    while a > HALF:
        a -= 2.0 * HALF
    while a < -HALF:
        a += 2.0 * HALF
    return a


@compiled
def signs(variant: int) -> tuple[float, float]:
    """How a variant changes the signs of a pattern's x and y."""
    sx = -1.0 if variant == 1 or variant == 3 else 1.0
    sy = -1.0 if variant == 1 or variant == 2 else 1.0
    return sx, sy


@compiled
def clear(
    P: Patterns,
    i: int,
    up: Raster,
    down: Raster,
    o: int,
    rows: int,
    columns: int,
    sx: float,
    sy: float,
    x: float,
    y: float,
    c: float,
    s: float,
    first: int,
    last: int,
    slack: float,
) -> bool:
    """Quick test, by nearest nodes: discs first..last of pattern i all lie clear but for slack."""
    d0 = P.disc_off[i]
    for k in range(d0 + first, min(d0 + last, P.disc_off[i + 1])):
        u = sx * P.disc[k, 0]
        v = sy * P.disc[k, 1]
        px = x + c * u - s * v
        py = y + s * u + c * v
        need = P.disc[k, 2] - slack
        face = P.disc[k, 3]
        if face != 1.0 and nearest(up, o, rows, columns, px, py) < need:
            return False
        if face != 0.0 and nearest(down, o, rows, columns, px, py) < need:
            return False
    return True


@compiled
def fits(
    P: Patterns,
    i: int,
    up: Raster,
    down: Raster,
    o: int,
    grain: Raster,
    og: int,
    rows: int,
    columns: int,
    sx: float,
    sy: float,
    x: float,
    y: float,
    ang: float,
    extra: float,
) -> tuple[bool, float, float, float]:
    """The full test at a pose, ``extra`` mm clear of everything: fits, snugness, worst, mean slope.

    Snugness is the mean distance in mm from the outline to what bounds it (small is snug).
    """
    c, s = np.cos(ang), np.sin(ang)
    for k in range(P.disc_off[i], P.disc_off[i + 1]):
        u, v = sx * P.disc[k, 0], sy * P.disc[k, 1]
        px, py = x + c * u - s * v, y + s * u + c * v
        need = P.disc[k, 2] + extra
        face = P.disc[k, 3]
        if face != 1.0 and between(up, o, rows, columns, px, py) < need:
            return False, 0.0, 0.0, 0.0
        if face != 0.0 and between(down, o, rows, columns, px, py) < need:
            return False, 0.0, 0.0, 0.0
    sg = sx * sy
    worst, mean = 0.0, 0.0
    for k in range(P.grain_off[i], P.grain_off[i + 1]):
        u, v = sx * P.grain[k, 0], sy * P.grain[k, 1]
        d = turned(
            nearest(grain, og, rows, columns, x + c * u - s * v, y + s * u + c * v)
            - ang
            - sg * P.grain[k, 2]
        )
        d = abs(d)
        if d > P.grain[k, 3]:
            return False, 0.0, 0.0, 0.0
        worst = max(worst, d)
        mean += d
    worst = np.tan(worst)
    mean /= P.grain_off[i + 1] - P.grain_off[i]
    snug = 0.0
    for k in range(P.edge_off[i], P.edge_off[i + 1]):
        u, v = sx * P.edge[k, 0], sy * P.edge[k, 1]
        px, py = x + c * u - s * v, y + s * u + c * v
        if P.edge[k, 2] != 1.0:
            q = between(up, o, rows, columns, px, py)
        else:
            q = between(down, o, rows, columns, px, py)
        snug += min(q, SNUG)
    return True, snug / (P.edge_off[i + 1] - P.edge_off[i]), worst, mean


@compiled
def pushed(
    P: Patterns,
    i: int,
    up: Raster,
    down: Raster,
    o: int,
    rows: int,
    columns: int,
    sx: float,
    sy: float,
    x: float,
    y: float,
    ang: float,
    extra: float,
) -> tuple[bool, float, float, float]:
    """The small slide and turn that best frees the discs that stand where they may not.

    Least squares over those discs, each asking to move its shortage along the way in which its
    room grows; False where the shortage is hopeless.
    """
    c, s = np.cos(ang), np.sin(ang)
    a00, a01, a02, a11, a12, a22 = 0.05, 0.0, 0.0, 0.05, 0.0, 2000.0
    b0, b1, b2 = 0.0, 0.0, 0.0
    for k in range(P.disc_off[i], P.disc_off[i + 1]):
        u, v = sx * P.disc[k, 0], sy * P.disc[k, 1]
        lx, ly = c * u - s * v, s * u + c * v
        need = P.disc[k, 2] + extra
        face = P.disc[k, 3]
        f = up
        q = 1e9
        if face != 1.0:
            q = between(up, o, rows, columns, x + lx, y + ly)
        if face != 0.0:
            q2 = between(down, o, rows, columns, x + lx, y + ly)
            if q2 < q:
                q = q2
                f = down
        short = need - q
        if short <= 0.0:
            continue
        if short > 14.0:
            return False, x, y, ang
        gx = between(f, o, rows, columns, x + lx + 3.0, y + ly) - between(
            f, o, rows, columns, x + lx - 3.0, y + ly
        )
        gy = between(f, o, rows, columns, x + lx, y + ly + 3.0) - between(
            f, o, rows, columns, x + lx, y + ly - 3.0
        )
        size = np.sqrt(gx * gx + gy * gy)
        if size < 1e-3:
            continue
        gx /= size
        gy /= size
        gt = gy * lx - gx * ly
        a00 += gx * gx
        a01 += gx * gy
        a02 += gx * gt
        a11 += gy * gy
        a12 += gy * gt
        a22 += gt * gt
        b0 += short * gx
        b1 += short * gy
        b2 += short * gt
    det = (
        a00 * (a11 * a22 - a12 * a12)
        - a01 * (a01 * a22 - a12 * a02)
        + a02 * (a01 * a12 - a11 * a02)
    )
    if det <= 1e-9:
        return False, x, y, ang
    dx = (
        b0 * (a11 * a22 - a12 * a12) - a01 * (b1 * a22 - a12 * b2) + a02 * (b1 * a12 - a11 * b2)
    ) / det
    dy = (
        a00 * (b1 * a22 - a12 * b2) - b0 * (a01 * a22 - a12 * a02) + a02 * (a01 * b2 - b1 * a02)
    ) / det
    dt = (
        a00 * (a11 * b2 - b1 * a12) - a01 * (a01 * b2 - b1 * a02) + b0 * (a01 * a12 - a11 * a02)
    ) / det
    dx = min(15.0, max(-15.0, dx))
    dy = min(15.0, max(-15.0, dy))
    dt = min(0.02, max(-0.02, dt))
    return True, x + dx, y + dy, ang + dt


@compiled
def settle(
    P: Patterns,
    i: int,
    up: Raster,
    down: Raster,
    o: int,
    grain: Raster,
    og: int,
    rows: int,
    columns: int,
    sx: float,
    sy: float,
    x: float,
    y: float,
    ang: float,
    extra: float,
    to_end: float,
    to_grain: float,
    stride: float,
) -> tuple[bool, float, float, float, float, float, float]:
    """From a pose that nearly fits, slide and turn until the timber lies snug.

    Returns fits, x, y, angle, worst slope, mean slope, score. ``to_end`` and ``to_grain`` weigh
    nearness to the slab's end (per metre) and slope (per 1 in 10) against snugness in mm;
    ``stride`` is the first step in mm.
    """
    wide = columns / CELL
    ok, snug, worst, mean = fits(
        P, i, up, down, o, grain, og, rows, columns, sx, sy, x, y, ang, extra
    )
    tried = 0
    while not ok and tried < 7:
        moved, x, y, ang = pushed(
            P, i, up, down, o, rows, columns, sx, sy, x, y, ang, extra + 0.3 * (tried + 1)
        )
        tried += 1
        if not moved:
            break
        ok, snug, worst, mean = fits(
            P, i, up, down, o, grain, og, rows, columns, sx, sy, x, y, ang, extra
        )
    if not ok:
        return False, x, y, ang, 0.0, 0.0, 1e18
    best = snug + 10.0 * to_grain * mean + to_end * min(x, wide - x) / 1000.0
    step = stride
    swing = stride / 1000.0
    while step >= 0.9:
        better = False
        for d in range(6):
            tx, ty, ta = x, y, ang
            if d == 0:
                tx += step
            elif d == 1:
                tx -= step
            elif d == 2:
                ty += step
            elif d == 3:
                ty -= step
            elif d == 4:
                ta += swing
            else:
                ta -= swing
            ok, snug, w, m = fits(
                P, i, up, down, o, grain, og, rows, columns, sx, sy, tx, ty, ta, extra
            )
            if ok:
                score = snug + 10.0 * to_grain * m + to_end * min(tx, wide - tx) / 1000.0
                if score < best - 1e-6:
                    best, x, y, ang, worst, mean = score, tx, ty, ta, w, m
                    better = True
        if not better:
            step *= 0.5
            swing *= 0.5
    return True, x, y, ang, worst, mean, best


@compiled
def _span(
    x0: float,
    y0: float,
    w: int,
    h: int,
    rows: int,
    columns: int,
    sx: float,
    sy: float,
    px: float,
    py: float,
    c: float,
    s: float,
) -> tuple[int, int, int, int]:
    """Rows and columns of a slab's raster that a pattern's own raster reaches over at a pose."""
    left, right, low, high = 1e18, -1e18, 1e18, -1e18
    for a in range(2):
        for b in range(2):
            u = sx * (x0 + a * (w - 1) / CELL)
            v = sy * (y0 + b * (h - 1) / CELL)
            x = px + c * u - s * v
            y = py + s * u + c * v
            left, right, low, high = min(left, x), max(right, x), min(low, y), max(high, y)
    r0, r1 = max(0, int(low * CELL)), min(rows, int(high * CELL) + 2)
    c0, c1 = max(0, int(left * CELL)), min(columns, int(right * CELL) + 2)
    return r0, r1, c0, c1


@compiled
def _run(
    x0: float,
    y0: float,
    w: int,
    h: int,
    c0: int,
    c1: int,
    sx: float,
    sy: float,
    px: float,
    y: float,
    c: float,
    s: float,
) -> tuple[int, int]:
    """Columns of one row that lie in the pattern's own raster: along a row both of its axes change
    evenly.
    """
    ax, ay = sx * c, -sy * s
    bx = sx * (s * y - c * px) - x0
    by = sy * (c * y + s * px) - y0
    first, last = c0 / CELL, (c1 - 1) / CELL
    if abs(ax) > 1e-9:
        e0, e1 = -bx / ax, ((w - 1) / CELL - bx) / ax
        first, last = max(first, min(e0, e1)), min(last, max(e0, e1))
    if abs(ay) > 1e-9:
        e0, e1 = -by / ay, ((h - 1) / CELL - by) / ay
        first, last = max(first, min(e0, e1)), min(last, max(e0, e1))
    return max(c0, int(first * CELL)), min(c1, int(last * CELL) + 2)


@compiled
def cut_out(
    P: Patterns,
    i: int,
    top: Raster,
    bottom: Raster,
    rows: int,
    columns: int,
    sx: float,
    sy: float,
    px: float,
    py: float,
    ang: float,
    gap: float,
) -> None:
    """Take pattern i out of both faces' rasters: distances fall to its blank's, less gap."""
    c, s = np.cos(ang), np.sin(ang)
    o = P.field_off[i]
    h, w = P.fr[i], P.fc[i]
    x0, y0 = P.fx[i], P.fy[i]
    r0, r1, c0, c1 = _span(x0, y0, w, h, rows, columns, sx, sy, px, py, c, s)
    for r in range(r0, r1):
        y = r / CELL - py
        first, last = _run(x0, y0, w, h, c0, c1, sx, sy, px, y, c, s)
        for q in range(first, last):
            k = r * columns + q
            if top[k] <= -gap and bottom[k] <= -gap:
                continue
            x = q / CELL - px
            gx = (sx * (c * x + s * y) - x0) * CELL
            gy = (sy * (-s * x + c * y) - y0) * CELL
            if gx < 0.0 or gy < 0.0 or gx >= w - 1 or gy >= h - 1:
                continue
            j = int(gx)
            e = int(gy)
            a = gx - j
            b = gy - e
            t = o + e * w + j
            z = (1.0 - b) * ((1.0 - a) * P.field[t] + a * P.field[t + 1]) + b * (
                (1.0 - a) * P.field[t + w] + a * P.field[t + w + 1]
            )
            z -= gap
            if z < top[k]:
                top[k] = z
            if z < bottom[k]:
                bottom[k] = z


@compiled
def put_back(
    P: Patterns,
    i: int,
    top: Raster,
    bottom: Raster,
    uncut_top: Raster,
    uncut_bottom: Raster,
    rows: int,
    columns: int,
    sx: float,
    sy: float,
    px: float,
    py: float,
    ang: float,
) -> None:
    """Undo :func:`cut_out` from the uncut rasters; whatever else lay there goes too."""
    c, s = np.cos(ang), np.sin(ang)
    h, w = P.fr[i], P.fc[i]
    x0, y0 = P.fx[i], P.fy[i]
    r0, r1, c0, c1 = _span(x0, y0, w, h, rows, columns, sx, sy, px, py, c, s)
    for r in range(r0, r1):
        first, last = _run(x0, y0, w, h, c0, c1, sx, sy, px, r / CELL - py, c, s)
        for k in range(r * columns + first, r * columns + last):
            top[k] = uncut_top[k]
            bottom[k] = uncut_bottom[k]
