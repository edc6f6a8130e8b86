"""Rings and matched edges: lengths, areas, loops taken out, and what lies between two faces."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def frozen(values: Array) -> Array:
    """The array as float64, made read-only."""
    kept = np.ascontiguousarray(values, dtype=float)
    if kept is values:
        kept = kept.copy()
    kept.flags.writeable = False
    return kept


def run_mm(line_mm: Array) -> Array:
    """Length (n,) along a line (n, 2) from its first point."""
    step = np.hypot(*np.diff(line_mm, axis=0).T)
    return np.concatenate([[0.0], np.cumsum(step)])


def without_repeats(ring_mm: Array, tol_mm: float = 1e-6) -> Array:
    """The ring (n, 2) without points that repeat the one before, round the corner too."""
    gap = np.abs(ring_mm - np.roll(ring_mm, 1, axis=0)).max(axis=1)
    kept: Array = ring_mm[gap > tol_mm]
    return kept


def anticlockwise(ring_mm: Array) -> Array:
    """The ring turned so that its signed area is positive."""
    return ring_mm if signed_area(ring_mm) >= 0 else ring_mm[::-1]


def signed_area(ring_mm: Array) -> float:
    """Signed area of a ring (n, 2), positive when anticlockwise."""
    x, y = ring_mm[:, 0], ring_mm[:, 1]
    return float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def _moments(ring_mm: Array) -> Array:
    """Area, and first moments about y and x (3,), of a ring, signed."""
    p, q = ring_mm, np.roll(ring_mm, -1, axis=0)
    cross = p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1]
    first = ((p + q) * cross[:, None]).sum(axis=0) / 6.0
    return np.array([0.5 * cross.sum(), first[0], first[1]])


def between_faces(up_mm: Array, down_mm: Array, sided_mm: float) -> tuple[float, Array]:
    """Volume and centre of the solid between two matched rings.

    Every section between the faces is the ring of interpolated points, whose area is quadratic and
    first moments cubic in the height, so that the prismoid rule (up + 4 middle + down) / 6 is exact
    for volume and centre in plan, and for the depth of the centre with the area's own weights.

    Parameters
    ----------
    up_mm, down_mm : (n, 2)
        Rings of the same count, point opposite point.
    sided_mm
        Distance between the faces.

    Returns
    -------
    volume in cubic millimetres, and the centre (x, y, depth below the up face), (3,).
    """
    top, middle, foot = (_moments(r) for r in (up_mm, 0.5 * (up_mm + down_mm), down_mm))
    whole = (top + 4.0 * middle + foot) * sided_mm / 6.0
    # Depth: A(h) h is cubic in h, and the same three sections integrate it exactly.
    depth = (4.0 * middle[0] * 0.5 + foot[0]) * sided_mm**2 / 6.0
    if whole[0] == 0.0:
        return 0.0, np.array([*up_mm.mean(axis=0), sided_mm / 2.0])
    return abs(float(whole[0])), np.array([whole[1], whole[2], depth]) / whole[0]


def untangled(line_mm: Array) -> tuple[Array, float]:
    """A line with every loop drawn together to the point where it crosses itself.

    The count of points stays, so that rulings stay matched: those of a loop all move to the
    crossing.

    Returns
    -------
    the line (n, 2), and the greatest distance any point was moved.
    """
    steps = np.diff(line_mm, axis=0)
    if (steps @ (line_mm[-1] - line_mm[0]) > 0).all():
        return line_mm, 0.0  # always going forward along its chord, it cannot cross itself
    line = line_mm.copy()
    moved = 0.0
    start = 0
    while True:
        found = _first_crossing(line, start)
        if found is None:
            return line, moved
        i, j, at = found
        moved = max(moved, float(np.hypot(*(line[i + 1 : j + 1] - at).T).max()))
        line[i + 1 : j + 1] = at
        start = i


def _first_crossing(line: Array, start: int) -> tuple[int, int, Array] | None:
    """The first segment i from start on that a later one crosses, the last such j, and where."""
    a, d = line[:-1], np.diff(line, axis=0)
    n = len(a)
    for i in range(start, n - 2):
        if not np.any(d[i]):
            continue
        later = np.arange(i + 2, n)
        w = a[later] - a[i]
        across = d[i, 0] * d[later, 1] - d[i, 1] * d[later, 0]
        with np.errstate(divide="ignore", invalid="ignore"):
            t = (w[:, 0] * d[later, 1] - w[:, 1] * d[later, 0]) / across
            s = (w[:, 0] * d[i, 1] - w[:, 1] * d[i, 0]) / across
        hit = (across != 0) & (t > 1e-12) & (t < 1 - 1e-12) & (s > 1e-12) & (s < 1 - 1e-12)
        if hit.any():
            j = int(later[np.flatnonzero(hit)[-1]])
            return i, j, a[i] + t[np.flatnonzero(hit)[-1]] * d[i]
    return None


def met_square(
    up: Array, along: Array, down: Array, near: NDArray[np.intp]
) -> tuple[Array, NDArray[np.bool_]]:
    """Where the line ``down`` meets the plane through each point of ``up`` square to ``along``.

    ``near`` gives the index of the ruling's own lower end, from which the crossing nearest is
    taken; past an end the last segment is carried on, and the second answer is False there.
    """
    moved = np.concatenate([[True], np.abs(np.diff(down, axis=0)).max(axis=1) > 1e-9])
    if moved.sum() < 2:
        return down[near], np.ones(len(up), bool)
    index = np.flatnonzero(moved)
    line = down[moved]
    ahead = (line[None, :, 0] - up[:, None, 0]) * along[:, None, 0]
    ahead = ahead + (line[None, :, 1] - up[:, None, 1]) * along[:, None, 1]
    crosses = (ahead[:, :-1] <= 0) & (ahead[:, 1:] > 0)
    far = np.abs(index[:-1][None, :] - near[:, None])
    segment = np.where(crosses, far, far + 10 * len(down)).argmin(axis=1)
    none = ~crosses.any(axis=1)
    before = ahead[:, 0] > 0
    segment = np.where(none, np.where(before, 0, len(line) - 2), segment)
    rows = np.arange(len(up))
    a, b = ahead[rows, segment], ahead[rows, segment + 1]
    span = np.where(np.abs(b - a) > 1e-9, b - a, 1.0)
    w = np.clip(-a / span, -3.0, 4.0)[:, None]
    # A millimetre past an end is still that end: rulings square to the edge differ by rounding.
    nearly = np.minimum(np.abs(ahead[:, 0]), np.abs(ahead[:, -1])) < 1.0
    return line[segment] * (1.0 - w) + line[segment + 1] * w, ~none | nearly
