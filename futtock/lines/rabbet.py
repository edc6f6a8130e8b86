"""The rabbet: one line from the stem's head along the keel to the tuck, faired by its length."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from futtock.lines.batten import Batten, lay_batten
from futtock.lines.figures import Figure
from futtock.lines.spacelines import LineOverX, SpaceLine

Array = NDArray[np.float64]


def fair_rabbet(
    figures: tuple[Figure, ...],
    over_x: dict[str, LineOverX],
    sigma: float,
    ends: tuple[float, float],
    doubts: dict[int, tuple[float, float, bool]],
    without: frozenset[int],
) -> tuple[SpaceLine, ...]:
    """Stem, keel and post rabbet as one line, parted where it turns a corner.

    Station readings that lie beside the end points are slotted in among them. ``doubts`` takes the
    residual of each height.
    """
    stem = [k for k, f in enumerate(figures) if f.what == "stem rabbet"]
    post = [k for k, f in enumerate(figures) if f.what == "post rabbet"]
    station = [
        k
        for k, f in enumerate(figures)
        if f.what == "rabbet" and f.coordinate == "z" and k not in without
    ]
    if len(stem) + len(post) + len(station) < 2:
        return ()
    if len(stem) > 1 and figures[stem[0]].at[2] < figures[stem[-1]].at[2]:
        stem = stem[::-1]
    if len(post) > 1 and figures[post[0]].at[2] > figures[post[-1]].at[2]:
        post = post[::-1]
    breadth_of = {
        f.column: f.given_mm
        for f in figures
        if f.what == "rabbet" and f.coordinate == "y" and f.row >= 0
    }
    breadth = over_x.get("rabbet breadth")
    x_fore = figures[stem[-1]].at[0] if stem else -np.inf
    x_post = figures[post[0]].at[0] if post else np.inf
    middle = [k for k in station if x_fore < figures[k].at[0] < x_post]
    middle.sort(key=lambda k: figures[k].at[0])
    spine = stem + middle + post
    where = {k: np.array([figures[k].at[0], figures[k].at[2]]) for k in spine + station}
    order = list(spine)
    for k in station:
        if k not in middle:
            order.insert(_slot([where[m] for m in order], where[k]), k)
    place = np.array([where[k] for k in order])
    y = np.array(
        [
            figures[k].at[1] if figures[k].row < 0 else breadth_of.get(figures[k].column, np.nan)
            for k in order
        ]
    )
    if not stem or not post:
        place, y, order = _carry(place, y, order, ends, bool(stem), bool(post))
    y = np.where(np.isfinite(y), y, breadth.carried(place[:, 0]) if breadth else 0.0)
    index = np.array(order, np.intp)
    at_station = np.array([k >= 0 and figures[k].row >= 0 for k in order])
    cuts = [0, *_corners(place), len(place) - 1]
    lines = []
    for a, b in pairwise(cuts):
        part = slice(a, b + 1)
        line, z = _piece(place[part], y[part], index[part], at_station[part], sigma)
        lines.append(line)
        for k, residual, loo, kept in zip(index[part], z.z, z.loo, z.kept, strict=True):
            if k >= 0 and figures[k].row >= 0:
                doubts[int(k)] = (float(residual), float(loo), bool(kept))
    return tuple(lines)


def _piece(
    place: Array,
    y: Array,
    index: NDArray[np.intp],
    at_station: NDArray[np.bool_],
    sigma: float,
) -> tuple[SpaceLine, Batten]:
    s = np.r_[0.0, np.cumsum(np.maximum(np.hypot(*np.diff(place, axis=0).T), 1e-6))]
    every = np.full(len(s), sigma)
    # a station's x is laid off, not read; an end point's is read
    x_line = lay_batten(s, place[:, 0], np.where(at_station, 0.2, 1.0) * sigma, doubt=False)
    z_line = lay_batten(s, place[:, 1], every)
    y_line = lay_batten(s, y, every)
    return SpaceLine(x_line, y_line, z_line, index, s), z_line


def _corners(place: Array) -> list[int]:
    """Where a line through points (n, 2) turns more sharply than a fair one: 55 degrees."""
    d = np.diff(place, axis=0)
    long = np.hypot(*d.T)
    out = []
    for i in range(1, len(place) - 1):
        # short steps between neighbours say nothing of the run
        a = next((k for k in range(i - 1, -1, -1) if long[k] > 10.0), None)
        b = next((k for k in range(i, len(d)) if long[k] > 10.0), None)
        if a is None or b is None or long[i] <= 10.0:
            continue
        cosine = float(d[a] @ d[b] / (long[a] * long[b]))
        if cosine < np.cos(np.radians(55)):
            out.append(i)
    return out


def _slot(line: list[Array], p: Array) -> int:
    """Where a point goes into a polyline: behind the start of its nearest segment."""
    a = np.array(line)
    d = np.diff(a, axis=0)
    along = ((p - a[:-1]) * d).sum(axis=1)
    f = np.clip(along / np.maximum((d * d).sum(axis=1), 1e-12), 0, 1)
    off = np.hypot(*(a[:-1] + f[:, None] * d - p).T)
    return 1 + int(np.argmin(off)) if len(off) else len(line)


def _carry(
    place: Array, y: Array, order: list[int], ends: tuple[float, float], stem: bool, post: bool
) -> tuple[Array, Array, list[int]]:
    """Carry the rabbet on in its own run to the first and last station where it stops short."""
    if not stem and place[0, 0] > ends[0] + 1e-6:
        slope = (place[1, 1] - place[0, 1]) / max(place[1, 0] - place[0, 0], 1e-6)
        z = place[0, 1] + slope * (ends[0] - place[0, 0])
        place, y = np.vstack([[ends[0], z], place]), np.r_[np.nan, y]
        order = [-1, *order]
    if not post and place[-1, 0] < ends[1] - 1e-6:
        slope = (place[-1, 1] - place[-2, 1]) / max(place[-1, 0] - place[-2, 0], 1e-6)
        z = place[-1, 1] + slope * (ends[1] - place[-1, 0])
        place, y = np.vstack([place, [ends[1], z]]), np.r_[y, np.nan]
        order = [*order, -1]
    return place, y, order
