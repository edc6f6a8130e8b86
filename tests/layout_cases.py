"""Small moulds and slabs with known answers, for the tests of layout."""

from __future__ import annotations

import numpy as np

from futtock.moulds.mould import Mould, SawnEdge
from futtock.stock.slab import Flaw, Slab


def strip(mark, line, wide, *, over=0.0, sided=45.0, up="aft"):
    """A timber of even width along a line (n, 2); its down face stands ``over`` mm to the left."""
    line = np.asarray(line, float)
    d = np.gradient(line, axis=0)
    t = d / np.hypot(*d.T)[:, None]
    n = np.c_[-t[:, 1], t[:, 0]]
    left, right = line + n * wide / 2, line - n * wide / 2
    up_ring = np.vstack([right, left[::-1]])
    down_ring = up_ring + np.vstack([n, n[::-1]]) * over
    at = np.r_[0.0, np.cumsum(np.hypot(*np.diff(line, axis=0).T))]
    edges = tuple(
        SawnEdge(name, e, e + n * over, at, np.zeros(len(at)))
        for name, e in (("outer", left), ("inner", right))
    )
    area = at[-1] * wide / 1e6
    return Mould(mark, up, up_ring, down_ring, line, edges, (), sided, area, area * sided * 0.7)


def arc(radius, angle_deg, n=41):
    """A line bent evenly, starting at the origin along x."""
    a = np.radians(np.linspace(0.0, angle_deg, n))
    return radius * np.c_[np.sin(a), 1.0 - np.cos(a)]


def plank(name, long, wide, *, thick=60.0, bottom=None, flaws=(), lines=3, **more):
    """A straight slab, grain along x, its lower left corner at the origin."""
    ring = np.array([[0.0, 0.0], [long, 0.0], [long, wide], [0.0, wide]])
    x = np.linspace(10.0, long - 10.0, 25)
    grain = tuple(np.c_[x, np.full(25, y)] for y in np.linspace(0.0, wide, lines + 2)[1:-1])
    return Slab(
        name,
        "white oak",
        thick,
        18.0,
        ring,
        ring if bottom is None else bottom,
        grain,
        tuple(flaws),
        **more,
    )


def crook(name, line, wide, *, thick=60.0, flaws=(), **more):
    """A slab that follows a line, grain with it."""
    line = np.asarray(line, float)
    d = np.gradient(line, axis=0)
    t = d / np.hypot(*d.T)[:, None]
    n = np.c_[-t[:, 1], t[:, 0]]
    ring = np.vstack([line - n * wide / 2, (line + n * wide / 2)[::-1]])
    grain = tuple(line + n * share * wide for share in (-0.3, 0.0, 0.3))
    return Slab(name, "white oak", thick, 18.0, ring, ring, grain, tuple(flaws), **more)


def knot(x, y, r, face="both"):
    """A round knot."""
    a = np.linspace(0.0, 2 * np.pi, 16, endpoint=False)
    return Flaw("knot", np.c_[x + r * np.cos(a), y + r * np.sin(a)], face)
