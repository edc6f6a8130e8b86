"""Planar curves known by points and unit tangents: points between, and past the ends.

Between two neighbours the curve is the cubic with those ends, those tangent directions and the
chord's length as both speeds (geometric Hermite interpolation: fourth order in the spacing). Past
an end it goes on as a parabola with the end's tangent and curvature.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def tangents(points: Array) -> Array:
    """Unit tangents (..., n, 2) of points (..., n, 2), by the circle through three neighbours."""
    d = np.diff(points, axis=-2)
    length = np.hypot(d[..., 0], d[..., 1])[..., None]
    length = np.where(length > 0, length, 1e-300)
    unit = d / length
    t = np.empty_like(points)
    a, b = length[..., :-1, :], length[..., 1:, :]
    t[..., 1:-1, :] = (unit[..., :-1, :] * b + unit[..., 1:, :] * a) / (a + b)
    # reflecting the neighbour's tangent in the chord is exact on a circle
    for end, inner, chord in ((0, 1, 0), (-1, -2, -1)):
        along = (t[..., inner, :] * unit[..., chord, :]).sum(axis=-1, keepdims=True)
        t[..., end, :] = 2 * along * unit[..., chord, :] - t[..., inner, :]
    size = np.hypot(t[..., 0], t[..., 1])[..., None]
    unit_t: Array = t / np.where(size > 0, size, 1.0)
    return unit_t


def girths(points: Array, tangent: Array) -> Array:
    """Length along the curve from its first point, (..., n): chords lengthened to their arcs."""
    d = np.diff(points, axis=-2)
    chord = np.hypot(d[..., 0], d[..., 1])
    p, q = tangent[..., :-1, :], tangent[..., 1:, :]
    turn = np.arcsin(np.clip(p[..., 0] * q[..., 1] - p[..., 1] * q[..., 0], -1, 1))
    arc = chord * (1 + turn**2 / 24)
    out = np.zeros(points.shape[:-1])
    np.cumsum(arc, axis=-1, out=out[..., 1:])
    return out


def at(points: Array, tangent: Array, w: Array) -> tuple[Array, Array]:
    """Points and derivatives d/dw at fractional indices w.

    Parameters
    ----------
    points, tangent
        (K, n, 2) each.
    w
        (K, m); below 0 and above n - 1 the curve is carried on as a parabola.

    Returns
    -------
    (K, m, 2) points, (K, m, 2) derivatives by index.
    """
    n = points.shape[1]
    rows = np.arange(len(points))[:, None]
    j = np.clip(np.floor(w), 0, n - 2).astype(np.intp)
    s = (w - j)[..., None]
    p0, p1 = points[rows, j], points[rows, j + 1]
    d = p1 - p0
    size = np.hypot(d[..., 0], d[..., 1])[..., None]
    m0, m1 = tangent[rows, j] * size, tangent[rows, j + 1] * size
    c2, c3 = 3 * d - 2 * m0 - m1, m0 + m1 - 2 * d
    place = p0 + s * (m0 + s * (c2 + s * c3))
    slope = m0 + s * (2 * c2 + 3 * s * c3)
    if (w < 0).any() or (w > n - 1).any():
        _carry_on(points, tangent, w, place, slope)
    return place, slope


def _carry_on(points: Array, tangent: Array, w: Array, place: Array, slope: Array) -> None:
    """Replace what lies past the ends by parabolas with the ends' tangents and curvatures."""
    n = points.shape[1]
    reach = min(4, n - 1)
    for outside, end, other, first in ((w < 0, 0, reach, 0), (w > n - 1, n - 1, n - 1 - reach, 1)):
        if not outside.any():
            continue
        k, i = np.nonzero(outside)
        p, t = points[k, end], tangent[k, end]
        q = tangent[k, other]
        step = points[k, end] - points[k, end - 1 if first else end + 1]
        size = np.hypot(step[:, 0], step[:, 1])
        run = np.hypot(*(points[k, other] - p).T)
        turn = t[:, 0] * q[:, 1] - t[:, 1] * q[:, 0]
        bend = turn / np.where(run > 0, run, 1.0) * (-1.0 if first else 1.0)
        side = np.stack([-t[:, 1], t[:, 0]], axis=-1)
        s = ((w[k, i] - end) * size)[:, None]
        place[k, i] = p + s * t + 0.5 * (s * s) * bend[:, None] * side
        slope[k, i] = size[:, None] * (t + s * bend[:, None] * side)


def meet(points: Array, tangent: Array, at_mm: Array, square_to: Array, start: Array) -> Array:
    """Indices w where each curve meets lines: (C(w) - at) . square_to = 0, by Newton.

    Parameters
    ----------
    points, tangent
        (K, n, 2).
    at_mm, square_to
        (K, m, 2): a point of each line, and the unit vector the line is square to.
    start
        (K, m) first guesses.
    """
    n = points.shape[1]
    w = start.copy()
    for _ in range(12):
        place, slope = at(points, tangent, w)
        away = place - at_mm
        miss = away[..., 0] * square_to[..., 0] + away[..., 1] * square_to[..., 1]
        rate = slope[..., 0] * square_to[..., 0] + slope[..., 1] * square_to[..., 1]
        size = np.hypot(slope[..., 0], slope[..., 1])
        # where the curve runs nearly along the line, step as if it ran at 6 degrees to it
        rate = np.where(np.abs(rate) < 0.1 * size, np.copysign(0.1 * size + 1e-12, rate), rate)
        step = np.clip(miss / rate, -0.5 * n, 0.5 * n)
        w -= step
        if np.abs(step).max(initial=0.0) < 1e-9:
            break
    return w
