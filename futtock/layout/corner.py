"""Wane on the inner corner away from the joint face: which part of each face must be sound."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from futtock.moulds.mould import Mould

Array = NDArray[np.float64]
_JOINT = {"f": "aft", "a": "forward"}  # the face both layers share, by layer


def sound_rings(mould: Mould, wane_mm: float) -> tuple[Array, Array]:
    """The parts of the up and down outlines (n, 2) that must lie on sound wood.

    Up to ``wane_mm`` in from the inner edge may be wane on the face away from the joint face, where
    neither planking nor the other layer bears. Where no layer is told, the joint face is the one
    that is up.
    """
    up, down = mould.outline_up_mm, mould.outline_down_mm
    if wane_mm <= 0.0 or len(mould.edges) < 2:
        return up, down
    inner = mould.edges[1]
    if mould.up == _JOINT.get(mould.layer or "", mould.up):
        return up, _without(down, inner.down_mm, wane_mm)
    return _without(up, inner.up_mm, wane_mm), down


def _without(ring: Array, edge: Array, wide: float) -> Array:
    if len(edge) < 2:
        return ring
    face = shapely.Polygon(ring)
    face = face if face.is_valid else face.buffer(0)
    rest = face.difference(shapely.LineString(edge).buffer(wide, cap_style="flat"))
    parts = [p for p in shapely.get_parts(rest) if p.geom_type == "Polygon"]
    best = max(parts, key=lambda p: p.area, default=None)
    if best is None or best.interiors or best.area < 0.5 * face.area:
        return ring
    out: Array = shapely.get_coordinates(best.exterior)[:-1]
    turn = np.dot(out[:, 0], np.roll(out[:, 1], -1)) - np.dot(out[:, 1], np.roll(out[:, 0], -1))
    return np.ascontiguousarray(out if turn > 0 else out[::-1])
