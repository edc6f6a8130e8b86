"""The frame full size for the assembly floor, and the template of its treenail holes."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from futtock.bench.fastening import FrameHoles
from futtock.bench.traveller import Measurement, frame_checks
from futtock.drawing.figures import close_length, length, level_name, offset
from futtock.drawing.frame import foot_mm, frame_items, nearest, plane_words
from futtock.drawing.half_pattern import half_pattern_items
from futtock.drawing.heading import FULL, Heading, Scale, titled
from futtock.drawing.signs import bearing, upright
from futtock.framing.frame import Frame
from futtock.sheet.items import Arc, Face, Item, Text, path
from futtock.sheet.labels import Labels
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import EDGE, SEEN, THIN, Tone
from futtock.sheet.table import Table, set_table

Array = NDArray[np.float64]


def check_table(
    frame: Frame, heading: Heading, checks: Sequence[Measurement] | None = None
) -> Table:
    """The lengths to measure on the assembled frame, how near they must come, room to write in."""
    rows = []
    for m in frame_checks(frame) if checks is None else checks:
        said = f"{m.mm:.0f} mm"
        if heading.show == "imperial":
            said = f"{close_length(m.mm, 'imperial')} ({said})"
        within = close_length(m.tolerance_mm, heading.show)
        rows.append((_tidy(m.name, heading), said, within, "____________"))
    head = ("measure", "must be", "within", "found")
    return Table(head, tuple(rows), "lrrl", "Checks before boring")


def _tidy(name: str, heading: Heading) -> str:
    """A check's name with its level line lettered as the yard writes it."""

    def lettered(found: re.Match[str]) -> str:
        return level_name(found[0], heading.show).replace(" above base", "")

    return re.sub(r"level \d+(\.\d+)?", lettered, name)


def floor_drawing(
    frame: Frame,
    heading: Heading,
    holes: FrameHoles | None = None,
    *,
    scale: Scale = FULL,
    bore_mm: float = 19.05,
    checks: Sequence[Measurement] | None = None,
) -> Sheet:
    """Both layers, butts, holes, centre and level lines, cross spall, breadths and diagonals.

    Parameters
    ----------
    bore_mm
        Of the treenail holes.
    checks
        What is measured on the assembled frame; None: the frame's own, without a cross spall.
    scale
        Full size for the floor; smaller for a page of a book.
    """
    r = scale.ratio
    at = np.array([h.at_mm for h in holes.holes]) if holes and holes.holes else np.empty((0, 2))
    low = foot_mm(frame)
    # seen from forward, starboard (positive out) lies to the left
    lines: list[tuple[Measurement, Array, Array]] = []
    for m in frame_checks(frame) if checks is None else checks:
        p, q = (np.array([-out, up - low]) / r for out, up in (m.a_mm, m.b_mm))
        lines.append((m, p, q))
    clear = [np.array([a, b]) for _, a, b in lines]
    items = frame_items(frame, heading, scale, 300.0 if r == 1 else 450.0, at, bore_mm, clear)
    labels = Labels(1.0)
    labels.keep_off_items(items)
    letters = 6.0 if r == 1 else 2.6
    extra: list[Item] = []
    for m, a, b in lines:
        stroke = EDGE if m.kind == "cross-spall" else THIN
        extra.append(path([a, b], stroke, layer="CHECKS"))
        labels.keep_off([a, b])
    for m, a, b in lines:
        said = f"{_tidy(m.name, heading)} {close_length(m.mm, heading.show)}"
        turn = upright(bearing(b - a))
        t = np.radians(turn)
        n = np.array([-np.sin(t), np.cos(t)]) * letters * 0.75
        trials = []
        for part in (0.5, 0.4, 0.6, 0.3, 0.7, 0.25, 0.75, 0.2, 0.8, 0.15, 0.85, 0.1, 0.9):
            for side in (1.0, -1.0):
                c = a + (b - a) * part + n * side
                trials.append(
                    Text(
                        said,
                        (float(c[0]), float(c[1])),
                        letters,
                        Face.FIGURES,
                        "middle",
                        "middle",
                        turn,
                        halo=Tone.WHITE,
                    )
                )
        extra.append(labels.place(trials[0], trials))
    n_ = frame.plane.number
    notes = [plane_words(frame, heading), "Measure every length both ways before a hole is bored."]
    if holes:
        notes.insert(1, f"{holes.count} treenails, both sides.")
    return titled(
        f"frame-{n_}-floor",
        [*items, *extra],
        heading,
        f"Frame {n_}, assembly floor",
        scale,
        about=f"Frame {n_} full size for the assembly floor, with holes and every length to check.",
        notes=notes,
        inches=r == 1,
    )


def hole_template(
    frame: Frame, holes: FrameHoles, heading: Heading, bore_mm: float = 19.05
) -> Sheet:
    """Treenail template, full size: the half pattern with every hole and the way of its wedges."""
    clear = [(x - 14, y - 14, x + 14, y + 14) for x, y in (h.at_mm for h in holes.holes)]
    out: list[Item] = half_pattern_items(frame, heading, bevels=False, clear_mm=clear)
    labels = Labels(1.0)
    labels.keep_off_items(out)
    for h in holes.holes:
        x, y = h.at_mm
        r = bore_mm / 2
        t = np.radians(h.wedge_deg)
        u = np.array([np.cos(t), np.sin(t)])
        c = np.array([x, y])
        out += [
            Arc((x, y), r, EDGE, Tone.WHITE, layer="HOLES"),
            path([c - u * (r - 1), c + u * (r - 1)], SEEN, layer="WEDGES"),
            path([(x - r - 4, y), (x - r, y)], THIN, layer="HOLES"),
            path([(x + r, y), (x + r + 4, y)], THIN, layer="HOLES"),
            path([(x, y - r - 4), (x, y - r)], THIN, layer="HOLES"),
            path([(x, y + r), (x, y + r + 4)], THIN, layer="HOLES"),
        ]
        labels.taken((x - r - 4, y - r - 4, x + r + 4, y + r + 4))
    for h in holes.holes:
        k = nearest(frame.joint.girth_mm, h.girth_mm)
        inward = bearing(frame.joint.inner_mm[k] - frame.joint.edge_mm[k])
        text = Text(str(h.number), (0, 0), 5.0, Face.FIGURES_BOLD)
        out += labels.beside(text, h.at_mm, inward + 90.0, (11.0, 15.0, 20.0))
    n = frame.plane.number
    notes = [
        f"{len(holes.holes)} holes a side, bored square to the joint face through both layers.",
        "The bar across a hole is the way of its wedge: across the grain.",
        "Clamp both layers before boring; the far side is where the auger comes out.",
    ]
    return titled(
        f"frame-{n}-holes",
        out,
        heading,
        f"Frame {n}, treenail template",
        FULL,
        about=f"Full-size template of the {len(holes.holes)} treenail holes of frame {n}.",
        notes=notes,
        inches=True,
    )


def hole_table(holes: FrameHoles, heading: Heading) -> Table:
    """Holes by number: girth, distance in from the edge, what they go through, grip."""
    rows = tuple(
        (
            str(h.number),
            offset(h.girth_mm, heading.show),
            length(h.in_mm, heading.show),
            " + ".join(h.through),
            length(h.grip_mm, heading.show),
        )
        for h in holes.holes
    )
    head = ("hole", "girth", "in", "through", "grip")
    return Table(head, rows, "rrrlr", f"Treenail holes of frame {holes.frame}, a side")


def check_sheet(frame: Frame, heading: Heading) -> Sheet:
    """The checks as a table on a sheet of their own."""
    items, _ = set_table(check_table(frame, heading), (0.0, 0.0), 3.6)
    n = frame.plane.number
    return titled(
        f"frame-{n}-checks", items, heading, f"Frame {n}, checks", FULL, paper="A4", lying=False
    )
