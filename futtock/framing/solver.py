"""Newton on the inside of planking: points of planes and of the lines that bound faces.

All planes are solved together. At fixed v the plane a . O(u, v) = c is one equation in u; at an end
it is solved in (u, v) together with the line that ends the face there. Derivatives are exact.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.framing.frame import FramePlane
from futtock.framing.planking import Inside, inside
from futtock.lines.surface import Hull, Profile

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Miss = Callable[[Array, Array, Inside], tuple[Array, Array, Array]]
"""What is missed at (u, v), and its rates along u and v; (M, k) each."""

_LOOK_U, _LOOK_W = 49, 17
_NEAR_MM = 0.02


@dataclass(frozen=True, slots=True)
class Planes:
    """M face planes: normals, levels c = a . origin, origins and in-plane axes, (M, ...)."""

    a: Array
    c: Array
    origin: Array
    out: Array
    up: Array


def face_planes(frames: Sequence[FramePlane]) -> Planes:
    """Three planes a frame, in the order forward, joint, aft."""
    axes = np.repeat(np.array([f.axes() for f in frames]), 3, axis=0)
    origin = np.array([f.origin(s) for f in frames for s in (-f.sided_mm, 0.0, f.sided_mm)])
    a = axes[:, 0]
    return Planes(a, (a * origin).sum(axis=1), origin, axes[:, 1], axes[:, 2])


class FaceSolver:
    """Holds the hull, planes and thickness through the steps of :func:`cut`."""

    def __init__(self, hull: Hull, planes: Planes, tau_mm: float) -> None:
        self.hull, self.planes = hull, planes
        self.tau: Array | float = tau_mm
        self.low, self.high = hull.u_range
        self.span = self.high - self.low

    # --- pieces ----------------------------------------------------------------------------

    def look(self) -> tuple[Array, Array, Flags]:
        """Rough (u, v) where each plane crosses each share w of the girth; (M, W) and reached."""
        u = np.linspace(self.low, self.high, _LOOK_U)
        w = np.linspace(0, 1, _LOOK_W)
        low, high = self.hull.trim.low(u), self.hull.trim.high(u)
        v = low[:, None] + w * (high - low)[:, None]
        o = inside(self.hull.surface, np.broadcast_to(u[:, None], v.shape), v, self.tau).o
        a, c = self.planes.a, self.planes.c
        ahead = np.tensordot(a, o, axes=1) - c[:, None, None]
        with np.errstate(invalid="ignore"):
            crosses = (ahead[:, :-1] <= 0) & (ahead[:, 1:] > 0)
        k = crosses.argmax(axis=1)
        found = np.take_along_axis(crosses, k[:, None, :], axis=1)[:, 0]
        f0 = np.take_along_axis(ahead, k[:, None, :], axis=1)[:, 0]
        f1 = np.take_along_axis(ahead, k[:, None, :] + 1, axis=1)[:, 0]
        share = np.where(found, -f0 / np.where(found, f1 - f0, 1.0), np.nan)
        u0 = u[k] + share * (u[1] - u[0])
        some = found.sum(axis=1) >= 2
        for m in np.flatnonzero(some & ~found.all(axis=1)):
            u0[m] = np.interp(w, w[found[m]], u0[m, found[m]])
        u0[~some] = u[_LOOK_U // 2]
        low, high = self.hull.trim.low(u0), self.hull.trim.high(u0)
        return u0, low + w * (high - low), some

    def ahead(self, at: Inside) -> tuple[Array, Array]:
        """How far points (3, M, k) lie aft of their planes, and the rate of that along u."""
        a, c = self.planes.a, self.planes.c[:, None]
        off = a[:, :1] * at.o[0] + a[:, 1:2] * at.o[1] + a[:, 2:] * at.o[2] - c
        rate = a[:, :1] * at.ou[0] + a[:, 1:2] * at.ou[1] + a[:, 2:] * at.ou[2]
        return off, rate

    def along_v(self, at: Inside) -> Array:
        """How fast points (3, M, k) move aft of their planes along v."""
        a = self.planes.a
        rate: Array = a[:, :1] * at.ov[0] + a[:, 1:2] * at.ov[1] + a[:, 2:] * at.ov[2]
        return rate

    def onto(self, u: Array, v: Array, rounds: int) -> tuple[Array, Inside]:
        """Newton along u at fixed v; gives u and the values at the last but one u, stepped once."""
        for left in range(rounds, 0, -1):
            at = inside(self.hull.surface, u, v, self.tau)
            off, rate = self.ahead(at)
            size = np.sqrt((at.ou**2).sum(axis=0))
            rate = np.where(np.abs(rate) < 0.02 * size, 0.02 * size, rate)
            step = np.clip(off / rate, -0.15 * self.span, 0.15 * self.span)
            onward = np.clip(u - step, self.low, self.high)
            moved = onward - u
            u = onward
            if np.abs(step * size).max(initial=0.0) < _NEAR_MM or left == 1:
                break
        return u, stepped_along(at, moved)

    def end(self, u: Array, v: Array, miss: Miss) -> tuple[Array, Array, Array]:
        """Newton in (u, v) for plane and ``miss`` together; (M,) each, and what is still missed."""
        worst = np.full(u.shape, np.inf)
        for _ in range(12):
            at = inside(self.hull.surface, u[:, None], v[:, None], self.tau)
            off, f_u = self.ahead(at)
            f_v = self.along_v(at)
            r2, g_u, g_v = miss(u[:, None], v[:, None], at)
            det = f_u * g_v - f_v * g_u
            det = np.where(det == 0, 1e-12, det)
            du = ((off * g_v - r2 * f_v) / det)[:, 0]
            dv = ((f_u * r2 - g_u * off) / det)[:, 0]
            size_u = np.sqrt((at.ou**2).sum(axis=0))[:, 0]
            size_v = np.sqrt((at.ov**2).sum(axis=0))[:, 0]
            moved = np.hypot(du * size_u, dv * size_v)
            short = np.minimum(1.0, 300.0 / np.maximum(moved, 1e-9))
            u = np.clip(u - short * du, self.low, self.high)
            v = v - short * dv
            worst = moved
            if not (moved > 1e-9).any():
                break
        return u, v, worst

    def values(self, u: Array, v: Array) -> Inside:
        """Values (3, M) at one (u, v) for each plane."""
        at = inside(self.hull.surface, u[:, None], v[:, None], self.tau)
        return Inside(at.o[..., 0], at.ou[..., 0], at.ov[..., 0], at.n[..., 0], at.nu[..., 0])

    # --- ends ------------------------------------------------------------------------------

    def at_trim(self, side: Callable[[Array], Array]) -> Miss:
        """Misses of a bound v = side(u)."""
        h = 1e-5 * self.span

        def miss(u: Array, v: Array, at: Inside) -> tuple[Array, Array, Array]:
            ahead = np.clip(u + h, self.low, self.high)
            behind = np.clip(u - h, self.low, self.high)
            rate = (side(ahead) - side(behind)) / (ahead - behind)
            return v - side(u), -np.nan_to_num(rate), np.ones_like(v)

        return miss

    @staticmethod
    def at_height(profile: Profile) -> Miss:
        """Misses of a height z = profile(x)."""

        def miss(u: Array, v: Array, at: Inside) -> tuple[Array, Array, Array]:
            x = at.o[0]
            rate = np.nan_to_num(profile(x + 0.5) - profile(x - 0.5))
            return at.o[2] - profile(x), at.ou[2] - rate * at.ou[0], at.ov[2] - rate * at.ov[0]

        return miss


def stepped_along(at: Inside, du: Array) -> Inside:
    """Values a short step along u away: points to first order, so exact to the step squared."""
    n = at.n + at.nu * du
    n /= np.sqrt((n**2).sum(axis=0))
    return Inside(at.o + at.ou * du, at.ou, at.ov, n, at.nu)
