"""One frame drawn as it is seen from forward: both layers, butts, bevels, marks and levels.

Seen from forward, starboard lies to the left. The forward layer is drawn on the port side as it
is seen; on the starboard side it is lifted off and the after layer shows its joint face.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from futtock.drawing.figures import (
    degrees,
    length,
    level_name,
    offset,
    standing,
)
from futtock.drawing.heading import Heading, Scale, bare, room_on, scale_to_fit, titled
from futtock.drawing.signs import (
    bearing,
    butt,
    centre_line,
    dimension,
    lozenge,
    tick,
    unit,
)
from futtock.framing.frame import Frame, Timber
from futtock.framing.outline import TimberShape, outlines
from futtock.lines.as_found import Sides
from futtock.sheet.items import Arc, Face, Group, Item, Text, path
from futtock.sheet.labels import Labels
from futtock.sheet.letters import width_mm
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import BEHIND, EDGE, LEVEL, SEEN, THIN, Tone

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FramePaper:
    """How a frame's (out, up) comes to paper: which side, what scale."""

    scale: Scale
    base_mm: float = 0.0

    def points(self, p: ArrayLike, side: str) -> Array:
        """Points (..., 2) of the frame on paper, seen from forward (starboard to the left)."""
        q = np.asarray(p, float)
        way = -1.0 if side == "S" else 1.0
        out: Array = np.stack([way * q[..., 0], q[..., 1] - self.base_mm], axis=-1)
        return out / self.scale.ratio


def frame_drawing(
    frame: Frame,
    heading: Heading,
    *,
    paper: str | None = "A3",
    scale: Scale | None = None,
    bevels_every_mm: float = 300.0,
    holes_mm: ArrayLike = (),
    hole_mm: float = 0.0,
    side: Sides = "both",
) -> Sheet:
    """The frame on a sheet with title block.

    Parameters
    ----------
    paper
        A paper it is to fit on; None: a sheet as large as the scale needs.
    scale
        None: the largest trade scale that fits the paper.
    bevels_every_mm
        Distance along the edge between bevels written.
    holes_mm : (n, 2)
        Treenail holes on the joint face, starboard (out, up), drawn on both sides.
    side
        Whose the shape is, where her sides are kept apart: that is said, for both are drawn alike.
    """
    if scale is None:
        w, h = room_on(paper or "A3")
        real = _extent(frame)
        # degrees and dimensions stand outside the timbers
        scale = scale_to_fit(real, (w - 44.0, h - 40.0), heading.show)
    items = frame_items(frame, heading, scale, bevels_every_mm, holes_mm, hole_mm)
    plane = frame.plane
    notes = [plane_words(frame, heading), "Bevels are square to the edge: s standing, u under."]
    of = ""
    if side != "both":
        of, other = f", {side}", "starboard" if side == "port" else "port"
        notes.append(f"TRUE FOR {side.upper()} ONLY: {other} stands otherwise, on its own sheet.")
    return titled(
        f"frame-{plane.number}{'-port' if side == 'port' else ''}",
        items,
        heading,
        f"Frame {plane.number}{of}",
        scale,
        paper=paper,
        about=_about(frame, heading),
        notes=notes,
    )


def frame_picture(
    frame: Frame,
    heading: Heading,
    *,
    width_mm: float = 240.0,
    height_mm: float = 150.0,
    bevels_every_mm: float = 400.0,
) -> Sheet:
    """The frame alone, no wider or higher, for a page that has its own heading."""
    real = _extent(frame)
    spare = 40.0 if width_mm > 100.0 else 22.0
    ratio = max(real[0] / (width_mm - spare), real[1] / (height_mm - 26.0))
    scale = Scale(ratio, "not to scale")
    items = frame_items(frame, heading, scale, bevels_every_mm, (), 0.0)
    n = frame.plane.number
    return bare(f"frame-{n}", items, f"Frame {n}", _about(frame, heading))


def foot_mm(frame: Frame) -> float:
    """Height at which the drawing's foot stands: the base line, or a little under a high heel."""
    edges = np.concatenate([f.edge_mm for f in (frame.forward, frame.joint, frame.aft)])
    low, high = float(edges[:, 1].min()), float(edges[:, 1].max())
    return 0.0 if low < 0.25 * (high - low) else low


def _extent(frame: Frame) -> tuple[float, float]:
    edges = np.concatenate([f.edge_mm for f in (frame.forward, frame.joint, frame.aft)])
    low = min(foot_mm(frame), float(edges[:, 1].min()))
    return (2 * float(edges[:, 0].max()), float(edges[:, 1].max()) - low)


def _about(frame: Frame, heading: Heading) -> str:
    return (
        f"Frame {frame.plane.number} seen from forward: the forward layer to port, the after layer "
        f"to starboard. {plane_words(frame, heading)}"
    )


def plane_words(frame: Frame, heading: Heading) -> str:
    """Where the frame stands, in a sentence."""
    p = frame.plane
    style = heading.show
    said = f"Joint face {offset(p.x_mm, style)} aft; sided {length(p.sided_mm, style)} a layer"
    if abs(p.cant_deg) > 1e-9:
        said += f"; canted {degrees(p.cant_deg)}, drawn in its own plane"
    if abs(p.rake_deg) > 1e-9:
        said += f"; raked {degrees(p.rake_deg)}"
    return said + "."


def frame_items(
    frame: Frame,
    heading: Heading,
    scale: Scale,
    bevels_every_mm: float,
    holes_mm: ArrayLike = (),
    hole_mm: float = 0.0,
    clear: Sequence[Array] = (),
) -> list[Item]:
    """All that is drawn of a frame, in millimetres of paper about its centre and base line.

    ``clear`` are lines (n, 2) still to be drawn on it, off which its words must keep.
    """
    ground = foot_mm(frame)
    view = FramePaper(scale, ground)
    labels = Labels(gap_mm=0.7)
    for also in clear:
        labels.keep_off(also)
    reach = _extent(frame)
    half = reach[0] / 2 / scale.ratio
    top = float(max(f.edge_mm[:, 1].max() for f in (frame.forward, frame.joint, frame.aft)))
    low = float(frame.joint.edge_mm[:, 1].min())
    out: list[Item] = []
    letters = 3.0 if scale.ratio > 1 else 6.0

    wood: list[Item] = []
    names: list[tuple[Timber, TimberShape]] = []
    for timber, shape in zip(frame.timbers, outlines([frame])[0], strict=True):
        sides = {"C": ("P", "S")}.get(timber.side, (timber.side,))
        for side in sides:
            items = _timber(view, timber, shape, side, labels)
            wood.append(Group(tuple(items), name=timber.mark, kind="timber"))
        names.append((timber, shape))
    levels = _levels(frame, view, half, heading, labels, letters)
    out += levels[0]
    out += wood
    out += levels[1]
    out += _holes(view, holes_mm, hole_mm, labels)
    base_y, top_y = -4.0, (top - ground) / scale.ratio + 5.0
    head = frame.joint.edge_mm[-1]
    tall = view.points(head, "P")
    breadth = offset(float(head[0]), heading.show)
    # in a narrow frame its breadth stands where the centre's name would
    narrow = float(tall[0]) - width_mm(breadth, letters) < 2 * (4.0 + width_mm("centre", letters))
    line = centre_line(0.0, base_y, top_y, size_mm=letters, name_left=narrow)
    labels.keep_off([(0.0, base_y), (0.0, top_y)])
    middle, wide = float(tall[0]) / 2, width_mm(breadth, letters) / 2
    labels.taken((middle - wide, top_y - 2.0, middle + wide, top_y + letters))
    labels.keep_off([(0.0, top_y - 2.0), (float(tall[0]), top_y - 2.0)])
    labels.keep_off_items([i for i in line if isinstance(i, Text)])
    out += line
    if ground == 0.0:
        base = [(-half - 6, 0.0), (half + 6, 0.0)]
        out += [path(base, EDGE, layer="BASE")]
        labels.keep_off(base)
        words = Text("base", (half + 6, 1.2), letters, anchor="end", tone=Tone.PENCIL)
        out.append(labels.put(words))
    out += _bevels(frame, view, labels, bevels_every_mm, letters)
    out += _sirmarks(frame, view, labels, letters)
    for timber, shape in names:
        out += _name(view, timber, shape, labels, letters * 1.15)
    out += dimension(
        (0.0, top_y - 2.0),
        (float(tall[0]), top_y - 2.0),
        breadth,
        size_mm=letters,
    )
    x = float(tall[0])
    out.append(path([(x, float(tall[1]) + 1.5), (x, top_y - 1.0)], THIN, layer="DIMENSION"))
    foot = min(-6.0 - letters, (low - ground) / scale.ratio - 12.0 - letters)
    left = "starboard: after layer, forward layer lifted off"
    right = "port: forward layer, as seen"
    apart = width_mm(left, letters) + width_mm(right, letters) + 8.0
    ends = max(half + 6, apart / 2)
    if ends > half + 20.0:
        # in a narrow drawing they stand one above the other
        for said in (*left.split(", "), right):
            out.append(Text(said, (0.0, foot), letters, anchor="middle", tone=Tone.PENCIL))
            foot -= 1.7 * letters
        foot += 1.7 * letters
    else:
        out.append(Text(left, (-ends, foot), letters, tone=Tone.PENCIL))
        out.append(Text(right, (ends, foot), letters, anchor="end", tone=Tone.PENCIL))
    if ground:
        said = f"heel {offset(low, heading.show)} above base"
        out.append(Text(said, (0.0, foot - 1.7 * letters), letters, anchor="middle"))
    return out


def _seen(layer: str, side: str) -> bool:
    return (layer == "f") == (side == "P")


def _timber(
    view: FramePaper, timber: Timber, shape: TimberShape, side: str, labels: Labels
) -> list[Item]:
    """A timber's washed outline where its layer is seen; its hidden butts dashed where not."""
    one_side = timber.side != "C"
    keep = slice(None) if one_side else starboard_half(shape)
    # forward layer seen from forward: its forward (far) face; after layer lifted open: its joint
    forward = timber.layer == "f"
    outer = (shape.far_outer if forward else shape.joint_outer)[keep]
    inner = (shape.far_inner if forward else shape.joint_inner)[keep]
    behind = (shape.joint_outer if forward else shape.far_outer)[keep]
    heel = shape.heel_far if forward else shape.heel
    a, b, c = (view.points(p, side) for p in (outer, inner, behind))
    ends = [(a[-1], b[-1])]
    if one_side and not len(heel):
        ends.append((a[0], b[0]))
    if not _seen(timber.layer, side):
        out: list[Item] = []
        for p, q in ends[:1]:
            out.append(path([p, q], BEHIND, layer="BUTT-BEHIND"))
            labels.keep_off([p, q])
        return out
    ring = np.concatenate([a, b[::-1], view.points(heel, side) if one_side else b[:0]])
    labels.keep_off(ring, closed=True)
    # what lies behind shows only where the bevel lets it stand out beyond the seen face
    wider = np.hypot(*(c - a).T) > 0.25
    # a wash over metres of paper is ink wasted
    out = [path(ring, None, True, Tone.OAK)] if view.scale.ratio > 1 else []
    if wider.any():
        out.append(path(c, BEHIND, layer="BEHIND"))
        labels.keep_off(c)
    out.append(path(ring, SEEN, True, layer=f"LAYER-{timber.layer.upper()}"))
    out += [butt(p, q) for p, q in ends]
    return out


def starboard_half(shape: TimberShape) -> slice:
    """The starboard half of a timber that crosses the keel."""
    return slice(int(np.searchsorted(shape.girth_mm, 0.0)), None)


def _levels(
    frame: Frame, view: FramePaper, half: float, heading: Heading, labels: Labels, letters: float
) -> tuple[list[Item], list[Item]]:
    """Level lines behind the timbers, and their lozenges and names to be drawn over them."""
    behind: list[Item] = []
    above: list[Item] = []
    for mark in frame.marks:
        if mark.kind != "level":
            continue
        y = (mark.at_mm[1] - view.base_mm) / view.scale.ratio
        line = [(-half - 6, y), (half + 6, y)]
        behind.append(path(line, LEVEL))
        labels.keep_off(line)
        for side in ("P", "S"):
            p = view.points(mark.at_mm, side)
            inner = frame.joint.inner_mm[nearest(frame.joint.girth_mm, mark.girth_mm)]
            q = view.points(inner, side)
            above.append(lozenge(((p[0] + q[0]) / 2, p[1]), 0.0, min(1.6, letters * 0.6)))
        words = level_name(mark.name, heading.show)
        if half < 30.0:
            # a narrow drawing has no room for more
            words = words.removesuffix(" above base").removeprefix("level ")
        text = Text(words, (1.5, y + 1.0), letters, tone=Tone.PENCIL)
        wide = width_mm(words, letters)
        places = [
            (x, y + up) for x in (1.5, half * 0.3, half + 6.0 - wide) for up in (1.0, -letters)
        ]
        places += [(half + 8.0, y - letters * 0.35)]
        above.append(labels.place(text, places))
    return behind, above


def nearest(values: Array, at: float) -> int:
    """Index of the value nearest to one."""
    return int(np.abs(values - at).argmin())


def _holes(view: FramePaper, holes_mm: ArrayLike, hole_mm: float, labels: Labels) -> list[Item]:
    out: list[Item] = []
    holes = np.asarray(holes_mm, float).reshape(-1, 2)
    r = max(hole_mm / 2 / view.scale.ratio, 0.4)
    for side in ("P", "S"):
        for x, y in view.points(holes, side).tolist():
            out.append(Arc((x, y), r, EDGE, Tone.WHITE, layer="HOLES"))
            labels.taken((x - r, y - r, x + r, y + r))
    return out


def _bevels(
    frame: Frame, view: FramePaper, labels: Labels, every: float, letters: float
) -> list[Item]:
    """Degrees of the layer that is seen, outside its edge on their ticks."""
    out: list[Item] = []
    girth = frame.joint.girth_mm
    edge, inner = frame.joint.edge_mm, frame.joint.inner_mm
    n = max(round(float(girth[-1]) / every), 2)
    for side, layer, up in (("P", "f", "forward"), ("S", "a", "forward")):
        chord = frame.layer("f" if layer == "f" else "a").chord_deg
        for s in np.linspace(0.03, 0.985, n + 1) * girth[-1]:
            k = nearest(girth, float(s))
            p, q = view.points(edge[k], side), view.points(inner[k], side)
            t = unit(
                view.points(edge[min(k + 1, len(edge) - 1)], side)
                - view.points(edge[max(k - 1, 0)], side)
            )
            nrm = np.array([-t[1], t[0]])
            nrm = nrm if nrm @ (q - p) < 0 else -nrm
            out.append(tick(p, nrm, 2.0 if letters < 4 else 5.0, layer="BEVEL-MARKS"))
            hand = {"standing": " s", "under": " u", "square": ""}[
                standing(up, "outer", float(chord[k]))
            ]
            text = Text(degrees(float(chord[k])) + hand, (0, 0), letters, Face.FIGURES_BOLD)
            gap = letters * 0.9
            out += labels.beside(
                text,
                (float(p[0]), float(p[1])),
                bearing(nrm),
                tuple(gap * k for k in (1.0, 1.6, 2.5, 3.4, 4.5, 6.0, 8.0)),
            )
    return out


def _sirmarks(frame: Frame, view: FramePaper, labels: Labels, letters: float) -> list[Item]:
    out: list[Item] = []
    for mark in frame.marks:
        if mark.kind not in ("sirmark", "ribband"):
            continue
        k = nearest(frame.joint.girth_mm, mark.girth_mm)
        for side in ("P", "S"):
            p = view.points(mark.at_mm, side)
            q = view.points(frame.joint.inner_mm[k], side)
            out.append(path([p, p + (q - p) * 0.45], SEEN, layer="MARKS"))
            if side == "P":
                text = Text(mark.name, (0, 0), letters, Face.FIGURES)
                out += labels.beside(
                    text,
                    (float(q[0]), float(q[1])),
                    bearing(q - p),
                    (1.2, 2.4, 4.0, 6.0, 9.0),
                )
    return out


def _name(
    view: FramePaper, timber: Timber, shape: TimberShape, labels: Labels, letters: float
) -> list[Item]:
    """The piece mark inboard of its timber, where its layer is seen."""
    sides = ("P", "S") if timber.side == "C" else (timber.side,)
    side = next((s for s in sides if _seen(timber.layer, s)), None)
    if side is None:
        return []
    keep = starboard_half(shape) if timber.side == "C" else slice(None)
    inner, outer = (
        view.points(shape.joint_inner[keep], side),
        view.points(shape.joint_outer[keep], side),
    )
    k = len(inner) // 2
    way = bearing(inner[k] - outer[k])
    text = Text(timber.mark, (0, 0), letters, Face.FIGURES_BOLD)
    reach = letters * 0.6
    far = float(np.abs(outer[:, 0]).max())
    # in a narrow drawing it may not stand far out
    many = 5 if far < 30.0 else 9
    steps = (1.0, 2.0, 3.5, 5.0, 7.0, 10.0, 14.0, 19.0, 25.0)[:many]
    return labels.beside(
        text,
        (float(inner[k][0]), float(inner[k][1])),
        way,
        tuple(reach * k for k in steps),
        (0.0, 25.0, -25.0, 50.0, -50.0, 80.0, -80.0, 180.0, 150.0, -150.0),
        leader_from_mm=letters * 2.2,
    )


def unrolled_butts(frame: Frame, heading: Heading, *, width_mm: float = 170.0) -> list[Item]:
    """The shift of butts: both layers of one side unrolled along the girth, heel to the left."""
    girth = max(t.girth_mm[1] for t in frame.timbers)
    scale = width_mm / girth
    out: list[Item] = [
        Text("heel", (0.0, 18.0), 2.8, tone=Tone.PENCIL),
        Text("head", (width_mm, 18.0), 2.8, anchor="end", tone=Tone.PENCIL),
    ]
    cuts: list[float] = []
    for layer, y in (("f", 9.5), ("a", 1.0)):
        for t in frame.timbers:
            if t.layer != layer or t.side == "P":
                continue
            x0, x1 = max(t.girth_mm[0], 0.0) * scale, t.girth_mm[1] * scale
            ring = [(x0, y), (x1, y), (x1, y + 7), (x0, y + 7)]
            out.append(path(ring, SEEN, True, Tone.OAK))
            out.append(
                Text(t.mark, ((x0 + x1) / 2, y + 3.5), 2.8, Face.FIGURES_BOLD, "middle", "middle")
            )
            if t.girth_mm[1] < girth - 1:
                cuts.append(t.girth_mm[1])
    for a, b in pairwise(sorted(cuts)):
        out += dimension(
            (a * scale, -3.0), (b * scale, -3.0), offset(b - a, heading.show), size_mm=2.6
        )
    return out
