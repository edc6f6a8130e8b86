"""Hatching as lines, so that all three writers draw the same: slants, bars, crosses, dots."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from futtock.sheet.items import Arc, Item, frozen, path
from futtock.sheet.style import THIN, Stroke, Tone

Way = Literal["slants", "bars", "cross", "dots"]
_ANGLES = {"slants": (45.0,), "bars": (0.0,), "cross": (45.0, -45.0)}


def hatched(
    ring_mm: ArrayLike, way: Way, apart_mm: float = 1.6, stroke: Stroke = THIN
) -> list[Item]:
    """Hatching inside a closed ring (n, 2); nothing where the ring has no area."""
    import shapely

    ring = frozen(ring_mm)
    if len(ring) < 3:
        return []
    area = shapely.make_valid(shapely.Polygon(ring))
    if area.area <= 0:
        return []
    lo, hi = ring.min(0), ring.max(0)
    if way == "dots":
        xs = np.arange(lo[0] + apart_mm / 2, hi[0], apart_mm)
        ys = np.arange(lo[1] + apart_mm / 2, hi[1], apart_mm)
        grid = np.array([(x, y) for j, y in enumerate(ys) for x in xs + (j % 2) * apart_mm / 2])
        if not len(grid):
            return []
        kept = grid[shapely.contains_xy(area, grid)]
        r = 0.14 * apart_mm
        return [Arc((float(x), float(y)), r, None, Tone.INK) for x, y in kept]
    centre, reach = (lo + hi) / 2, float(np.hypot(*(hi - lo))) / 2 + apart_mm
    out: list[Item] = []
    for angle in _ANGLES[way]:
        t = np.radians(angle)
        along, across = np.array([np.cos(t), np.sin(t)]), np.array([-np.sin(t), np.cos(t)])
        # lines keep to one grid over the whole sheet, so that neighbours do not jar
        base = np.floor((centre @ across - reach) / apart_mm)
        offsets = (base + np.arange(int(2 * reach / apart_mm) + 2)) * apart_mm
        starts = across * offsets[:, None] + along * (centre @ along)
        lines = shapely.linestrings(
            np.stack([starts - along * reach, starts + along * reach], axis=1)
        )
        pieces = shapely.get_parts(shapely.intersection(lines, area))
        out += [
            path(shapely.get_coordinates(piece), stroke)
            for piece in pieces
            if piece.geom_type == "LineString" and piece.length > 0.05
        ]
    return out
