"""Planar curves known by points and unit tangents: points between, and past the ends.

Between two neighbours the curve is the cubic with those ends, those tangent directions and the
chord's length as both speeds (geometric Hermite interpolation: fourth order in the spacing). Past
an end it goes on as a parabola with the end's tangent and curvature.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from futtock.framing.hermite import end_slopes, meetings, places, through_three

Array = NDArray[np.float64]
Rows = NDArray[np.intp]
_COS_30, _COS_5 = float(np.cos(np.radians(30.0))), float(np.cos(np.radians(5.0)))


def tangents(points: Array) -> Array:
    """Unit tangents (..., n, 2) of points (..., n, 2), by the circle through three neighbours.

    At the ends by the quartic through five points, from which curves are carried on.
    """
    t = np.empty(points.shape)
    flat = np.ascontiguousarray(points, dtype=float).reshape(-1, *points.shape[-2:])
    through_three(flat, t.reshape(flat.shape))
    for end, inner in ((0, 1), (-1, -2)):
        slope, _, smooth = _end(points, end)
        # where there is a corner near the end, the neighbour's tangent is reflected in the chord
        chord = (points[..., inner, :] - points[..., end, :]) * (1 + 2 * end)
        chord = chord / np.maximum(np.hypot(chord[..., 0], chord[..., 1]), 1e-300)[..., None]
        along = (t[..., inner, :] * chord).sum(axis=-1, keepdims=True)
        bent = 2 * along * chord - t[..., inner, :]
        t[..., end, :] = np.where(smooth[..., None], slope, bent)
    size = np.hypot(t[..., 0], t[..., 1])[..., None]
    unit_t: Array = t / np.where(size > 0, size, 1.0)
    return unit_t


def _end(points: Array, end: int) -> tuple[Array, Array, NDArray[np.bool_]]:
    """First and second derivatives by length (..., 2) at an end (0 or -1), by five points.

    The third answer is False where the points are fewer, uneven, or turn a corner.
    """
    some = points[..., :5, :] if end == 0 else points[..., :-6:-1, :]
    shape = points.shape[:-2]
    first, second = np.zeros((*shape, 2)), np.zeros((*shape, 2))
    smooth = np.zeros(shape, dtype=bool)
    if points.shape[-2] < 5:
        return first, second, smooth
    flat = np.ascontiguousarray(some, dtype=float).reshape(-1, 5, 2)
    each = (first.reshape(-1, 2), second.reshape(-1, 2), smooth.reshape(-1))
    end_slopes(flat, *each, _COS_5)
    if end != 0:
        first = -first
    return first, second, smooth


def cornered(points: Array) -> tuple[Array, Array]:
    """Unit tangents with which curves leave their points and come to them, each (..., n, 2).

    They differ at corners: where neighbouring chords turn by 30 degrees, or by 5 where one is four
    times as long as the other (the step between strakes of two thicknesses).
    """
    leave = tangents(points)
    arrive = leave.copy()
    d = np.diff(points, axis=-2)
    size = np.hypot(d[..., 0], d[..., 1])
    unit = d / np.maximum(size, 1e-300)[..., None]
    turn = (unit[..., 1:, :] * unit[..., :-1, :]).sum(axis=-1)
    ratio = size[..., 1:] / np.maximum(size[..., :-1], 1e-300)
    uneven = (ratio > 4) | (ratio < 0.25)
    corner = np.zeros(points.shape[:-1], dtype=bool)
    corner[..., 1:-1] = (turn < _COS_30) | (uneven & (turn < _COS_5))
    if corner.any():
        for way, at_corner, other in (
            (arrive, corner[..., 1:], corner[..., :-1]),
            (leave, corner[..., :-1], corner[..., 1:]),
        ):
            far = leave[..., :-1, :] if way is arrive else arrive[..., 1:, :]
            along = (far * unit).sum(axis=-1, keepdims=True)
            bent = np.where(other[..., None], unit, 2 * along * unit - far)
            part = way[..., 1:, :] if way is arrive else way[..., :-1, :]
            part[at_corner] = bent[at_corner]
    return leave, arrive


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


def at(
    points: Array,
    tangent: Array,
    w: Array,
    rows: Rows | None = None,
    arriving: Array | None = None,
) -> tuple[Array, Array]:
    """Points and derivatives d/dw at fractional indices w.

    Parameters
    ----------
    points, tangent
        (K, n, 2) each.
    w
        (K, m), or any shape with ``rows``; below 0 and above n - 1 the curve is carried on as a
        parabola.
    rows
        Which curve each w is on, broadcast to the shape of w; by default row k is on curve k.
    arriving
        Tangents with which curves come to their points, where they differ at corners from
        ``tangent``, with which they leave.

    Returns
    -------
    (..., 2) points, (..., 2) derivatives by index, for w of shape (...).
    """
    k = np.broadcast_to(np.arange(len(points))[:, None] if rows is None else rows, w.shape)
    got = np.empty((w.size, 4))
    flat = np.ascontiguousarray(w, dtype=float).reshape(-1)
    curves = _curves(points, tangent, arriving, flat)
    places(*curves, np.ascontiguousarray(k).reshape(-1), flat, got)
    both = got.reshape(*w.shape, 2, 2)
    return both[..., 0, :], both[..., 1, :]


def _curves(
    points: Array, tangent: Array, arriving: Array | None, w: Array | None
) -> tuple[Array, Array, Array, Array]:
    """Curves as the compiled loops take them; their ends only where some w (or None: any) asks."""
    onto = tangent if arriving is None else arriving
    n = points.shape[1]
    if w is not None and not ((w < 0) | (w > n - 1)).any():
        ends = np.zeros((len(points), 2, 6))
    else:
        ends = np.stack([_carried_on(points, tangent, e) for e in (0, -1)], axis=1)
    return (
        np.ascontiguousarray(points),
        np.ascontiguousarray(tangent),
        np.ascontiguousarray(onto),
        ends,
    )


def _carried_on(points: Array, tangent: Array, end: int) -> Array:
    """What carries curves on past an end (0 or -1), (K, 6): see :mod:`futtock.framing.hermite`."""
    reach = min(4, points.shape[1] - 1)
    inner, other = (1, reach) if end == 0 else (-2, -1 - reach)
    p, t, q = points[:, end], tangent[:, end], tangent[:, other]
    size = np.hypot(*(points[:, inner] - p).T)
    run = np.hypot(*(points[:, other] - p).T)
    turn = t[:, 0] * q[:, 1] - t[:, 1] * q[:, 0]
    bend = turn / np.where(run > 0, run, 1.0) * (1.0 if end == 0 else -1.0)
    first, second, smooth = _end(points, end)
    bend = np.where(smooth, first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0], bend)
    return np.column_stack([p, t, bend, size])


def meet(
    points: Array,
    tangent: Array,
    at_mm: Array,
    square_to: Array,
    start: Array,
    rows: Rows | None = None,
    arriving: Array | None = None,
) -> Array:
    """Indices w where each curve meets lines: (C(w) - at) . square_to = 0, by Newton.

    Parameters
    ----------
    points, tangent
        (K, n, 2).
    at_mm, square_to
        (K, m, 2): a point of each line, and the unit vector the line is square to.
    start
        (K, m) first guesses.
    rows, arriving
        As in :func:`at`; with rows ``at_mm`` and ``square_to`` have the shape of ``start`` and 2.
    """
    w = np.array(start, dtype=float)
    k = np.broadcast_to(np.arange(len(points))[:, None] if rows is None else rows, w.shape)
    flat = w.reshape(-1)
    meetings(
        *_curves(points, tangent, arriving, None),
        np.ascontiguousarray(k).reshape(-1),
        np.ascontiguousarray(np.broadcast_to(at_mm, (*w.shape, 2))).reshape(-1, 2),
        np.ascontiguousarray(np.broadcast_to(square_to, (*w.shape, 2))).reshape(-1, 2),
        flat,
    )
    return flat.reshape(w.shape)
