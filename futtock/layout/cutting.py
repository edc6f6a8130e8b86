"""The cutting plan: which slab first, where the rough cuts run, what is left, figures for the tape.

Rough cuts are straight: each pair of neighbouring blanks is parted by a line that stays clear of
both by half the gap. Figures for the tape are in a slab's own grid: along a base line snapped
through the two ends of the slab, from its butt end, and square off it to the left.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from futtock.layout.exact import laid, sound_polygon
from futtock.layout.placement import Layout, Placement
from futtock.layout.settings import LaySettings
from futtock.moulds.mould import Mould
from futtock.stock.offcut import offcuts
from futtock.stock.slab import Slab

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class BaseLine:
    """A slab's base line: from ``start_mm`` along ``heading_deg``, in the top face's axes."""

    start_mm: tuple[float, float]
    heading_deg: float
    long_mm: float

    def figures(self, points_mm: Array) -> Array:
        """(along, off) of points (..., 2): off is positive to the left of the line."""
        t = np.radians(self.heading_deg)
        u = np.array([np.cos(t), np.sin(t)])
        d = np.asarray(points_mm, float) - np.asarray(self.start_mm)
        return np.stack([d @ u, d @ np.array([-u[1], u[0]])], axis=-1)


@dataclass(frozen=True, slots=True)
class Corner:
    """One point of a mould to be found by tape: what it is, where on the slab, tape figures."""

    name: str
    at_mm: tuple[float, float]
    along_mm: float
    off_mm: float


@dataclass(frozen=True, slots=True)
class Laying:
    """One timber's figures on its slab; ``face`` is the slab's face that is up when it is laid."""

    mark: str
    face: str
    corners: tuple[Corner, ...]


@dataclass(frozen=True, slots=True)
class RoughCut:
    """A straight rough cut (2, 2), in order of cutting, and the timbers it parts."""

    line_mm: Array
    parts: tuple[tuple[str, ...], tuple[str, ...]]
    long_mm: float


@dataclass(frozen=True, slots=True)
class SlabPlan:
    """All for one slab.

    ``follow`` names groups of timbers that no straight cut parts: they are sawn apart along their
    own lines. ``offcuts`` are what is left worth keeping.
    """

    slab: str
    order: int
    base: BaseLine
    layings: tuple[Laying, ...]
    cuts: tuple[RoughCut, ...]
    follow: tuple[tuple[str, ...], ...]
    offcuts: tuple[Slab, ...]


def base_line(slab: Slab) -> BaseLine:
    """The base line of a slab: the long way of its top outline, from the butt (broader) end."""
    ring = np.asarray(slab.top_mm, float)
    box = sound_polygon(ring).minimum_rotated_rectangle
    c = shapely.get_coordinates(box)[:4]
    sides = np.hypot(*(np.roll(c, -1, axis=0) - c).T)
    k = int(np.argmax(sides[:2]))
    a = (c[k] + c[(k + 3) % 4]) / 2
    b = (c[(k + 1) % 4] + c[(k + 2) % 4]) / 2
    u = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
    along = (ring - a) @ u
    half = sides[k] / 2
    n = np.array([-u[1], u[0]])

    def breadth(of: NDArray[np.bool_]) -> float:
        return float(np.ptp((ring[of] - a) @ n)) if of.sum() > 1 else 0.0

    if breadth(along > half) > breadth(along <= half):
        a, b, u = b, a, -u
    heading = float(np.degrees(np.arctan2(u[1], u[0])))
    return BaseLine((float(a[0]), float(a[1])), heading, float(np.hypot(*(b - a))))


def _corners(mould: Mould, placement: Placement, base: BaseLine) -> tuple[Corner, ...]:
    """Heel, middle and head of both edges of the up face, as seen from above the face that is up.

    On a slab turned over, off is to the left as one then looks along the base line from the butt.
    """
    named: list[tuple[str, Array]] = []
    for edge in mould.edges:
        run = edge.up_mm
        named += [(f"heel {edge.name}", run[0]), (f"middle {edge.name}", run[len(run) // 2])]
        named.append((f"head {edge.name}", run[-1]))
    if not named:  # a pattern with no edges told apart
        line = mould.grain_mm
        named = [("heel", line[0]), ("middle", line[len(line) // 2]), ("head", line[-1])]
    at = placement.lay(np.array([p for _n, p in named]))
    figures = base.figures(at) * np.array([1.0, -1.0 if placement.mirrored else 1.0])
    return tuple(
        Corner(name, (float(q[0]), float(q[1])), float(f[0]), float(f[1]))
        for (name, _p), q, f in zip(named, at, figures, strict=True)
    )


def _parting(
    blanks: Sequence[tuple[str, BaseGeometry]], ground: BaseGeometry, clear: float
) -> tuple[Array, list[int], list[int]] | None:
    """A straight line through the ground with every blank at least ``clear`` to one side.

    Lines square to, along, and between hulls of pairs are tried; the one that parts most evenly
    and is shortest is taken.
    """
    hulls = [shapely.get_coordinates(b.convex_hull) for _m, b in blanks]
    heads = set()
    for h in hulls:
        d = np.diff(h, axis=0)
        long = np.hypot(*d.T)
        for q in np.argsort(-long)[:6]:
            a = float(np.degrees(np.arctan2(d[q, 1], d[q, 0]))) % 180.0
            heads |= {round(a, 2), round((a + 90.0) % 180.0, 2)}
    best: tuple[tuple[float, float], Array, list[int], list[int]] | None = None
    x0, y0, x1, y1 = ground.bounds
    reach = float(np.hypot(x1 - x0, y1 - y0))
    for a in sorted(heads):
        t = np.radians(a)
        u, n = np.array([np.cos(t), np.sin(t)]), np.array([-np.sin(t), np.cos(t)])
        spans = sorted((float((h @ n).min()), float((h @ n).max()), q) for q, h in enumerate(hulls))
        top = spans[0][1]
        for q in range(1, len(spans)):
            low = spans[q][0]
            if low - top >= 2.0 * clear - 1e-6:
                middle = n * (low + top) / 2 + u * float(np.mean([(h @ u).mean() for h in hulls]))
                line = shapely.LineString([middle - u * reach, middle + u * reach])
                inside = line.intersection(ground)
                if inside.length > 0:
                    score = (-float(min(q, len(spans) - q)), float(inside.length))
                    if best is None or score < best[0]:
                        ends = shapely.get_coordinates(inside)
                        order = np.argsort(ends @ u)
                        cut = np.array([ends[order[0]], ends[order[-1]]])
                        one = [s[2] for s in spans[:q]]
                        best = (score, cut, one, [s[2] for s in spans[q:]])
            top = max(top, spans[q][1])
    return (best[1], best[2], best[3]) if best is not None else None


def _sawn_apart(
    blanks: list[tuple[str, BaseGeometry]],
    ground: BaseGeometry,
    clear: float,
    cuts: list[RoughCut],
    follow: list[tuple[str, ...]],
) -> None:
    if len(blanks) < 2:
        return
    found = _parting(blanks, ground, clear)
    if found is None:
        follow.append(tuple(m for m, _b in blanks))
        return
    line, one, two = found
    names = (tuple(blanks[q][0] for q in one), tuple(blanks[q][0] for q in two))
    cuts.append(RoughCut(line, names, float(np.hypot(*(line[1] - line[0])))))
    d = line[1] - line[0]
    n = np.array([-d[1], d[0]]) / max(float(np.hypot(*d)), 1e-9)
    far = 1e5
    sides = []
    for sign in (1.0, -1.0):
        box = np.vstack([line[0] - d * far, line[1] + d * far])
        sides.append(
            ground.intersection(shapely.Polygon(np.vstack([box, box[::-1] + sign * n * far])))
        )
    for group in (one, two):
        members = [blanks[q] for q in group]
        centre = shapely.get_coordinates(members[0][1].centroid)[0]
        side = sides[0] if (centre - line[0]) @ n > 0 else sides[1]
        _sawn_apart(members, side, clear, cuts, follow)


def cutting_plan(
    layout: Layout,
    moulds: Sequence[Mould],
    slabs: Sequence[Slab],
    settings: LaySettings,
    *,
    first: Sequence[str] = (),
    cut: Collection[str] = (),
) -> tuple[SlabPlan, ...]:
    """A plan for every slab begun, in the order in which to cut.

    Slabs that give the timbers of ``first`` (marks, most wanted first: the frames to be raised
    next) come first; the others by stack, so that a stack is turned once, then the fullest first.
    Timbers already ``cut`` are left out, and slabs with none left.
    """
    mould = {m.mark: m for m in moulds}
    slab = {s.name: s for s in slabs}
    by: dict[str, list[Placement]] = {}
    for p in layout.placements:
        if p.mark not in cut:
            by.setdefault(p.slab, []).append(p)
    wanted = {m: q for q, m in enumerate(first)}

    def rank(name: str) -> tuple[float, str, float, str]:
        soon = min((wanted.get(p.mark, len(first)) for p in by[name]), default=len(first))
        area = sum(mould[p.mark].square_m2 for p in by[name])
        return (float(soon), slab[name].stack, -area, name)

    plans = []
    for order, name in enumerate(sorted(by, key=rank), 1):
        s = slab[name]
        base = base_line(s)
        blanks = [(p.mark, laid(mould[p.mark], p).blank) for p in by[name]]
        ground = sound_polygon(s.face_top_mm if s.face_top_mm is not None else s.top_mm)
        allow = settings.rough_allowance_mm
        cuts: list[RoughCut] = []
        follow: list[tuple[str, ...]] = []
        _sawn_apart(blanks, ground, allow + settings.kerf_mm / 2.0, cuts, follow)
        sawn = [shapely.get_coordinates(b.buffer(allow))[:-1] for _m, b in blanks]
        layings = tuple(
            Laying(p.mark, "bottom" if p.mirrored else "top", _corners(mould[p.mark], p, base))
            for p in by[name]
        )
        plans.append(
            SlabPlan(
                name,
                order,
                base,
                layings,
                tuple(cuts),
                tuple(follow),
                offcuts(s, sawn, settings.kerf_mm),
            )
        )
    return tuple(plans)
