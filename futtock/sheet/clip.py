"""Which segments meet a box: the one question that tiles and labels ask of lines."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from futtock.sheet.items import Box

Array = NDArray[np.float64]


def meets(segments: Array, box: Box) -> NDArray[np.bool_]:
    """Mask (n,) of the segments (n, 4) that touch the box.

    A segment is x0, y0, x1, y1. Parametric clipping (Liang and Barsky 1984).
    """
    s = segments
    t0, t1 = np.zeros(len(s)), np.ones(len(s))
    for k in (0, 1):
        p, d = s[:, k], s[:, k + 2] - s[:, k]
        low, high = box[k], box[k + 2]
        level = np.abs(d) < 1e-12
        safe = np.where(level, 1.0, d)
        a, b = (low - p) / safe, (high - p) / safe
        inside = (p >= low) & (p <= high)
        t0 = np.where(level, np.where(inside, t0, 2.0), np.maximum(t0, np.minimum(a, b)))
        t1 = np.where(level, np.where(inside, t1, -1.0), np.minimum(t1, np.maximum(a, b)))
    hit: NDArray[np.bool_] = t0 <= t1
    return hit
