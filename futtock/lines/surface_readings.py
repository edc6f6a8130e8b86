"""Which figures speak of the surface, and how: the readings a height field is fitted to."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from futtock.lines.curves import Bounds
from futtock.lines.figures import Figure, Readings, diagonal_axes
from futtock.vessel.table import OffsetTable

Array = NDArray[np.float64]
_ASSUMED = 4.0  # standard error, in tolerances, of a rabbet's breadth that is not in the table


def surface_readings(
    table: OffsetTable,
    figures: tuple[Figure, ...],
    bounds: Bounds,
    sigma: float,
    without: frozenset[int] = frozenset(),
) -> Readings:
    """Readings of the surface.

    A waterline's half-breadth is read along y, a buttock's height along z, a diagonal's figure
    along the diagonal. Half-breadths of sheer and rabbet are placed at those lines' own faired
    heights, so a slip in a height does not move the surface. End points are read in all
    directions. Figures in ``without`` are passed over.
    """
    points: list[tuple[float, float, float]] = []
    ray: list[tuple[float, float, float]] = []
    loose: list[tuple[float, float, float]] = []
    error: list[float] = []
    index: list[int] = []

    def add(
        p: tuple[float, float, float],
        r: tuple[float, float, float],
        other: tuple[float, float, float],
        figure: int,
        times: float = 1.0,
    ) -> None:
        points.append(p)
        ray.append(r)
        loose.append(other)
        error.append(sigma * times)
        index.append(figure)

    still = (0.0, 0.0, 0.0)
    along_y, along_z = (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
    have_breadth = {f.column for f in figures if f.what == "rabbet" and f.coordinate == "y"}
    rabbet = bounds.over_x.get("rabbet")
    breadth = bounds.over_x.get("rabbet breadth")
    at_rabbet = {f.at[0] for f in figures if f.what == "rabbet" and f.coordinate == "y"}
    rabbet_height: dict[float, float] = {}
    if rabbet is not None and at_rabbet:
        stations = np.array(sorted(at_rabbet))
        heights = _rabbet_heights(bounds, stations)
        rabbet_height = dict(zip(stations.tolist(), heights.tolist(), strict=True))
    height = _heights(table, figures, bounds)
    for k, f in enumerate(figures):
        x = f.at[0]
        if k in without:
            continue
        if f.row < 0:
            add(f.at, still, (1.0, 1.0, 1.0), k)
        elif f.what == "waterline":
            add(f.at, along_y, still, k)
        elif f.what == "buttock":
            add(f.at, along_z, still, k)
        elif f.what == "diagonal" and f.coordinate == "d":
            plane = table.diagonals.get(table.rows[f.row].at)
            if plane is not None:
                add(f.at, (0.0, *diagonal_axes(plane.slope_deg)), still, k)
        elif k in height:
            add((x, f.given_mm, height[k]), along_y, (0, 0, 0.7), k)
        elif f.what == "rabbet" and f.coordinate == "y" and rabbet is not None:
            add((x, f.given_mm, rabbet_height[x]), along_y, (0, 0, 0.7), k)
        elif f.what == "rabbet" and f.coordinate == "z" and f.column not in have_breadth:
            y = float(breadth.carried(np.array(x))) if breadth is not None else 0.0
            add((x, y, f.given_mm), along_z, (0, 0, 0), -1, _ASSUMED)
    return Readings(
        np.array(points, float).reshape(-1, 3),
        np.array(ray, float).reshape(-1, 3),
        np.array(loose, float).reshape(-1, 3),
        np.array(error, float),
        np.array(index, np.intp),
    )


def _heights(table: OffsetTable, figures: tuple[Figure, ...], bounds: Bounds) -> dict[int, float]:
    """The faired height of the sheer or the knuckle that each half-breadth belongs to."""
    groups: dict[str, list[int]] = {}
    for k, f in enumerate(figures):
        if f.coordinate == "y" and f.what in ("sheer", "knuckle") and f.row >= 0:
            name = "sheer" if f.what == "sheer" else table.rows[f.row].at
            groups.setdefault(name, []).append(k)
    out: dict[int, float] = {}
    for name, members in groups.items():
        line = bounds.over_x.get(name)
        if line is not None:
            z = line.carried(np.array([figures[k].at[0] for k in members]))
            out.update(zip(members, z.tolist(), strict=True))
    return out


def _rabbet_heights(bounds: Bounds, x: Array) -> Array:
    """Heights (n,) of the faired rabbet at x (n,): its lowest where it is met more than once.

    A station that stands at the rabbet's very end, where fairing may leave it a hair short, takes
    the end's height.
    """
    if not bounds.rabbet:
        return np.asarray(bounds.over_x["rabbet"].carried(x))
    lowest = np.full(len(x), np.inf)
    nearest, end = np.full(len(x), np.inf), np.zeros(len(x))
    for line in bounds.rabbet:
        s = np.linspace(*line.x.span, 257)
        gap = line.x(s)[None, :] - x[:, None]
        k = np.argmin(np.abs(gap), axis=1)
        away, height = np.abs(gap[np.arange(len(x)), k]), line.z(s[k])
        end, nearest = np.where(away < nearest, height, end), np.minimum(away, nearest)
        which, cross = np.nonzero(gap[:, :-1] * gap[:, 1:] <= 0)
        met = line.at_x(x[which], s[cross])[1][:, 2]
        np.minimum.at(lowest, which, met)
    return np.where(np.isfinite(lowest), lowest, end)
