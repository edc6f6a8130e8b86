"""What no layout can beat: true bounds only, never estimates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from futtock.layout.corner import sound_rings
from futtock.layout.exact import FACES, sound_polygon
from futtock.layout.problem import Problem
from futtock.stock.slab import Slab
from futtock.stock.sound import FlawRules, face_ring, flaw_rings, flaws_of

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Reach:
    """How far into narrow wood the timbers of a layout go.

    Every point of every timber's face lies within ``beyond_mm`` of a disc of ``disc_mm`` radius
    that lies in that face: so wood farther from every such disc on a slab is never used.
    """

    disc_mm: float
    beyond_mm: float


def reach_of(problem: Problem, placed: Sequence[int]) -> Reach:
    """The reach of these moulds: their narrowest half width, and how far corners stand beyond.

    The disc is a little smaller than the narrowest timber's largest, so that it goes from end to
    end of each; corners are measured every 2 mm round each face, and 2 mm are added for what lies
    between.
    """
    rings: list[Array] = []
    for i in sorted({problem.member[j].pattern for j in placed}):
        mould = problem.moulds[problem.marks_of()[i][0]]
        up, down = sound_rings(mould, problem.settings.wane_mm)
        rings.append(up)
        if not np.array_equal(up, down):
            rings.append(down)
    faces = [sound_polygon(r) for r in rings]
    disc = 0.98 * min(_narrowest(f) for f in faces)
    beyond = 0.0
    for face in faces:
        opened = face.buffer(-disc, quad_segs=16).buffer(disc * 0.999, quad_segs=16)
        edge = shapely.get_coordinates(shapely.segmentize(face.boundary, 2.0))
        if opened.is_empty:
            return Reach(0.0, 0.0)
        # all but the corners lie within a millimetre of a disc: only these are measured
        near = opened.buffer(1.0)
        shapely.prepare(near)
        far = edge[~shapely.contains_xy(near, edge)]
        farthest = shapely.distance(shapely.points(far), opened).max() if len(far) else 1.0
        beyond = max(beyond, float(farthest))
    return Reach(disc, beyond + 2.0)


def _narrowest(face: BaseGeometry) -> float:
    """About the least half width of a long face: shrunk by it, it still holds together."""
    low, high = 0.0, float(np.sqrt(face.area))
    for _ in range(12):
        middle = (low + high) / 2
        shrunk = face.buffer(-middle, quad_segs=8)
        if len(shapely.get_parts(shrunk)) == 1 and (
            shrunk.length > face.length - 10.0 * middle - 20.0
        ):
            low = middle
        else:
            high = middle
    return low


def swollen_m2(
    slab: Slab, rules: FlawRules, half_gap_mm: float, reach: Reach | None = None
) -> float:
    """Area in which blanks swollen by half the gap between them can lie.

    Each blank lies in one face or the other, clear of flaws; swollen by half the gap, blanks of
    one slab still do not overlap and lie in that ground swollen alike. So their areas, kerf
    counted, sum to no more than this. With a ``reach``, wood too narrow for any timber is not
    counted. Knots that the rules allow by size count as ground.
    """
    grounds = []
    for face in FACES:
        ground = sound_polygon(face_ring(slab, face, rules))
        holes = [sound_polygon(r) for f in flaws_of(slab, face, rules) for r in flaw_rings(f)]
        if holes:
            ground = ground.difference(shapely.union_all(holes))
        if reach is not None and reach.disc_mm > 0.0:
            # chords run inside round corners when growing and outside them when shrinking
            kept = ground.buffer(-reach.disc_mm * 0.998, quad_segs=16)
            kept = kept.buffer((reach.disc_mm + reach.beyond_mm) * 1.003, quad_segs=16)
            ground = ground.intersection(kept)
        grounds.append(ground)
    whole = shapely.union_all(grounds)
    # a chord runs inside a round corner: grow a little more, so that it stays a true bound
    return float(whole.buffer(half_gap_mm * 1.001, quad_segs=32).area) / 1e6


def blank_m2(up: Array, down: Array, half_gap_mm: float) -> float:
    """Area of a blank swollen by half the gap, never more than the truth."""
    blank = shapely.union_all([sound_polygon(up), sound_polygon(down)])
    return float(blank.buffer(half_gap_mm, quad_segs=8).area) / 1e6


def cheapest_cover(price: Array, gives: Array, need: float) -> float:
    """Least total price of parts of slabs that together give ``need``; infinite where none do.

    This is the relaxation in which a slab may be begun in part, so it is never above the price of
    any choice of whole slabs.
    """
    use = gives > 0
    price, gives = price[use], gives[use]
    total, cost = 0.0, 0.0
    for k in np.argsort(price / gives, kind="stable"):
        if total + gives[k] >= need:
            return cost + float(price[k]) * (need - total) / float(gives[k])
        total += float(gives[k])
        cost += float(price[k])
    return float("inf") if need > total + 1e-12 else cost


def area_bound(problem: Problem, placed: Sequence[int]) -> float:
    """Least sound area (m2, bottom faces) of slabs that any layout of these moulds begins.

    By area with kerf: see :func:`swollen_m2`.
    """
    half = problem.settings.gap_mm / 2.0
    reach = reach_of(problem, placed) if placed else None
    gives = np.array([swollen_m2(s, problem.settings.rules, half, reach) for s in problem.slabs])
    need = sum(
        blank_m2(*sound_rings(problem.moulds[j], problem.settings.wane_mm), half) for j in placed
    )
    value = cheapest_cover(problem.sound_m2, gives, need)
    return value if np.isfinite(value) else float(problem.sound_m2.sum())
