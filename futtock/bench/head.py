"""What the head must do along a mould's edge, from the edge's own geometry.

The timber lies with its up face up; the feeder faces the teeth, so that heel first he looks along
it from head towards heel. The blade passes through both ends of a ruling: its top leans the way
from the lower end to the upper, and its angle is that of the sawn face from square, measured in
the plane square to the edge.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from futtock.moulds.mould import SawnEdge
from futtock.moulds.rings import met_square

Array = NDArray[np.float64]

_SLIVER_MM = 6.0


def head_angles(
    edge: SawnEdge, other: SawnEdge, sided_mm: float, part: slice = slice(None)
) -> tuple[Array, Array, bool]:
    """The head's angle along an edge or a part of it, heel first.

    At each point of the up edge the lower edge is met in the plane square to the up edge there, so
    that rulings which run askew (they do near heels and butts) do not enter the angle.

    Parameters
    ----------
    edge, other
        The edge to be sawn and the one across the timber.
    sided_mm
        Distance between the faces.
    part
        Points of the edge to look at.

    Returns
    -------
    at_mm (n,)
        Length along the up edge from the heel, repeats taken out.
    left_deg (n,)
        Angle, positive where the head's top leans to the feeder's left, heel first.
    kept_left
        True where the wood kept is on his left, heel first.
    """
    at, up, down = edge.at_mm[part], edge.up_mm[part], edge.down_mm[part]
    keep = np.concatenate([[True], np.diff(at) > 1e-6])
    at, up = at[keep], up[keep]
    along = np.gradient(up, at, axis=0, edge_order=2 if len(at) > 2 else 1)
    along /= np.hypot(along[:, 0], along[:, 1])[:, None]
    # Heel first he looks from head to heel, along -t; left of a direction d is (-d_y, d_x).
    left = np.stack([along[:, 1], -along[:, 0]], axis=1)
    opposite, within = met_square(up, along, down, np.flatnonzero(keep))
    angle = np.degrees(np.arctan2(((up - opposite) * left).sum(axis=1), sided_mm))
    if within.any() and not within.all():
        # Past the lower edge's end (a heel cut level) the mould's own lean carries the angle on.
        lean = _own_lean(edge, part)[keep]
        sign = 1.0 if (angle * lean)[within].sum() >= 0 else -1.0
        rows = np.flatnonzero(within)
        near = rows[np.abs(np.arange(len(at))[:, None] - rows[None, :]).argmin(axis=1)]
        angle = np.where(within, angle, angle[near] + sign * (lean - lean[near]))
    across = (other.up_mm[part] - edge.up_mm[part])[keep]
    kept_left = float(((across * left).sum(axis=1)).mean()) > 0.0
    return at, angle, kept_left


def _own_lean(edge: SawnEdge, part: slice) -> Array:
    """The mould's lean along a part; at a corner, where it may be the other side's, the next."""
    lean = edge.lean_deg[part].copy()
    if len(lean) > 1:
        first, stop, _ = part.indices(len(edge.lean_deg))
        if first > 0:
            lean[0] = lean[1]
        if stop < len(edge.lean_deg):
            lean[-1] = lean[-2]
    return lean


def parts(edge: SawnEdge, corner_deg: float = 12.0) -> tuple[slice, ...]:
    """An edge divided at its corners (a floor's toe, a trimmed swallowtail), each part one cut.

    A sliver at an end, beyond its first or last corner, is too short to be sawn and in no part.
    """
    step = np.diff(edge.up_mm, axis=0)
    long = np.hypot(step[:, 0], step[:, 1]) > 1e-6
    segments = np.flatnonzero(long)
    if len(segments) < 2:
        return (slice(None),)
    way = np.unwrap(np.arctan2(step[segments, 1], step[segments, 0]))
    corners = np.flatnonzero(np.abs(np.degrees(np.diff(way))) > corner_deg)
    stops = [0, *(int(segments[c + 1]) for c in corners), len(edge.up_mm) - 1]
    # A sliver between two corners is one point of a rounded turn, not a cut of its own.
    kept = [stops[0]]
    for stop in stops[1:]:
        if edge.at_mm[stop] - edge.at_mm[kept[-1]] > 1.0:
            kept.append(stop)
    kept[-1] = len(edge.up_mm) - 1
    if len(kept) > 2 and edge.at_mm[kept[1]] - edge.at_mm[0] < _SLIVER_MM:
        kept = kept[1:]
    if len(kept) > 2 and edge.at_mm[-1] - edge.at_mm[kept[-2]] < _SLIVER_MM:
        kept = kept[:-1]
    return tuple(slice(a, b + 1) for a, b in pairwise(kept))


def tightest_turn_mm(edge: SawnEdge, part: slice = slice(None), chord_mm: float = 20.0) -> float:
    """Smallest radius of an edge on either face, by circles through points some chord apart.

    A straight edge gives infinity; a corner, a radius of the order of the chord or less.
    """
    smallest = np.inf
    for line in (edge.up_mm[part], edge.down_mm[part]):
        step = np.hypot(*np.diff(line, axis=0).T)
        run = np.concatenate([[0.0], np.cumsum(step)])
        keep = np.concatenate([[True], step > 1e-9])
        run, points = run[keep], line[keep]
        even = np.linspace(0.0, run[-1], max(int(run[-1] // chord_mm), 2) + 1)
        # Points of the line itself: one between them would lie inside the curve by its sagitta.
        p = points[np.unique(np.abs(run[:, None] - even[None, :]).argmin(axis=0))]
        if len(p) < 3:
            continue
        a, b, c = p[:-2], p[1:-1], p[2:]
        ab, bc, ca = b - a, c - b, a - c
        twice = np.abs(ab[:, 0] * bc[:, 1] - ab[:, 1] * bc[:, 0])
        sides = np.hypot(*ab.T) * np.hypot(*bc.T) * np.hypot(*ca.T)
        flat = twice <= 1e-9 * sides ** (2.0 / 3.0)
        radius = np.where(flat, np.inf, sides / np.where(flat, 1.0, 2.0 * twice))
        smallest = min(smallest, float(radius.min(initial=np.inf)))
    return smallest
