"""What no layout can beat: true bounds only, never estimates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from futtock.layout.exact import FACES, sound_polygon
from futtock.layout.problem import Problem
from futtock.stock.slab import Slab
from futtock.stock.sound import FlawRules, face_ring, flaw_rings, flaws_of

Array = NDArray[np.float64]


def swollen_m2(slab: Slab, rules: FlawRules, half_gap_mm: float) -> float:
    """Area in which blanks swollen by half the gap between them can lie.

    Each blank lies in one face or the other, clear of flaws; swollen by half the gap, blanks of
    one slab still do not overlap and lie in that ground swollen alike. So their areas, kerf
    counted, sum to no more than this.
    """
    rules = replace(rules, knot_mm=0.0)
    grounds = []
    for face in FACES:
        ground = sound_polygon(face_ring(slab, face, rules))
        holes = [sound_polygon(r) for f in flaws_of(slab, face, rules) for r in flaw_rings(f)]
        grounds.append(ground.difference(shapely.union_all(holes)) if holes else ground)
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
    gives = np.array([swollen_m2(s, problem.settings.rules, half) for s in problem.slabs])
    need = sum(
        blank_m2(problem.moulds[j].outline_up_mm, problem.moulds[j].outline_down_mm, half)
        for j in placed
    )
    value = cheapest_cover(problem.sound_m2, gives, need)
    return value if np.isfinite(value) else float(problem.sound_m2.sum())
