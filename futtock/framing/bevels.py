"""Bevels for the bench: square, chord and level, at marks and even distances, and the bevel map.

Three angles bear the one name. The *lean* (tangent bevel, square to the edge) is the surface's own;
the *chord* is what the saw makes between the two true edges; the *level* bevel is laid along a
waterline: tan(level) = tan(lean) / cos(psi), psi the angle of the in-plane normal from the level.
A bevel is *standing* where the inside angle at the face that is up is over 90 degrees (seen from
the forward face a positive lean), else *under*.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock.findings import Finding
from futtock.framing import kinds
from futtock.framing.curve import tangents
from futtock.framing.frame import Face, Frame, LayerName

Array = NDArray[np.float64]
Word = Literal["standing", "under", "square"]

_SQUARE_DEG = 0.125  # half the finest step a bevel is set to


@dataclass(frozen=True, slots=True)
class Bevel:
    """Bevels of one layer at one place of the joint face's outer edge; degrees.

    ``name`` is the sirmark's, or ``""`` at even distances. ``word`` is for the joint face up.
    """

    name: str
    girth_mm: float
    lean_deg: float
    chord_deg: float
    level_deg: float
    inner_deg: float
    word: Word


def level_deg(face: Face) -> Array:
    """Level bevel (n,) of a face's edge: along a waterline, the larger; nan on a level edge."""
    t = tangents(face.edge_mm)
    cos = np.abs(t[:, 1])
    cos = np.where(cos > 1e-3, cos, np.nan)
    level: Array = np.degrees(np.arctan(np.tan(np.radians(face.lean_deg)) / cos))
    return level


def word(lean_deg: float, up: Literal["forward", "aft"]) -> Word:
    """Standing or under, for the face that is up."""
    seen = lean_deg if up == "forward" else -lean_deg
    if abs(seen) < _SQUARE_DEG:
        return "square"
    return "standing" if seen > 0 else "under"


def bevels(frame: Frame, name: LayerName, every_mm: float = 152.4) -> tuple[Bevel, ...]:
    """Bevels of one layer at every sirmark and at even distances from the heel, heel to head.

    Parameters
    ----------
    frame
        A frame.
    name
        Its layer.
    every_mm
        Distance along the joint face's outer edge; 0 for the sirmarks alone.
    """
    face, layer = frame.joint, frame.layer(name)
    girth = face.girth_mm
    places = {round(m.girth_mm, 6): m.name for m in frame.marks if m.kind == "sirmark"}
    if every_mm > 0:
        for g in np.arange(0.0, girth[-1], every_mm).tolist():
            places.setdefault(g, "")
    at = np.array(sorted(places))
    columns = [
        np.interp(at, girth, v).tolist()
        for v in (face.lean_deg, layer.chord_deg, level_deg(face), layer.inner_chord_deg)
    ]
    up: Literal["forward", "aft"] = "aft" if name == "f" else "forward"
    return tuple(
        Bevel(places[g], g, lean, chord, level, inner, word(lean, up))
        for g, lean, chord, level, inner in zip(at.tolist(), *columns, strict=True)
    )


@dataclass(frozen=True, slots=True)
class BevelMap:
    """Leans of joint faces by share of girth (rows) and frame (columns): betrays bad lines.

    Attributes
    ----------
    share : (G,)
        Share of the girth, heel 0 to head 1.
    numbers : (F,)
        Frames.
    x_mm : (F,)
    lean_deg : (G, F)
    jump_deg : (G, F)
        How far each lean stands off the fair run through its neighbours along the vessel; 0 where
        there are too few.
    """

    share: Array
    numbers: NDArray[np.int64]
    x_mm: Array
    lean_deg: Array
    jump_deg: Array


def bevel_map(frames: Sequence[Frame], rows: int = 41) -> BevelMap:
    """The map of leans, girth by frame."""
    share = np.linspace(0, 1, rows)
    lean = np.stack(
        [
            np.interp(share, f.joint.girth_mm / f.joint.girth_mm[-1], f.joint.lean_deg)
            for f in frames
        ],
        axis=1,
    )
    at, fair = np.stack(
        [
            [np.interp(share * f.joint.girth_mm[-1], f.joint.girth_mm, v) for v in (x, square)]
            for f, x, square in zip(frames, *_as_square(frames), strict=True)
        ],
        axis=-1,
    )
    jump = np.stack([_greatest(_jumps(*row)) for row in zip(at, fair, strict=True)])
    x = np.array([f.plane.x_mm for f in frames])
    return BevelMap(share, np.array([f.number for f in frames]), x, lean, jump)


@dataclass(frozen=True, slots=True)
class Run:
    """Leans along one diagonal, frame by frame, and how far each stands off the fair run.

    ``usual_deg`` is the median of the jumps: what frames far apart show on fair lines too.
    """

    name: str
    numbers: tuple[int, ...]
    lean_deg: Array
    jump_deg: Array
    usual_deg: float


def runs(frames: Sequence[Frame]) -> tuple[Run, ...]:
    """Leans along every diagonal that gives sirmarks; quarter girths where none does."""
    names: dict[str, None] = {}
    for f in frames:
        names.update((m.name, None) for m in f.marks if m.kind == "sirmark")
    seen = zip(frames, *_as_square(frames), strict=True)
    place = {f.number: (x, square) for f, x, square in seen}
    out = []
    for name in names or {"quarter girth": None, "half girth": None, "three-quarter girth": None}:
        at: list[tuple[Frame, float]] = []
        for f in frames:
            girths = [m.girth_mm for m in f.marks if m.kind == "sirmark" and m.name == name]
            if not names:
                share = {"q": 0.25, "h": 0.5, "t": 0.75}[name[0]]
                girths = [share * float(f.joint.girth_mm[-1])]
            at += [(f, g) for g in girths[:1]]
        lean = np.array([np.interp(g, f.joint.girth_mm, f.joint.lean_deg) for f, g in at])
        raw = _jumps(
            *(
                np.array([np.interp(g, f.joint.girth_mm, place[f.number][k]) for f, g in at])
                for k in (0, 1)
            )
        )
        usual = float(np.median(np.abs(raw[2:-2]))) if len(raw) > 4 else 0.0
        out.append(Run(name, tuple(f.number for f, _ in at), lean, _greatest(raw), usual))
    return tuple(out)


def unfair(frames: Sequence[Frame], limit_deg: float = 0.5) -> list[Finding]:
    """Findings where a bevel jumps from the run of its neighbours by more than the limit.

    A jump must also be four times the usual one along its diagonal.
    """
    return [
        kinds.UNFAIR_BEVELS.found(
            f"Frame {number}: the bevel on {run.name} is {lean:.1f} degrees, {jump:+.1f} off the"
            " run of its neighbours.",
            line=number,
            column=run.name,
            read=f"{lean:.2f}",
            expected=f"{lean - jump:.2f}",
        )
        for run in runs(frames)
        for number, lean, jump in zip(run.numbers, run.lean_deg, run.jump_deg, strict=True)
        if abs(jump) > max(limit_deg, 4 * run.usual_deg)
    ]


def _as_square(frames: Sequence[Frame]) -> tuple[Array, Array]:
    """Places along the vessel of joint edges' points, and the leans square frames have there.

    A cant turns every bevel by about its own angle, so that leans of a fan of frames are no fair
    run. The surface's normal n does not ask how a frame stands: -asin(n . x) is what fairs, and is
    the lean itself where the frame stands square and plumb. Each (F, n).
    """
    axes = np.array([[v[0] for v in f.plane.axes()] for f in frames])
    a, out, up = axes.T[..., None]
    edge = np.stack([f.joint.edge_mm for f in frames])
    t = tangents(edge)
    lean = np.radians(np.stack([f.joint.lean_deg for f in frames]))
    n_x = -np.sin(lean) * a + np.cos(lean) * (t[..., 1] * out - t[..., 0] * up)
    first = np.array([[f.plane.x_mm] for f in frames])
    x = first + edge[..., 0] * out + edge[..., 1] * up
    return x, np.degrees(-np.arcsin(np.clip(n_x, -1.0, 1.0)))


def _jumps(x: Array, lean: Array) -> Array:
    """Lean less the cubic through two neighbours on either side, at x (n,) from forward aft."""
    n = len(x)
    jump = np.zeros_like(lean)
    if n < 5:
        return jump
    k = np.arange(2, n - 2)
    near = k[:, None] + np.array([-2, -1, 1, 2])
    gap = x[near][:, :, None] - x[near][:, None, :]
    away = x[k][:, None] - x[near]
    weights = np.stack(
        [
            np.prod([away[:, j] / gap[:, i, j] for j in range(4) if j != i], axis=0)
            for i in range(4)
        ],
        axis=1,
    )
    jump[k] = lean[k] - (weights * lean[near]).sum(axis=1)
    return jump


def _greatest(jump: Array) -> Array:
    """Jumps that are the greatest within two frames, the others 0.

    A slip at a frame shows there whole, and at its neighbours by two thirds and less.
    """
    n = len(jump)
    worst = np.pad(np.abs(jump), 2)
    greatest = np.max([worst[i : i + n] for i in range(5)], axis=0)
    return np.where(np.abs(jump) < greatest, 0.0, jump)
