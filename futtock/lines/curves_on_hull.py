"""Plane cuts of a hull as the lines plan draws them, trimmed at rabbet, transom and sheer.

Each function gives a list of polylines (n, 3), starboard side, in x, y, z; empty where the plane
misses the hull. A cut is traced over a grid of the hull's own parameters and each vertex is then
brought onto plane and surface by Newton, so that any surface will do.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from futtock.lines.surface import Hull
from futtock.vessel.table import Diagonal

Array = NDArray[np.float64]


def parameter_grid(hull: Hull, along: int = 241, up: int = 81) -> tuple[Array, Array]:
    """Parameters u, v (along, up) covering the hull from bound to bound.

    Closer together towards the ends, where lines turn in quickly.
    """
    p = np.linspace(0, 1, along)
    p = 0.6 * p + 0.4 * (0.5 - 0.5 * np.cos(np.pi * p))
    u = hull.u_range[0] + (hull.u_range[1] - hull.u_range[0]) * p
    low, high = hull.trim.low(u), hull.trim.high(u)
    w = np.linspace(0, 1, up)
    return np.repeat(u[:, None], up, axis=1), low[:, None] + (high - low)[:, None] * w


def waterline(hull: Hull, z: float) -> list[Array]:
    """Where the level plane at height z cuts the hull."""
    return plane_cut(hull, np.array([0.0, 0.0, 1.0]), z)


def buttock(hull: Hull, y: float) -> list[Array]:
    """Where the upright plane y off the centreline cuts the hull."""
    return plane_cut(hull, np.array([0.0, 1.0, 0.0]), y)


def section(hull: Hull, x: float) -> list[Array]:
    """Where the plane square to the centreline at x cuts the hull, from keel to sheer."""
    return [c if c[0, 2] <= c[-1, 2] else c[::-1] for c in plane_cut(hull, np.eye(3)[0], x)]


def diagonal(hull: Hull, plane: Diagonal) -> list[Array]:
    """Where a diagonal plane cuts the hull."""
    s = np.radians(plane.slope_deg)
    return plane_cut(
        hull, np.array([0.0, -np.sin(s), np.cos(s)]), plane.height_mm * float(np.cos(s))
    )


def plane_cut(
    hull: Hull, normal: Array, level: float, along: int = 241, up: int = 81
) -> list[Array]:
    """Where the plane ``normal . p = level`` cuts the hull: polylines (n, 3), forward end first."""
    normal = np.asarray(normal, float)
    u, v = parameter_grid(hull, along, up)
    if abs(normal[0]) > 0.99 * float(np.linalg.norm(normal)):
        straight = _section_at(hull, normal, level, up)
        if straight is not None:
            return straight
    gap = hull.surface.derivatives(u, v)[..., 0, :] @ normal - level
    out = []
    for line in trace(gap):
        uu = np.interp(line[:, 0], np.arange(along), u[:, 0])
        w = line[:, 1] / (up - 1)
        low, high = hull.trim.low(uu), hull.trim.high(uu)
        points = _onto(hull, normal, level, uu, low + w * (high - low))
        first, last = (_bound(hull, normal, level, u[:, 0], up, line[k]) for k in (0, -1))
        points = np.vstack([p for p in (first, points, last) if p is not None])
        if len(points) > 1:
            out.append(points if points[0, 0] <= points[-1, 0] else points[::-1])
    return out


def _section_at(hull: Hull, normal: Array, level: float, up: int) -> list[Array] | None:
    """A section of a field with u = x, direct; None where the surface is not of that kind."""
    x = level / normal[0]
    if not hull.u_range[0] <= x <= hull.u_range[1]:
        low = np.array([hull.u_range[0]])
        p = hull.surface.derivatives(low, hull.trim.low(low))[0, 0, 0]
        return [] if abs(p - low[0]) < 1e-6 else None
    u = np.full(2 * up - 1, x)
    low, high = hull.trim.low(u[:1])[0], hull.trim.high(u[:1])[0]
    p = hull.surface.derivatives(u, np.linspace(low, high, len(u)))[:, 0, :]
    if np.abs(p[:, 0] - x).max() > 1e-6:
        return None
    return [np.asarray(p)] if high - low > 1e-6 else []


def _bound(hull: Hull, normal: Array, level: float, u: Array, up: int, at: Array) -> Array | None:
    """The point (1, 3) where a cut that ends at grid place ``at`` meets the hull's bound."""
    i, j = float(at[0]), float(at[1])

    def gap(p: float, fixed: float | None) -> float:
        q = np.array([p])
        low, high = hull.trim.low(q), hull.trim.high(q)
        v = low if fixed == 0 else high
        return float(hull.surface.derivatives(q, v)[0, 0] @ normal) - level

    if j in (0.0, up - 1.0):
        k = min(int(i), len(u) - 2)
        a, b = float(u[k]), float(u[k + 1])
        if gap(a, j) * gap(b, j) > 0:
            return None
        q = np.array([brentq(gap, a, b, args=(j,), xtol=1e-9)])
        v = hull.trim.low(q) if j == 0 else hull.trim.high(q)
        return np.asarray(hull.surface.derivatives(q, v)[:, 0, :])
    if i in (0.0, len(u) - 1.0):
        q = np.array([u[int(i)]])
        low, high = float(hull.trim.low(q)[0]), float(hull.trim.high(q)[0])

        def up_the_end(v: float) -> float:
            return float(hull.surface.derivatives(q, np.array([v]))[0, 0] @ normal) - level

        a, b = (low + (high - low) * f for f in (int(j) / (up - 1), (int(j) + 1) / (up - 1)))
        if up_the_end(a) * up_the_end(b) > 0:
            return None
        v = np.array([brentq(up_the_end, a, b, xtol=1e-9)])
        return np.asarray(hull.surface.derivatives(q, v)[:, 0, :])
    return None


def _onto(hull: Hull, normal: Array, level: float, u: Array, v: Array) -> Array:
    """Bring parameters onto the plane along its gradient in (u, v); points inside the bounds."""
    for _ in range(6):
        d = hull.surface.derivatives(u, v)
        gap = d[:, 0, :] @ normal - level
        gu, gv = d[:, 1, :] @ normal, d[:, 2, :] @ normal
        square = np.maximum(gu**2 + gv**2, 1e-9)
        step = gap / square
        limit = 200.0 / np.maximum(np.hypot(step * gu, step * gv), 200.0)
        u, v = u - step * gu * limit, v - step * gv * limit
        if np.abs(gap).max(initial=0) < 1e-9:
            break
    inside = (u >= hull.u_range[0]) & (u <= hull.u_range[1])
    inside &= (v >= hull.trim.low(u)) & (v <= hull.trim.high(u)) & (np.abs(gap) < 1e-3)
    u, v = u[inside], v[inside]
    return np.asarray(hull.surface.derivatives(u, v)[:, 0, :])


def trace(gap: Array) -> list[Array]:
    """Zero lines of a grid function as polylines (n, 2) of fractional indices.

    Each cell's four edges are met by linear interpolation (marching squares; the saddle by its
    mean), and the pieces are joined end to end.
    """
    g = np.where(gap == 0, 1e-300, gap)
    sign = g > 0
    links: dict[tuple[int, int, int], list[tuple[int, int, int]]] = {}
    code = sign[:-1, :-1] * 1 + sign[1:, :-1] * 2 + sign[1:, 1:] * 4 + sign[:-1, 1:] * 8
    for i, j in np.argwhere((code > 0) & (code < 15)):
        corners = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)]
        edges = [(0, i, j), (1, i + 1, j), (0, i, j + 1), (1, i, j)]
        met = [edges[k] for k in range(4) if sign[corners[k]] != sign[corners[(k + 1) % 4]]]
        if len(met) == 4:
            centre = g[i : i + 2, j : j + 2].mean() > 0
            if centre == sign[i, j]:
                met = [met[0], met[1], met[2], met[3]]
            else:
                met = [met[3], met[0], met[1], met[2]]
        for a, b in zip(met[::2], met[1::2], strict=True):
            links.setdefault(a, []).append(b)
            links.setdefault(b, []).append(a)

    def place(edge: tuple[int, int, int]) -> tuple[float, float]:
        kind, i, j = edge
        a, b = g[i, j], g[i + 1, j] if kind == 0 else g[i, j + 1]
        f = float(a / (a - b))
        return (i + f, float(j)) if kind == 0 else (float(i), j + f)

    lines = []
    left = set(links)
    starts = [e for e in links if len(links[e]) == 1] + list(links)
    for e in starts:
        if e not in left:
            continue
        path = [e]
        left.discard(e)
        while True:
            ahead = [q for q in links[path[-1]] if q in left]
            if not ahead:
                break
            path.append(ahead[0])
            left.discard(ahead[0])
        if len(path) > 2 and path[0] in links[path[-1]]:
            path.append(path[0])
        lines.append(np.array([place(q) for q in path]))
    return lines
