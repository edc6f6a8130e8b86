"""The hull as a height field over the diagonal: one smooth function from keel to sheer.

Turn the section about the x axis by ``angle_deg`` (45 as a rule): t runs up and outboard along the
diagonal, h stands square to it, outboard and down,

    t = z cos a + y sin a        y = t sin a + h cos a
    h = y cos a - z sin a        z = t cos a - h sin a

and the hull is h(x, t): one-valued from a flat floor through deadwood to a moderate tumblehome.
For a bluff bow the whole is turned in plan first, by ``plan_deg`` about the vertical: the height
then also leans forward (positive) or aft (negative), so that a waterline square to the stem is
still one-valued; u is then the distance along the turned axis, no longer x.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from futtock.lines.bspline import Axis, evaluate, laid_out

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Turn:
    """The axes in which the hull is a height field.

    Attributes
    ----------
    angle_deg
        Angle of the diagonal's height from level, about the fore-and-aft axis.
    plan_deg
        Turn in plan; 0 but for bluff ends.
    """

    angle_deg: float = 45.0
    plan_deg: float = 0.0

    @cached_property
    def axes(self) -> Array:
        """(3, 3): unit vectors of u, t and h as rows."""
        a, g = np.radians(self.angle_deg), np.radians(self.plan_deg)
        out = np.array([-np.sin(g), np.cos(g), 0.0])
        up = np.array([0.0, 0.0, 1.0])
        return np.stack(
            [
                np.array([np.cos(g), np.sin(g), 0.0]),
                np.cos(a) * up + np.sin(a) * out,
                np.cos(a) * out - np.sin(a) * up,
            ]
        )

    def into(self, points: Array) -> Array:
        """Points (..., 3) in x, y, z as (..., 3) in u, t, h."""
        return np.asarray(points, float) @ self.axes.T


@dataclass(frozen=True)
class HeightField:
    """A fitted hull side; satisfies :class:`futtock.lines.surface.Surface` with u = x, v = t.

    Attributes
    ----------
    along, across
        Axes of the spline in the warped x and in t.
    coef : (along.size, across.size)
        Coefficients in millimetres.
    turn
        The axes of the projection.
    warp
        Amount w of end freedom: the spline runs on xi = x + w L / (2 pi) sin(2 pi (x - x0) / L),
        so that its cells are shorter by 1 / (1 + w) at the ends than it would have them.
    origin, length
        x0 and L of the warp.
    """

    along: Axis
    across: Axis
    coef: Array
    turn: Turn
    warp: float
    origin: float
    length: float
    outward: int = -1

    @cached_property
    def _packed(self) -> Array:
        a, b = self.along, self.across
        return np.array(
            [
                a.start,
                a.step,
                a.cells,
                b.start,
                b.step,
                b.cells,
                self.warp,
                self.origin,
                self.length,
            ]
        )

    def heights(self, u: Array, v: Array) -> Array:
        """h, hx, ht, hxx, hxt, htt at matching places (...): shape (..., 6)."""
        u, v = np.broadcast_arrays(np.asarray(u, float), np.asarray(v, float))
        out = np.empty((u.size, 6))
        evaluate(
            self.coef,
            self._packed,
            np.ascontiguousarray(u).reshape(-1),
            np.ascontiguousarray(v).reshape(-1),
            out,
        )
        return out.reshape(*u.shape, 6)

    def derivatives(self, u: Array, v: Array) -> Array:
        """S, Su, Sv, Suu, Suv, Svv at parameters of any one shape (...): (..., 6, 3)."""
        u, v = np.broadcast_arrays(np.asarray(u, float), np.asarray(v, float))
        h = np.ascontiguousarray(self.heights(u, v)).reshape(-1, 6)
        out = np.empty((u.size, 6, 3))
        laid_out(h, np.ravel(u), np.ravel(v), self.turn.axes, out)
        return out.reshape(*u.shape, 6, 3)

    def points(self, u: Array, v: Array) -> Array:
        """Points (..., 3)."""
        return np.asarray(self.derivatives(u, v)[..., 0, :])

    def normals(self, u: Array, v: Array) -> Array:
        """Unit normals pointing outboard, (..., 3)."""
        d = self.derivatives(u, v)
        n = self.outward * np.cross(d[..., 1, :], d[..., 2, :])
        return np.asarray(n / np.linalg.norm(n, axis=-1, keepdims=True))

    def offs(self, points: Array) -> tuple[Array, Array, Array]:
        """How far points (n, 3) stand from the field along h, and that amount's gradient.

        Returns
        -------
        e : (n,)
            h of the point less the field's height there; positive outboard.
        gradient : (n, 3)
            Of e in x, y, z. ``e / |gradient|`` is the distance to first order.
        at : (n, 2)
            u, v below the points.
        """
        uth = self.turn.into(points)
        h = self.heights(uth[:, 0], uth[:, 1])
        eu, et, eh = self.turn.axes
        gradient = eh - h[:, 1, None] * eu - h[:, 2, None] * et
        return uth[:, 2] - h[:, 0], gradient, uth[:, :2]

    def nearest(self, points: Array, rounds: int = 30) -> tuple[Array, Array]:
        """Signed distances (n,), positive outside, and parameters (n, 2) of the nearest points."""
        uth = self.turn.into(points)
        deep = self.across.end - self.across.start
        low = self.origin - 0.1 * self.length, self.across.start - 0.1 * deep
        high = self.origin + 1.1 * self.length, self.across.end + 0.1 * deep
        u, v = np.clip(uth[:, 0], low[0], high[0]), np.clip(uth[:, 1], low[1], high[1])
        for _ in range(rounds):
            h = self.heights(u, v)
            e = uth[:, 2] - h[:, 0]
            r1 = uth[:, 0] - u + h[:, 1] * e
            r2 = uth[:, 1] - v + h[:, 2] * e
            a11 = -1 + h[:, 3] * e - h[:, 1] ** 2
            a12 = h[:, 4] * e - h[:, 1] * h[:, 2]
            a22 = -1 + h[:, 5] * e - h[:, 2] ** 2
            det = a11 * a22 - a12 * a12
            # far from the surface the Hessian may lose its sign: then take the gradient's step
            bad = (det < 0.05) | (a11 > 0)
            a11, a22 = np.where(bad, -1 - h[:, 1] ** 2, a11), np.where(bad, -1 - h[:, 2] ** 2, a22)
            a12 = np.where(bad, -h[:, 1] * h[:, 2], a12)
            det = np.maximum(a11 * a22 - a12 * a12, 1e-9)
            du, dv = (r1 * a22 - r2 * a12) / det, (r2 * a11 - r1 * a12) / det
            # the spline means nothing far beyond its cells
            u = np.clip(u - du, low[0], high[0])
            v = np.clip(v - dv, low[1], high[1])
            if np.abs(du).max(initial=0) + np.abs(dv).max(initial=0) < 1e-9:
                break
        h = self.heights(u, v)
        e = uth[:, 2] - h[:, 0]
        d = np.sqrt((uth[:, 0] - u) ** 2 + (uth[:, 1] - v) ** 2 + e * e)
        return np.where(e >= 0, d, -d), np.stack([u, v], axis=-1)
