"""The frames in one body plan: fore frames to the right of the centre line, after to the left."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from futtock.drawing.figures import offset
from futtock.drawing.heading import Heading, Scale, bare, room_on, scale_to_fit, titled
from futtock.framing.frame import Frame
from futtock.sheet.check import scale_bar
from futtock.sheet.items import Face, Group, Item, Text, path
from futtock.sheet.labels import Labels
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import CENTRE, EDGE, LEVEL, RULE, SEEN, THIN, Tone

Array = NDArray[np.float64]


def frames_body(
    frames: Sequence[Frame],
    heading: Heading,
    *,
    levels_mm: Sequence[float] = (),
    diagonals: Sequence[tuple[str, float, float]] = (),
    paper: str = "A3",
) -> Sheet:
    """Every frame's joint face, inside of planking, on a titled sheet.

    Parameters
    ----------
    frames
        Forward to aft. Up to the widest they stand to the right, from it on to the left.
    levels_mm, diagonals
        Level lines' heights, and ``(name, height on the centreline, slope_deg)`` of diagonals.
    """
    wide, high = _extent(frames)
    room = room_on(paper)
    scale = scale_to_fit((2 * wide, high), (room[0] - 60.0, room[1] - 34.0), heading.show)
    items = body_items(frames, heading, scale.ratio, levels_mm=levels_mm, diagonals=diagonals)
    unit = 304.8 if heading.show == "imperial" else 500.0
    words = [f"{k} ft" if heading.show == "imperial" else f"{k / 2:g} m" for k in range(5)]
    low = min(float(f.joint.edge_mm[:, 1].min()) for f in frames) / scale.ratio
    items.append(scale_bar((-wide / scale.ratio, low - 12.0), unit / scale.ratio, 4, words))
    return titled(
        "frames-body-plan",
        items,
        heading,
        "Body plan of the frames",
        scale,
        paper=paper,
        about=_about(frames),
        notes=[
            "Inside of planking at the joint faces, each in its own plane; heels and heads as sawn"
            " to the line.",
            *(
                ["Canted frames are drawn in their own planes and are marked c."]
                if _any_cant(frames)
                else []
            ),
        ],
    )


def frames_body_picture(
    frames: Sequence[Frame],
    heading: Heading,
    *,
    width_mm: float = 240.0,
    links: Mapping[int, str] | None = None,
) -> Sheet:
    """The same without border for a page; ``links`` says where each frame leads."""
    wide, _ = _extent(frames)
    scale = Scale(2 * wide / (width_mm - 24.0), "not to scale")
    items = body_items(frames, heading, scale.ratio, links=links)
    return bare("frames-body-plan", items, "Body plan of the frames", _about(frames))


def _about(frames: Sequence[Frame]) -> str:
    mid = _widest(frames)
    return (
        f"Body plan of {len(frames)} frames: to the right forward of frame"
        f" {frames[mid].number} and with it, to the left aft of it."
    )


def _any_cant(frames: Sequence[Frame]) -> bool:
    return any(f.plane.cant_deg for f in frames)


def _extent(frames: Sequence[Frame]) -> tuple[float, float]:
    wide = max(float(f.joint.edge_mm[:, 0].max()) for f in frames)
    low = min(float(f.joint.edge_mm[:, 1].min()) for f in frames)
    return wide, max(float(f.joint.edge_mm[:, 1].max()) for f in frames) - low


def _widest(frames: Sequence[Frame]) -> int:
    return int(np.argmax([float(f.joint.edge_mm[:, 0].max()) for f in frames]))


def body_items(
    frames: Sequence[Frame],
    heading: Heading,
    ratio: float,
    *,
    levels_mm: Sequence[float] = (),
    diagonals: Sequence[tuple[str, float, float]] = (),
    links: Mapping[int, str] | None = None,
) -> list[Item]:
    """The plan in millimetres of paper, the centre line at x = 0, heights from the base."""
    links = links or {}
    wide, _ = _extent(frames)
    low = min(float(f.joint.edge_mm[:, 1].min()) for f in frames)
    high = max(float(f.joint.edge_mm[:, 1].max()) for f in frames)
    w = wide / ratio
    out: list[Item] = [path([(0.0, low / ratio - 5), (0.0, high / ratio + 6)], CENTRE)]
    for level in levels_mm:
        z = level / ratio
        out.append(path([(-w - 6, z), (w + 6, z)], LEVEL, layer="LEVEL"))
        said = f"level {offset(level, heading.show)}"
        out.append(Text(said, (w + 8, z), 2.6, rise="middle", tone=Tone.PENCIL))
    for name, height, slope in diagonals:
        t = np.tan(np.radians(slope))
        out += _diagonal(name, height, float(t), wide, low, ratio)
    mid = _widest(frames)
    labels, numbers = Labels(0.5), Labels(0.3)
    sides = [1.0 if k <= mid else -1.0 for k in range(len(frames))]
    lines = [f.joint.edge_mm * (s, 1.0) / ratio for f, s in zip(frames, sides, strict=True)]
    for line in lines:
        labels.keep_off(line)
    # from the ends inward, so that the numbers of the fullest frames fan out beyond the others'
    named: dict[int, list[Item]] = {}
    for k in (*range(mid + 1), *range(len(frames) - 1, mid, -1)):
        sign = "c" if frames[k].plane.cant_deg else ""
        x, y = lines[k][-1].tolist()
        words = f"{frames[k].number}{sign}"
        named[k] = _number(words, (x, y), sides[k], labels, numbers)
    for k, (f, line) in enumerate(zip(frames, lines, strict=True)):
        stroke = SEEN if k == mid else EDGE
        drawn: list[Item] = [path(line, stroke, layer="FRAMES"), *named[k]]
        out.append(
            Group(tuple(drawn), name=str(f.number), kind="frame", href=links.get(f.number, ""))
        )
    for side, words in ((1.0, "forward"), (-1.0, "aft")):
        out.append(
            Text(words, (side * w * 0.5, low / ratio - 4.0), 2.8, anchor="middle", tone=Tone.PENCIL)
        )
    return out


_UPS = (5.6, 8.6, 11.6, 14.6, 17.6, 20.6, 23.6)
_OUTS = (0.0, 2.0, 4.0, -2.0, 6.0, 8.0, 11.0, 14.0)


def _number(
    words: str, head: tuple[float, float], side: float, labels: Labels, numbers: Labels
) -> list[Item]:
    """A frame's number over its head, with a leader where it must stand off, clear of the others.

    Numbers give way upwards and outwards, so that those of the full frames fan out. ``numbers``
    are the numbers and leaders alone, ``labels`` the frames too, whose lines a leader may near.
    """
    text = Text(words, (0.0, 0.0), 2.6, Face.FIGURES_BOLD, "middle", "middle")
    x, y = head
    best: tuple[int, Text, list[Item]] | None = None
    fan = [(2.6, 0.0), *((up, out) for up in _UPS for out in _OUTS)]
    for up, out in fan:
        there = replace(text, at_mm=(x + side * out, y + up))
        line: list[Item] = []
        lines, under = labels.collisions(there)
        under += numbers.collisions(there)[0]
        if up > 3.0:
            # the leader leaves from over the head, clear of the neighbours' own
            start, foot = (x, y + 0.6), (there.at_mm[0], there.at_mm[1] - 1.8)
            under += numbers.words_under(start, foot)
            line = [path([start, foot], THIN)]
        cost = lines + 20 * under
        if best is None or cost < best[0]:
            best = (cost, there, line)
        if cost == 0:
            break
    assert best is not None
    for kept in (labels, numbers):
        kept.put(best[1])
        kept.keep_off_items(best[2])
    return [*best[2], best[1]]


def _diagonal(
    name: str, height: float, slope: float, wide: float, low: float, ratio: float
) -> list[Item]:
    """A diagonal on both sides, stopped at the greatest breadth or at the foot, named outside."""
    reach = wide * 1.03 if slope >= 0 else min(wide * 1.03, (height - low) / max(-slope, 1e-9))
    end = (reach / ratio, (height + slope * reach) / ratio)
    out: list[Item] = []
    for side in (1.0, -1.0):
        out.append(path([(0.0, height / ratio), (side * end[0], end[1])], RULE, layer="DIAGONALS"))
        out.append(
            Text(
                name, (side * (end[0] + 2.5), end[1] - 1.0), 2.6, anchor="middle", tone=Tone.PENCIL
            )
        )
    return out
