"""Where the lines are in doubt under a mould, and how much wood to leave for it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock.findings import Finding
from futtock.framing.frame import Frame
from futtock.measure import Style, close, show
from futtock.moulds import kinds
from futtock.moulds.mould import EdgeDoubt, Mould
from futtock.moulds.settings import MouldSettings

Array = NDArray[np.float64]
_Along = tuple[
    Array, Array, Array
]  # shares of the girth, errors in the plane (mm), of the lean (deg)


def with_doubt(
    moulds: Sequence[Mould],
    frames: Sequence[Frame],
    spread: Callable[[Array], Array],
    settings: MouldSettings,
    every: int = 12,
    lean_spread: Callable[[Array, Array], Array] | None = None,
) -> tuple[Mould, ...]:
    """The moulds with ``doubt_mm`` and ``doubt_deg``: the standard errors of the outer edge and of
    its bevel where they are greatest; ``leave_mm``, the wood to leave for it; and ``doubts``, the
    same of every edge, place by place.

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
        Each face's edge is asked at every so many of its points, and at both ends.
    lean_spread
        Points (n, 3) and the unit normal (3,) of a frame's plane to the standard error (n,) of the
        lean from such planes, degrees; without it ``doubt_deg`` stays 0.
    """
    if not frames:
        return tuple(moulds)
    asked = [(frame, _asked(frame, every)) for frame in frames]
    errors = spread(np.concatenate([p for _, faces in asked for _, _, p in faces.values()]))
    known: dict[int, dict[str, _Along]] = {}
    start = 0
    for frame, faces in asked:
        points = np.concatenate([p for _, _, p in faces.values()])
        error = errors[start : start + len(points)]
        start += len(points)
        normal = frame.plane.axes()[0]
        turned = np.zeros(len(points)) if lean_spread is None else lean_spread(points, normal)
        known[frame.number], first = {}, 0
        for name, (share, lean, p) in faces.items():
            mine = slice(first, first + len(p))
            first += len(p)
            known[frame.number][name] = (share, error[mine] / np.cos(lean), turned[mine])
    numbered = {frame.number: frame for frame in frames}
    made = []
    for mould in moulds:
        if mould.frame not in known:
            made.append(mould)
            continue
        frame, along = numbered[mould.frame], known[mould.frame]
        low, high = next(t.girth_mm for t in frame.timbers if t.mark == mould.mark)
        share = np.linspace(max(low, 0.0), high, 9) / frame.joint.girth_mm[-1]
        joint, mm, deg = along["joint"]
        doubt = float(np.interp(share, joint, mm).max())
        bevel = float(np.interp(share, joint, deg).max())
        leave = 2.0 * doubt if doubt > settings.doubt_shown_mm else 0.0
        at = np.array([m.at_mm for m in mould.marks])
        edges = _edges(mould, along, at, np.abs(low + at) / frame.joint.girth_mm[-1])
        made.append(replace(mould, doubt_mm=doubt, doubt_deg=bevel, leave_mm=leave, doubts=edges))
    return tuple(made)


def _asked(frame: Frame, every: int) -> dict[str, tuple[Array, Array, Array]]:
    """Of each face: shares of the girth, leans in radians, and places in space where to ask."""
    _, out, up = frame.plane.axes()
    sided = frame.plane.sided_mm
    faces = {}
    for name, off in (("forward", -sided), ("joint", 0.0), ("aft", sided)):
        face = frame.face(name)
        last = len(face.girth_mm) - 1
        rows = np.unique(np.append(np.arange(0, last, every), last))
        edge = face.edge_mm[rows]
        points = frame.plane.origin(off) + edge[:, :1] * out + edge[:, 1:] * up
        share = face.girth_mm[rows] / face.girth_mm[-1]
        faces[name] = (share, np.radians(face.lean_deg[rows]), points)
    return faces


def _edges(
    mould: Mould, along: dict[str, _Along], at_mm: Array, share: Array
) -> tuple[EdgeDoubt, ...]:
    """The doubt of each edge of both faces, at the bevel marks."""
    far = "forward" if mould.layer == "f" else "aft"
    joint_up = mould.up != far
    square = not np.any(mould.edges[1].lean_deg)
    faces: tuple[tuple[Literal["up", "down"], str], ...] = (
        ("up", "joint" if joint_up else far),
        ("down", far if joint_up else "joint"),
    )
    out = []
    for face, name in faces:
        places, mm, _ = along[name]
        bevel = np.interp(share, *along["joint"][::2])
        out.append(EdgeDoubt("outer", face, at_mm, np.interp(share, places, mm), bevel))
        of = along["joint"] if square else along[name]
        inner = np.zeros_like(bevel) if square else bevel
        out.append(EdgeDoubt("inner", face, at_mm, np.interp(share, of[0], of[1]), inner))
    return tuple(out)


def noticed(moulds: Iterable[Mould], style: Style = "metric") -> tuple[Finding, ...]:
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
        f" {close(worst.doubt_mm, style)} at worst (standard error, {worst.mark}); leave"
        f" {show(worst.leave_mm, style, places=0)} there on the outer edge, and on each what"
        " it says."
        if len(unsure) > 1
        else f"{worst.mark}: the lines are known here within {close(worst.doubt_mm, style)}"
        f" (standard error); leave {show(worst.leave_mm, style, places=0)} on the outer edge."
    )
    doubt = kinds.DOUBTFUL_LINES.found(
        says, line=worst.mark, read="in doubt: " + ", ".join(m.mark for m in unsure)
    )
    return (*found, doubt)
