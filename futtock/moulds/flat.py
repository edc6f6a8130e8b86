"""Timbers laid flat: from a frame's faces to one mould a timber.

Looking at the forward layer's aft face from aft one looks forward, so that starboard lies to the
right; looking at the after layer's forward face from forward, starboard lies to the left. A port
timber is its starboard twin mirrored. Each mould is then turned so that the chord of its middle
line lies along x, heel left and head right, and shifted until its box touches both axes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from futtock.errors import Interrupted, Misused
from futtock.framing.frame import Frame, Timber
from futtock.framing.heels import heel_lines
from futtock.framing.outline import TimberShape, outlines
from futtock.moulds import kinds
from futtock.moulds.marks import bevel_marks, labels
from futtock.moulds.mould import Label, Mould, MouldPlace, SawnEdge, WorkLine
from futtock.moulds.rings import (
    anticlockwise,
    between_faces,
    frozen,
    run_mm,
    untangled,
    without_repeats,
)
from futtock.moulds.settings import MouldSettings
from futtock.progress import Progress, Report, quiet

Array = NDArray[np.float64]
Up = Literal["forward", "aft"]

_ON_CENTRE_MM = 0.01
_ON_FROM_THROAT_MM = 60.0  # how far past the throat the wood's direction is taken


def moulds(
    frames: Sequence[Frame], settings: MouldSettings, report: Report = quiet
) -> tuple[Mould, ...]:
    """One mould for every timber of every frame, in the frames' order.

    Parameters
    ----------
    frames
        Frames with their timbers.
    settings
        See :class:`MouldSettings`.
    report
        Told of progress a frame at a time; answering False raises.

    Returns
    -------
    tuple of moulds. A port timber's mould names its starboard twin in ``same_as``.

    Raises
    ------
    Interrupted
        Where the report says stop.
    Misused
        For a mark distance or a density that is not positive.
    """
    if settings.marks_every_mm <= 0 or settings.density_kg_m3 <= 0:
        raise Misused("The distance of bevel marks and the density must be positive.")
    if not frames:
        return ()
    twin_of: dict[str, str] = {}
    own: list[list[Timber]] = []
    for frame in frames:
        starboard = {(t.layer, t.number): t.mark for t in frame.timbers if t.side == "S"}
        twins = {
            t.mark: starboard[t.layer, t.number]
            for t in frame.timbers
            if t.side == "P" and (t.layer, t.number) in starboard
        }
        twin_of |= twins
        own.append([t for t in frame.timbers if t.mark not in twins])
    flat: list[Mould] = []
    for done, (frame, timbers, shapes) in enumerate(
        zip(frames, own, outlines(frames, own), strict=True)
    ):
        if not report(Progress("moulds", done, len(frames), f"frame {frame.number}")):
            raise Interrupted("Moulds were stopped before they were done.")
        for timber, shape in zip(timbers, shapes, strict=True):
            flat.append(lay_flat(shape, frame, timber, settings))
    laid = {mould.mark: mould for mould in _squared(flat)}
    every = tuple(
        mirrored(laid[twin_of[t.mark]], t.mark) if t.mark in twin_of else laid[t.mark]
        for frame in frames
        for t in frame.timbers
    )
    report(Progress("moulds", len(frames), len(frames), f"{len(every)} moulds"))
    return every


def face_up(layer: str, up: Literal["joint", "forward", "aft"]) -> Up:
    """Which face of a layer lies up under the setting ``up``."""
    if up == "joint":
        return "aft" if layer == "f" else "forward"
    return up


def lay_flat(shape: TimberShape, frame: Frame, timber: Timber, settings: MouldSettings) -> Mould:
    """The mould of one timber; ``square_m2`` is left 0 for :func:`moulds` to fill.

    Parameters
    ----------
    shape
        Both faces of the timber in the frame's (out, up).
    """
    up = face_up(timber.layer, settings.up)
    joint_up = up == ("aft" if timber.layer == "f" else "forward")
    flipped = (up == "forward") != (timber.side == "P")

    loops = [untangled(shape.joint_inner), untangled(shape.far_inner)]
    joint = (shape.joint_outer, loops[0][0])
    far = (shape.far_outer, loops[1][0])
    top, foot = (joint, far) if joint_up else (far, joint)

    middle = 0.25 * (joint[0] + joint[1] + far[0] + far[1])
    if timber.side != "C":
        middle = _past_the_throat(middle, joint[1], frame.joint.inner_mm[0])
    chord = (middle[-1] - middle[0]) * np.array([-1.0 if flipped else 1.0, 1.0])
    place = MouldPlace(-float(np.degrees(np.arctan2(chord[1], chord[0]))), (0.0, 0.0), flipped)

    n = len(middle)
    feet = _matched(shape.heel, joint[1][0], shape.heel_far, far[1][0])
    foot_up, foot_down = feet if joint_up else feet[::-1]
    laid = place.to_mould(np.concatenate([*top, *foot, foot_up, foot_down, middle]))
    low = laid[:-n].min(axis=0)
    place = replace(place, shift_mm=(-float(low[0]), -float(low[1])))
    laid = laid - low
    up_outer, up_inner, down_outer, down_inner = laid[: 4 * n].reshape(4, n, 2)
    heel_up, heel_down = laid[4 * n : -n].reshape(2, -1, 2)
    grain = laid[-n:]

    ring_up = np.concatenate([up_outer, up_inner[::-1], heel_up])
    ring_down = np.concatenate([down_outer, down_inner[::-1], heel_down])
    volume_mm3, centre = between_faces(ring_up, ring_down, timber.sided_mm)
    outer = _edge("outer", up_outer, down_outer, shape.outer_chord_deg)
    inner = _edge("inner", up_inner, down_inner, shape.inner_chord_deg)
    on_joint = up_outer if joint_up else down_outer
    findings = []
    if (moved := max(m for _, m in loops)) > 0.0:
        findings.append(
            kinds.SWALLOWTAIL.found(
                f"{timber.mark}: the inner edge turns back on itself; points moved up to"
                f" {moved:.1f} mm to where it meets.",
                line=timber.mark,
            )
        )
    worst = np.interp(shape.girth_mm, frame.joint.girth_mm, frame.layer(timber.layer).departure_mm)
    return Mould(
        mark=timber.mark,
        up=up,
        outline_up_mm=frozen(anticlockwise(without_repeats(ring_up))),
        outline_down_mm=frozen(anticlockwise(without_repeats(ring_down))),
        grain_mm=frozen(grain),
        edges=(outer, inner),
        marks=bevel_marks(outer, inner, settings.marks_every_mm, _sirmarks_at(shape, frame, outer)),
        sided_mm=timber.sided_mm,
        square_m2=0.0,
        mass_kg=volume_mm3 * 1e-9 * settings.density_kg_m3,
        labels=labels(frame, timber, shape.girth_mm, on_joint, place, grain, centre),
        frame=timber.frame,
        layer=timber.layer,
        side=timber.side,
        volume_m3=volume_mm3 * 1e-9,
        centre_mm=(float(centre[0]), float(centre[1]), float(centre[2])),
        place=place,
        work=_work_lines(frame, timber, up, place, ring_up),
        departure_mm=float(worst[np.argmax(np.abs(worst))]),
        findings=tuple(findings),
    )


def _past_the_throat(middle: Array, inner: Array, throat: Array) -> Array:
    """The middle line, straight on past the throat, where the inner edge has its corner.

    From there the inner edge runs level to the centreline, and maybe down it: the wood's own
    direction does not bend with it, and nobody looks for a slab whose grain does.
    """
    away = np.hypot(*(inner - throat).T)
    k = int(away.argmin())
    if away[k] > _ON_CENTRE_MM or k == 0:
        cut_off = inner[:, 0] <= _ON_CENTRE_MM
        k = int(np.argmin(cut_off))
        if not cut_off[0]:
            return middle
    run = run_mm(middle)
    on = int(np.searchsorted(run, run[k] + _ON_FROM_THROAT_MM))
    if on >= len(middle):
        return middle
    way = middle[on] - middle[k]
    straight = middle[k] - (run[k] - run[:k, None]) * way / np.hypot(*way)
    return np.concatenate([straight, middle[k:]])


def _work_lines(
    frame: Frame, timber: Timber, up: Up, place: MouldPlace, ring_up: Array
) -> tuple[WorkLine, ...]:
    """What is marked at the heel on the up face, as far as it lies on the wood."""
    joint_up = up == ("aft" if timber.layer == "f" else "forward")
    lines = heel_lines(frame, timber, "joint" if joint_up else up)
    if not lines:
        return ()
    wood = shapely.make_valid(shapely.Polygon(ring_up))
    out = []
    for line in lines:
        laid = place.to_mould(line.points_mm)
        closed = line.kind == "bolts"
        drawn = shapely.Polygon(laid) if closed else shapely.LineString(laid)
        for part in shapely.get_parts(shapely.intersection(drawn, wood)):
            if closed and isinstance(part, shapely.Polygon):
                out.append(WorkLine(line.kind, _ring_of(part)))
            elif isinstance(part, shapely.LineString) and part.length > _ON_CENTRE_MM:
                out.append(WorkLine(line.kind, frozen(shapely.get_coordinates(part))))
    return tuple(out)


def _edge(name: Literal["outer", "inner"], up: Array, down: Array, lean: Array) -> SawnEdge:
    return SawnEdge(name, frozen(up), frozen(down), frozen(run_mm(up)), frozen(lean))


def _sirmarks_at(shape: TimberShape, frame: Frame, outer: SawnEdge) -> Array:
    """Lengths along the up edge of the sirmarks that fall on this timber."""
    girths = np.array([m.girth_mm for m in frame.marks if m.kind == "sirmark"])
    girths = girths[(girths > shape.girth_mm[0]) & (girths < shape.girth_mm[-1])]
    at: Array = np.interp(girths, shape.girth_mm, outer.at_mm)
    return at


def _matched(heel: Array, start: Array, other: Array, other_start: Array) -> tuple[Array, Array]:
    """Two heels' corners made equal in number by repeating where the inner edge ends."""
    k = max(len(heel), len(other))
    return (
        np.concatenate([np.tile(start, (k - len(heel), 1)), heel]),
        np.concatenate([np.tile(other_start, (k - len(other), 1)), other]),
    )


def mirrored(mould: Mould, mark: str) -> Mould:
    """The mould turned over: the twin on the other side, under its own piece mark."""
    wide = mould.wide_mm

    def over(points: Array) -> Array:
        return frozen(np.stack([points[..., 0], wide - points[..., 1]], axis=-1))

    edges = tuple(replace(e, up_mm=over(e.up_mm), down_mm=over(e.down_mm)) for e in mould.edges)
    turned = []
    for label in mould.labels:
        x, y = label.at_mm
        text = mark if label.kind == "mark" else label.text
        turned.append(Label(label.kind, text, (x, wide - y), -label.direction_deg, label.size_mm))
    place = None
    if mould.place is not None:
        # y -> wide - y after R(t) F p + s is R(-t) F' p + (s_x, wide - s_y) with F' = diag(1,-1) F;
        # diag(1,-1) = -diag(-1,1), and the minus sign is half a turn.
        x, y = mould.place.shift_mm
        place = MouldPlace(180.0 - mould.place.turn_deg, (x, wide - y), not mould.place.flipped)
    x, y, deep = mould.centre_mm
    return replace(
        mould,
        mark=mark,
        outline_up_mm=frozen(over(mould.outline_up_mm)[::-1]),
        outline_down_mm=frozen(over(mould.outline_down_mm)[::-1]),
        grain_mm=over(mould.grain_mm),
        edges=(edges[0], edges[1]),
        labels=tuple(turned),
        same_as=mould.mark,
        side="P" if mould.side == "S" else "S",
        holes_mm=over(mould.holes_mm),
        work=tuple(replace(w, points_mm=over(w.points_mm)) for w in mould.work),
        centre_mm=(x, wide - y, deep),
        place=place,
        findings=tuple(
            replace(f, message=f.message.replace(mould.mark, mark), line=mark)
            for f in mould.findings
        ),
    )


def _squared(made: Sequence[Mould]) -> list[Mould]:
    """The moulds with the area of both faces' union; findings where an outline is not simple."""
    if not made:
        return []
    up = np.array([shapely.Polygon(m.outline_up_mm) for m in made])
    down = np.array([shapely.Polygon(m.outline_down_mm) for m in made])
    sound = shapely.is_valid(up) & shapely.is_valid(down)
    moulds_ = list(made)
    for k in np.flatnonzero(~sound):
        up[k], down[k] = _simple(up[k]), _simple(down[k])
        mark = moulds_[k].mark
        crossed = kinds.CROSSED.found(
            f"{mark}: the outline crosses itself; the largest simple part of it is drawn.",
            line=mark,
        )
        moulds_[k] = replace(
            moulds_[k],
            outline_up_mm=_ring_of(up[k]),
            outline_down_mm=_ring_of(down[k]),
            findings=(*moulds_[k].findings, crossed),
        )
    area = shapely.area(shapely.union(up, down))
    areas = np.stack([shapely.area(up), shapely.area(down)])
    common = areas.sum(axis=0) - area
    for n, mould in enumerate(moulds_):
        found = mould.findings
        if common[n] < 0.5 * areas[:, n].min():
            share = 100.0 * common[n] / areas[:, n].min()
            found = (
                *found,
                kinds.FACES_APART.found(
                    f"{mould.mark}: only {share:.0f} % of the smaller face lies over the other.",
                    line=mould.mark,
                ),
            )
        moulds_[n] = replace(mould, square_m2=float(area[n]) * 1e-6, findings=found)
    return moulds_


def _simple(polygon: shapely.Polygon) -> shapely.Polygon:
    """The largest simple part of a polygon that crosses itself."""
    parts = shapely.get_parts(shapely.make_valid(polygon))
    return max((p for p in parts if isinstance(p, shapely.Polygon)), key=lambda p: p.area)


def _ring_of(polygon: shapely.Polygon) -> Array:
    return frozen(anticlockwise(np.asarray(polygon.exterior.coords)[:-1]))
