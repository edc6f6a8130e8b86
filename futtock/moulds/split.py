"""A timber's outline divided into its two long edges and its two ends."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from futtock.moulds.rings import anticlockwise, run_mm, signed_area, without_repeats

Array = NDArray[np.float64]


def split_ring(ring_mm: Array, corner_deg: float = 30.0) -> tuple[Array, Array] | None:
    """The two long edges of a ring, both from one end to the other.

    Corners are where the ring turns by ``corner_deg`` or more. An end is a side between two of them
    (others may lie within it, as in a heel) no longer than two and a half times the timber's mean
    width, and shorter than both long edges; of all such pairs of ends the longest are taken, so
    that a heel of several corners stays one end.

    Returns
    -------
    (n, 2) and (m, 2), or None where the ring has no such ends.
    """
    ring = without_repeats(anticlockwise(ring_mm))
    if len(ring) < 4:
        return None
    corners = _corners(ring, corner_deg)
    if len(corners) < 4:
        return None
    run = run_mm(np.concatenate([ring, ring[:1]]))
    whole, at = float(run[-1]), run[corners]
    widest = 2.5 * abs(signed_area(ring)) / (whole / 2.0)
    best, chosen = 0.0, None
    for a, b, c, d in combinations(range(len(corners)), 4):
        sides = np.diff([*at[[a, b, c, d]], at[a] + whole])
        for shift, start in ((0, (b, c, d, a)), (1, (a, b, c, d))):
            ends, longs = sides[shift::2], sides[1 - shift :: 2]
            if ends.max() < min(longs.min(), widest) and ends.sum() > best + 1e-9:
                best, chosen = float(ends.sum()), start
    if chosen is None:
        return None
    a, b, c, d = (corners[i] for i in chosen)
    return _between(ring, a, b), _between(ring, c, d)[::-1]


def _between(ring: Array, first: int, last: int) -> Array:
    if first <= last:
        return ring[first : last + 1]
    return np.concatenate([ring[first:], ring[: last + 1]])


def _corners(ring: Array, corner_deg: float, most: int = 14) -> list[int]:
    """Indices of the points where the ring turns sharply; the sharpest where there are many."""
    step = np.roll(ring, -1, axis=0) - ring
    way = np.arctan2(step[:, 1], step[:, 0])
    turn = np.abs(np.degrees((way - np.roll(way, 1) + np.pi) % (2 * np.pi) - np.pi))
    sharp = np.flatnonzero(turn >= corner_deg)
    if len(sharp) > most:
        sharp = sharp[np.argsort(turn[sharp])[-most:]]
    return sorted(int(k) for k in sharp)
