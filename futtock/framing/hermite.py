"""The inner loops of :mod:`futtock.framing.curve`, compiled: places on cubics, and lines met.

A curve is points (n, 2) with the tangents with which it leaves and comes to them; ``ends`` holds
for each of its two ends the point, the tangent, the curvature and the length of a step, by which it
is carried on as a parabola: columns out, up, tangent out, tangent up, bend, size.
"""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

_NEAR = 1e-7
_ROUNDS = 12


@numba.njit(cache=True, inline="always")
def _one(
    points: Array, leave: Array, arrive: Array, ends: Array, w: float, out: Array
) -> None:  # pragma: no cover - compiled
    """Point and derivative by index at w of one curve, into out (4,)."""
    n = points.shape[0]
    if w < 0 or w > n - 1:
        e = 0 if w < 0 else 1
        size = ends[e, 5]
        s = (w - (0.0 if e == 0 else n - 1.0)) * size
        bend = ends[e, 4]
        t0, t1 = ends[e, 2], ends[e, 3]
        out[0] = ends[e, 0] + s * t0 - 0.5 * s * s * bend * t1
        out[1] = ends[e, 1] + s * t1 + 0.5 * s * s * bend * t0
        out[2] = size * (t0 - s * bend * t1)
        out[3] = size * (t1 + s * bend * t0)
        return
    j = min(max(int(np.floor(w)), 0), n - 2)
    s = w - j
    dx, dy = points[j + 1, 0] - points[j, 0], points[j + 1, 1] - points[j, 1]
    size = np.sqrt(dx * dx + dy * dy)
    for c, d in ((0, dx), (1, dy)):
        m0, m1 = leave[j, c] * size, arrive[j + 1, c] * size
        c3 = m0 + m1 - 2 * d
        c2 = d - m0 - c3
        out[c] = points[j, c] + s * (m0 + s * (c2 + s * c3))
        out[2 + c] = m0 + s * (2 * c2 + 3 * s * c3)


@numba.njit(cache=True)
def places(
    points: Array, leave: Array, arrive: Array, ends: Array, k: Rows, w: Array, out: Array
) -> None:  # pragma: no cover - compiled
    """Points and derivatives (m, 4) at indices w (m,) of curves k (m,) of (K, n, 2)."""
    for i in range(w.shape[0]):
        _one(points[k[i]], leave[k[i]], arrive[k[i]], ends[k[i]], w[i], out[i])


@numba.njit(cache=True)
def meetings(
    points: Array,
    leave: Array,
    arrive: Array,
    ends: Array,
    k: Rows,
    at: Array,
    square_to: Array,
    w: Array,
) -> None:  # pragma: no cover - compiled
    """Indices w (m,), moved by Newton to where curves k meet lines: (C(w) - at) . square_to = 0."""
    n = points.shape[1]
    got = np.empty(4)
    for i in range(w.shape[0]):
        p, a, b, e = points[k[i]], leave[k[i]], arrive[k[i]], ends[k[i]]
        for _ in range(_ROUNDS):
            _one(p, a, b, e, w[i], got)
            miss = (got[0] - at[i, 0]) * square_to[i, 0] + (got[1] - at[i, 1]) * square_to[i, 1]
            rate = got[2] * square_to[i, 0] + got[3] * square_to[i, 1]
            size = np.sqrt(got[2] * got[2] + got[3] * got[3])
            # where the curve runs nearly along the line, step as if it ran at 6 degrees to it
            if abs(rate) < 0.1 * size:
                rate = np.copysign(0.1 * size + 1e-12, rate)
            step = min(max(miss / rate, -0.5 * n), 0.5 * n)
            w[i] -= step
            if not abs(step) >= _NEAR:
                break


@numba.njit(cache=True)
def end_slopes(
    some: Array, first: Array, second: Array, smooth: NDArray[np.bool_], straight: float
) -> None:  # pragma: no cover - compiled
    """First and second derivatives by length (K, 2) at the first of five points (K, 5, 2).

    By Newton's divided differences. ``smooth`` is False where the points are uneven or two chords
    turn so that their cosine is not above ``straight``; nothing is promised of the others there.
    """
    s, table = np.empty(5), np.empty((5, 2))
    for k in range(some.shape[0]):
        least, most, even = np.inf, 0.0, True
        s[0] = 0.0
        before = np.zeros(2)
        for j in range(4):
            dx, dy = some[k, j + 1, 0] - some[k, j, 0], some[k, j + 1, 1] - some[k, j, 1]
            size = np.sqrt(dx * dx + dy * dy)
            s[j + 1] = s[j] + size
            least, most = min(least, size), max(most, size)
            over = 1.0 / max(size, 1e-300)
            if j and not before[0] * dx * over + before[1] * dy * over > straight:
                even = False
            before[0], before[1] = dx * over, dy * over
        smooth[k] = even and not most > 4 * least
        if not smooth[k]:
            first[k], second[k] = 0.0, 0.0
            continue
        table[:] = some[k]
        x1, x2, x3 = s[1], s[2], s[3]
        for order in range(1, 5):
            for j in range(5 - order):
                gap = s[j + order] - s[j]
                table[j] = (table[j + 1] - table[j]) / gap
            head = table[0]
            for i in range(2):
                if order == 1:
                    first[k, i], second[k, i] = head[i], 0.0
                elif order == 2:
                    first[k, i] -= x1 * head[i]
                    second[k, i] = 2 * head[i]
                elif order == 3:
                    first[k, i] += x1 * x2 * head[i]
                    second[k, i] -= 2 * (x1 + x2) * head[i]
                else:
                    first[k, i] -= x1 * x2 * x3 * head[i]
                    second[k, i] += 2 * (x1 * x2 + x1 * x3 + x2 * x3) * head[i]


@numba.njit(cache=True)
def through_three(points: Array, out: Array) -> None:  # pragma: no cover - compiled
    """Tangents (K, n, 2) inside, by the circle through three neighbours; ends left alone."""
    for k in range(points.shape[0]):
        ux = uy = size = 0.0
        for j in range(points.shape[1] - 1):
            dx, dy = points[k, j + 1, 0] - points[k, j, 0], points[k, j + 1, 1] - points[k, j, 1]
            long = np.sqrt(dx * dx + dy * dy)
            if not long > 0:
                long = 1e-300
            vx, vy = dx / long, dy / long
            if j:
                out[k, j, 0] = (ux * long + vx * size) / (size + long)
                out[k, j, 1] = (uy * long + vy * size) / (size + long)
            ux, uy, size = vx, vy, long
