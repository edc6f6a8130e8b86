"""Where the lines are in doubt under a mould, and how much wood to leave for it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from futtock.findings import Finding
from futtock.framing.frame import Frame
from futtock.moulds import kinds
from futtock.moulds.mould import Mould
from futtock.moulds.settings import MouldSettings

Array = NDArray[np.float64]


def with_doubt(
    moulds: Sequence[Mould],
    frames: Sequence[Frame],
    spread: Callable[[Array], Array],
    settings: MouldSettings,
    every: int = 8,
    lean_spread: Callable[[Array, Array], Array] | None = None,
) -> tuple[Mould, ...]:
    """The moulds with ``doubt_mm`` and ``doubt_deg``: the standard errors of the outer edge and of
    its bevel where they are greatest; and ``leave_mm``, the wood to leave for it.

    Parameters
    ----------
    moulds, frames
        Moulds with the frames they come from.
    spread
        Points (n, 3) of the hull to the standard error (n,) of her surface along its normal there,
        as fairing gives it. In a frame's plane the edge is out by that over the lean's cosine.
    settings
        From ``doubt_shown_mm`` on a mould says how much wood to leave: two standard errors, which
        covers 19 cases in 20.
    every
        The joint's edge is asked at every so many of its points, and at both ends.
    lean_spread
        Points (n, 3) and the unit normal (3,) of a frame's plane to the standard error (n,) of the
        lean from such planes, degrees; without it ``doubt_deg`` stays 0.
    """
    if not frames:
        return tuple(moulds)
    asked = []
    for frame in frames:
        _, out, up = frame.plane.axes()
        rows = np.unique(
            np.append(np.arange(0, len(frame.joint.girth_mm), every), len(frame.joint.girth_mm) - 1)
        )
        edge = frame.joint.edge_mm[rows]
        points = frame.plane.origin(0.0) + edge[:, :1] * out + edge[:, 1:] * up
        asked.append((frame, rows, points))
    errors = np.split(
        spread(np.concatenate([p for _, _, p in asked])),
        np.cumsum([len(p) for _, _, p in asked])[:-1],
    )
    known = {}
    for (frame, rows, points), error in zip(asked, errors, strict=True):
        normal = frame.plane.axes()[0]
        lean_error = np.zeros(len(rows)) if lean_spread is None else lean_spread(points, normal)
        lean = np.radians(frame.joint.lean_deg[rows])
        known[frame.number] = (frame, frame.joint.girth_mm[rows], error / np.cos(lean), lean_error)
    made = []
    for mould in moulds:
        if mould.frame not in known:
            made.append(mould)
            continue
        frame, girths, error, lean_error = known[mould.frame]
        low, high = next(t.girth_mm for t in frame.timbers if t.mark == mould.mark)
        along = np.linspace(max(low, 0.0), high, 9)
        doubt = float(np.interp(along, girths, error).max())
        bevel = float(np.interp(along, girths, lean_error).max())
        leave = 2.0 * doubt if doubt > settings.doubt_shown_mm else 0.0
        made.append(replace(mould, doubt_mm=doubt, doubt_deg=bevel, leave_mm=leave))
    return tuple(made)


def noticed(moulds: Iterable[Mould]) -> tuple[Finding, ...]:
    """All that was noticed about the moulds; the doubt of the lines once, naming every mould in
    what was read.
    """
    every = tuple(moulds)
    found = tuple(f for m in every for f in m.findings)
    unsure = [m for m in every if m.leave_mm > 0]
    if not unsure:
        return found
    worst = max(unsure, key=lambda m: m.leave_mm)
    says = (
        f"{len(unsure)} of {len(every)} moulds: the lines are known there within"
        f" {worst.doubt_mm:.1f} mm at worst (standard error, {worst.mark}); leave"
        f" {worst.leave_mm:.0f} mm there on the outer edge, and on each what it says."
        if len(unsure) > 1
        else f"{worst.mark}: the lines are known here within {worst.doubt_mm:.1f} mm (standard"
        f" error); leave {worst.leave_mm:.0f} mm on the outer edge."
    )
    doubt = kinds.DOUBTFUL_LINES.found(
        says, line=worst.mark, read="in doubt: " + ", ".join(m.mark for m in unsure)
    )
    return (*found, doubt)
