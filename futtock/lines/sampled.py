"""A fair hull written out again as a table of offsets, faired or restored, for the yard to keep."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock.lines.curves_on_hull import plane_cut
from futtock.lines.surface import Hull
from futtock.measure import feet_inches_eighths, metric
from futtock.vessel.table import Diagonal, OffsetTable, Row

Array = NDArray[np.float64]
Style = Literal["imperial", "metric"]


@dataclass(frozen=True)
class Grid:
    """Which lines a table is to have: stations, waterlines, buttocks, diagonals; millimetres."""

    stations_mm: Array
    waterlines_mm: Array
    buttocks_mm: Array
    diagonals: tuple[Diagonal, ...] = ()
    names: tuple[str, ...] = ()

    @classmethod
    def of(cls, table: OffsetTable) -> Grid:
        """The lines of a table."""
        at = {
            what: np.array([r.at_mm for r in table.rows if r.what == what])
            for what in ("waterline", "buttock")
        }
        planes = tuple(
            table.diagonals[r.at]
            for r in table.rows
            if r.what == "diagonal" and r.at in table.diagonals
        )
        return cls(table.x_mm, at["waterline"], at["buttock"], planes, table.stations)

    @classmethod
    def over(cls, hull: Hull, stations: int = 21) -> Grid:
        """A grid to suit a hull: stations closer at the ends, lines about 150 mm apart."""
        low, high = hull.u_range
        p = np.linspace(0, 1, stations)
        x = low + (high - low) * (0.7 * p + 0.3 * (0.5 - 0.5 * np.cos(np.pi * p)))
        u = np.linspace(low, high, 60)
        bottom = hull.surface.derivatives(u, hull.trim.low(u))[:, 0, :]
        top = hull.surface.derivatives(u, hull.trim.high(u))[:, 0, :]
        z0, z1 = float(bottom[:, 2].min()), float(top[:, 2].max())
        step = max(round((z1 - z0) / 14 / 25) * 25, 25)
        waterlines = np.arange(np.ceil(z0 / step) * step, z1, step)
        wide = float(top[:, 1].max())
        buttocks = np.round(np.array([0.2, 0.4, 0.6, 0.8]) * wide / 25) * 25
        return cls(x[1:-1], waterlines, buttocks[buttocks > 0])


def sample_table(hull: Hull, grid: Grid, file: str = "offsets.csv") -> OffsetTable:
    """The hull's figures on a grid, to the full; texts in millimetres.

    Cells are nan where a line does not reach, or where a station meets it more than once.
    """
    x = np.asarray(grid.stations_mm, float)
    rows: list[Row] = []

    def add(line: str, at: str, what: str, at_mm: float, values: Array) -> None:
        if np.isfinite(values).any():
            texts = tuple("" if np.isnan(v) else metric(float(v), 1) for v in values)
            rows.append(Row(line, at, what, at_mm, values, texts, len(rows) + 3))  # type: ignore[arg-type]

    nan = float("nan")
    sections = [_dense_section(hull, float(v)) for v in x]
    ends = {
        k: np.array([s[i] if len(s) else [nan] * 3 for s in sections])
        for k, i in (("rabbet", 0), ("sheer", -1))
    }
    add("height", "sheer", "sheer", nan, ends["sheer"][:, 2])
    add("height", "rabbet", "rabbet", nan, ends["rabbet"][:, 2])
    for name in ("keel", "keel top"):
        if name in hull.profiles:
            add("height", name, name, nan, np.asarray(hull.profiles[name](x), float))
    for y in grid.buttocks_mm:
        values = np.array([_meet(s, 1.0, 0.0, float(y), 2) for s in sections])
        add("height", f"buttock {metric(float(y), 0)}", "buttock", float(y), values)
    add("halfbreadth", "sheer", "sheer", nan, ends["sheer"][:, 1])
    add("halfbreadth", "rabbet", "rabbet", nan, ends["rabbet"][:, 1])
    for z in np.sort(grid.waterlines_mm)[::-1]:
        values = np.array([_meet(s, 0.0, 1.0, float(z), 1) for s in sections])
        add("halfbreadth", f"waterline {metric(float(z), 0)}", "waterline", float(z), values)
    for plane in grid.diagonals:
        s = np.radians(plane.slope_deg)
        level = plane.height_mm * float(np.cos(s))
        values = np.array(
            [_meet(k, -float(np.sin(s)), float(np.cos(s)), level, 1) for k in sections]
        )
        add("diagonal", plane.name, "diagonal", nan, values / float(np.cos(s)))
    names = grid.names or tuple(str(k) for k in range(len(x)))
    return OffsetTable(file, names, x, tuple(rows), {d.name: d for d in grid.diagonals})


def _dense_section(hull: Hull, x: float) -> Array:
    cuts = plane_cut(hull, np.eye(3)[0], x, up=201)
    if not cuts:
        return np.zeros((0, 3))
    best = max(cuts, key=len)
    return best if best[0, 2] <= best[-1, 2] else best[::-1]


def _meet(section: Array, a: float, b: float, c: float, coordinate: int) -> float:
    """Where a y + b z = c is met, by a cubic through four points; nan unless once."""
    if len(section) < 4:
        return float("nan")
    gap = section[:, 1] * a + section[:, 2] * b - c
    cross = np.flatnonzero(gap[:-1] * gap[1:] <= 0)
    if len(cross) != 1:
        return float("nan")
    k = int(np.clip(cross[0] - 1, 0, len(section) - 4))
    g, v = gap[k : k + 4], section[k : k + 4, coordinate]
    if np.any(np.abs(np.diff(g)) < 1e-12):
        return float(section[cross[0], coordinate])
    # Lagrange's interpolation of the coordinate as a function of the gap, at nought
    out = 0.0
    for i in range(4):
        others = np.delete(g, i)
        out += float(v[i] * np.prod(-others / (g[i] - others)))
    return out


def write_table(table: OffsetTable, style: Style = "metric") -> str:
    """The text of ``offsets.csv``: feet-inches-eighths, or millimetres to a tenth."""

    def cell(mm: float) -> str:
        if not np.isfinite(mm):
            return ""
        return feet_inches_eighths(mm) if style == "imperial" else metric(mm, 1)

    def at(row: Row) -> str:
        if row.what in ("waterline", "buttock"):
            return f"{row.what} {cell(row.at_mm)}"
        return row.at

    lines = [",".join(["line", "at", *table.stations])]
    lines.append(",".join(["station", "", *(cell(float(v)) for v in table.x_mm)]))
    lines += [",".join([r.line, at(r), *(cell(float(v)) for v in r.values_mm)]) for r in table.rows]
    return "\n".join(lines) + "\n"


def write_ends(ends: dict[str, Array], style: Style = "metric") -> str:
    """The text of ``ends.csv``."""

    def cell(mm: float) -> str:
        return feet_inches_eighths(mm) if style == "imperial" else metric(mm, 1)

    rows: Sequence[str] = [
        ",".join([name, *(cell(float(c)) for c in p)]) for name, line in ends.items() for p in line
    ]
    return "\n".join(["line,x,y,z", *rows]) + "\n"
