"""Moulds made ready for the search: discs that stand for each face, grain, a field to cut out.

Timbers of one shape (a port and a starboard timber without bevel are one shape turned over) share
a pattern. A pattern's axes have their origin on the middle line, half way along.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from futtock.layout.corner import sound_rings
from futtock.layout.settings import LaySettings
from futtock.moulds.mould import Mould

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

FINE_MM = 4.0  # boundary points that discs must cover
TOUCH_MM = 9.0  # boundary points from which discs are grown
COVER_MM = 0.7  # how far a boundary point may stand outside its disc
CONTACT = 28  # points at which snugness is felt
GRAIN_GUARD = 0.985  # share of the slope allowed that the search uses: the traces are rougher
GRAIN_MM = 30.0  # between samples of grain


class Patterns(NamedTuple):
    """All patterns in flat arrays, for the compiled search. Pattern i owns rows off[i]:off[i+1].

    ``disc`` (., 4): x, y, radius, face (0 up, 1 down, 2 both); far-spread order, the middle one
    first. ``grain`` (., 4): x, y, heading and steepest grain allowed, radians; ends first.
    ``edge`` (., 3): x, y, face of points where snugness is felt. ``field`` flat rasters of the
    distance from the blank's plan, positive outside; ``fx, fy`` their origins, ``fr, fc`` sizes.
    ``area`` of the up face and ``plan`` of the blank, m2. ``lead`` distance of the first disc's
    centre from the origin. ``long`` length along the middle line, mm.
    """

    disc: Array
    disc_off: Ints
    grain: Array
    grain_off: Ints
    edge: Array
    edge_off: Ints
    field: NDArray[np.float32]
    field_off: Ints
    fx: Array
    fy: Array
    fr: Ints
    fc: Ints
    area: Array
    plan: Array
    lead: Array
    long: Array


@dataclass(frozen=True)
class Member:
    """One timber of a pattern: its point p is the pattern's M(flip) (p - origin)."""

    mould: int
    pattern: int
    flip: bool
    origin_mm: tuple[float, float]


def resampled(ring: Array, step: float) -> tuple[Array, Array]:
    """Points (n, 2) about ``step`` apart round an anticlockwise ring, corners kept, and their
    inward unit normals; a corner takes the mean of its two edges' normals.
    """
    after = np.roll(ring, -1, axis=0)
    edge = after - ring
    size = np.hypot(*edge.T)
    keep = size > 1e-9
    ring, edge, size = ring[keep], edge[keep], size[keep]
    inward = np.c_[-edge[:, 1], edge[:, 0]] / size[:, None]
    parts = np.maximum(1, np.ceil(size / step).astype(int))
    which = np.repeat(np.arange(len(ring)), parts)
    first = np.cumsum(parts) - parts
    share = (np.arange(len(which)) - first[which]) / parts[which]
    points = ring[which] + share[:, None] * edge[which]
    normals = inward[which]
    mean = inward + np.roll(inward, 1, axis=0)
    normals[first] = mean / np.maximum(np.hypot(*mean.T), 1e-9)[:, None]
    return points, normals


def decimated(ring: Array, tolerance: float = 0.05) -> Array:
    """The ring with points left out that stand within ``tolerance`` of the line without them."""
    import shapely

    thin = shapely.Polygon(ring).simplify(tolerance, preserve_topology=True)
    out = shapely.get_coordinates(thin)[:-1]
    area = np.dot(out[:, 0], np.roll(out[:, 1], -1)) - np.dot(out[:, 1], np.roll(out[:, 0], -1))
    return np.ascontiguousarray(out if area > 0 else out[::-1])


def discs_of(ring: Array) -> Array:
    """Rows (x, y, radius) whose discs fill an outline; radius 0 where no disc reaches a corner."""
    from futtock.layout import discs as compiled

    fine, inward = resampled(ring, FINE_MM)
    starts = np.arange(0, len(fine), max(1, round(TOUCH_MM / FINE_MM)))
    most = 0.5 * float(max(np.ptp(ring[:, 0]), np.ptp(ring[:, 1])))
    centres, radii = compiled.within(fine, inward, starts, most)
    keep = radii > 4.0
    centres, radii = centres[keep], radii[keep]
    chosen, alone = compiled.cover(fine, centres, radii, COVER_MM)
    # 8 mm apart at most where only points can answer
    alone = np.array([k for j, k in enumerate(alone) if j == 0 or k - alone[j - 1] > 1 or j % 2])
    rows = np.c_[centres[chosen], radii[chosen]]
    if len(alone):
        rows = np.vstack([rows, np.c_[fine[alone], np.zeros(len(alone))]])
    return np.ascontiguousarray(rows)


def _line(mould: Mould) -> tuple[Array, Array]:
    """The middle line evenly, some 30 mm apart, and its length at each point."""
    g = np.asarray(mould.grain_mm, float)
    s = np.r_[0.0, np.cumsum(np.hypot(*np.diff(g, axis=0).T))]
    n = max(5, 2 * int(np.ceil(s[-1] / (2.0 * GRAIN_MM))) + 1)
    at = np.linspace(0.0, s[-1], n)
    return np.c_[np.interp(at, s, g[:, 0]), np.interp(at, s, g[:, 1])], at


def _grain(line: Array, at: Array, settings: LaySettings) -> Array:
    d = np.gradient(line, axis=0)
    heading = np.arctan2(d[:, 1], d[:, 0])
    steep = np.full(len(at), np.arctan(GRAIN_GUARD / settings.grain_slope))
    if settings.grain_slope_butts is not None:
        near = np.minimum(at, at[-1] - at) < settings.butt_zone_mm
        steep[near] = np.arctan(GRAIN_GUARD / settings.grain_slope_butts)
    rows = np.c_[line, heading, steep]
    n = len(rows)
    first = [0, n - 1, n // 2]
    order = first + _halving(n, first)
    ordered: Array = rows[order]
    return ordered


def _halving(n: int, taken: list[int]) -> list[int]:
    """The other indices below n, each half way between two before it."""
    out: list[int] = []
    seen = set(taken)
    step = n
    while len(seen) < n:
        step = max(1, step // 2)
        for k in range(0, n, step):
            if k not in seen:
                seen.add(k)
                out.append(k)
    return out


def _same(a: Array, b: Array) -> bool:
    """Whether two rings hold the same ground, within 0.05 mm along their whole girth."""
    import shapely

    p, q = shapely.Polygon(a), shapely.Polygon(b)
    if abs(p.area - q.area) > 0.05 * p.length or not p.is_valid or not q.is_valid:
        return False
    return bool(p.symmetric_difference(q).area < 0.05 * p.length)


@dataclass
class _Shape:
    up: Array
    down: Array
    sound_up: Array
    sound_down: Array
    line: Array
    both: bool
    area: float


def _shape(mould: Mould, wane_mm: float) -> tuple[_Shape, tuple[float, float]]:
    up, down = decimated(mould.outline_up_mm), decimated(mould.outline_down_mm)
    sound_up, sound_down = up, down
    if wane_mm > 0.0:
        sound_up, sound_down = (decimated(r) for r in sound_rings(mould, wane_mm))
    line, _ = _line(mould)
    origin = line[len(line) // 2]
    both = _same(up, down) and _same(sound_up, sound_down)
    import shapely

    area = float(shapely.Polygon(up).area)
    return (
        _Shape(
            up - origin,
            down - origin,
            sound_up - origin,
            sound_down - origin,
            line - origin,
            both,
            area,
        ),
        (float(origin[0]), float(origin[1])),
    )


def _alike(a: _Shape, b: _Shape, flip: bool) -> bool:
    """Whether b is a, turned over where ``flip``. Only square-edged shapes can be turned over:
    with a bevel the joint face would come to lie on the other side.
    """
    if abs(a.area - b.area) > 0.1 * np.sqrt(a.area) or (flip and not (a.both and b.both)):
        return False
    m = np.array([1.0, -1.0 if flip else 1.0])
    if a.line.shape != b.line.shape:
        return False
    turn = -1 if flip else 1
    near = np.abs(a.line - b.line * m).max() < 0.1
    if not near or not _same(a.up, (b.up * m)[::turn]):
        return False
    return a.both or (
        _same(a.down, b.down)
        and _same(a.sound_up, b.sound_up)
        and _same(a.sound_down, b.sound_down)
    )


def members_of(
    moulds: Sequence[Mould], apart: Sequence[object], wane_mm: float = 0.0
) -> tuple[list[Member], list[int]]:
    """Sort moulds into patterns.

    ``apart`` (one a mould) keeps moulds of different answers (thickness, forbidden slabs) in
    different patterns. Returns a member for each mould, and the mould each pattern is drawn from.
    """
    shapes: list[_Shape] = []
    first: list[int] = []
    members: list[Member] = []
    by_area: dict[tuple[int, object], list[int]] = {}
    for j, mould in enumerate(moulds):
        shape, origin = _shape(mould, wane_mm)
        found: tuple[int, bool] | None = None
        key = round(shape.area / 2000.0)
        for near in (key, key - 1, key + 1):
            for i in by_area.get((near, apart[j]), ()):
                for flip in (False, True):
                    if found is None and _alike(shapes[i], shape, flip):
                        found = (i, flip)
        if found is None:
            found = (len(shapes), False)
            by_area.setdefault((key, apart[j]), []).append(len(shapes))
            shapes.append(shape)
            first.append(j)
        members.append(Member(j, found[0], found[1], origin))
    return members, first


def patterns_of(
    moulds: Sequence[Mould],
    settings: LaySettings,
    step: float = 5.0,
    searched: Collection[int] | None = None,
) -> Patterns:
    """Patterns for these moulds, one each, in order.

    Only those ``searched`` (by number; None: all) get all their discs; the others can be cut out
    of a slab but not be placed.

    The raster of each blank reaches as far round it as any pattern's largest disc can feel.
    """
    import shapely

    from futtock.layout import discs as compiled
    from futtock.stock.kernels import signed_distance

    discs: list[Array] = []
    grains: list[Array] = []
    edges: list[Array] = []
    rings: list[Array] = []
    area, plan, lead, long = [], [], [], []
    for number, mould in enumerate(moulds):
        shape, _ = _shape(mould, settings.wane_mm)
        faces = [(shape.up, 2)] if shape.both else [(shape.sound_up, 0), (shape.sound_down, 1)]
        if searched is None or number in searched:
            rows = np.vstack([np.insert(discs_of(r), 3, f, axis=1) for r, f in faces])
        else:
            rows = np.array([[0.0, 0.0, 20.0, 2.0]])
        middle = int(np.argmin(np.hypot(rows[:, 0], rows[:, 1]) + 1e6 * (rows[:, 2] < 4.0)))
        weight = np.where(rows[:, 2] > 4.0, 1.0, 0.6)
        from_middle = compiled.spread(np.ascontiguousarray(rows[:, :2]), weight, middle)
        discs.append(rows[from_middle])
        lead.append(float(np.hypot(*discs[-1][0, :2])))
        _, at = _line(mould)
        grains.append(_grain(shape.line, at, settings))
        touch = []
        for ring, face in faces:
            points, _n = resampled(ring, FINE_MM)
            pick = np.linspace(0, len(points), CONTACT, endpoint=False).astype(int)
            touch.append(np.c_[points[pick], np.full(len(pick), face)])
        edges.append(np.vstack(touch))
        union = shapely.union_all([shapely.Polygon(shape.up), shapely.Polygon(shape.down)])
        if union.geom_type != "Polygon":
            union = union.convex_hull
        ring = shapely.get_coordinates(shapely.get_exterior_ring(union))[:-1]
        rings.append(decimated(ring, 0.2))
        area.append(shape.area / 1e6)
        plan.append(float(union.area) / 1e6)
        long.append(float(at[-1]))
    reach = max([float(d[:, 2].max()) for d in discs], default=50.0) + settings.gap_mm + 6.0
    rasters, fx, fy, fr, fc = [], [], [], [], []
    for ring in rings:
        low = ring.min(0) - reach
        size = np.ceil((ring.max(0) + reach - low) / step).astype(int) + 1
        out = np.empty((int(size[1]), int(size[0])))
        signed_distance(ring, float(low[0]), float(low[1]), step, reach, out)
        rasters.append((-out).astype(np.float32).ravel())
        fx.append(float(low[0]))
        fy.append(float(low[1]))
        fr.append(int(size[1]))
        fc.append(int(size[0]))

    def off(parts: Sequence[NDArray[np.generic]]) -> Ints:
        return np.cumsum([0, *(len(p) for p in parts)]).astype(np.int64)

    def flat(parts: list[Array], width: int) -> Array:
        return np.ascontiguousarray(np.vstack(parts) if parts else np.empty((0, width)))

    return Patterns(
        flat(discs, 4),
        off(discs),
        flat(grains, 4),
        off(grains),
        flat(edges, 3),
        off(edges),
        np.concatenate(rasters) if rasters else np.empty(0, np.float32),
        off(rasters),
        np.array(fx),
        np.array(fy),
        np.array(fr, np.int64),
        np.array(fc, np.int64),
        np.array(area),
        np.array(plan),
        np.array(lead),
        np.array(long),
    )
