"""Which way the grain runs at every point of a slab, how sure that is, and the slope of a line.

The field comes from traced lines, or from the outline's middle line where none were traced. It
flows round knots: in the knot's own axes (along and across the grain, scaled by its half lengths)
it follows the stream function v (1 - f(r)), f = exp(-((r - 1) / 0.6)^2) / r^2, the flow round a
cylinder cut short, because the figure of wood straightens within a diameter or so of the knot
(common practice, no source). On a traced line the trace is believed and the knot adds nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.stock.grid import Grid, slab_grid
from futtock.stock.outline import arc_mm, evenly, middle_line
from futtock.stock.slab import Flaw, Slab

Array = NDArray[np.float64]

_NEAR_MM = 3.0  # lines nearer than this to a point outweigh all others
_TRACED_REACH_MM = 25.0  # a knot bends the grain only this far from a trace
_SURE_REACH_MM = 150.0  # confidence falls to 1/e of itself this far from any trace
_GUESS = 0.4  # confidence of a field guessed from the outline
_SPREAD = 0.6  # how far the bend round a knot reaches, in half lengths
_BENDS = ("knot",)


@dataclass(frozen=True, slots=True)
class GrainRaster:
    """Grain on a grid: ``angle_deg`` and ``confidence`` (rows, columns), both read-only.

    Angles are anticlockwise from x and lie within 90 degrees of ``heading_deg``, the slab's mean
    direction, so that they do not jump on a slab that is bent less than that.
    """

    grid: Grid
    angle_deg: Array
    confidence: Array
    heading_deg: float


@dataclass(frozen=True, slots=True)
class Knot:
    """A knot as the grain meets it: centre, half lengths along and across the grain."""

    centre_mm: tuple[float, float]
    along_mm: float
    across_mm: float
    angle_deg: float


@dataclass(frozen=True, slots=True)
class GrainField:
    """The grain of one slab, to be asked at any point.

    ``lines_mm`` are the lines it is drawn from, ``guessed`` True where they are the outline's
    middle line; ``seen`` is a field read from a photograph, believed by its own confidence.
    """

    lines_mm: tuple[Array, ...]
    guessed: bool
    knots: tuple[Knot, ...] = ()
    seen: GrainRaster | None = None
    heading_deg: float = 0.0

    def at(self, points_mm: Array) -> tuple[Array, Array]:
        """Direction (...,) in degrees and confidence (...,) from 0 to 1 at points (..., 2).

        Directions are modulo 180 and are given within 90 degrees of ``heading_deg``. Confidence
        falls away from the traces and near knots, is nought inside a knot, and is at most 0.4
        where the field is guessed from the outline.
        """
        points = np.ascontiguousarray(np.asarray(points_mm, float).reshape(-1, 2))
        cos2, sin2, nearest = _from_lines(points, self.lines_mm)
        sure = np.exp(-nearest / _SURE_REACH_MM) * (_GUESS if self.guessed else 1.0)
        if self.seen is not None:
            cos2, sin2, sure = _blended(points, cos2, sin2, sure, self.seen)
        angle = np.arctan2(sin2, cos2) / 2.0
        trust = 0.0 if self.guessed else 1.0
        free = 1.0 - trust * np.exp(-((nearest / _TRACED_REACH_MM) ** 2))
        for knot in self.knots:
            bend, doubt = _round_knot(points, knot)
            angle = angle + free * bend
            sure = sure * (1.0 - doubt)
        shape = np.shape(points_mm)[:-1]
        return _towards(np.degrees(angle), self.heading_deg).reshape(shape), sure.reshape(shape)


@dataclass(frozen=True, slots=True)
class Slope:
    """Slope of grain along a line laid on a slab: tangents of the angle between the two.

    ``at_mm`` (n,) distance along the line, ``slope`` (n,) the tangent there (0.1 is 1 in 10),
    ``confidence`` (n,) of the grain there; ``mean`` and ``worst`` over the samples.
    """

    at_mm: Array
    slope: Array
    confidence: Array

    @property
    def mean(self) -> float:
        """Mean slope along the line."""
        return float(self.slope.mean())

    @property
    def worst(self) -> float:
        """Steepest slope along the line."""
        return float(self.slope.max())


def grain_field(slab: Slab, seen: GrainRaster | None = None) -> GrainField:
    """The grain field of a slab, from its traced lines or from its middle line.

    Lines of fewer than two points apart are passed over; with none left, the middle line of the
    top outline stands in and the field is marked as guessed.
    """
    lines = tuple(line for line in slab.grain_mm if len(line) > 1 and arc_mm(line)[-1] > 1.0)
    guessed = slab.grain_guessed or not lines
    if not lines:
        lines = (middle_line(slab.top_mm),)
    heading = _heading_deg(lines)
    bare = GrainField(lines, guessed, (), seen, heading)
    knots = tuple(_knot(bare, f) for f in slab.flaws if f.kind in _BENDS)
    return GrainField(lines, guessed, knots, seen, heading)


def grain_raster(
    slab: Slab, grid: Grid | None = None, field: GrainField | None = None
) -> GrainRaster:
    """The grain of a slab on a grid (5 mm by default)."""
    grid = grid or slab_grid(slab)
    field = field or grain_field(slab)
    angle, sure = field.at(grid.nodes_mm())
    angle.flags.writeable = sure.flags.writeable = False
    return GrainRaster(grid, angle, sure, field.heading_deg)


def slope_of_grain(field: GrainField, line_mm: Array, every_mm: float = 20.0) -> Slope:
    """Slope of grain of a line (n, 2) laid on a slab, sampled ``every_mm`` and at its ends.

    The line's own direction at a sample is that of its chord over one sample to either side.
    """
    line = np.asarray(line_mm, float)
    count = max(3, int(np.ceil(arc_mm(line)[-1] / every_mm)) + 1)
    points = evenly(line, count)
    chord = np.gradient(points, axis=0)
    own = np.degrees(np.arctan2(chord[:, 1], chord[:, 0]))
    angle, sure = field.at(points)
    return Slope(arc_mm(points), np.abs(np.tan(np.radians(_towards(angle - own, 0.0)))), sure)


def _towards(angle_deg: Array, heading_deg: float) -> Array:
    """Angles modulo 180, moved to within 90 degrees of a heading."""
    return (angle_deg - heading_deg + 90.0) % 180.0 - 90.0 + heading_deg


def _heading_deg(lines: tuple[Array, ...]) -> float:
    """Mean direction of lines, by doubled angles weighted with length, in (-90, 90]."""
    chords = np.vstack([np.diff(line, axis=0) for line in lines])
    z = chords[:, 0] + 1j * chords[:, 1]
    doubled = (z * z / np.maximum(np.abs(z), 1e-12)).sum()
    return float(np.degrees(np.angle(doubled)) / 2.0)


def _from_lines(points: Array, lines: tuple[Array, ...]) -> tuple[Array, Array, Array]:
    from futtock.stock.kernels import line_directions

    starts = np.cumsum([0, *(len(line) for line in lines)])
    flat = np.ascontiguousarray(np.vstack(lines), dtype=float)
    cos2, sin2, nearest = (np.empty(len(points)) for _ in range(3))
    line_directions(points, flat, starts, _NEAR_MM, cos2, sin2, nearest)
    return cos2, sin2, nearest


def _blended(
    points: Array, cos2: Array, sin2: Array, sure: Array, seen: GrainRaster
) -> tuple[Array, Array, Array]:
    """Traces and a photograph's field, each by the square of its confidence."""
    at = seen.grid.cells(points)
    column = np.clip(np.rint(at[:, 0]).astype(int), 0, seen.grid.columns - 1)
    row = np.clip(np.rint(at[:, 1]).astype(int), 0, seen.grid.rows - 1)
    within = (np.abs(at[:, 0] - column) <= 0.5) & (np.abs(at[:, 1] - row) <= 0.5)
    theirs = np.where(within, seen.confidence[row, column], 0.0)
    doubled = np.radians(2.0 * seen.angle_deg[row, column])
    w, v = sure**2, theirs**2
    c, s = w * cos2 + v * np.cos(doubled), w * sin2 + v * np.sin(doubled)
    size = np.hypot(c, s)
    safe = np.where(size > 1e-12, size, 1.0)
    c, s = np.where(size > 1e-12, c / safe, cos2), np.where(size > 1e-12, s / safe, sin2)
    return c, s, np.maximum(sure, theirs)


def _knot(field: GrainField, flaw: Flaw) -> Knot:
    """The knot's half lengths along and across the grain at its centre."""
    ring = flaw.outline_mm
    centre = (ring.max(0) + ring.min(0)) / 2.0
    angle = float(field.at(centre[None])[0][0])
    t = np.radians(angle)
    u = (ring - centre) @ np.array([np.cos(t), np.sin(t)])
    v = (ring - centre) @ np.array([-np.sin(t), np.cos(t)])
    middle = np.array([(u.max() + u.min()) / 2, (v.max() + v.min()) / 2])
    turn = np.array([[np.cos(t), np.sin(t)], [-np.sin(t), np.cos(t)]])
    centre = centre + middle @ turn
    return Knot(
        (float(centre[0]), float(centre[1])),
        max(float(np.ptp(u)) / 2.0, 1.0),
        max(float(np.ptp(v)) / 2.0, 1.0),
        angle,
    )


def _round_knot(points: Array, knot: Knot) -> tuple[Array, Array]:
    """How far the grain is turned (radians) by a knot at points (n, 2), and the doubt it brings."""
    t = np.radians(knot.angle_deg)
    d = points - np.asarray(knot.centre_mm)
    u = (d @ np.array([np.cos(t), np.sin(t)])) / knot.along_mm
    v = (d @ np.array([-np.sin(t), np.cos(t)])) / knot.across_mm
    r = np.hypot(u, v)
    rr = np.maximum(r, 1.0)
    f = np.exp(-(((rr - 1.0) / _SPREAD) ** 2)) / rr**2
    # at the rim itself v/r and u/r stand for the point carried out to the rim
    cu, cv = u / np.maximum(r, 1e-9), v / np.maximum(r, 1e-9)
    slope = -f * (2.0 / rr + 2.0 * (rr - 1.0) / _SPREAD**2)
    along = (1.0 - f - rr * cv * cv * slope) / knot.across_mm
    across = (rr * cv * cu * slope) / knot.along_mm
    bend = np.arctan2(across, np.maximum(along, 1e-9))
    bend = np.where(r < 1.0, bend * r, bend)
    doubt = np.exp(-((np.maximum(r - 1.0, 0.0) / _SPREAD) ** 2))
    return bend, doubt
