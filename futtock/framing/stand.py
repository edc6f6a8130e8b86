"""Frames stood in the hull: faces cut, edges matched across each layer, inner edges drawn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Unsolvable
from futtock.findings import Finding
from futtock.framing import kinds
from futtock.framing.curve import tangents
from futtock.framing.faces import Cut, Limits, cut
from futtock.framing.frame import Face, Frame, FramePlane, Layer
from futtock.framing.inner import inner_edge, moulded_mm
from futtock.framing.marks import frame_marks
from futtock.framing.match import chord_deg, departure_mm, matched
from futtock.framing.settings import FramingSettings
from futtock.framing.solver import Planes, face_planes
from futtock.framing.strakes import Strake
from futtock.lines.surface import Hull
from futtock.measure import close, offset

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Rows = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Standing:
    """Frames without timbers, and findings."""

    frames: tuple[Frame, ...]
    findings: tuple[Finding, ...]


def limits_of(hull: Hull, settings: FramingSettings) -> Limits:
    """Where heels and heads stop: the keel's top, if known, and the sheer or a stated height."""
    keel_top = hull.profiles.get("keel top")
    if isinstance(settings.heads, str):
        return Limits(keel_top, hull.profiles.get(settings.heads))
    level = settings.heads
    return Limits(keel_top, lambda x: np.full_like(x, level))


def stand_frames(hull: Hull, planes: tuple[FramePlane, ...], settings: FramingSettings) -> Standing:
    """Stand frames in the hull. A frame whose plane misses her is left out and said.

    Raises
    ------
    Unsolvable
        Where no plane cuts the hull from heel to head.
    """
    limits = limits_of(hull, settings)
    cut_at = face_planes(planes)

    def cut_for(tau_mm: float, strakes: tuple[Strake, ...] = ()) -> Cut:
        return cut(hull, cut_at, tau_mm, limits, settings.points, strakes)

    got = cut_for(settings.planking_mm, settings.strakes)
    plain: dict[float, Cut] = {}
    if settings.strakes and not hull.inside:
        plain = {t: cut_for(t) for t in {settings.planking_mm, *np.unique(got.tau_mm).tolist()}}
    whole = _of_all(got.reached)
    findings = [
        kinds.MISSES_HULL.found(
            f"Frame {p.number} at x = {offset(p.x_mm, settings.show)} does not cut the hull from"
            " heel to head.",
            line=p.number,
        )
        for p, reached in zip(planes, whole.tolist(), strict=True)
        if not reached
    ]
    if len(findings) == len(planes):
        raise Unsolvable("None of the frames stated cuts the hull from heel to head.")
    if findings:
        keep = np.repeat(whole, 3)
        got, plain = _kept(got, keep), {t: _kept(c, keep) for t, c in plain.items()}
        planes = tuple(p for p, w in zip(planes, whole.tolist(), strict=True) if w)
    faces, layers, folded = _edges(got, plain, planes, settings)
    on_keel = _of_all(got.on_keel)
    marks = frame_marks(planes, got.edge[1::3], got.tangent[1::3], got.girth_mm[1::3], settings)
    findings += _heads_and_heels(limits, planes, face_planes(planes), got, settings)
    frames = []
    for k, plane in enumerate(planes):
        m = 3 * k + 1
        forward, joint, aft = faces[m - 1 : m + 2]
        frames.append(
            Frame(
                plane,
                forward,
                joint,
                aft,
                layers[k],
                (),
                marks[k],
                bool(on_keel[k]),
                settings.full_mm,
            )
        )
        if folded[k]:
            findings.append(
                kinds.SWALLOWTAIL.found(
                    f"Frame {plane.number}: the moulded size is more than the edge's radius, and"
                    " the inner edge's corner is worked to a round.",
                    line=plane.number,
                )
            )
    return Standing(tuple(frames), tuple(findings))


def _of_all(flags: Flags) -> Flags:
    """Whether all three faces of each frame have a flag."""
    return np.asarray(flags.reshape(-1, 3).sum(axis=1) == 3)


def _heads_and_heels(
    limits: Limits,
    planes: tuple[FramePlane, ...],
    cut_at: Planes,
    got: Cut,
    settings: FramingSettings,
) -> list[Finding]:
    """Heads below their stated height, and heels that the keel's top does not carry."""
    found: list[Finding] = []
    named = str(settings.heads)
    if limits.head is None and named != "sheer":
        said = f"The table gives no heights of {named}, so heads stop at the sheer."
        found.append(kinds.NO_HEAD.found(said, read=named))
    if limits.head is not None:
        end = got.edge[:, -1]
        head = cut_at.origin + end[:, :1] * cut_at.out + end[:, 1:] * cut_at.up
        below = (limits.head(head[:, 0]) - head[:, 2]).reshape(-1, 3)
        for plane, low in zip(planes, below.max(axis=1).tolist(), strict=True):
            if not np.isfinite(low):
                said = f"Frame {plane.number}: the height of its head is not known there."
                found.append(kinds.NO_HEAD.found(said, line=plane.number))
            elif low > 1.0:
                by = close(low, settings.show)
                said = f"Frame {plane.number}: the head is {by} below its stated height."
                found.append(kinds.HEAD_LOW.found(said, line=plane.number, read=f"{low:.1f}"))
    if limits.keel_top is not None:
        found += [
            kinds.HEEL_MISSES.found(
                f"Frame {plane.number}: the keel's top is not known there or lies below the inside"
                " of planking at the rabbet, so the heel stops opposite the rabbet.",
                line=plane.number,
            )
            for plane, stands in zip(planes, _of_all(got.on_keel).tolist(), strict=True)
            if not stands
        ]
    return found


def _kept(got: Cut, keep: Flags) -> Cut:
    return Cut(
        got.edge[keep],
        got.tangent[keep],
        got.lean_deg[keep],
        got.girth_mm[keep],
        got.uv[keep],
        got.on_keel[keep],
        got.reached[keep],
        got.tau_mm[keep],
    )


def _edges(
    got: Cut, plain: dict[float, Cut], planes: tuple[FramePlane, ...], settings: FramingSettings
) -> tuple[list[Face], list[tuple[Layer, Layer]], Flags]:
    """Faces (3 a frame), layers (2 a frame) with their inner edges, and which frames fold.

    ``plain`` holds the same faces with each one thickness of planking all over, where strakes
    differ: a ruling runs from a point of the joint to the far face of the same strake, and inner
    edges are set in from the common planking.
    """
    edge, tangent, lean = got.edge, got.tangent, got.lean_deg
    common = plain.get(settings.planking_mm, got)
    moulded = moulded_mm(settings.moulded_mm, common.girth_mm)
    inner, folds = inner_edge(common.edge, common.tangent, moulded, settings.inner_round_mm)
    if plain:
        inner = matched(edge, tangent, inner, tangents(inner))[1]
    inner_t = tangents(inner)

    joint = np.repeat(np.arange(1, len(edge), 3), 2)
    far = joint + np.tile([-1, 1], len(planes))
    s = np.repeat([p.sided_mm for p in planes], 2) * np.tile([-1.0, 1.0], len(planes))
    far_edge, off = _across(got, got, joint, far, s)
    for tau, one in plain.items():
        mine = got.tau_mm[joint] == tau
        edge_one, off_one = _across(got, one, joint, far, s)
        far_edge[mine], off[mine] = edge_one[mine], off_one[mine]
    chord = chord_deg(edge[joint], tangent[joint], far_edge, s)
    if settings.inner == "square":
        far_inner = inner[joint]
        inner_chord = np.zeros_like(chord)
        # each far face's inner edge is the joint's, seen square from its own outer edge
        inner[far] = matched(edge[far], tangent[far], inner[joint], inner_t[joint])[1]
        inner_lean = np.zeros_like(lean)
    else:
        _, far_inner = matched(inner[joint], inner_t[joint], inner[far], inner_t[far])
        inner_chord = chord_deg(inner[joint], inner_t[joint], far_inner, s)
        rate = np.tan(np.radians(inner_chord))
        inner_lean = _inner_leans(rate, np.tan(np.radians(chord)), np.tan(np.radians(lean)))

    for values in (edge, lean, inner, inner_lean, got.girth_mm, got.uv,
                   far_edge, chord, far_inner, inner_chord, off):  # fmt: skip
        values.setflags(write=False)
    faces = [
        Face(name, edge[m], lean[m], inner[m], inner_lean[m], got.girth_mm[m], got.uv[m])
        for m, name in enumerate(("forward", "joint", "aft") * len(planes))
    ]
    layers = [
        (
            Layer("f", far_edge[k], chord[k], far_inner[k], inner_chord[k], off[k]),
            Layer("a", far_edge[k + 1], chord[k + 1], far_inner[k + 1], inner_chord[k + 1],
                  off[k + 1]),
        )
        for k in range(0, len(joint), 2)
    ]  # fmt: skip
    return faces, layers, ~_of_all(~folds)


def _across(got: Cut, other: Cut, joint: Rows, far: Rows, s: Array) -> tuple[Array, Array]:
    """Far ends of the rulings from joint faces to far faces of another cut, and departures."""
    tangent, far_tangent = got.tangent[joint], other.tangent[far]
    w, far_edge = matched(got.edge[joint], tangent, other.edge[far], far_tangent)
    off = departure_mm(tangent, got.lean_deg[joint], far_tangent, other.lean_deg[far], w, s)
    return far_edge, off


def _inner_leans(rate: Array, outer_rate: Array, outer: Array) -> Array:
    """Leans of the inner edges (3 F, n) from the slopes (2 F, n) of their two chords.

    Chords' slopes are the surface's halfway, to the second order; what that leaves out is known
    exactly for the outer edge, whose true slopes ``outer`` (3 F, n) are, and is taken from there.
    """

    def at_faces(slopes: Array) -> Array:
        f, a = slopes[0::2], slopes[1::2]
        three = np.stack([1.5 * f - 0.5 * a, 0.5 * (f + a), 1.5 * a - 0.5 * f], axis=1)
        return three.reshape(-1, slopes.shape[1])

    leans: Array = np.degrees(np.arctan(at_faces(rate) + outer - at_faces(outer_rate)))
    return leans
