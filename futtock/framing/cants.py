"""Cants proposed: end frames turned in plan so that no bevel exceeds what was stated.

A frame turns about the vertical at its joint's place on the centreline, its outer end towards the
nearer end of the vessel. For each frame the least turn that brings the greatest lean of all its
faces within bounds is sought; turns then grow steadily towards the end (a fan without a fold), and
heels keep their distance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from futtock.framing.checks import gap_mm, heel_gap_mm
from futtock.framing.faces import Limits, cut
from futtock.framing.frame import Cant, Frame, FramePlane
from futtock.framing.settings import FramingSettings
from futtock.framing.solver import face_planes
from futtock.lines.surface import Hull

Array = NDArray[np.float64]

_STEP_DEG, _MOST_DEG = 3.0, 45.0
_ROUND_DEG = 0.5
_POINTS = 40


def propose_cants(
    hull: Hull, frames: Sequence[Frame], limits: Limits, settings: FramingSettings
) -> tuple[Cant, ...]:
    """Cants for the frames at both ends, forward to aft; none where no bevel is too large.

    Parameters
    ----------
    hull
        The hull.
    frames
        Her frames as they stand.
    limits
        Where heels and heads stop.
    settings
        ``largest_bevel_deg`` and ``heel_gap_mm``.
    """
    square = [_largest(f) for f in frames]
    ends: list[tuple[list[int], float]] = []
    for order, sign in ((range(len(frames)), 1.0), (range(len(frames) - 1, -1, -1), -1.0)):
        group = []
        for k in order:
            if square[k] <= settings.largest_bevel_deg:
                break
            if frames[k].plane.cant_deg == 0:
                group.append(k)
        if len(group) < len(frames):
            ends.append((group, sign))
    wanted = [(k, sign) for group, sign in ends for k in group]
    if not wanted:
        return ()
    angles = np.arange(0.0, _MOST_DEG + 0.1, _STEP_DEG)
    planes = [
        replace(frames[k].plane, cant_deg=float(sign * a)) for k, sign in wanted for a in angles
    ]
    largest = _largest_leans(hull, planes, limits, settings).reshape(len(wanted), -1)
    turn = dict(
        zip(
            (k for k, _ in wanted),
            (_least_turn(angles, row, settings.largest_bevel_deg) for row in largest),
            strict=True,
        )
    )
    out: list[Cant] = []
    for group, sign in ends:
        # towards the end no turn is less than the one before it
        for inner, outer in zip(group[::-1], group[-2::-1], strict=False):
            turn[outer] = max(turn[outer], turn[inner])
        out += [Cant(frames[k].number, sign * turn[k], square[k], 0.0, True) for k in group]
    planes = [replace(_of(frames, c.frame).plane, cant_deg=c.angle_deg) for c in out]
    after = _largest_leans(hull, planes, limits, settings)
    made = [
        replace(c, canted_largest_deg=float(v), kept=bool(v <= settings.largest_bevel_deg + 1e-6))
        for c, v in zip(out, after, strict=True)
        if c.angle_deg and np.isfinite(v)
    ]
    return tuple(sorted(made, key=lambda c: c.frame))


def _of(frames: Sequence[Frame], number: int) -> Frame:
    return next(f for f in frames if f.number == number)


def _largest(frame: Frame) -> float:
    return max(
        float(np.abs(face.lean_deg).max()) for face in (frame.forward, frame.joint, frame.aft)
    )


def _largest_leans(
    hull: Hull, planes: Sequence[FramePlane], limits: Limits, settings: FramingSettings
) -> Array:
    """Greatest lean of each plane's three faces; nan where it misses the hull."""
    got = cut(hull, face_planes(planes), settings.planking_mm, limits, _POINTS, settings.strakes)
    lean = np.abs(got.lean_deg).max(axis=1)
    lean[~got.reached] = np.nan
    return np.asarray(lean.reshape(-1, 3).max(axis=1))


def _least_turn(angles: Array, largest: Array, limit: float) -> float:
    """Least turn, to the next half degree, that brings the largest lean to the limit.

    Where none does, the turn that comes nearest.
    """
    known = np.isfinite(largest)
    known &= np.cumprod(known).astype(bool)  # beyond a plane that misses the hull nothing is asked
    a, v = angles[known], largest[known]
    if not len(a):
        return 0.0
    good = np.flatnonzero(v <= limit)
    if not len(good):
        return float(a[v.argmin()])
    k = int(good[0])
    if k == 0:
        return 0.0
    share = (v[k - 1] - limit) / (v[k - 1] - v[k])
    exact = a[k - 1] + share * (a[k] - a[k - 1])
    return float(min(np.ceil(exact / _ROUND_DEG) * _ROUND_DEG, a[k]))


def cants_toml(cants: Sequence[Cant]) -> str:
    """The line that accepts a proposal, for ``[framing]`` of ``vessel.toml``."""
    rows = ", ".join(f"{{ frame = {c.frame}, angle_deg = {c.angle_deg:g} }}" for c in cants)
    return f"cants = [{rows}]"


@dataclass(frozen=True, slots=True)
class PlanView:
    """A frame seen from above, starboard: corners (4, 2) as (x, y), and its joint's line (2, 2).

    Corners run heel forward, head forward, head aft, heel aft, at the greatest breadth;
    ``gap_mm`` and ``heel_gap_mm`` are clear distances to the frame aft of it, nan for the last.
    """

    number: int
    cant_deg: float
    corners: Array
    joint: Array
    gap_mm: float
    heel_gap_mm: float


def plan_views(frames: Sequence[Frame]) -> tuple[PlanView, ...]:
    """All frames from above, for the picture of the cants."""
    out = []
    for k, f in enumerate(frames):
        _, across, up = f.plane.axes()
        lines = []
        for face, s in ((f.forward, -1.0), (f.joint, 0.0), (f.aft, 1.0)):
            widest = int(face.edge_mm[:, 0].argmax())
            ends = face.edge_mm[[0, widest]]
            points = f.plane.origin(s * f.plane.sided_mm) + ends[:, :1] * across + ends[:, 1:] * up
            lines.append(points[:, :2])
        last = k == len(frames) - 1
        out.append(
            PlanView(
                f.number,
                f.plane.cant_deg,
                np.concatenate([lines[0], lines[2][::-1]]),
                lines[1],
                float("nan") if last else gap_mm(f, frames[k + 1]),
                float("nan") if last else heel_gap_mm(f, frames[k + 1]),
            )
        )
    return tuple(out)
