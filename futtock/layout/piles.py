"""Compiled: laying timbers greedily through a drawn pile, in which a slab may stand many times."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from futtock.layout.discs import compiled
from futtock.layout.filling import MOST, Poses, Rules, fill, worth_of
from futtock.layout.ground import Ground
from futtock.layout.pattern import Patterns

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Raster = NDArray[np.float32]


@compiled
def through(
    P: Patterns,
    G: Ground,
    Q: Poses,
    rules: Rules,
    draw: Ints,
    left: Ints,
    grade: int,
    top: Raster,
    bottom: Raster,
    state: NDArray[np.uint64],
    got: Array,
) -> int:
    """Lay what is left on the drawn slabs in order, until all is placed; how many were turned over.

    ``draw`` names slabs; ``left`` (patterns,) is brought down in place. ``got`` (draws,) takes the
    area laid on each, m2.
    """
    out = np.empty((MOST, 7))
    for q in range(draw.shape[0]):
        some = 0
        for i in range(left.shape[0]):
            some += left[i]
        if some == 0:
            return q
        made = fill(
            P,
            G,
            Q,
            draw[q],
            left,
            Q.worth[grade],
            0.0,
            rules.end,
            rules.grain,
            1,
            24,
            rules.gap,
            top,
            bottom,
            out,
            0,
            state,
        )
        for j in range(made):
            left[int(out[j, 0])] -= 1
        got[q] = worth_of(P, out, made)
    return int(draw.shape[0])
