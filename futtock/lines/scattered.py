"""Volume and wetted area straight from a cloud of a whole hull, whatever her shape.

A bulb, a skeg or a rudder is no height over any one direction. Here each point's neighbours are
laid flat on their own tangent plane and triangulated (Delaunay); the triangles about the point are
its umbrella. A triangle that all three of its corners agree on counts once, one that only one of
them knows a third. Areas are summed below the waterline, the volume by the flux of (0, y, 0).
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, Delaunay, QhullError, cKDTree

from futtock.errors import Unsolvable
from futtock.progress import Progress, Report, quiet

Array = NDArray[np.float64]
_NEIGHBOURS = (70, 120)
_PARTS = 8


@dataclass(frozen=True, slots=True)
class ScatteredBody:
    """Figures of the body below a waterline, both sides; mm, m2, m3.

    ``agreed`` is the share of triangles that all their corners agree on: how closed the surface is.
    """

    waterline_mm: float
    volume_m3: float
    lcb_mm: float
    wetted_m2: float
    agreed: float


def scattered_body(points: Array, waterline_mm: float, report: Report = quiet) -> ScatteredBody:
    """Volume, its centre and wetted area of a cloud that covers a whole hull, both sides.

    Parameters
    ----------
    points : (n, 3)
        x along, y athwart with the centreline at 0, z up; millimetres. Each horizontal line athwart
        is to leave the hull once a side.
    waterline_mm
        Height of the waterline; the cloud reaches above it.

    Raises
    ------
    Unsolvable
        Where there are fewer than 200 points or none below the waterline.
    """
    points = np.unique(np.round(np.asarray(points, float), 3), axis=0)
    if len(points) < 200 or not (points[:, 2] < waterline_mm).any():
        raise Unsolvable("a whole hull's cloud takes 200 points and some below the waterline.")
    counts = _umbrellas(points, report)
    corners = np.array(list(counts))
    seen = np.minimum(np.array(list(counts.values())), 3)
    a, b, c = (points[corners[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a) / 2
    area = np.linalg.norm(normal, axis=1)
    share = seen / 3.0
    wetted = volume = moment = 0.0
    for s, t in _middles():
        p = a + s * (b - a) + t * (c - a)
        below = p[:, 2] < waterline_mm
        wetted += float((share * area * below).sum())
        flux = share * np.abs(normal[:, 1] * p[:, 1]) * below
        volume += float(flux.sum())
        moment += float((flux * p[:, 0]).sum())
    parts = _PARTS**2
    agreed = float((seen == 3).mean())
    return ScatteredBody(
        waterline_mm, volume / parts / 1e9, moment / volume, wetted / parts / 1e6, agreed
    )


def _middles() -> list[tuple[float, float]]:
    """Middles of the equal parts of a triangle, in its own two coordinates."""
    n = _PARTS
    up = [((i + 1 / 3) / n, (j + 1 / 3) / n) for i in range(n) for j in range(n - i)]
    down = [((i + 2 / 3) / n, (j + 2 / 3) / n) for i in range(n) for j in range(n - 1 - i)]
    return up + down


def _umbrellas(points: Array, report: Report) -> Counter[tuple[int, int, int]]:
    """How often each triangle (corner indices, sorted) belongs to an umbrella of its corners."""
    tree = cKDTree(points)
    counts: Counter[tuple[int, int, int]] = Counter()
    left: NDArray[np.intp] = np.arange(len(points))
    for turn, k in enumerate(_NEIGHBOURS):
        k = min(k, len(points) - 1)
        last = turn == len(_NEIGHBOURS) - 1
        open_ones = []
        for start in range(0, len(left), 2000):
            block = left[start : start + 2000]
            report(Progress("cloud", len(points) - len(left) + start, len(points), "umbrellas"))
            far, near = (np.asarray(q) for q in tree.query(points[block], k=k))
            flat = _laid_flat(points, block, far, near)
            for i in range(len(block)):
                found = _umbrella(flat[i], closed=not last)
                if found is None:
                    open_ones.append(int(block[i]))
                    continue
                for triangle in near[i][found]:
                    x, y, z = sorted(int(v) for v in triangle)
                    counts[x, y, z] += 1
        left = np.array(open_ones, np.intp)
        if not len(left):
            break
    return counts


def _laid_flat(points: Array, block: NDArray[np.intp], far: Array, near: Array) -> Array:
    """Neighbours (m, k, 2) in the tangent planes of m points: the nearer weigh the more."""
    d = points[near] - points[block][:, None, :]
    w = np.exp(-3.0 * (far / far[:, -1:]) ** 2)[..., None]
    mean = (d * w).sum(axis=1, keepdims=True) / w.sum(axis=1, keepdims=True)
    spread = np.einsum("nki,nkj->nij", (d - mean) * w, d - mean)
    axes = np.linalg.eigh(spread)[1][:, :, [2, 1]]
    return np.asarray(np.einsum("nki,nij->nkj", d, axes))


def _umbrella(flat: Array, *, closed: bool) -> NDArray[np.intp] | None:
    """Triangles (local indices) about the first point; None where it is open and may not be."""
    try:
        if closed and 0 in ConvexHull(flat).vertices:
            return None
        triangles = Delaunay(flat).simplices
    except QhullError:
        return np.zeros((0, 3), np.intp)
    return np.asarray(triangles[(triangles == 0).any(axis=1)], np.intp)
