"""The table's figures as readings of a surface or of a line: where, which way, and how well."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock.vessel.table import OffsetTable, Row

Array = NDArray[np.float64]
Coordinate = Literal["x", "y", "z", "d"]
END_LINES = ("stem rabbet", "post rabbet", "sheer forward", "sheer aft", "transom edge")


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of the table, or one point of an end line.

    Attributes
    ----------
    line, station
        As the shipwright wrote them (``"halfbreadth waterline 2-6-0"``, ``"5"``); of an end line
        its name and the number of the point, from 1.
    text
        The cell as written.
    row, column
        Indices into the table's rows and stations; of an end point -1 and its index.
    what
        ``waterline``, ``buttock``, ``diagonal``, ``sheer``, ``rabbet``, ``keel``, ``keel top``,
        ``knuckle``, or an end line's name.
    coordinate
        What the figure gives: x, y (half-breadth), z (height) or d (distance down a diagonal).
    given_mm
        The figure.
    at : (x, y, z)
        The place it speaks of, nan for coordinates another figure gives.
    """

    line: str
    station: str
    text: str
    row: int
    column: int
    what: str
    coordinate: Coordinate
    given_mm: float
    at: tuple[float, float, float]


@dataclass(frozen=True)
class Readings:
    """Readings of the surface, in arrays.

    Attributes
    ----------
    points : (n, 3)
        The place read.
    ray : (n, 3)
        Unit direction along which the figure was measured; zero for points read in every direction.
    loose : (n, 3)
        Errors of the other coordinates, in parts of ``sigma``.
    sigma : (n,)
        Standard error of the figure, mm.
    figure : (n,)
        Index of the figure, or -1 where the reading is assumed rather than read.
    """

    points: Array
    ray: Array
    loose: Array
    sigma: Array
    figure: NDArray[np.intp]

    def __len__(self) -> int:
        return len(self.points)

    def sensed(self, gradient: Array) -> Array:
        """How much of each reading's error is seen along the height, given gradients (n, 3)."""
        along = (gradient * self.ray).sum(axis=1) ** 2
        other = ((gradient * self.loose) ** 2).sum(axis=1)
        # a ray that grazes the surface still has some error of place
        least = 0.15**2 * (gradient**2).sum(axis=1)
        return np.asarray(np.sqrt(np.maximum(along + other, least)))

    def take(self, mask: NDArray[np.bool_]) -> Readings:
        """The readings where the mask holds."""
        return Readings(
            self.points[mask], self.ray[mask], self.loose[mask], self.sigma[mask], self.figure[mask]
        )


def diagonal_axes(slope_deg: float) -> tuple[float, float]:
    """(dy, dz) of a millimetre along a diagonal from the centreline."""
    s = np.radians(slope_deg)
    return float(np.cos(s)), float(np.sin(s))


def figures_of(table: OffsetTable) -> tuple[Figure, ...]:
    """Every figure of the table in its order, then every end point."""
    out: list[Figure] = []
    for r, row in enumerate(table.rows):
        for c, value in enumerate(row.values_mm):
            if np.isfinite(value) and np.isfinite(table.x_mm[c]):
                out.append(_figure(table, r, row, c, float(value)))
    for name, points in table.ends.items():
        for k, p in enumerate(points):
            if not np.all(np.isfinite(p)):
                continue
            coordinate = _steepest(name, points, k)
            given = float(p["xyz".index(coordinate)])
            text = f"{p[0]:.1f}, {p[1]:.1f}, {p[2]:.1f}"
            at = (float(p[0]), float(p[1]), float(p[2]))
            out.append(Figure(name, str(k + 1), text, -1, k, name, coordinate, given, at))
    return tuple(out)


def wild(figures: tuple[Figure, ...]) -> frozenset[int]:
    """Figures beyond all proportion to their like: three times the 90th percentile and more.

    They would set the scale of everything; they are kept out of the fit from the start.
    """
    out: set[int] = set()
    for coordinate in ("y", "z", "d"):
        members = [k for k, f in enumerate(figures) if f.row >= 0 and f.coordinate == coordinate]
        if len(members) < 10:
            continue
        size = np.abs([figures[k].given_mm for k in members])
        most = 3.0 * float(np.percentile(size, 90))
        out.update(k for k, v in zip(members, size, strict=True) if v > most > 0)
    return frozenset(out)


def _figure(table: OffsetTable, r: int, row: Row, c: int, value: float) -> Figure:
    x = float(table.x_mm[c])
    nan = float("nan")
    coordinate: Coordinate
    if row.line == "diagonal":
        coordinate = "d"
        plane = table.diagonals.get(row.at)
        at = (x, nan, nan)
        if plane is not None:
            dy, dz = diagonal_axes(plane.slope_deg)
            at = (x, dy * value, plane.height_mm + dz * value)
    elif row.line == "height":
        coordinate = "z"
        at = (x, row.at_mm if row.what == "buttock" else nan, value)
    else:
        coordinate = "y"
        at = (x, value, row.at_mm if row.what == "waterline" else nan)
    return Figure(row.name, table.stations[c], row.texts[c], r, c, row.what, coordinate, value, at)


def _steepest(name: str, points: Array, k: int) -> Coordinate:
    """The coordinate in which an end point says most: square to the run of its line."""
    if name.startswith("sheer") or name == "transom edge":
        return "y"
    a, b = points[max(k - 1, 0)], points[min(k + 1, len(points) - 1)]
    return "x" if abs(b[2] - a[2]) > abs(b[0] - a[0]) else "z"
