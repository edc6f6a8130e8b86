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
