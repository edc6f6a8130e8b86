"""A cloud of survey points to a fair surface: thinned to cells, blunders out, then as any table.

A few hundred points, one from each patch of the hull, give a first surface. All points are then
weighed against it; those within reach are gathered in cells of the surface's own parameters, each
cell a reading whose error falls with the number of its points. A million points cost little more
than ten thousand.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Unsolvable
from futtock.lines.figures import Readings
from futtock.lines.fitting import CANDIDATES, Side, fit_side
from futtock.lines.threads import one_thread
from futtock.progress import Progress, Report, quiet

Array = NDArray[np.float64]
_SEEDS = 450
CELLS = (46, 20)
_LEAST_ERROR = 0.2  # of a cell, in errors of one point: neighbouring points err together
_FLOOR = 4  # a cell of fewer points is taken by its median only if no better is to be had


@dataclass(frozen=True)
class CloudFit:
    """A surface through survey points.

    Attributes
    ----------
    side
        The surface.
    off_mm : (n,)
        Distance of each point from it, positive outside.
    kept : (n,) bool
        Points that it leans on.
    sigma_mm
        Robust scatter of the kept points about it.
    """

    side: Side
    off_mm: Array
    kept: NDArray[np.bool_]
    sigma_mm: float


def fit_cloud(
    points: Array,
    sigma_mm: float,
    *,
    anchors: Array | None = None,
    angle_deg: float = 45.0,
    plan_deg: float | None = None,
    cells: tuple[int, int] = CELLS,
    quick: bool = False,
    seed: int = 0,
    report: Report = quiet,
) -> CloudFit:
    """Fair a cloud of the starboard side (y outboard; mirror the port side first).

    Parameters
    ----------
    points : (n, 3)
    sigma_mm
        Standard error of one point along the normal, as far as it is known.
    anchors : (m, 3)
        Points of the bounding lines, each a reading of its own.
    angle_deg, plan_deg
        See :func:`futtock.lines.fitting.fit_side`.
    cells
        How many along and across the points are gathered in.
    quick
        True: one round, the usual batten, the plain projection.
    seed
        Of the choice of first points.

    Raises
    ------
    Unsolvable
        Where the points are too few or lie all in one place.
    """
    points = np.asarray(points, float)
    if len(points) < 30:
        raise Unsolvable(f"{len(points)} points are too few for a surface; 30 are the least.")
    with one_thread():
        return _fit(points, sigma_mm, anchors, angle_deg, plan_deg, cells, quick, seed, report)


def _fit(
    points: Array,
    sigma: float,
    anchors: Array | None,
    angle_deg: float,
    plan_deg: float | None,
    grid: tuple[int, int],
    quick: bool,
    seed: int,
    report: Report,
) -> CloudFit:
    bulk = _bulk(points)
    rng = np.random.default_rng(seed)
    first = _one_each(points, bulk, rng)
    report(
        Progress("fair", 0, 3, f"a first surface through {len(first)} of {len(points):,} points")
    )
    start = readings_of(points[first], np.full(len(first), 3 * sigma))
    side = fit_side(start, angle_deg, 0.0, candidates=CANDIDATES[:1])
    off, reach = distances(side, points)
    scatter = _scatter(off[bulk], sigma)
    for turn in (2,) if quick else (1, 2):
        kept = bulk & reach & (np.abs(off) < max(4.5 * scatter, 3 * sigma))
        cells = _cells(side, points[kept], off[kept], max(scatter, 0.5 * sigma), grid)
        report(Progress("fair", turn, 3, f"{len(cells)} cells of {int(kept.sum()):,} points"))
        if anchors is not None and len(anchors):
            cells = _joined(cells, readings_of(anchors, np.full(len(anchors), sigma)))
        last = turn == 2 and not quick
        plan = plan_deg if last else 0.0
        battens = CANDIDATES if last else CANDIDATES[:1]
        side = fit_side(cells, angle_deg, plan, candidates=battens)
        off, reach = distances(side, points)
        scatter = _scatter(off[kept], 0.0)
    kept = bulk & reach & (np.abs(off) < max(4.5 * scatter, 1.5 * sigma))
    report(Progress("fair", 3, 3, "fair"))
    return CloudFit(side, off, kept, scatter)


def readings_of(points: Array, sigma: Array) -> Readings:
    """Points as readings of the surface in every direction."""
    n = len(points)
    return Readings(
        np.asarray(points, float), np.zeros((n, 3)), np.ones((n, 3)), sigma, np.full(n, -1, np.intp)
    )


def _joined(a: Readings, b: Readings) -> Readings:
    return Readings(
        np.vstack([a.points, b.points]),
        np.vstack([a.ray, b.ray]),
        np.vstack([a.loose, b.loose]),
        np.r_[a.sigma, b.sigma],
        np.r_[a.figure, b.figure],
    )


def _bulk(points: Array) -> NDArray[np.bool_]:
    """Points not beyond all proportion to the rest."""
    low, mid, high = np.percentile(points, [2, 50, 98], axis=0)
    return np.asarray(
        (points > mid - 2.5 * (mid - low) - 1).all(axis=1)
        & (points < mid + 2.5 * (high - mid) + 1).all(axis=1)
    )


def _one_each(points: Array, bulk: NDArray[np.bool_], rng: np.random.Generator) -> NDArray[np.intp]:
    """Indices of points, at most one from each patch of the hull."""
    live = np.flatnonzero(bulk)
    p = points[live]
    t = (p[:, 1] + p[:, 2]) / np.sqrt(2)
    order = rng.permutation(len(live))
    across = int(np.sqrt(_SEEDS / 2))
    key = _bins(p[order, 0], _SEEDS // across) * 10_000 + _bins(t[order], across)
    _, first = np.unique(key, return_index=True)
    return np.asarray(live[order[first]])


def _bins(values: Array, n: int) -> NDArray[np.intp]:
    low, high = np.percentile(values, [0.5, 99.5])
    place: Array = np.clip((values - low) / max(high - low, 1e-9) * n, 0, n - 1)
    return place.astype(np.intp)


def distances(side: Side, points: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Distances (n,) to first order, and whether each point lies over the surface's own cells."""
    field = side.field
    off = np.empty(len(points))
    for a in range(0, len(points), 200_000):
        e, gradient, _ = field.offs(points[a : a + 200_000])
        off[a : a + 200_000] = e / np.linalg.norm(gradient, axis=1)
    uth = field.turn.into(points)
    low, high = field.origin - 0.02 * field.length, field.origin + 1.02 * field.length
    reach = (uth[:, 0] > low) & (uth[:, 0] < high)
    reach &= (uth[:, 1] > field.across.start) & (uth[:, 1] < field.across.end)
    return off, reach


def _scatter(off: Array, least: float) -> float:
    return max(1.4826 * float(np.median(np.abs(off - np.median(off)))), least)


def _cells(
    side: Side, points: Array, off: Array, scatter: float, grid: tuple[int, int]
) -> Readings:
    """One reading a cell: the median departure at the middle of the cell's points."""
    uth = side.field.turn.into(points)
    iu, it = _bins(uth[:, 0], grid[0]), _bins(uth[:, 1], grid[1])
    key = iu * grid[1] + it
    order = np.argsort(key, kind="stable")
    key, uth, off = key[order], uth[order], off[order]
    starts = np.flatnonzero(np.r_[True, np.diff(key) > 0])
    count = np.diff(np.r_[starts, len(key)])
    u = np.add.reduceat(uth[:, 0], starts) / count
    t = np.add.reduceat(uth[:, 1], starts) / count
    # trimmed: points beyond two scatters of their cell's mean do not count
    mean = np.add.reduceat(off, starts) / count
    near = np.abs(off - np.repeat(mean, count)) < 2.0 * scatter
    many = np.maximum(np.add.reduceat(near.astype(float), starts), 1.0)
    mean = np.add.reduceat(np.where(near, off, 0.0), starts) / many
    h = side.field.heights(u, t)
    steep = np.sqrt(1 + h[:, 1] ** 2 + h[:, 2] ** 2)
    basis = side.field.turn.axes
    place = u[:, None] * basis[0] + t[:, None] * basis[1]
    place = place + (h[:, 0] + mean * steep)[:, None] * basis[2]
    error = scatter * np.maximum(1.25 / np.sqrt(many), _LEAST_ERROR)
    enough = count >= min(_FLOOR, int(np.median(count)))
    return readings_of(place[enough], error[enough])
