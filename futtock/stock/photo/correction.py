"""Corrections to what a photograph gave, as data: the command line, tests and pages use the same.

A correction says what a person touched on the portrait, in millimetres of its axes. Points on an
edge are drawn to the strongest change of colour close by (``snap_mm``), since a finger is blunter
than the picture.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused
from futtock.findings import Finding
from futtock.stock import kinds
from futtock.stock.outline import anticlockwise, arc_mm
from futtock.stock.photo.portrait import Portrait
from futtock.stock.photo.rough import lab
from futtock.stock.slab import Flaw

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Array = NDArray[np.float64]
Outline = Literal["face_top", "top"]

_REACH_MM = 140.0  # along the edge to either side that one point moves
_FARTHEST_MM = 250.0
_SNAP_MM = 6.0
_END_OFF_MM, _END_ASIDE_MM, _END_SHARE = 40.0, 60.0, 0.22  # the last of the whole way round
_STEP_MM = 10.0
_ANYWHERE_MM = 100_000.0


@dataclass(frozen=True, slots=True)
class Touch:
    """One correction.

    Attributes
    ----------
    what
        ``point``: the edge passes here; where that is far off a sawn end, all of the end moves.
        ``stroke``: the edge runs along these points, between the places nearest its two ends.
        ``keep``, ``drop``: the flaw proposed nearest here is one, is none. ``flaw``: a flaw drawn
        (three points or more, with its kind). ``grain``: a traced line. ``corner``: a corner
        named, that the other face has too; the same ones in the same order tie the two faces.
    points_mm
        (n, 2).
    outline
        Which outline a point or stroke is of.
    kind
        Of a flaw drawn.
    """

    what: Literal["point", "stroke", "keep", "drop", "flaw", "grain", "corner"]
    points_mm: Array
    outline: Outline = "face_top"
    kind: str = "knot"


@dataclass(frozen=True, slots=True)
class Marks:
    """What is known of a face: both outlines, flaws decided on, flaws proposed, traced lines."""

    whole_mm: Array
    sound_mm: Array
    flaws: tuple[Flaw, ...]
    proposed: tuple[Flaw, ...]
    grain_mm: tuple[Array, ...]


def read_touches(given: Iterable[Mapping[str, Any]]) -> tuple[Touch, ...]:
    """Touches from their plain form, as JSON holds them; :class:`Misused` where one is none."""
    out = []
    for k, one in enumerate(given, 1):
        what = one.get("what")
        if what not in ("point", "stroke", "keep", "drop", "flaw", "grain", "corner"):
            raise Misused(
                f"correction {k}: {what!r} is none; expected point, stroke, keep, drop, "
                "flaw, grain or corner"
            )
        try:
            points = np.array(one.get("points"), dtype=float).reshape(-1, 2)
        except (TypeError, ValueError):
            points = np.zeros((0, 2))
        least = {"stroke": 2, "flaw": 3, "grain": 2}.get(what, 1)
        # no slab is so long; nan is not under it either
        if len(points) < least or not (np.abs(points) < _ANYWHERE_MM).all():
            raise Misused(
                f"correction {k} ({what}): expected {least} points or more, [[x, y], ...] in mm"
            )
        outline = one.get("outline", "face_top")
        if outline not in ("face_top", "top"):
            raise Misused(f"correction {k}: outline {outline!r}; expected face_top or top")
        out.append(Touch(what, points, outline, str(one.get("kind", "knot"))))
    return tuple(out)


def named_corners(touches: Iterable[Touch]) -> Array:
    """The corners named among touches, in their order (n, 2)."""
    points = [touch.points_mm[0] for touch in touches if touch.what == "corner"]
    return np.asarray(points, float).reshape(-1, 2)


def corrected(
    marks: Marks, touches: Iterable[Touch], portrait: Portrait | None = None, snap: bool = True
) -> tuple[Marks, tuple[Finding, ...]]:
    """The marks with touches applied in their order, and a finding for each that could not be.

    Where the sound outline was the whole face, it stays so as the face is corrected.
    """
    findings: list[Finding] = []
    touches = tuple(touches)
    snap = snap and any(touch.what == "point" for touch in touches)
    colours = lab(portrait.picture).astype(np.float32) if portrait is not None and snap else None
    for number, touch in enumerate(touches, 1):
        marks, why = _applied(marks, touch, portrait, colours)
        if why:
            findings.append(
                kinds.CORRECTION.found(
                    f"correction {number} ({touch.what}) is passed over: {why}.",
                    line=number,
                    column=touch.what,
                )
            )
    return marks, tuple(findings)


def _applied(
    marks: Marks, touch: Touch, portrait: Portrait | None, colours: NDArray[np.float32] | None
) -> tuple[Marks, str]:
    whole, sound, flaws = marks.whole_mm, marks.sound_mm, marks.flaws
    proposed, grain = marks.proposed, marks.grain_mm
    points = touch.points_mm
    if touch.what in ("point", "stroke"):
        same = sound is whole or np.array_equal(sound, whole)
        ring = whole if touch.outline == "face_top" else sound
        end = None
        if touch.what == "point":
            place = _snapped(ring, points[0], portrait, colours)
            end = _end_off(ring, place)
            new = _pulled(ring, place) if end is None else _end_moved(ring, *end)
        else:
            new = _redrawn(ring, points)
        if new is None:
            return marks, f"it lies more than {_FARTHEST_MM:.0f} mm from the outline"
        if touch.outline == "face_top":
            if not same and end is not None:
                moved = _end_moved(sound, *end)
                sound = sound if moved is None else moved
            # what is put right of the whole face bounds the sound wood too
            whole, sound = new, new if same else _within(sound, new)
        else:
            sound = new
    elif touch.what in ("keep", "drop"):
        if not proposed:
            return marks, "no flaw is proposed"
        off = [_off(f.outline_mm, points[0]) for f in proposed]
        k = int(np.argmin(off))
        if off[k] > 60.0:
            return marks, "no flaw is proposed within 60 mm of it"
        if touch.what == "keep":
            flaws = (*flaws, proposed[k])
        proposed = (*proposed[:k], *proposed[k + 1 :])
    elif touch.what == "flaw":
        flaws = (*flaws, Flaw(touch.kind, points, "top"))
    elif touch.what == "grain":
        grain = (*grain, points)
    return Marks(whole, sound, flaws, proposed, grain), ""


def _off(ring: Array, point: Array) -> float:
    import shapely

    return float(shapely.Polygon(ring).distance(shapely.Point(point)))


def _dense(ring: Array) -> Array:
    """The ring with a point at least every 10 mm, its corners kept."""
    out = []
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        n = max(1, int(np.hypot(*(b - a)) / _STEP_MM))
        out.append(a + (b - a) * np.arange(n)[:, None] / n)
    return np.vstack(out)


def _pulled(ring: Array, point: Array) -> Array | None:
    """The ring drawn through a point: fully there, less and less along the edge to either side."""
    dense = _dense(ring)
    near = int(np.argmin(np.hypot(*(dense - point).T)))
    move = point - dense[near]
    far = float(np.hypot(*move))
    if far > _FARTHEST_MM:
        return None
    s = arc_mm(np.vstack([dense, dense[:1]]))
    along = np.abs(s[:-1] - s[near])
    along = np.minimum(along, s[-1] - along)
    # a corner bounds the pull: the other side of a sawn end does not follow
    share = np.where(along < _REACH_MM, 0.5 + 0.5 * np.cos(np.pi * along / _REACH_MM), 0.0)
    for direction in (1, -1):
        stopped = False
        for k in range(1, int(_REACH_MM / _STEP_MM) + 2):
            n = (near + direction * k) % len(dense)
            stopped = stopped or _is_corner(dense, n)
            if stopped:
                share[n] = 0.0 if not _is_corner(dense, n) else share[n] * 0.0
    return _clean(dense + share[:, None] * move)


def _end_off(ring: Array, point: Array) -> tuple[Array, Array] | None:
    """The sawn end that a point lies off by more than a finger's bluntness: its two corners in
    order (2, 2), and two points (2, 2) of the line where it is to lie. None where the point is of
    no end, or near it. Little off and near a corner, the end turns about its other corner.
    """
    import shapely

    corners = np.flatnonzero([_is_corner(ring, k) for k in range(len(ring))])
    shape, spot = shapely.Polygon(ring), shapely.Point(point)
    # deep within the face an edge is likelier an end taken too far than a side so far off
    within = float(shape.exterior.distance(spot))
    within *= float(shapely.contains_xy(shape, *point))
    round_about = float(arc_mm(np.vstack([ring, ring[:1]]))[-1])
    best: tuple[Array, Array] | None = None
    least = np.inf
    for first, last in zip(corners, np.roll(corners, -1), strict=True):
        run = np.arange(first, last + (len(ring) if last <= first else 0) + 1) % len(ring)
        a, b = ring[first], ring[last]
        way = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
        out = np.array([way[1], -way[0]])  # to the right of a ring that runs anticlockwise
        far, along = float((point - a) @ out), float((point - a) @ way)
        long = float((b - a) @ way)
        straight = float(np.abs((ring[run] - a) @ out).max()) < 0.05 * long + 5.0
        if not straight or not 60.0 < long < _END_SHARE * round_about:
            continue
        if not -_END_ASIDE_MM < along < long + _END_ASIDE_MM:
            continue
        rest = np.arange(last, first + (len(ring) if first <= last else 0) + 1) % len(ring)
        to_end, to_rest = (shapely.distance(spot, shapely.LineString(ring[k])) for k in (run, rest))
        deep = far < 0.0 and within > _END_ASIDE_MM and -far <= 1.5 * within
        if not (to_end <= to_rest + 1e-6 or deep):
            continue
        if not _END_OFF_MM < abs(far) <= min(_FARTHEST_MM, least):
            continue
        least, held = abs(far), np.array([a, b])
        turns = abs(far) < 0.35 * long and abs(along - long / 2.0) > 0.25 * long
        pair = (a, point) if along > long / 2.0 else (point, b)
        best = held, np.array(pair) if turns else held + far * out
    return best


def _end_moved(ring: Array, corners: Array, onto: Array) -> Array | None:
    """The ring with its end between two corners (2, 2) moved onto a line through two points (2, 2).

    Outward its sides run straight on to the line, as they ran to the end; inward they are sawn off
    there.
    """
    import shapely

    way = (onto[1] - onto[0]) / max(float(np.hypot(*(onto[1] - onto[0]))), 1e-9)
    out = np.array([way[1], -way[0]])
    shape = shapely.make_valid(shapely.Polygon(ring))
    on = [k for k in range(len(ring)) if _is_corner(ring, k)]
    if len(on) < 2:
        return None
    old, new = [], []
    for corner, back in zip(corners, (-1, 1), strict=True):
        own = min(on, key=lambda k: float(np.hypot(*(ring[k] - corner))))
        side = ring[own] - _back_along(ring, own, back)
        run = float((onto[0] - ring[own]) @ out) / max(
            float(side @ out), 0.5 * float(np.hypot(*side)), 1e-9
        )
        old.append(ring[own])
        new.append(ring[own] + max(run, 0.0) * side)
    shape = shape.union(shapely.make_valid(shapely.Polygon([*old, *new[::-1]])).buffer(0.01))
    reach = 4.0 * float(np.ptp(ring, axis=0).max())
    beyond = [onto[0] - reach * way, onto[0] + reach * way]
    half = shapely.Polygon([*beyond, beyond[1] + reach * out, beyond[0] + reach * out])
    # the line parts the whole plane: what of it is beyond another end does not count
    there = shapely.Polygon([*old, *new[::-1]]).buffer(float(np.hypot(*(old[1] - old[0]))))
    beyond_it = half.intersection(there.union(shapely.MultiPoint(old).convex_hull.buffer(300.0)))
    return _ring_of(shape.difference(beyond_it))


def _back_along(ring: Array, k: int, direction: int) -> Array:
    """The point of a ring some 100 mm from one of its points, going that way."""
    gone, at = 0.0, k
    while gone < 100.0 and abs(at - k) < len(ring) - 1:
        step = ring[(at + direction) % len(ring)] - ring[at % len(ring)]
        gone, at = gone + float(np.hypot(*step)), at + direction
    found: Array = ring[at % len(ring)]
    return found


def _within(ring: Array, bound: Array) -> Array:
    """The part of a ring's shape that lies within another; the other where there is none."""
    import shapely

    one, two = (shapely.make_valid(shapely.Polygon(r)) for r in (ring, bound))
    found = ring if two.contains(one) else _ring_of(one.intersection(two))
    return bound if found is None else found


def _is_corner(ring: Array, k: int) -> bool:
    a, b = ring[k] - ring[k - 1], ring[(k + 1) % len(ring)] - ring[k]
    size = float(np.hypot(*a) * np.hypot(*b))
    return size > 0 and float(a @ b) / size < 0.7


def _redrawn(ring: Array, stroke: Array) -> Array | None:
    """The ring with its part between the stroke's ends replaced by the stroke, the shorter way."""
    dense = _dense(ring)
    ends = [int(np.argmin(np.hypot(*(dense - p).T))) for p in (stroke[0], stroke[-1])]
    if (
        max(
            float(np.hypot(*(dense[e] - p)))
            for e, p in zip(ends, (stroke[0], stroke[-1]), strict=True)
        )
        > _FARTHEST_MM
    ):
        return None
    a, b = ends
    n = len(dense)
    ahead, back = (b - a) % n, (a - b) % n
    if ahead <= back:
        rest = dense[[(b + k) % n for k in range(1, n - ahead)]]
        return _clean(np.vstack([stroke, rest]))
    rest = dense[[(a + k) % n for k in range(1, n - back)]]
    return _clean(np.vstack([stroke[::-1], rest]))


def _clean(ring: Array) -> Array | None:
    import shapely

    return _ring_of(shapely.make_valid(shapely.Polygon(ring)))


def _ring_of(shape: BaseGeometry) -> Array | None:
    """The outline of the largest part of a shape; None where there is none."""
    import shapely

    parts = [g for g in shapely.get_parts(shape) if g.geom_type == "Polygon"]
    if not parts:
        return None
    best = max(parts, key=lambda g: g.area)
    return anticlockwise(shapely.get_coordinates(best.exterior.simplify(0.3))[:-1])


def _snapped(
    ring: Array, point: Array, portrait: Portrait | None, colours: NDArray[np.float32] | None
) -> Array:
    """The point moved square to the edge to the strongest change of colour within reach."""
    if portrait is None or colours is None:
        return point
    import cv2

    dense = _dense(ring)
    near = int(np.argmin(np.hypot(*(dense - point).T)))
    tangent = dense[(near + 2) % len(dense)] - dense[near - 2]
    tangent = tangent / max(float(np.hypot(*tangent)), 1e-9)
    normal = np.array([-tangent[1], tangent[0]])
    off = np.arange(-_SNAP_MM - 3, _SNAP_MM + 3.5, 0.5)
    aside = np.arange(-8.0, 8.5, 2.0)
    places = point + off[:, None, None] * normal + aside[None, :, None] * tangent
    at = portrait.pixels(places).astype(np.float32)
    x, y = np.ascontiguousarray(at[..., 0]), np.ascontiguousarray(at[..., 1])
    profile = cv2.remap(colours, x, y, cv2.INTER_LINEAR).mean(1)
    step = np.zeros(len(off))
    step[5:-5] = np.sqrt((((profile[10:] - profile[:-10]) * [0.6, 1.2, 1.2]) ** 2).sum(1))
    step *= np.exp(-((off / (0.8 * _SNAP_MM)) ** 2))
    if step.max() < 6.0:
        return point
    snapped: Array = point + off[int(step.argmax())] * normal
    return snapped
