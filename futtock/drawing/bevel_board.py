"""Bevel boards: a frame's bevels drawn as lines at their true angles, and their table."""

from __future__ import annotations

import numpy as np

from futtock.drawing.figures import degrees, layer_name, level_name, offset, standing
from futtock.drawing.heading import FULL, Heading, titled
from futtock.framing.frame import Frame, LayerName
from futtock.sheet.items import Face, Group, Item, Text, path
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import EDGE, SEEN, THIN, TICK, Tone
from futtock.sheet.table import Table, set_table

_WIDE = 88.0
_PITCH = 8.0


def board_places(frame: Frame, every_mm: float) -> list[tuple[str, float]]:
    """(name, girth) at which a frame's bevels are given: heel, even distances, marks, head."""
    girth = float(frame.joint.girth_mm[-1])
    named = [(m.name, m.girth_mm) for m in frame.marks if m.kind in ("sirmark", "level")]
    even = [("", float(s)) for s in np.arange(every_mm, girth - 0.4 * every_mm, every_mm)]
    even = [e for e in even if all(abs(e[1] - g) > 25.0 for _, g in named)]
    return sorted([("heel", 0.0), *even, *named, ("head", girth)], key=lambda p: p[1])


def bevels_at(frame: Frame, layer: LayerName, girth_mm: float) -> tuple[float, float]:
    """Leans (outer, inner) of a layer's cuts at a girth of the joint face."""
    g = frame.joint.girth_mm
    own = frame.layer(layer)
    return (
        float(np.interp(girth_mm, g, own.chord_deg)),
        float(np.interp(girth_mm, g, own.inner_chord_deg)),
    )


def bevel_board(frame: Frame, heading: Heading, *, every_mm: float = 304.8) -> Sheet:
    """One board for each layer: from the board's edge a line leaves at each bevel, full size.

    Laid on the board, a bevel gauge set from the edge to a line gives the angle at the joint face:
    over 90 degrees where the bevel stands, under where it does not.
    """
    places = board_places(frame, every_mm)
    out: list[Item] = []
    for k, (layer, up) in enumerate((("f", "aft"), ("a", "forward"))):
        name: LayerName = "f" if layer == "f" else "a"
        x = k * (_WIDE + 62.0)
        out.append(_board(frame, name, up, places, heading, x))
    n = frame.plane.number
    return titled(
        f"frame-{n}-bevel-board",
        out,
        heading,
        f"Frame {n}, bevel board",
        FULL,
        about=f"Bevel board of frame {n}: both layers, {len(places)} places from heel to head.",
        notes=[
            "Set the gauge's stock on the left edge and its blade on the line.",
            "Angles are square to the edge, from the joint face; outer edge.",
        ],
    )


def _board(
    frame: Frame,
    layer: LayerName,
    up: str,
    places: list[tuple[str, float]],
    heading: Heading,
    x: float,
) -> Group:
    rows = [(name, g, *bevels_at(frame, layer, g)) for name, g in places]
    # each line leaves the edge at 90 degrees and its bevel; room enough that none meets the next
    drops = [_WIDE * np.tan(np.radians(_signed(up, r[2]))) for r in rows]
    y = 0.0
    levels = []
    for k, drop in enumerate(drops):
        if k:
            y -= _PITCH + max(0.0, drop - drops[k - 1])
        levels.append(y)
    top = max(12.0, drops[0] + 8.0)
    low = min(lv + min(d, 0.0) for lv, d in zip(levels, drops, strict=True)) - 8.0
    items: list[Item] = [
        path([(x, low), (x + _WIDE, low), (x + _WIDE, top), (x, top)], EDGE, True),
        path([(x, low), (x, top)], SEEN, layer="BOARD-EDGE"),
        Text(
            f"Frame {frame.plane.number}, {layer_name(layer)}",
            (x, top + 4.0),
            4.2,
            Face.FIGURES_BOLD,
        ),
    ]
    for (name, girth, outer, _), level, drop in zip(rows, levels, drops, strict=True):
        end = (x + _WIDE, level + drop)
        items.append(path([(x, level), end], TICK, layer="BEVELS"))
        said = level_name(name, heading.show).replace(" above base", "") if name else ""
        place = f"{said} " if said else ""
        items.append(
            Text(
                f"{place}{offset(girth, heading.show)}",
                (x - 2.0, level),
                2.6,
                anchor="end",
                rise="middle",
            )
        )
        hand = standing(up, "outer", outer)
        words = degrees(outer) + ("" if hand == "square" else f" {hand}")
        items.append(
            Text(words, (x + _WIDE + 2.0, level + drop), 3.2, Face.FIGURES_BOLD, rise="middle")
        )
    square = path([(x, top - 3.0), (x + _WIDE, top - 3.0)], THIN, layer="SQUARE")
    items += [square, Text("square", (x + _WIDE / 2, top - 2.2), 2.4, tone=Tone.PENCIL)]
    return Group(tuple(items), name=layer_name(layer), kind="bevel board")


def _signed(up: str, lean_deg: float) -> float:
    """Positive where the bevel stands."""
    return abs(lean_deg) if standing(up, "outer", lean_deg) == "standing" else -abs(lean_deg)


def bevel_table(frame: Frame, heading: Heading, *, every_mm: float = 304.8) -> Table:
    """Both layers' bevels of both edges to a quarter degree, by girth from the heel."""
    rows = []
    for name, girth in board_places(frame, every_mm):
        row = [level_name(name, heading.show) or "", offset(girth, heading.show)]
        for layer, up in (("f", "aft"), ("a", "forward")):
            outer, inner = bevels_at(frame, "f" if layer == "f" else "a", girth)
            for edge, deg in (("outer", outer), ("inner", inner)):
                hand = {"standing": " s", "under": " u", "square": ""}[standing(up, edge, deg)]
                row.append(degrees(deg) + hand)
        rows.append(tuple(row))
    head = ("mark", "girth", "f outer", "f inner", "a outer", "a inner")
    return Table(head, tuple(rows), "lrrrrr", f"Bevels of frame {frame.plane.number}")


def bevel_table_sheet(frame: Frame, heading: Heading, *, every_mm: float = 304.8) -> Sheet:
    """The table on a sheet of its own."""
    items, _ = set_table(bevel_table(frame, heading, every_mm=every_mm), (0.0, 0.0), 3.2)
    n = frame.plane.number
    return titled(
        f"frame-{n}-bevels", items, heading, f"Frame {n}, bevels", FULL, paper="A4", lying=False
    )
