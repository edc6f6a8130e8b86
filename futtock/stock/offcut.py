"""What is left of a slab once timbers are sawn from it, as slabs with their own true outlines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from futtock.stock.outline import anticlockwise
from futtock.stock.slab import Flaw, Slab

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Array = NDArray[np.float64]

_NARROWEST_MM = 60.0
_SHORTEST_MM = 300.0
_SIMPLER_MM = 0.2


def offcuts(
    slab: Slab,
    sawn_mm: Sequence[Array],
    kerf_mm: float,
    narrowest_mm: float = _NARROWEST_MM,
    shortest_mm: float = _SHORTEST_MM,
) -> tuple[Slab, ...]:
    """The pieces worth keeping after timbers are sawn out.

    Parameters
    ----------
    slab
        The slab as it was.
    sawn_mm
        Outlines (n, 2) of what has been sawn, both faces of each timber, in the top face's axes.
        A bevelled timber takes the ground of both its faces.
    kerf_mm
        Lost to the blade round each.
    narrowest_mm, shortest_mm
        A piece into which no strip so wide and so long goes is firewood and is not returned.

    Returns
    -------
    tuple of Slab
        Named ``A-07/1``, ``A-07/2`` from the butt on, each with the sound outlines, grain and
        flaws that remain to it, in the slab's own axes. A piece has a bottom only where the
        bottom has wood too. Price and portrait stay with the parent.
    """
    import shapely

    gone = shapely.union_all(
        [shapely.make_valid(shapely.Polygon(ring)).buffer(kerf_mm) for ring in sawn_mm]
    )
    top = _rest(slab.top_mm, gone, narrowest_mm, shortest_mm)
    bottom = _rest(slab.bottom_mm, gone, narrowest_mm, shortest_mm)
    pieces: list[Slab] = []
    for upper in top:
        lower = max(bottom, key=lambda b: upper.intersection(b).area, default=None)
        if lower is None or upper.intersection(lower).area < 0.3 * upper.area:
            continue
        pieces.append(_piece(slab, upper, lower, narrowest_mm))
    pieces.sort(key=lambda p: float(p.top_mm[:, 0].min()))
    return tuple(replace(p, name=f"{slab.name}/{k}") for k, p in enumerate(pieces, 1))


def _rest(ring: Array, gone: BaseGeometry, narrowest: float, shortest: float) -> list[BaseGeometry]:
    """What remains of a face: parts into which a strip of the least size goes."""
    import shapely

    left = shapely.difference(shapely.Polygon(ring), gone)
    # opened by half the least width: slivers and horns between two cuts fall away
    kept = left.buffer(-narrowest / 2).buffer(narrowest / 2, join_style="mitre").intersection(left)
    parts: list[BaseGeometry] = []
    for part in getattr(kept, "geoms", [kept]):
        if part.geom_type != "Polygon" or part.is_empty:
            continue
        # a hole left by a timber sawn from the middle is slit open to the nearest edge
        part = _slit(part)
        box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(part))
        if np.hypot(*np.diff(box, axis=0).T).max() >= shortest:
            parts.append(part)
    return parts


def _slit(part: Any) -> BaseGeometry:
    """A part with its holes opened to the outside, as the saw opened them to get the timber out."""
    import shapely

    while len(part.interiors):
        hole = shapely.Polygon(part.interiors[0])
        way = shapely.shortest_line(hole, shapely.LinearRing(part.exterior.coords))
        cut = part.difference(way.buffer(2.0)).difference(hole)
        part = max(getattr(cut, "geoms", [cut]), key=lambda g: g.area)
    solid: BaseGeometry = part
    return solid


def _piece(slab: Slab, upper: BaseGeometry, lower: BaseGeometry, narrowest: float) -> Slab:
    import shapely

    ground = shapely.union(upper, lower)
    lines: list[Array] = []
    for line in slab.grain_mm:
        inside = shapely.intersection(shapely.LineString(line), ground.buffer(5.0))
        runs = [
            shapely.get_coordinates(r) for r in shapely.get_parts(inside) if r.length > narrowest
        ]
        lines += [_frozen(_same_way(run, line)) for run in runs]
    # a field so cut may have lost every trace: then the middle line stands in, marked
    flaws = tuple(
        f for f in slab.flaws if shapely.MultiPoint(f.outline_mm).convex_hull.intersects(ground)
    )
    return replace(
        slab,
        top_mm=_ring(upper),
        bottom_mm=_ring(lower),
        grain_mm=tuple(lines),
        grain_guessed=slab.grain_guessed,
        flaws=tuple(Flaw(f.kind, f.outline_mm, f.face) for f in flaws),
        face_top_mm=None,
        face_bottom_mm=None,
        measured=True,
        price=None,
        portrait=None,
        note=f"offcut of {slab.name}",
    )


def _ring(part: BaseGeometry) -> Array:
    import shapely

    ring = shapely.get_coordinates(shapely.simplify(part, _SIMPLER_MM).exterior)[:-1]  # type: ignore[attr-defined]
    return _frozen(anticlockwise(ring))


def _same_way(run: Array, line: Array) -> Array:
    """A run of a line, in the line's own sense."""
    start, end = (int(np.argmin(np.hypot(*(line - p).T))) for p in (run[0], run[-1]))
    return run[::-1] if start > end else run


def _frozen(points: Array) -> Array:
    points = np.array(points, float)
    points.flags.writeable = False
    return points
