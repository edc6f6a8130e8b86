"""Compiled: fillings of slabs that are worth more than the slab costs, at given prices of timbers.

For each slab the best filling so far is taken apart, wholly or in part, and filled again from the
timbers wanted, the dearest for their room first. Everything found that is worth beginning is kept.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from futtock.layout.chances import chance, pick
from futtock.layout.discs import compiled
from futtock.layout.filling import MOST, Poses, Rules, fill_in_place
from futtock.layout.ground import Ground
from futtock.layout.pattern import Patterns

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Raster = NDArray[np.float32]

_TRIES = 45
_LITTLE = 0.02  # worth of a timber that is wanted but has no price, per m2


@compiled
def worth_beginning(
    P: Patterns,
    G: Ground,
    Q: Poses,
    rules: Rules,
    slabs: Ints,
    price: Array,
    least: Array,
    wanted: Ints,
    trials: int,
    top: Raster,
    bottom: Raster,
    state: NDArray[np.uint64],
    base: Array,
    base_count: Ints,
    out: Array,
    out_count: Ints,
    out_slab: Ints,
) -> int:
    """Fill each of ``slabs`` ``trials`` times; how many fillings are worth more than ``least``.

    ``price`` (patterns,) of one timber, of which ``wanted`` are to be had; ``least`` (slabs,) what
    a filling must be worth. ``base`` (slabs, MOST, 7) and ``base_count`` the best filling of each
    so far, brought up to date. ``out``, ``out_count``, ``out_slab`` take what is found. ``top``
    and ``bottom`` are the uncut ground.
    """
    n = P.area.shape[0]
    key = np.empty(n)
    trial = np.empty((MOST, 7))
    stock = wanted.copy()
    made = 0
    for a in range(slabs.shape[0]):
        k = slabs[a]
        best = 0.0
        for j in range(base_count[a]):
            best += price[int(base[a, j, 0])]
        for _ in range(trials):
            by_room = (0.0, 0.5, 1.0)[pick(state, 3)]
            for i in range(n):
                key[i] = (max(price[i], 0.0) + _LITTLE * P.area[i]) / P.area[i] ** by_room
            to_end = 0.0 if chance(state) < 0.5 else rules.end
            to_grain = rules.grain * (0.35 if chance(state) < 0.5 else 1.0)
            look = 3 if chance(state) < 0.33 else 1
            noise = (0.05, 0.15, 0.3)[pick(state, 3)]
            kept = 0
            stock[:] = wanted
            if base_count[a] > 0 and chance(state) < 0.6:
                keep = (0.4, 0.6, 0.8)[pick(state, 3)]
                for j in range(base_count[a]):
                    if chance(state) < keep:
                        trial[kept] = base[a, j]
                        stock[int(base[a, j, 0])] -= 1
                        kept += 1
            got = fill_in_place(
                P,
                G,
                Q,
                k,
                stock,
                key,
                noise,
                to_end,
                to_grain,
                look,
                _TRIES,
                rules.gap,
                top,
                bottom,
                trial,
                kept,
                state,
            )
            worth = 0.0
            for j in range(got):
                worth += price[int(trial[j, 0])]
            if worth > least[k] + 1e-6 and made < out.shape[0]:
                out[made] = trial
                out_count[made] = got
                out_slab[made] = k
                made += 1
            if worth > best:
                best = worth
                base_count[a] = got
                base[a] = trial
    return made
