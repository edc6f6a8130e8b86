"""Invented 12 m hulls of four kinds, exact, and tables of offsets taken off them.

No real vessel stands behind them. A section at x is a Bezier curve of degree five between rabbet
and sheer, its inner points given as shares of breadth and depth that vary smoothly along the hull;
the bluff bow is rounded in plan so that its waterlines meet the stem square. Millimetres, x aft,
z up.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from futtock.vessel.table import Diagonal, OffsetTable, Row

Array = NDArray[np.float64]
LENGTH = 12_000.0
Line = Callable[[Array], Array]


@dataclass(frozen=True)
class Invented:
    """An exact hull: rabbet (x, y, z), sheer, section shares, and what closes her aft."""

    name: str
    rabbet_z: Line
    rabbet_y: Line
    sheer_z: Line
    sheer_y: Line
    shares: Callable[[Array], Array]
    stations: Array
    transom: tuple[float, float, float] | None = None
    """(x at the sheer's end, its height there, rake dx/dz), or None for a pointed stern."""

    def section(self, x: Array, p: Array) -> tuple[Array, Array]:
        """y, z at matching x and p in [0, 1]."""
        x, p = np.broadcast_arrays(np.asarray(x, float), np.asarray(p, float))
        s = self.shares(x)
        y0, z0 = self.rabbet_y(x), self.rabbet_z(x)
        wide, deep = self.sheer_y(x) - y0, self.sheer_z(x) - z0
        zero, one = np.zeros_like(x), np.ones_like(x)
        ys = [zero, s[..., 0], s[..., 1], s[..., 2], s[..., 3], one]
        zs = [zero, s[..., 4], s[..., 5], s[..., 6], s[..., 7], one]
        q = 1 - p
        b = [q**5, 5 * q**4 * p, 10 * q**3 * p**2, 10 * q**2 * p**3, 5 * q * p**4, p**5]
        y = sum(w * c for w, c in zip(b, ys, strict=True))
        z = sum(w * c for w, c in zip(b, zs, strict=True))
        return y0 + wide * y, z0 + deep * z

    @property
    def ends(self) -> tuple[float, float]:
        """x of her ends."""
        return 0.0, LENGTH

    def aft_of(self, z: Array) -> Array:
        """x where the planking ends at each height."""
        if self.transom is None:
            return np.full(np.shape(z), LENGTH)
        x, top, rake = self.transom
        return x + rake * (np.asarray(z) - top)

    def meet(self, x: float, a: float, b: float, c: float) -> tuple[float, float] | None:
        """(y, z) where the section at x meets the line a y + b z = c, else None."""
        p = np.linspace(0, 1, 401)
        y, z = self.section(np.full_like(p, x), p)
        gap = a * y + b * z - c
        cross = np.flatnonzero(gap[:-1] * gap[1:] < 0)
        if len(cross) != 1:
            return None
        low, high = p[cross[0]], p[cross[0] + 1]
        for _ in range(50):
            mid = (low + high) / 2
            y1, z1 = self.section(np.array(x), np.array(mid))
            if (a * y1 + b * z1 - c) * gap[cross[0]] > 0:
                low = mid
            else:
                high = mid
        y1, z1 = self.section(np.array(x), np.array((low + high) / 2))
        return float(y1), float(z1)

    def cloud(self, along: int = 90, up: int = 45) -> Array:
        """True points (n, 3), starboard, from 1 % inside her ends."""
        x = np.linspace(0.004 * LENGTH, 0.996 * LENGTH, along)
        x, p = (g.ravel() for g in np.meshgrid(x, np.linspace(0, 1, up), indexing="ij"))
        y, z = self.section(x, p)
        keep = x < self.aft_of(z) - 5.0
        return np.column_stack([x, y, z])[keep]


def _over_x(*pairs: tuple[float, float]) -> Line:
    x, value = np.array(pairs).T
    return CubicSpline(x * LENGTH, value)


def _shares(**keys: tuple[float, ...]) -> Callable[[Array], Array]:
    x = np.array([float(k[1:]) / 100 for k in keys]) * LENGTH
    return CubicSpline(x, np.array(list(keys.values())), bc_type="natural")


def _stem(foot: float, rise: float, power: float, reach: float) -> Line:
    return lambda x: foot + rise * np.clip(1 - np.asarray(x) / reach, 0, None) ** power


def _stations(*percent: float) -> Array:
    return np.array(percent) / 100 * LENGTH


def hollow() -> Invented:
    """Hollow garboards, raked stem, raked flat transom."""

    def rabbet(x: Array) -> Array:
        x = np.asarray(x, float)
        fore = _stem(640, 1900, 7, 3000.0)(x) - 0.025 * x
        return fore + 1250 * np.clip((x - 9400) / 2600, 0, None) ** 3

    return Invented(
        "hollow garboard, transom",
        rabbet,
        lambda x: 62 + 22 * np.sin(np.pi * np.clip(np.asarray(x) / LENGTH, 0, 1)),
        lambda x: 2140 + 400 * ((np.asarray(x) - 7600) / 7600) ** 2,
        _over_x(
            (0, 62), (0.06, 430), (0.2, 1130), (0.4, 1690), (0.6, 1760), (0.8, 1530), (1, 1190)
        ),
        _shares(
            x0=(0.12, 0.33, 0.55, 0.80, 0.14, 0.34, 0.56, 0.80),
            x25=(0.07, 0.26, 0.66, 0.92, 0.14, 0.27, 0.40, 0.68),
            x50=(0.04, 0.34, 0.94, 1.01, 0.12, 0.22, 0.27, 0.56),
            x75=(0.03, 0.22, 0.78, 0.99, 0.18, 0.36, 0.44, 0.68),
            x100=(0.03, 0.20, 0.64, 0.96, 0.24, 0.50, 0.66, 0.82),
        ),
        _stations(2, 5, 9, 15, 22, 30, 38, 46, 54, 62, 70, 78, 85, 90, 94, 97),
        (LENGTH, 2140 + 400 * (4400 / 7600) ** 2, 0.35),
    )


def flat_floored() -> Invented:
    """A flat floor amidships, hard bilge, upright topsides, raked flat transom."""

    def rabbet(x: Array) -> Array:
        x = np.asarray(x, float)
        fore = _stem(420, 1750, 8, 2600.0)(x) - 0.004 * x
        return fore + 900 * np.clip((x - 9000) / 3000, 0, None) ** 2.6

    return Invented(
        "flat floor, transom",
        rabbet,
        lambda x: 70 + 30 * np.sin(np.pi * np.clip(np.asarray(x) / LENGTH, 0, 1)),
        lambda x: 1800 + 380 * ((np.asarray(x) - 7200) / 7200) ** 2,
        _over_x(
            (0, 70), (0.05, 480), (0.15, 1150), (0.3, 1700), (0.55, 1880), (0.8, 1720), (1, 1430)
        ),
        _shares(
            x0=(0.16, 0.36, 0.58, 0.82, 0.16, 0.36, 0.58, 0.80),
            x20=(0.24, 0.50, 0.80, 0.96, 0.10, 0.18, 0.36, 0.68),
            x50=(0.34, 0.72, 1.04, 1.00, 0.03, 0.04, 0.14, 0.54),
            x80=(0.26, 0.58, 0.94, 1.00, 0.12, 0.16, 0.30, 0.62),
            x100=(0.20, 0.48, 0.80, 0.98, 0.18, 0.34, 0.50, 0.74),
        ),
        _stations(2, 5, 9, 15, 22, 30, 38, 46, 54, 62, 70, 78, 85, 90, 94, 97),
        (LENGTH, 1800 + 380 * (4800 / 7200) ** 2, 0.25),
    )


def canoe_stern() -> Invented:
    """Pointed at both ends, raked stem and sternpost, slack bilges."""

    def rabbet(x: Array) -> Array:
        x = np.asarray(x, float)
        aft = 1700 * np.clip((x - 9300) / 2700, 0, None) ** 6
        return _stem(500, 1650, 7, 2900.0)(x) + aft - 0.012 * x

    return Invented(
        "canoe stern",
        rabbet,
        lambda x: 58 + 18 * np.sin(np.pi * np.clip(np.asarray(x) / LENGTH, 0, 1)),
        lambda x: 1700 + 430 * ((np.asarray(x) - 6500) / 6000) ** 2,
        _over_x((0, 58), (0.06, 420), (0.2, 1060), (0.45, 1540), (0.7, 1320), (0.88, 760), (1, 58)),
        _shares(
            x0=(0.14, 0.34, 0.56, 0.80, 0.16, 0.36, 0.58, 0.80),
            x30=(0.14, 0.40, 0.76, 0.94, 0.13, 0.24, 0.40, 0.68),
            x50=(0.16, 0.46, 0.88, 0.99, 0.12, 0.20, 0.32, 0.62),
            x75=(0.10, 0.34, 0.74, 0.95, 0.15, 0.30, 0.46, 0.72),
            x100=(0.14, 0.36, 0.58, 0.82, 0.16, 0.36, 0.58, 0.80),
        ),
        _stations(2, 5, 9, 16, 24, 33, 42, 50, 58, 67, 76, 84, 91, 95, 98),
    )


def bluff() -> Invented:
    """A bluff bow: a rounded forefoot, and waterlines that meet the stem square."""
    reach = 3600.0

    def round_in(x: Array) -> Array:
        s = np.clip(np.asarray(x, float) / reach, 0, 1)
        # blunt at the stem, and its bend dies out where the entrance ends: a fair line
        return np.sqrt(np.clip(1 - (1 - s) ** 3, 0, None))

    wide = _over_x((0, 1500), (0.3, 1790), (0.55, 1850), (0.8, 1640), (1, 1300))

    def sheer(x: Array) -> Array:
        return 72 + (wide(x) - 72) * round_in(x)

    def rabbet(x: Array) -> Array:
        x = np.asarray(x, float)
        turn = np.clip(1 - x / 1700, 0, 1)
        fore = 1500 * (1 - np.sqrt(1 - turn**3))
        return fore + 480 - 0.01 * x + 1050 * np.clip((x - 9200) / 2800, 0, None) ** 2.8

    return Invented(
        "bluff bow, transom",
        rabbet,
        lambda x: 72 + 0 * np.asarray(x, float),
        lambda x: 2050 + 420 * ((np.asarray(x) - 7400) / 7400) ** 2,
        sheer,
        _shares(
            x0=(0.20, 0.50, 0.80, 0.96, 0.12, 0.26, 0.42, 0.70),
            x50=(0.22, 0.58, 0.98, 1.00, 0.07, 0.12, 0.24, 0.58),
            x75=(0.12, 0.40, 0.86, 0.99, 0.13, 0.24, 0.36, 0.66),
            x100=(0.08, 0.32, 0.72, 0.97, 0.20, 0.42, 0.58, 0.78),
        ),
        _stations(0.4, 1.2, 3, 6, 10, 15, 22, 30, 40, 50, 60, 70, 79, 86, 91, 94, 97),
        (LENGTH, 2050 + 420 * (4600 / 7400) ** 2, 0.30),
    )


KINDS = (hollow, flat_floored, canoe_stern, bluff)


# ------------------------------------------------------------ a table taken off


def take_table(hull: Invented, waterline_step: float = 150.0, buttocks: bool = True) -> OffsetTable:
    """Her exact table with its end lines; figures in millimetres."""
    x = hull.stations
    rows: list[Row] = []

    def add(line: str, at: str, what: str, at_mm: float, values: list[float]) -> None:
        texts = tuple("" if np.isnan(v) else f"{v:.3f}" for v in values)
        rows.append(Row(line, at, what, at_mm, np.array(values), texts, len(rows)))  # type: ignore[arg-type]

    nan = float("nan")
    add("height", "sheer", "sheer", nan, [float(hull.sheer_z(v)) for v in x])
    add("height", "rabbet", "rabbet", nan, [float(hull.rabbet_z(v)) for v in x])
    for y in (150.0, 350.0, 700.0, 1150.0) if buttocks else (600.0,):
        met = [hull.meet(v, 1, 0, y) for v in x]
        add("height", f"buttock {y:.0f}", "buttock", y, [m[1] if m else nan for m in met])
    add("halfbreadth", "sheer", "sheer", nan, [float(hull.sheer_y(v)) for v in x])
    add("halfbreadth", "rabbet", "rabbet", nan, [float(hull.rabbet_y(v)) for v in x])
    low = np.arange(450.0, 1300.0, waterline_step)
    for z in np.r_[low, np.arange(low[-1], 2500.0, 2.0 * waterline_step)[1:]]:
        values = []
        for v in x:
            met_here = hull.meet(v, 0, 1, z)
            inside = met_here and v < hull.aft_of(np.array(z))
            values.append(met_here[0] if met_here and inside else nan)
        if np.isfinite(values).sum() >= 2:
            add("halfbreadth", f"waterline {z:.0f}", "waterline", float(z), values)
    planes = {"A": Diagonal("A", 1900.0, -35.0), "B": Diagonal("B", 1400.0, -40.0)}
    for name, plane in planes.items() if buttocks else ():
        s = np.radians(plane.slope_deg)
        met = [hull.meet(v, -np.sin(s), np.cos(s), np.cos(s) * plane.height_mm) for v in x]
        add("diagonal", name, "diagonal", nan, [m[0] / np.cos(s) if m else nan for m in met])
    ends = _end_lines(hull)
    return OffsetTable(
        hull.name, tuple(str(k) for k in range(len(x))), x, tuple(rows), planes, ends, "ends.csv"
    )


def _end_lines(hull: Invented) -> dict[str, Array]:
    def rabbet(x: Array) -> Array:
        return np.column_stack([x, hull.rabbet_y(x), hull.rabbet_z(x)])

    def sheer(x: Array) -> Array:
        return np.column_stack([x, hull.sheer_y(x), hull.sheer_z(x)])

    out: dict[str, Array] = {}
    dense = np.r_[np.linspace(0, 100, 2001), np.linspace(100, 2600, 4001)]
    z = hull.rabbet_z(dense)
    head = float(hull.sheer_z(np.array(0.0)))
    # the rabbet's head lies where it meets the sheer, or the stem stands plumb up to it
    x0 = float(dense[np.flatnonzero(z <= hull.sheer_z(dense))[0]])
    heights = np.arange(np.floor((head - 60) / 200) * 200, 700, -200.0)
    heights = heights[heights < float(hull.rabbet_z(np.array(x0))) - 20]
    x = np.interp(heights, z[::-1], dense[::-1])
    points = rabbet(np.unique(np.r_[x0, x, 1400.0, 2000.0, 2600.0]))
    foot = float(points[0, 2])
    if foot < head - 30:
        plumb = np.arange(head, foot + 60, -170.0)
        upright = np.column_stack([0 * plumb, np.full_like(plumb, points[0, 1]), plumb])
        points = np.vstack([upright, points])
    out["stem rabbet"] = points
    first = float(hull.stations[0])
    out["sheer forward"] = sheer(np.r_[x0, x0 + (first - x0) / 2, first])
    if hull.transom is None:
        dense = np.linspace(9400, LENGTH, 4001)
        z = hull.rabbet_z(dense)
        top = float(dense[np.flatnonzero(z <= hull.sheer_z(dense))[-1]])
        heights = np.arange(800.0, head - 60, 200.0)
        x = np.interp(heights, z, dense)
        out["post rabbet"] = rabbet(np.unique(np.r_[9400.0, 10200.0, x[x < top - 1], top]))
        out["sheer aft"] = sheer(np.r_[0.98 * LENGTH, 0.99 * LENGTH, top])
        return out
    dense = np.linspace(9000, LENGTH, 6001)
    gap = dense - hull.aft_of(hull.rabbet_z(dense))
    tuck = float(dense[np.flatnonzero(gap < 0)[-1]]) if np.any(gap > 0) else LENGTH
    tuck_z = float(hull.rabbet_z(np.array(tuck)))
    out["post rabbet"] = rabbet(np.r_[9600.0, 10200.0, 10700.0, 11000.0, tuck])
    edge = []
    for z in np.r_[
        tuck_z, np.arange(np.ceil(tuck_z / 100) * 100 + 20, hull.transom[1] - 30, 100.0)
    ]:
        x = float(hull.aft_of(np.array(z)))
        met = hull.meet(x, 0, 1, z)
        edge.append((x, met[0] if met else float(hull.rabbet_y(np.array(x))), z))
    edge.append((LENGTH, float(hull.sheer_y(np.array(LENGTH))), hull.transom[1]))
    out["transom edge"] = np.array(edge)
    out["sheer aft"] = sheer(np.array([0.95, 0.97, 0.985, 1.0]) * LENGTH)
    return out


def read_off(
    table: OffsetTable,
    rng: np.random.Generator,
    noise: float = 0.0,
    rounding: float = 1.0,
    wrong: float = 0.0,
) -> tuple[OffsetTable, dict[tuple[str, str], float]]:
    """The table as a person would have it: read with noise, rounded, a share of it wrong.

    Wrong figures are an inch or a foot off, two digits exchanged, or the row above's figure; those
    that come out within four readings' errors of the truth are left right. Returns the table and
    the true value of each wrong figure by (row, station).
    """
    slips: dict[tuple[str, str], float] = {}
    error = max(noise, rounding / np.sqrt(12))
    rows = []
    for r, row in enumerate(table.rows):
        values = row.values_mm.copy()
        live = np.flatnonzero(np.isfinite(values))
        values[live] += noise * rng.standard_normal(len(live))
        values = np.round(values / rounding) * rounding
        for c in live:
            if rng.random() >= wrong or row.what in ("rabbet", "keel"):
                continue
            true = float(values[c])
            said = _slip(rng, true, table, r, int(c))
            if abs(said - true) > 4 * max(error, 1.0):
                values[c] = said
                slips[row.name, table.stations[c]] = true
        texts = tuple("" if np.isnan(v) else f"{v:g}" for v in values)
        rows.append(replace(row, values_mm=values, texts=texts))
    ends = {}
    for name, points in table.ends.items():
        p = points + noise * rng.standard_normal(points.shape)
        ends[name] = np.round(p / rounding) * rounding
    return replace(table, rows=tuple(rows), ends=ends), slips


def _slip(rng: np.random.Generator, true: float, table: OffsetTable, r: int, c: int) -> float:
    kind = rng.integers(4)
    if kind == 0:
        return true + 25.4 * rng.choice([-1, 1])
    if kind == 1:
        return true + 304.8 * rng.choice([-1, 1])
    if kind == 2:
        digits = list(f"{abs(true):.0f}")
        k = int(rng.integers(max(len(digits) - 1, 1)))
        if len(digits) > 1:
            digits[k], digits[k + 1] = digits[k + 1], digits[k]
        return float("".join(digits))
    above = table.rows[r - 1] if r and table.rows[r - 1].line == table.rows[r].line else None
    value = above.values_mm[c] if above is not None else np.nan
    return float(np.round(value)) if np.isfinite(value) else true + 25.4
