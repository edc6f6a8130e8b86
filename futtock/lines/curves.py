"""The lines that bound a hull, faired in space: rabbet, sheer, transom edge, and her profiles.

The rabbet is faired by the length along it, so that a plumb stem and a flat keel are one curve; the
sheer's height is faired over x and its breadth is the surface's.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from futtock.lines.batten import Batten, lay_batten
from futtock.lines.figures import Figure
from futtock.vessel.table import OffsetTable

Array = NDArray[np.float64]


@dataclass(frozen=True)
class SpaceLine:
    """A faired line in space by the length along it.

    Attributes
    ----------
    x, y, z
        Battens over the length.
    figures
        Figure indices of its readings, -1 where a reading is not a figure.
    at : (n,)
        Length along the line at each reading.
    """

    x: Batten
    y: Batten
    z: Batten
    figures: NDArray[np.intp]
    at: Array

    def points(self, s: Array) -> Array:
        """Points (..., 3) at lengths s (...)."""
        return np.stack([self.x(s), self.y(s), self.z(s)], axis=-1)

    def sample(self, step_mm: float) -> Array:
        """Points (n, 3) along the whole line, no further apart than the step."""
        low, high = self.x.span
        n = int(np.clip(np.ceil((high - low) / step_mm), 64, 20000))
        return self.points(np.linspace(low, high, n + 1))


@dataclass(frozen=True)
class LineOverX:
    """A batten over x with the reach of its readings; a :class:`futtock.lines.surface.Profile`."""

    batten: Batten
    low: float
    high: float
    figures: NDArray[np.intp]

    def __call__(self, x: Array) -> Array:
        """Value at x; nan where the line does not reach."""
        x = np.asarray(x, float)
        reach = (x >= self.low - 1e-6) & (x <= self.high + 1e-6)
        return np.where(reach, self.batten(x), np.nan)

    def carried(self, x: Array) -> Array:
        """Value at x, carried straight on past the ends."""
        return self.batten(np.asarray(x, float))


@dataclass(frozen=True)
class Bounds:
    """All lines of a table, faired before the surface.

    Attributes
    ----------
    rabbet
        Stem, keel and post rabbet as one line, or None where nothing gives it.
    transom
        The transom's edge, or None.
    over_x
        By name: ``sheer``, ``keel``, ``keel top`` (heights), ``rabbet`` (height at the stations),
        ``rabbet breadth``, ``sheer breadth``.
    ends : (forward, aft)
        x of the hull's ends.
    """

    rabbet: SpaceLine | None
    transom: SpaceLine | None
    over_x: dict[str, LineOverX]
    ends: tuple[float, float]
    doubts: dict[int, tuple[float, float]] = field(default_factory=dict)
    """Studentised residual and leave-one-out error of each figure judged on a line."""


_ROWS = {
    ("z", "sheer"): "sheer",
    ("z", "rabbet"): "rabbet",
    ("z", "keel"): "keel",
    ("z", "keel top"): "keel top",
    ("y", "rabbet"): "rabbet breadth",
    ("y", "sheer"): "sheer breadth",
}


def bounds_of(
    table: OffsetTable,
    figures: tuple[Figure, ...],
    sigma: float,
    without: frozenset[int] = frozenset(),
) -> Bounds:
    """The lines of a table, faired.

    Parameters
    ----------
    table, figures
        See :func:`futtock.lines.figures.figures_of`.
    sigma
        Standard error of one figure, mm.
    """
    over_x: dict[str, LineOverX] = {}
    doubts: dict[int, tuple[float, float]] = {}
    groups: dict[str, list[int]] = {}
    for k, f in enumerate(figures):
        name = _ROWS.get((f.coordinate, f.what)) if f.row >= 0 and k not in without else None
        if name:
            groups.setdefault(name, []).append(k)
    sheer_ends = [k for k, f in enumerate(figures) if f.what in ("sheer forward", "sheer aft")]
    for name, members in groups.items():
        x = np.array([figures[k].at[0] for k in members])
        value = np.array([figures[k].given_mm for k in members])
        if name in ("sheer", "sheer breadth") and sheer_ends:
            axis = 2 if name == "sheer" else 1
            x = np.r_[x, [figures[k].at[0] for k in sheer_ends]]
            value = np.r_[value, [figures[k].at[axis] for k in sheer_ends]]
            members = [*members, *sheer_ends]
        line = lay_batten(x, value, np.full(len(x), sigma))
        over_x[name] = LineOverX(line, float(x.min()), float(x.max()), np.array(members))
        if name in ("sheer", "keel", "rabbet breadth"):
            for k, z, loo in zip(members, line.z, line.loo, strict=True):
                if figures[k].row >= 0:
                    doubts[k] = (float(z), float(loo))
    ends = _ends(table, over_x)
    rabbet = _rabbet(figures, over_x, sigma, ends, doubts, without)
    transom = _transom(figures, sigma)
    return Bounds(rabbet, transom, over_x, ends, doubts)


def _ends(table: OffsetTable, over_x: dict[str, LineOverX]) -> tuple[float, float]:
    x = [table.x_mm[np.isfinite(table.x_mm)]]
    x += [p[np.all(np.isfinite(p), axis=1), 0] for p in table.ends.values() if len(p)]
    every = np.concatenate(x)
    return float(every.min()), float(every.max())


def _rabbet(
    figures: tuple[Figure, ...],
    over_x: dict[str, LineOverX],
    sigma: float,
    ends: tuple[float, float],
    doubts: dict[int, tuple[float, float]],
    without: frozenset[int],
) -> SpaceLine | None:
    stem = [k for k, f in enumerate(figures) if f.what == "stem rabbet"]
    post = [k for k, f in enumerate(figures) if f.what == "post rabbet"]
    station = [
        k
        for k, f in enumerate(figures)
        if f.what == "rabbet" and f.coordinate == "z" and k not in without
    ]
    if len(stem) + len(post) + len(station) < 2:
        return None
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
    s = np.r_[0.0, np.cumsum(np.maximum(np.hypot(*np.diff(place, axis=0).T), 1e-6))]
    at_station = np.array([k >= 0 and figures[k].row >= 0 for k in order])
    # a station's x is laid off, not read; an end point's is read
    sx = np.where(at_station, 0.2, 1.0) * sigma
    every = np.full(len(s), sigma)
    x_line = lay_batten(s, place[:, 0], sx, doubt=False)
    z_line = lay_batten(s, place[:, 1], every)
    y_line = lay_batten(s, y, every)
    index = np.array(order)
    for k, z, loo in zip(order, z_line.z, z_line.loo, strict=True):
        if k >= 0 and figures[k].row >= 0:
            doubts[k] = (float(z), float(loo))
    return SpaceLine(x_line, y_line, z_line, index, s)


def _slot(line: list[Array], p: Array) -> int:
    """Where a point goes into a polyline: behind the start of its nearest segment."""
    best, slot = np.inf, len(line)
    for i in range(len(line) - 1):
        a, d = line[i], line[i + 1] - line[i]
        f = float(np.clip((p - a) @ d / max(float(d @ d), 1e-12), 0, 1))
        off = float(np.hypot(*(a + f * d - p)))
        if off < best:
            best, slot = off, i + 1
    return slot


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


def _transom(figures: tuple[Figure, ...], sigma: float) -> SpaceLine | None:
    members = [k for k, f in enumerate(figures) if f.what == "transom edge"]
    if len(members) < 3:
        return None
    p = np.array([figures[k].at for k in members])
    s = np.r_[0.0, np.cumsum(np.maximum(np.linalg.norm(np.diff(p, axis=0), axis=1), 1e-6))]
    e = np.full(len(s), sigma)
    x, y, z = (lay_batten(s, p[:, i], e, doubt=False) for i in range(3))
    return SpaceLine(x, y, z, np.array(members), s)
