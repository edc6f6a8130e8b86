"""Fairness as the eye at the batten sees it: where each line turns over, and how its bend runs.

An inflection is where a line's curvature in its own plane changes sign for good: a run whose whole
bow is below half a millimetre is a flat, not a turn. The bend picture lays off each line's
curvature square to it, as a second line a shipwright can run an eye along.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock.lines.curves_on_hull import plane_cut
from futtock.lines.surface import Hull
from futtock.vessel.table import Diagonal, OffsetTable

Array = NDArray[np.float64]
Kind = Literal["waterline", "buttock", "diagonal"]
_LEAST = 1000.0
_SAGITTA = 0.5
_STEP = 25.0


@dataclass(frozen=True)
class Bend:
    """One line and how it bends.

    Attributes
    ----------
    kind, at
        Which line: its height, its distance off the centreline, or the diagonal's name.
    points : (n, 3)
        The line, by equal steps.
    curvature_per_m : (n,)
        In its own plane, per metre; positive where it bends outboard-round (waterlines and
        diagonals convex seen from outboard, buttocks seen from below).
    inflections : (k, 3)
        Where it turns over.
    quickest_m : float
        Its smallest radius, metres.
    """

    kind: Kind
    at: str
    points: Array
    curvature_per_m: Array
    inflections: Array
    quickest_m: float

    def picture(self, mm_per_unit: float) -> Array:
        """The bend laid off square to the line, in its plane: points (n, 3)."""
        tangent = np.gradient(self.points, axis=0)
        tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
        normal = np.cross(_plane_normal(self.points), tangent)
        return np.asarray(self.points + mm_per_unit * self.curvature_per_m[:, None] * normal)


def bends(
    hull: Hull,
    waterlines_mm: Array,
    buttocks_mm: Array,
    diagonals: tuple[Diagonal, ...] = (),
) -> tuple[Bend, ...]:
    """Every line of a lines plan with its bend and its inflections.

    Lines shorter than a metre are passed over.
    """
    out: list[Bend] = []
    jobs: list[tuple[Kind, str, Array, float]] = [
        ("waterline", f"{z:.0f}", np.array([0.0, 0.0, 1.0]), float(z)) for z in waterlines_mm
    ]
    jobs += [("buttock", f"{y:.0f}", np.array([0.0, 1.0, 0.0]), float(y)) for y in buttocks_mm]
    for d in diagonals:
        s = np.radians(d.slope_deg)
        normal = np.array([0.0, -np.sin(s), np.cos(s)])
        jobs.append(("diagonal", d.name, normal, d.height_mm * float(np.cos(s))))
    for kind, at, normal, level in jobs:
        for line in plane_cut(hull, normal, level):
            bend = bend_of(kind, at, line)
            if bend is not None:
                out.append(bend)
    return tuple(out)


def bends_of(hull: Hull, table: OffsetTable) -> tuple[Bend, ...]:
    """The bends of the table's own waterlines, buttocks and diagonals, named as it names them."""
    out: list[Bend] = []
    for kind in ("waterline", "buttock"):
        for row in table.rows:
            if row.what == kind and np.isfinite(row.at_mm):
                place = np.array([row.at_mm])
                none = np.array([])
                found = bends(hull, *((place, none) if kind == "waterline" else (none, place)))
                name = row.at.removeprefix(f"{kind} ")
                out += [replace(b, at=name) for b in found]
    return (*out, *bends(hull, np.array([]), np.array([]), tuple(table.diagonals.values())))


def bend_of(kind: Kind, at: str, line: Array) -> Bend | None:
    """The bend of one plane line (n, 3); None where it is shorter than a metre."""
    length = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))]
    if length[-1] < _LEAST or len(line) < 8:
        return None
    s = np.linspace(0.0, length[-1], max(int(length[-1] / _STEP), 16) + 1)
    keep = np.r_[True, np.diff(length) > 1e-6]
    points = np.column_stack([np.interp(s, length[keep], line[keep, i]) for i in range(3)])
    curvature = _curvature(points, s[1] - s[0]) * 1000.0
    if float(np.mean(curvature)) < 0:
        curvature = -curvature
    turns = _turns(curvature, s)
    inner = np.abs(curvature[2:-2]).max()
    radius = 1.0 / inner if inner > 0 else np.inf
    return Bend(kind, at, points, curvature, points[turns], float(radius))


def _plane_normal(points: Array) -> Array:
    centred = points - points.mean(axis=0)
    return np.asarray(np.linalg.svd(centred, full_matrices=False)[2][2])


def _curvature(points: Array, step: float) -> Array:
    """Signed curvature (per mm) in the line's plane, from chords 150 mm either way."""
    k = max(round(150.0 / step), 1)
    normal = _plane_normal(points)
    back = points[k:-k] - points[: -2 * k]
    on = points[2 * k :] - points[k:-k]
    cross = np.cross(back, on) @ normal
    lengths = np.linalg.norm(back, axis=1) * np.linalg.norm(on, axis=1)
    third = np.linalg.norm(points[2 * k :] - points[: -2 * k], axis=1)
    inner = 2.0 * cross / np.maximum(lengths * third, 1e-12)
    return np.concatenate([np.full(k, inner[0]), inner, np.full(k, inner[-1])])


def _turns(curvature_per_m: Array, s: Array) -> NDArray[np.intp]:
    """Indices where the curvature changes sign for good; flats do not count."""
    sign = np.where(curvature_per_m < 0, -1, 1)
    cuts = np.r_[0, np.flatnonzero(np.diff(sign)) + 1, len(sign)]
    runs = []
    for a, b in pairwise(cuts):
        length = s[b - 1] - s[a]
        bow = abs(float(curvature_per_m[a:b].mean())) / 1000.0 * length**2 / 8.0
        if bow >= _SAGITTA:
            runs.append((int(sign[a]), int(a), int(b)))
    out = []
    for (sign_a, _, end), (sign_b, begin, _) in pairwise(runs):
        if sign_a != sign_b:
            span = np.arange(end - 1, begin + 1)
            out.append(int(span[np.argmin(np.abs(curvature_per_m[span]))]))
    return np.array(out, np.intp)


@dataclass(frozen=True)
class Patch:
    """A place of the hull and how well it is known there."""

    at_mm: tuple[float, float, float]
    spread_mm: float
    lean_deg: float


@dataclass(frozen=True)
class Known:
    """How well the surface is known over a grid of places.

    Attributes
    ----------
    points : (n, 3)
        Places on the hull.
    spread_mm, lean_deg : (n,)
        Standard errors along the normal and of the lean.
    """

    points: Array
    spread_mm: Array
    lean_deg: Array


def known_over(hull: Hull, along: int = 40, up: int = 18) -> Known | None:
    """The spread over the whole side; None where the hull carries none."""
    if hull.spread is None:
        return None
    u = np.linspace(hull.u_range[0], hull.u_range[1], along + 2)[1:-1]
    low, high = hull.trim.low(u), hull.trim.high(u)
    w = np.linspace(0.02, 0.98, up)
    uu = np.repeat(u[:, None], len(w), axis=1).ravel()
    vv = (low[:, None] + (high - low)[:, None] * w).ravel()
    normal, lean = hull.spread(uu, vv)
    return Known(hull.surface.derivatives(uu, vv)[:, 0, :], normal, lean)


def where_to_measure(
    hull: Hull, most: int = 5, times: float = 2.5, known: Known | None = None
) -> tuple[Patch, ...]:
    """Places known much less well than the rest, worst first, no two within a tenth of her length.

    Empty where the hull carries no spread. ``known`` may be given where it has been found before.
    """
    known = known or known_over(hull)
    if known is None:
        return ()
    points, normal, lean = known.points, known.spread_mm, known.lean_deg
    usual = float(np.median(normal))
    apart = 0.1 * (hull.u_range[1] - hull.u_range[0])
    out: list[Patch] = []
    for k in np.argsort(-normal):
        if normal[k] < times * usual or len(out) >= most:
            break
        p = points[k]
        if all(np.linalg.norm(p - np.array(q.at_mm)) > apart for q in out):
            place = (float(p[0]), float(p[1]), float(p[2]))
            out.append(Patch(place, float(normal[k]), float(lean[k])))
    return tuple(out)
