"""Compiled: the discs that stand for an outline. Nothing here knows of slabs or timbers."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

import numpy as np
from numba import njit
from numpy.typing import NDArray

Array = NDArray[np.float64]
F = TypeVar("F", bound=Callable[..., Any])


def compiled(function: F) -> F:
    """Compile with the result kept on disk; the lock is let go, so that threads run at once."""
    return cast(
        F, njit(cache=True, nogil=True, fastmath={"reassoc", "contract", "nsz", "arcp"})(function)
    )


@compiled
def within(
    points: Array, normals: Array, starts: NDArray[np.int64], most: float
) -> tuple[Array, Array]:
    """The largest disc inside a boundary that touches it at each of some of its points.

    ``points`` (n, 2) a dense run of boundary points with inward unit ``normals``; ``starts`` (m,)
    which of them. Returns centres (m, 2) and radii (m,), found by shrinking a ball of radius
    ``most`` until no boundary point lies inside.
    """
    m = starts.shape[0]
    centres = np.empty((m, 2))
    radii = np.empty(m)
    for j in range(m):
        bx, by = points[starts[j], 0], points[starts[j], 1]
        nx, ny = normals[starts[j], 0], normals[starts[j], 1]
        r = most
        for _ in range(30):
            cx, cy = bx + r * nx, by + r * ny
            best, who = 1e300, -1
            for k in range(points.shape[0]):
                dx, dy = points[k, 0] - cx, points[k, 1] - cy
                d = dx * dx + dy * dy
                if d < best:
                    best, who = d, k
            if np.sqrt(best) > r - 0.02:
                break
            dx, dy = points[who, 0] - bx, points[who, 1] - by
            along = dx * nx + dy * ny
            if along <= 1e-9:
                break
            smaller = (dx * dx + dy * dy) / (2.0 * along)
            if smaller > r - 0.01:
                r = smaller
                break
            r = smaller
        centres[j, 0], centres[j, 1], radii[j] = bx + r * nx, by + r * ny, r
    return centres, radii


@compiled
def cover(
    points: Array, centres: Array, radii: Array, slack: float
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Choose discs so that every boundary point lies within ``slack`` of one of them.

    Returns the chosen discs' indices, and the points that no disc comes near enough to: those
    must be looked at one by one.
    """
    n, m = points.shape[0], centres.shape[0]
    near = np.zeros((m, n), np.bool_)
    for j in range(m):
        reach = radii[j] - slack
        if reach <= 0.0:
            continue
        for k in range(n):
            dx, dy = points[k, 0] - centres[j, 0], points[k, 1] - centres[j, 1]
            near[j, k] = dx * dx + dy * dy >= reach * reach and (
                dx * dx + dy * dy <= (radii[j] + slack) * (radii[j] + slack)
            )
    done = np.zeros(n, np.bool_)
    chosen = np.empty(m, np.int64)
    alone = np.empty(n, np.int64)
    nc = 0
    na = 0
    for k in range(n):
        if done[k]:
            continue
        best, who = 0, -1
        for j in range(m):
            if near[j, k]:
                count = 0
                for q in range(n):
                    if near[j, q] and not done[q]:
                        count += 1
                if count > best:
                    best, who = count, j
        if who < 0:
            alone[na] = k
            na += 1
            done[k] = True
            continue
        chosen[nc] = who
        nc += 1
        for q in range(n):
            if near[who, q]:
                done[q] = True
    return chosen[:nc], alone[:na]


@compiled
def spread(points: Array, weight: Array, first: int) -> NDArray[np.int64]:
    """An order of points (n, 2) in which each is the farthest from those before it.

    Distances count ``weight`` times, so that points of small weight come late.
    """
    n = points.shape[0]
    order = np.empty(n, np.int64)
    gap = np.full(n, 1e300)
    at = first
    for k in range(n):
        order[k] = at
        gap[at] = -1.0
        best, who = -1.0, -1
        for j in range(n):
            if gap[j] < 0.0:
                continue
            dx, dy = points[j, 0] - points[at, 0], points[j, 1] - points[at, 1]
            d = np.sqrt(dx * dx + dy * dy) * weight[j]
            if d < gap[j]:
                gap[j] = d
            if gap[j] > best:
                best, who = gap[j], j
        if who < 0:
            break
        at = who
    return order
