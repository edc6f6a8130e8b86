"""Outlines of slabs as rings: their hand, where they cross, and their middle line."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_CELLS_ACROSS = 9  # cells across the mean width when the ends of a slab are sought
_ROUNDS = 12


def signed_area_mm2(ring_mm: Array) -> float:
    """Area of a ring (n, 2), positive where it runs anticlockwise (y away from you)."""
    x, y = ring_mm[:, 0], ring_mm[:, 1]
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2.0


def is_closed_twice(ring_mm: Array, tolerance_mm: float = 1e-6) -> bool:
    """True where the last point repeats the first."""
    return len(ring_mm) > 3 and bool(np.hypot(*(ring_mm[0] - ring_mm[-1])) <= tolerance_mm)


def anticlockwise(ring_mm: Array) -> Array:
    """The ring run anticlockwise, its points otherwise untouched."""
    return ring_mm if signed_area_mm2(ring_mm) >= 0 else np.ascontiguousarray(ring_mm[::-1])


def crossings(ring_mm: Array) -> Array:
    """Points (k, 2) where a ring (n, 2) crosses itself; none where it is simple.

    Neighbouring edges meet by right and are not compared; touching counts as crossing.
    """
    a = ring_mm
    b = np.roll(ring_mm, -1, axis=0)
    n = len(a)
    i, j = np.triu_indices(n, 2)
    keep = ~((i == 0) & (j == n - 1))
    i, j = i[keep], j[keep]
    r, s, q = b[i] - a[i], b[j] - a[j], a[j] - a[i]
    cross = r[:, 0] * s[:, 1] - r[:, 1] * s[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        t = (q[:, 0] * s[:, 1] - q[:, 1] * s[:, 0]) / cross
        u = (q[:, 0] * r[:, 1] - q[:, 1] * r[:, 0]) / cross
    hit = (cross != 0) & (t >= 0) & (t <= 1) & (u >= 0) & (u <= 1)
    found: Array = a[i[hit]] + t[hit, None] * r[hit]
    return found


def widest_gap_mm(ring_mm: Array) -> tuple[float, float]:
    """The closing edge's length and the median of the others, both in mm."""
    edges = np.hypot(*(np.roll(ring_mm, -1, axis=0) - ring_mm).T)
    return float(edges[-1]), float(np.median(edges[:-1]))


def arc_mm(line_mm: Array) -> Array:
    """Distance along a line (n, 2) at each of its points, from 0."""
    along: Array = np.r_[0.0, np.cumsum(np.hypot(*np.diff(line_mm, axis=0).T))]
    return along


def evenly(line_mm: Array, count: int) -> Array:
    """``count`` points evenly along a line (n, 2), ends kept."""
    s = arc_mm(line_mm)
    at = np.linspace(0.0, s[-1], count)
    points: Array = np.c_[np.interp(at, s, line_mm[:, 0]), np.interp(at, s, line_mm[:, 1])]
    return points


def normals(line_mm: Array) -> Array:
    """Unit normals (n, 2) to the left of a line (n, 2)."""
    t = np.gradient(line_mm, axis=0)
    t /= np.maximum(np.hypot(*t.T), 1e-12)[:, None]
    left: Array = np.c_[-t[:, 1], t[:, 0]]
    return left


def reach_across(ring_mm: Array, points_mm: Array, normal: Array) -> tuple[Array, Array]:
    """Distance from each point to the ring along +normal and along -normal.

    ``points_mm``, ``normal``: (m, 2). Both answers (m,), nan where the ring is not met that way.
    """
    a = ring_mm[None] - points_mm[:, None]
    b = np.roll(ring_mm, -1, axis=0)[None] - points_mm[:, None]
    tangent = np.c_[normal[:, 1], -normal[:, 0]][:, None]
    ca, cb = (a * tangent).sum(-1), (b * tangent).sum(-1)
    met = (ca > 0) != (cb > 0)
    share = np.where(met, ca / np.where(met, ca - cb, 1.0), 0.0)
    across = ((a + share[..., None] * (b - a)) * normal[:, None]).sum(-1)
    left = np.where(met & (across >= 0), across, np.inf).min(1)
    right = np.where(met & (across < 0), -across, np.inf).min(1)
    return np.where(np.isinf(left), np.nan, left), np.where(np.isinf(right), np.nan, right)


def _from_end_to_end(ring_mm: Array) -> Array:
    """A rough line through a shape from its one end to its other, by steps within it.

    The two ends are the points farthest apart when the way may not leave the shape, so that a
    crook bent past a right angle is still followed. Each band of equal way gives its mean point.
    """
    import shapely
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import dijkstra

    polygon = shapely.Polygon(ring_mm)
    low, high = ring_mm.min(0), ring_mm.max(0)
    # area / half the girth is the mean width of a long thin shape
    width = polygon.area / max(polygon.length / 2.0, 1e-9)
    step = max(width / _CELLS_ACROSS, float(np.ptp(ring_mm, axis=0).max()) / 400.0)
    nx, ny = (np.ceil((high - low) / step).astype(int) + 1).tolist()
    gx, gy = np.meshgrid(low[0] + step * np.arange(nx), low[1] + step * np.arange(ny))
    inside = shapely.contains_xy(polygon, gx.ravel(), gy.ravel()).reshape(gx.shape)
    if inside.sum() < 4:
        return np.array([low, high], float)
    number = np.where(inside, np.cumsum(inside.ravel()).reshape(inside.shape) - 1, -1)
    heads, tails, ways = [], [], []
    for dr, dc in ((0, 1), (1, 0), (1, 1), (1, -1), (1, 2), (2, 1), (1, -2), (2, -1)):
        r0, r1 = slice(0, ny - dr), slice(dr, ny)
        c0 = slice(max(0, -dc), nx - max(0, dc))
        c1 = slice(max(0, dc), nx - max(0, -dc))
        one, two = number[r0, c0], number[r1, c1]
        both = (one >= 0) & (two >= 0)
        heads.append(one[both])
        tails.append(two[both])
        ways.append(np.full(int(both.sum()), step * np.hypot(dr, dc)))
    size = int(inside.sum())
    graph = coo_matrix(
        (np.concatenate(ways), (np.concatenate(heads), np.concatenate(tails))), (size, size)
    ).tocsr()
    points = np.c_[gx[inside], gy[inside]]
    first = np.ravel(dijkstra(graph, directed=False, indices=[0]))
    start = int(np.argmax(np.where(np.isfinite(first), first, -1.0)))
    way = np.ravel(dijkstra(graph, directed=False, indices=[start]))
    way = np.where(np.isfinite(way), way, -1.0)
    bands = max(4, int(way.max() / max(width, step)))
    band = np.clip((way / max(way.max(), 1e-9) * bands).astype(int), 0, bands - 1)
    return np.array([points[(band == k) & (way >= 0)].mean(0) for k in np.unique(band[way >= 0])])


def middle_line(ring_mm: Array, every_mm: float = 60.0) -> Array:
    """The middle line (m, 2) of a long shape, from end to end, butt (the broader end) first.

    Each point lies midway between the two sides, measured square to the line; the ends are
    carried straight on to the outline. Points are about ``every_mm`` apart, 5 to 400 of them: an
    outline with a figure of kilometres in it, which no wood has, costs no more than another.
    """
    line = _from_end_to_end(ring_mm)
    count = int(np.clip(arc_mm(line)[-1] / every_mm + 2, 5, 400))
    line = evenly(line, count)
    for _ in range(_ROUNDS):
        n = normals(line)
        left, right = reach_across(ring_mm, line, n)
        move = np.nan_to_num((left - right) / 2.0)
        line = line + 0.8 * move[:, None] * n
        line[1:-1] = 0.25 * line[:-2] + 0.5 * line[1:-1] + 0.25 * line[2:]
        line = evenly(line, count)
    line = _carried_to_the_ends(ring_mm, line)
    left, right = reach_across(ring_mm, line, normals(line))
    wide = np.nan_to_num(left + right)
    third = max(1, len(wide) // 3)
    butt, head = wide[1 : third + 1].mean(), wide[-third - 1 : -1].mean()
    return evenly(line if butt >= head else line[::-1], count)


def _carried_to_the_ends(ring_mm: Array, line: Array) -> Array:
    """The line carried straight on, or cut back, to where its ends meet the outline."""
    for _ in range(2):
        # the end itself is the least sure: leave it out and hold the bend of the three before it
        steps = line[1:3] - line[2:4]
        turn = np.arctan2(
            steps[0, 1] * steps[1, 0] - steps[0, 0] * steps[1, 1], (steps[0] * steps[1]).sum()
        )
        c, q = np.cos(turn), np.sin(turn)
        heading = np.array([[c, -q], [q, c]]) @ steps[0]
        heading = heading / max(float(np.hypot(*heading)), 1e-12)
        ahead, _back = reach_across(ring_mm, line[1:2], heading[None])
        if np.isfinite(ahead[0]):
            line = np.vstack([line[1] + heading * ahead[0], line[1:]])
        line = line[::-1]
    return line
