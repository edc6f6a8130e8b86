"""Where the surface stops: v at the rabbet or the transom's edge below, at the sheer above."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from futtock.lines.curves import Bounds
from futtock.lines.heightfield import HeightField

Array = NDArray[np.float64]
_STEPS = 2500  # to a hull's length, along the lines that bound her


@dataclass(frozen=True)
class HullTrim:
    """The bounds of a height field; satisfies :class:`futtock.lines.surface.Trim`.

    Attributes
    ----------
    parts
        Runs (n, 2) of (u, v) along the rabbet and the transom's edge, u growing in each.
    top
        v at the sheer over the angle q with u = u0 + (u1 - u0)(1 - cos q)/2: where a bluff bow
        turns in like a root of u, it is smooth in q.
    u_range
        Ends of the hull.
    """

    parts: tuple[Array, ...]
    top: CubicSpline
    u_range: tuple[float, float]

    def _crossings(self, u: Array) -> Array:
        """Parameter v (parts, n) at which the line is met; nan where a part does not reach."""
        return np.stack([np.interp(u, p[:, 0], p[:, 1], np.nan, np.nan) for p in self.parts])

    def low(self, u: Array) -> Array:
        """Parameter v at the rabbet, or on the transom's edge abaft the tuck."""
        u = np.asarray(u, float)
        flat = np.clip(u.ravel(), *self.u_range)
        met = self._crossings(flat)
        lowest = np.nanmin(np.where(np.isnan(met), np.inf, met), axis=0)
        for k in np.flatnonzero(~np.isfinite(lowest)):
            gaps = [np.abs(p[:, 0] - flat[k]) for p in self.parts]
            best = int(np.argmin([g.min() for g in gaps]))
            lowest[k] = self.parts[best][int(np.argmin(gaps[best])), 1]
        return np.asarray(np.minimum(lowest, self._sheer(flat)).reshape(u.shape))

    def high(self, u: Array) -> Array:
        """Parameter v at the sheer; where stem or transom overhang, at their upper edge."""
        u = np.asarray(u, float)
        flat = np.clip(u.ravel(), *self.u_range)
        met = self._crossings(flat)
        count = np.isfinite(met).sum(axis=0)
        top = self._sheer(flat)
        upper = np.max(np.where(np.isnan(met), -np.inf, met), axis=0)
        return np.asarray(np.where(count >= 2, np.minimum(top, upper), top).reshape(u.shape))

    def _sheer(self, u: Array) -> Array:
        low, high = self.u_range
        q = np.arccos(np.clip(1 - 2 * (u - low) / (high - low), -1, 1))
        return np.asarray(self.top(q), float)


def trim_of(field: HeightField, bounds: Bounds, floor: float, top: float) -> HullTrim:
    """Bounds of a fitted field.

    Parameters
    ----------
    field
        The surface.
    bounds
        Its faired lines.
    floor, top
        Heights that serve where there is no rabbet or no sheer.
    """
    runs: list[Array] = []
    last: Array | None = None
    # a line out of all scale is named elsewhere; the spline means nothing out there
    deep = field.across.end - field.across.start
    reach = (field.across.start - deep, field.across.end + deep)
    for line in (*bounds.rabbet, *([bounds.transom] if bounds.transom else [])):
        p = line.sample(field.length / _STEPS)
        if last is not None:
            p = np.vstack([last, p])
        uth = field.turn.into(p)
        runs.append(np.column_stack([uth[:, 0], np.clip(uth[:, 1], *reach)]))
        last = p[-1:]
    ends = _u_ends(field, bounds, runs)
    q = np.linspace(0, np.pi, 721)
    u = ends[0] + (ends[1] - ends[0]) * (1 - np.cos(q)) / 2
    sheer = bounds.over_x.get("sheer")
    v_top = _at_height(field, u, sheer.carried if sheer else lambda x: np.full_like(x, top))
    if not runs:
        v_low = _at_height(field, u, lambda x: np.full_like(x, floor))
        runs.append(np.column_stack([u, v_low]))
    parts = [part for run in runs for part in _rising(run)]
    return HullTrim(tuple(parts), CubicSpline(q, v_top), ends)


def _u_ends(field: HeightField, bounds: Bounds, runs: list[Array]) -> tuple[float, float]:
    if field.turn.plan_deg == 0 or not runs:
        return bounds.ends
    every = np.concatenate([r[:, 0] for r in runs])
    return float(every.min()), float(every.max())


def _at_height(field: HeightField, u: Array, height: Callable[[Array], Array]) -> Array:
    """Parameter v where the section at each u reaches ``height(x)``, by Newton."""
    low, high = field.across.start, field.across.end
    v = np.linspace(low, high, 81)
    posts = u[:: max(len(u) // 72, 1)]
    p = field.points(posts[:, None], v[None, :])
    gap = p[..., 2] - height(p[..., 0].ravel()).reshape(p.shape[:2])
    look = np.empty(len(posts))
    for i in range(len(posts)):
        cross = np.flatnonzero((gap[i, :-1] < 0) & (gap[i, 1:] >= 0))
        if len(cross):
            k = cross[-1]
            look[i] = v[k] + (v[k + 1] - v[k]) * gap[i, k] / (gap[i, k] - gap[i, k + 1])
        else:
            look[i] = v[int(np.argmin(np.abs(gap[i])))]
    start = np.interp(u, posts, look)
    eu, et, eh = field.turn.axes
    for _ in range(12):
        h = field.heights(u, start)
        z = height(u * eu[0] + start * et[0] + h[:, 0] * eh[0])
        slope = et[2] + h[:, 2] * eh[2]
        slope = np.where(np.abs(slope) < 0.05, 0.05, slope)
        off = u * eu[2] + start * et[2] + h[:, 0] * eh[2] - z
        step = np.clip(off / slope, -40, 40)
        start = start - step
        if np.abs(step).max() < 1e-9:
            break
    return start


def _rising(run: Array) -> list[Array]:
    """A run cut where u turns back, each piece with u growing."""
    d = np.sign(np.diff(run[:, 0]))
    turns = np.flatnonzero(d[1:] != d[:-1]) + 1
    pieces: list[Array] = []
    for i, j in pairwise([0, *turns.tolist(), len(d)]):
        piece = run[i : j + 1]
        if j > i and d[i] != 0 and abs(piece[-1, 0] - piece[0, 0]) > 0.5:
            pieces.append(piece if d[i] > 0 else piece[::-1])
    return pieces
