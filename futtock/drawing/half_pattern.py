"""The half-frame pattern that a yard keeps on the wall: one for both sides and both layers."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import product

import numpy as np

from futtock.drawing.code import code_text
from futtock.drawing.figures import close_length, degrees, level_name, offset, standing
from futtock.drawing.frame import nearest, plane_words, starboard_half
from futtock.drawing.heading import FULL, Heading, titled
from futtock.drawing.pattern_checks import beside, tape_of
from futtock.drawing.signs import at_length, bearing, butt, centre_line, run_of, tick, unit, upright
from futtock.framing.frame import Frame
from futtock.framing.heels import heel_lines
from futtock.framing.outline import outlines
from futtock.lines.as_found import Sides
from futtock.sheet.items import Arc, Box, Face, Item, Text, path
from futtock.sheet.labels import Labels
from futtock.sheet.letters import shortened
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import BEHIND, FREE, GRAIN, LEVEL, SEEN, THIN, Tone

_SLIDES_MM = (0.0, 12.0, -12.0, 24.0, -24.0, 40.0, -40.0)
_SERVES: dict[Sides, str] = {
    "both": "One pattern serves both sides, turned over for port.",
    "starboard": "STARBOARD ONLY: port stands otherwise here and has a pattern of its own.",
    "port": "PORT ONLY, drawn as if it were starboard: turn it over.",
}


def half_pattern(
    frame: Frame, heading: Heading, *, bevels_every_mm: float = 150.0, side: Sides = "both"
) -> Sheet:
    """The half-frame pattern that a yard keeps on the wall, full size, for both sides and layers.

    Where her sides are kept apart each has a pattern of its own, and says whose it is; ``frame`` is
    then that side's, port's given as if it were starboard.

    The joint face's line is the pattern's edge; the far faces of both layers are dashed; butts of
    the forward layer are whole strokes, of the after layer broken; degrees are given as f and a.
    """
    out = half_pattern_items(frame, heading, bevels_every_mm=bevels_every_mm, side=side)
    out += beside(out, tape_of(frame).table(), _code_of(frame, heading))
    low = float(frame.joint.edge_mm[:, 1].min())
    n = frame.plane.number
    notes = [
        f"{plane_words(frame, heading)} Heel {offset(low, heading.show)} above base."
        f" {_SERVES[side]}",
        "Whole line: joint face. Dashed: far faces. Butts: forward heavy, after layer broken.",
        "Bevels from the joint face, f forward and a after layer; s standing, u under.",
        "Paper moves: prick A, B, C, D and the offsets from A-B to plywood; check both diagonals.",
    ]
    of = "" if side == "both" else f", {side}"
    return titled(
        f"frame-{n}-half-pattern{'-port' if side == 'port' else ''}",
        out,
        heading,
        f"Frame {n}, half pattern{of}",
        FULL,
        about=f"Full-size half pattern of frame {n}{of}. {plane_words(frame, heading)}",
        notes=notes,
        inches=True,
    )


def _code_of(frame: Frame, heading: Heading) -> str:
    if not heading.revision:
        return ""
    return code_text(str(frame.plane.number), heading.revision, heading.link)


def half_pattern_items(
    frame: Frame,
    heading: Heading,
    *,
    bevels: bool = True,
    bevels_every_mm: float = 150.0,
    clear_mm: Sequence[Box] = (),
    side: Sides = "both",
) -> list[Item]:
    """What is drawn of a half pattern, in the frame's own (out, up); no words in ``clear_mm``."""
    labels = Labels(gap_mm=1.0)
    for box in clear_mm:
        labels.taken(box)
    joint = frame.joint
    edge, inner = joint.edge_mm, joint.inner_mm
    ring = np.concatenate([edge, inner[::-1]])
    out: list[Item] = []
    spans = [("A", "D", edge[0], inner[-1]), ("C", "B", inner[0], edge[-1])]
    tape = tape_of(frame)
    for line in (*(np.array([p, q]) for _, _, p, q in spans), *tape.lines()):
        labels.keep_off(line)
    for name in ("f", "a"):
        layer = frame.layer("f" if name == "f" else "a")
        for line, what in ((layer.far_edge_mm, "EDGE"), (layer.far_inner_mm, "INNER")):
            out.append(path(line, BEHIND, layer=f"FAR-{what}-{name.upper()}"))
            labels.keep_off(line)
    out.append(path((edge + inner) / 2, GRAIN, layer="GRAIN"))
    # where the timbers have a heel of their own, nothing is cut from edge to edge there
    shapes = outlines([frame])[0]
    heeled = any(len(shape.heel) for shape in shapes)
    out.append(path(ring, SEEN, not heeled, layer="OUTLINE-JOINT"))
    labels.keep_off(ring, closed=not heeled)
    top = float(edge[:, 1].max())
    x1 = float(edge[:, 0].max())
    low = float(edge[:, 1].min())
    out += centre_line(0.0, low - 10.0, top + 30.0, size_mm=6.0)
    labels.keep_off([(0.0, low - 10.0), (0.0, top + 30.0)])
    for timber, shape in zip(frame.timbers, shapes, strict=True):
        if timber.side == "P":
            continue
        p, q = shape.joint_outer[-1], shape.joint_inner[-1]
        if timber.layer == "f":
            out.append(butt(p, q, layer="BUTT-F"))
        else:
            out.append(path([p, q], BEHIND, layer="BUTT-A"))
        labels.keep_off([p, q])
        if len(shape.heel):
            throat = _own(shape.joint_inner, inner)[::-1]
            foot = np.concatenate([throat, shape.heel, _own(shape.joint_outer, edge)])
            out.append(path(foot, SEEN, layer=f"HEEL-{timber.layer.upper()}"))
            labels.keep_off(foot)
    first = next((t for t in frame.timbers if t.number == 1 and t.side == "S"), None)
    for work in heel_lines(frame, first) if first is not None else ():
        closed = work.kind == "bolts"
        stroke = {"notch": FREE, "limber": SEEN, "bolts": THIN}[work.kind]
        out.append(path(work.points_mm, stroke, closed, layer=work.kind.upper()))
        labels.keep_off(work.points_mm, closed)
    out += _pattern_levels(frame, heading, labels, x1)
    if bevels:
        out += _pattern_bevels(frame, labels, bevels_every_mm)
    out += _sirmarks_one_side(frame, labels)
    out += _pattern_names(frame, labels, side)
    out += _pattern_controls(spans, heading, labels)
    out += tape.items(labels)
    vessel = shortened(heading.vessel, 12.0, Face.FIGURES_BOLD, 150.0)
    of = "" if side == "both" else f", {side} only"
    words = f"{vessel} frame {frame.plane.number}: half pattern{of}".strip()
    spots = [(x, top + up) for up in (12.0, 30.0, 50.0, 70.0) for x in (40.0, 6.0)]
    out.append(labels.place(Text(words, spots[0], 12.0, Face.FIGURES_BOLD), spots))
    return out


def _own(line: np.ndarray, joint: np.ndarray) -> np.ndarray:
    """The first part of a timber's edge, as far as it runs apart from the joint face's own."""
    import shapely

    off = shapely.distance(shapely.points(line), shapely.LineString(joint))
    joins = np.flatnonzero(off < 0.02)
    return line[: int(joins[0]) + 1] if len(joins) else line[:1]


def _pattern_levels(frame: Frame, heading: Heading, labels: Labels, x1: float) -> list[Item]:
    out: list[Item] = []
    for mark in frame.marks:
        if mark.kind != "level":
            continue
        y = mark.at_mm[1]
        out.append(path([(0.0, y), (x1 + 20.0, y)], LEVEL))
        labels.keep_off([(0.0, y), (x1 + 20.0, y)])
        words = level_name(mark.name, heading.show)
        out.append(
            labels.place(
                Text(words, (10.0, y + 2.5), 6.0),
                [
                    (x, y + up)
                    for x in (10.0, *np.linspace(40.0, x1 + 20.0, 9).tolist())
                    for up in (2.5, -7.5)
                ],
            )
        )
    return out


def _pattern_bevels(frame: Frame, labels: Labels, every: float) -> list[Item]:
    out: list[Item] = []
    run = run_of(frame.joint.edge_mm)
    n = max(int(float(run[-1]) // every), 1)
    places = [*(every * k for k in range(n + 1)), float(run[-1])]
    fwd, aft = frame.layer("f"), frame.layer("a")
    for line, other, name, degs in (
        (frame.joint.edge_mm, frame.joint.inner_mm, "outer", (fwd.chord_deg, aft.chord_deg)),
        (
            frame.joint.inner_mm,
            frame.joint.edge_mm,
            "inner",
            (fwd.inner_chord_deg, aft.inner_chord_deg),
        ),
    ):
        own = run_of(line)
        for s in places:
            k = nearest(run, s)
            p, t = at_length(line, own, float(own[k]))
            nrm = np.array([-t[1], t[0]])
            nrm = nrm if nrm @ (other[k] - p) < 0 else -nrm
            out.append(tick(p, nrm, 6.0, layer="BEVEL-MARKS"))
            labels.keep_off([p, p + nrm * 6.0])
            said = []
            # the forward layer's joint face looks aft, the after layer's looks forward
            for layer, up, deg in (("f", "aft", degs[0][k]), ("a", "forward", degs[1][k])):
                hand = {"standing": " s", "under": " u", "square": ""}[
                    standing(up, name, float(deg))
                ]
                said.append(f"{layer} {degrees(float(deg))}{hand}")
            text = Text(
                "  ".join(said), (0, 0), 4.2, Face.FIGURES_BOLD, "middle", "middle",
                upright(bearing(t)),
            )  # fmt: skip
            spots = product((12.0, 18.0, 24.0, 31.0, 40.0, 52.0), _SLIDES_MM)
            trials = (replace(text, at_mm=_pair(p + nrm * off + t * slide)) for off, slide in spots)
            out.append(labels.place(text, trials))
    return out


def _pair(p: np.ndarray) -> tuple[float, float]:
    x, y = p.tolist()
    return (x, y)


def _sirmarks_one_side(frame: Frame, labels: Labels) -> list[Item]:
    out: list[Item] = []
    for mark in frame.marks:
        if mark.kind not in ("sirmark", "ribband", "sheer"):
            continue
        k = nearest(frame.joint.girth_mm, mark.girth_mm)
        p, q = np.asarray(mark.at_mm), frame.joint.inner_mm[k]
        u = unit(q - p)
        end = p + u * (24.0 if mark.kind == "sirmark" else 14.0)
        out.append(path([p, end], SEEN, layer="MARKS"))
        labels.keep_off([p, end])
        text = Text(mark.name, (0, 0), 5.0, Face.FIGURES_BOLD)
        s = np.array([-u[1], u[0]])
        trials = []
        for a in (16.0, 26.0, 36.0):
            for b in (5.0, -5.0, 9.0, -9.0):
                c = p + u * a + s * b
                trials.append(
                    Text(
                        mark.name,
                        (float(c[0]), float(c[1])),
                        5.0,
                        Face.FIGURES_BOLD,
                        "middle",
                        "middle",
                        upright(bearing(u)),
                    )
                )
        out.append(labels.place(text, trials))
    return out


def _pattern_names(frame: Frame, labels: Labels, side: Sides) -> list[Item]:
    of = {"both": "-P/S-", "starboard": "-S-", "port": "-P-"}[side]
    out: list[Item] = []
    for timber, shape in zip(frame.timbers, outlines([frame])[0], strict=True):
        if timber.side == "P":
            continue
        keep = starboard_half(shape) if timber.side == "C" else slice(None)
        a, b = shape.joint_outer[keep], shape.joint_inner[keep]
        usual = 0.34 if timber.layer == "f" else 0.66
        words = timber.mark.replace("-S-", of)
        text = Text(words, (0, 0), 9.0, Face.FIGURES_BOLD, "middle", "middle", halo=Tone.WHITE)
        lines = (a + (b - a) * across for across in (usual, 0.5, 1.0 - usual, 0.2, 0.8))
        out.append(labels.place(text, _along_lines(text, lines)))
    return out


def _along_lines(text: Text, lines: Iterable[np.ndarray]) -> Iterator[Text]:
    """The words along each line in turn, at its middle and then nearer its ends."""
    for line in lines:
        run = run_of(line)
        for part in (0.5, 0.42, 0.58, 0.34, 0.66, 0.26, 0.74, 0.18, 0.82):
            p, t = at_length(line, run, part * float(run[-1]))
            yield replace(text, at_mm=_pair(p), angle_deg=upright(bearing(t)))


def _pattern_controls(
    spans: Sequence[tuple[str, str, np.ndarray, np.ndarray]], heading: Heading, labels: Labels
) -> list[Item]:
    """Two long diagonals between corners, with their lengths, to prove the print by."""
    out: list[Item] = []
    for a, b, p, q in spans:
        out.append(path([p, q], THIN, layer="CONTROL"))
        span = float(np.hypot(*(q - p)))
        said = f"{a}–{b} {span:.1f} mm"
        if heading.show == "imperial":
            said += f" ({close_length(span, 'imperial')})"
        u = unit(q - p)
        s = np.array([-u[1], u[0]])
        trials = []
        for part in (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.15, 0.85):
            for off in (3.9, -3.9):
                c = p + (q - p) * part + s * off
                trials.append(
                    Text(
                        said,
                        (float(c[0]), float(c[1])),
                        5.0,
                        Face.FIGURES,
                        "middle",
                        "middle",
                        upright(bearing(u)),
                        halo=Tone.WHITE,
                    )
                )
        out.append(labels.place(trials[0], trials))
        for name, r in ((a, p), (b, q)):
            out.append(Arc((float(r[0]), float(r[1])), 1.0, None, Tone.INK, layer="CONTROL"))
            out += labels.beside(
                Text(name, (0, 0), 6.0, Face.FIGURES_BOLD),
                (float(r[0]), float(r[1])),
                bearing(p - q if name == a else q - p),
            )
    return out
