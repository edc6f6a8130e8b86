"""A face of a slab after planing: between the two faces as they were measured.

A waney edge runs about straight from one face to the other, so at depth t below a face of a slab T
thick the edge stands t / T of the way across. A point lies on that face where
(1 - t/T) a + (t/T) b >= 0, with a and b its distances inside the outlines of the near and the far
face: exact for edges that run side by side (our own derivation).
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

Array = NDArray[np.float64]

_STEPS = 12
_SURE = 1.005  # chords run a little inside round corners


def planed_ring(near: Array, far: Array, share: float) -> Array:
    """The outline (n, 2) of the near face once ``share`` of the thickness is planed off it.

    Never larger than the truth stated above; ``near`` itself where nothing simple comes out.
    """
    share = min(max(share, 0.0), 0.5)
    a, b = shapely.Polygon(near), shapely.Polygon(far)
    if share == 0.0 or not a.is_valid or not b.is_valid or a.equals(b):
        return near
    apart = float(shapely.hausdorff_distance(a.exterior, b.exterior))
    ratio = share / (1.0 - share)
    parts = []
    for d in np.linspace(-apart, apart, 2 * _STEPS + 1).tolist():
        # at least d inside the far outline, and no more than d * ratio outside the near one
        far_in = b.buffer(-d * _SURE if d > 0 else -d, quad_segs=16)
        near_in = a.buffer(d * ratio if d > 0 else d * ratio * _SURE, quad_segs=16)
        parts.append(far_in.intersection(near_in))
    whole = shapely.union_all(parts)
    pieces = [p for p in shapely.get_parts(whole) if p.geom_type == "Polygon"]
    if not pieces:
        return near
    best = max(pieces, key=lambda p: p.area)
    if best.interiors:
        return near
    ring: Array = shapely.get_coordinates(best.exterior)[:-1]
    return ring
