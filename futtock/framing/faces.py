"""Faces of frames: where planes cut the inside of planking, from heel to head.

A face is the curve a . O(u, v) = c. For each v it is found by Newton along u with exact
derivatives, all faces of all frames together:

1. A coarse look at the whole hull gives a start wherever a plane crosses it.
2. Heel and head are met by Newton in (u, v) together: the plane and the height of the keel's top
   (or the rabbet's parameter), the plane and the height of the sheer.
3. Rows of some 24 points are solved; between them u(v) is a cubic, good to a few hundredths of a
   millimetre, from which one last step for every point is exact to 1e-7 mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.framing.curve import girths
from futtock.framing.planking import Inside
from futtock.framing.solver import FaceSolver, Planes
from futtock.framing.strakes import Bands, Strake, bands, stepped
from futtock.lines.surface import Hull, Profile

Array = NDArray[np.float64]

_ROWS = 25
_OFF_PLANE_MM = 1e-3


@dataclass(frozen=True, slots=True)
class Cut:
    """Edges of M faces, n points each, heel to head.

    Attributes
    ----------
    edge : (M, n, 2)
        Inside of planking in the face's (out, up).
    tangent : (M, n, 2)
        Unit tangents, heel to head; (tangent_up, -tangent_out) points out of the vessel.
    lean_deg, girth_mm : (M, n)
    uv : (M, n, 2)
    on_keel : (M,)
        True where the heel stands at the height of the keel's top, False opposite the rabbet.
    reached : (M,)
        False where the plane misses the hull; the arrays hold nan there.
    tau_mm : (M, n)
        Thickness of planking taken off at each point.
    """

    edge: Array
    tangent: Array
    lean_deg: Array
    girth_mm: Array
    uv: Array
    on_keel: NDArray[np.bool_]
    reached: NDArray[np.bool_]
    tau_mm: Array


@dataclass(frozen=True, slots=True)
class Limits:
    """What bounds a face: keel top (or None: opposite the rabbet), head height (None: v high)."""

    keel_top: Profile | None
    head: Profile | None


def cut(
    hull: Hull,
    planes: Planes,
    tau_mm: float,
    limits: Limits,
    points: int,
    strakes: Sequence[Strake] = (),
) -> Cut:
    """Cut the inside of planking by every plane.

    Parameters
    ----------
    hull
        See :class:`futtock.lines.surface.Hull`; ``tau_mm`` is taken off unless ``hull.inside``.
    planes
        M planes.
    tau_mm
        Thickness of planking.
    limits
        Where heels and heads stop.
    points
        n, points along each edge.
    strakes
        Strakes of another thickness; not looked at where the hull is the inside already.
    """
    if hull.inside:
        return _Cutter(hull, planes, 0.0).solve(limits, points, ())
    return _Cutter(hull, planes, tau_mm).solve(limits, points, strakes)


class _Cutter(FaceSolver):
    """The steps of :func:`cut`."""

    def solve(self, limits: Limits, points: int, strakes: Sequence[Strake]) -> Cut:
        """The whole: see :func:`cut`."""
        u0, v0, reached = self.look()
        trim = self.hull.trim
        u_low, v_low, _ = self.end(u0[:, 0], v0[:, 0], self.at_trim(trim.low))
        u_high, v_high, _ = self.end(u0[:, -1], v0[:, -1], self.at_trim(trim.high))
        v = v_low[:, None] + np.linspace(0, 1, _ROWS) * (v_high - v_low)[:, None]
        u = np.array([np.interp(*z) for z in zip(v, v0, u0, strict=True)])
        u[:, 0], u[:, -1] = u_low, u_high
        u, at = self.onto(u, v, 6)
        slope = -self.along_v(at) / self.ahead(at)[1]
        heel, head, on_keel = self.ends(limits, u, v, at)
        found = None
        if strakes:
            found = bands(v, at.o + self.tau * at.n, at.n, strakes, float(np.asarray(self.tau)))
            # the ends again, each with the thickness that it has there
            hair = 1e-6 * (v[:, -1] - v[:, 0])
            self.tau = found.thickness_at((heel[1] + hair)[:, None])
            heel, _, on_keel = self.ends(limits, u, v, at)
            self.tau = found.thickness_at((head[1] - hair)[:, None])
            _, head, _ = self.ends(limits, u, v, at)
        with np.errstate(invalid="ignore"):
            reached = reached & (head[1] > heel[1])
        return self.fine(u, v, slope, at, heel, head, points, on_keel, reached, found)

    def ends(
        self, limits: Limits, u: Array, v: Array, at: Inside
    ) -> tuple[tuple[Array, Array], tuple[Array, Array], NDArray[np.bool_]]:
        """Heel (u, v) and head (u, v), and where the heel stands on the keel's top."""
        u_low, v_low, u_high, v_high = u[:, 0], v[:, 0], u[:, -1], v[:, -1]
        heel = (u_low, v_low)
        on_keel = np.zeros(len(u), dtype=bool)
        if limits.keel_top is not None:
            *heel_at, on_keel = self.heel(limits.keel_top, u, v, at, u_low, v_low)
            heel = (heel_at[0], heel_at[1])
        heel = self.outboard(heel, u, v, at)
        head = (u_high, v_high)
        if limits.head is not None:
            head = self.head(limits.head, u, v, at, u_high, v_high)
        return heel, head, on_keel

    def outboard(
        self, heel: tuple[Array, Array], u: Array, v: Array, at: Inside
    ) -> tuple[Array, Array]:
        """Heels that would lie across the centreline, brought back to it."""
        across = self.values(*heel).o[1] < 0
        if not across.any():
            return heel
        y = at.o[1]
        crosses = (y[:, :-1] < 0) & (y[:, 1:] >= 0)
        k, rows = crosses.argmax(axis=1), np.arange(len(u))
        share = np.where(across, -y[rows, k] / (y[rows, k + 1] - y[rows, k]), 0.0)
        start = [w[rows, k] + share * (w[rows, k + 1] - w[rows, k]) for w in (u, v)]

        def miss(u: Array, v: Array, at: Inside) -> tuple[Array, Array, Array]:
            return at.o[1], at.ou[1], at.ov[1]

        got_u, got_v, missed = self.end(start[0], start[1], miss)
        good = across & crosses.any(axis=1) & (missed < 1e-3)
        return np.where(good, got_u, heel[0]), np.where(good, got_v, heel[1])

    def heel(
        self, keel_top: Profile, u: Array, v: Array, at: Inside, u_low: Array, v_low: Array
    ) -> tuple[Array, Array, NDArray[np.bool_]]:
        """Heels at the keel's top where it lies above the rabbet, else opposite the rabbet."""
        above = at.o[2] - keel_top(at.o[0])
        with np.errstate(invalid="ignore"):
            crosses = (above[:, :-1] < 0) & (above[:, 1:] >= 0)
        on_keel = crosses.any(axis=1)
        k = crosses.argmax(axis=1)
        rows = np.arange(len(u))
        f0, f1 = above[rows, k], above[rows, k + 1]
        share = np.where(on_keel, -f0 / np.where(on_keel, f1 - f0, 1.0), 0.0)
        start_u = u[rows, k] + share * (u[rows, k + 1] - u[rows, k])
        start_v = v[rows, k] + share * (v[rows, k + 1] - v[rows, k])
        got_u, got_v, missed = self.end(start_u, start_v, self.at_height(keel_top))
        on_keel &= missed < 1e-3
        return np.where(on_keel, got_u, u_low), np.where(on_keel, got_v, v_low), on_keel

    def head(
        self, height: Profile, u: Array, v: Array, at: Inside, u_high: Array, v_high: Array
    ) -> tuple[Array, Array]:
        """Heads at a height, the uppermost crossing; at the surface's upper bound without one."""
        below = height(at.o[0]) - at.o[2]
        with np.errstate(invalid="ignore"):
            crosses = (below[:, :-1] > 0) & (below[:, 1:] <= 0)
        k = np.where(crosses.any(axis=1), _ROWS - 2 - crosses[:, ::-1].argmax(axis=1), _ROWS - 2)
        rows = np.arange(len(u))
        f0, f1 = below[rows, k], below[rows, k + 1]
        known = np.isfinite(f0) & np.isfinite(f1) & (f0 != f1)
        share = np.where(known, f0 / np.where(known, f0 - f1, 1.0), 1.0)
        share = np.clip(share, 0.0, 2.0)
        start_u = u[rows, k] + share * (u[rows, k + 1] - u[rows, k])
        start_v = v[rows, k] + share * (v[rows, k + 1] - v[rows, k])
        got_u, got_v, missed = self.end(start_u, start_v, self.at_height(height))
        good = known & (missed < 1e-3)
        return np.where(good, got_u, u_high), np.where(good, got_v, v_high)

    def fine(
        self,
        u: Array,
        v: Array,
        slope: Array,
        at: Inside,
        heel: tuple[Array, Array],
        head: tuple[Array, Array],
        points: int,
        on_keel: NDArray[np.bool_],
        reached: NDArray[np.bool_],
        found: Bands | None,
    ) -> Cut:
        """All points of all faces, from the rows and the ends."""
        speed = np.sqrt(((at.ov + at.ou * slope) ** 2).sum(axis=0))
        fv = _even(v, speed, heel[1], head[1], points)
        if found is not None:
            fv, self.tau = stepped(fv, speed.mean(axis=1), found)
        fu = _hermite_rows(v, u, slope, fv)
        fu[:, 0], fu[:, -1] = heel[0], head[0]
        fu = np.clip(fu, self.low, self.high)
        fu, got = self.onto(fu, fv, 4)

        p = self.planes
        d = got.o - p.origin.T[:, :, None]
        edge = np.stack([_along(p.out, d), _along(p.up, d)], axis=-1)
        n_out, n_up, n_a = _along(p.out, got.n), _along(p.up, got.n), _along(p.a, got.n)
        cos = np.hypot(n_out, n_up)
        tangent = np.stack([-n_up / cos, n_out / cos], axis=-1)
        lean = np.degrees(np.arctan2(-n_a, cos))
        # a curve that leaves the surface's own range of u is stopped there, off its plane
        with np.errstate(invalid="ignore"):
            reached = reached & ~(np.abs(_along(p.a, d)) > _OFF_PLANE_MM).any(axis=1)
        edge[~reached] = np.nan
        return Cut(
            edge,
            tangent,
            lean,
            girths(edge, tangent),
            np.stack([fu, fv], axis=-1),
            on_keel,
            reached,
            np.broadcast_to(np.asarray(self.tau, float), fv.shape),
        )


def _along(axis: Array, d: Array) -> Array:
    part: Array = axis[:, :1] * d[0] + axis[:, 1:2] * d[1] + axis[:, 2:] * d[2]
    return part


def _even(v: Array, speed: Array, heel: Array, head: Array, points: int) -> Array:
    """Parameters (M, n) from heel to head nearly even in girth."""
    many = 97
    s = np.linspace(0, 1, many)
    share = np.linspace(0, 1, points)
    out = np.empty((len(v), points))
    for m in range(len(v)):
        vv = heel[m] + s * (head[m] - heel[m])
        rate = np.interp(vv, v[m], speed[m])
        run = np.concatenate([[0.0], np.cumsum(0.5 * (rate[1:] + rate[:-1]))])
        out[m] = np.interp(share, run / run[-1], vv)
    out[:, 0], out[:, -1] = heel, head
    return out


def _hermite_rows(v: Array, u: Array, slope: Array, at: Array) -> Array:
    """Parameters u at the ``at`` (M, n) from evenly spaced rows of v with slopes du/dv."""
    step = (v[:, -1] - v[:, 0])[:, None] / (v.shape[1] - 1)
    w = (at - v[:, :1]) / step
    j = np.clip(np.floor(np.nan_to_num(w)), 0, v.shape[1] - 2).astype(np.intp)
    s = w - j
    rows = np.arange(len(v))[:, None]
    u0, u1 = u[rows, j], u[rows, j + 1]
    m0, m1 = slope[rows, j] * step, slope[rows, j + 1] * step
    d = u1 - u0
    out: Array = u0 + s * (m0 + s * (3 * d - 2 * m0 - m1 + s * (m0 + m1 - 2 * d)))
    return out
