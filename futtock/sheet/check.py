"""Check lengths: lines of known length by which a print is measured before it is trusted."""

from __future__ import annotations

from typing import Literal

from futtock.sheet.items import Group, Item, Move, Point, Text, moved, path
from futtock.sheet.style import EDGE, THIN

INCH_MM = 25.4


def check_line(
    at_mm: Point,
    length_mm: float = 100.0,
    words: str = "100 mm",
    *,
    way: Literal["across", "up"] = "across",
    letters_mm: float = 2.6,
    stretch: float = 1.0,
) -> Group:
    """A line of the stated length from ``at_mm``, with end ticks and tenths, and its words above.

    Parameters
    ----------
    stretch
        The line is drawn ``length / stretch`` long, where a printer is known to stretch by that.
    """
    n = 10 if length_mm == 100.0 else 4
    drawn = length_mm / stretch
    items: list[Item] = [path([(0, 0), (drawn, 0)], EDGE, layer="CHECK")]
    for k in range(n + 1):
        tall = 3.0 if k in (0, n) else (2.0 if k * 2 == n else 1.2)
        x = drawn * k / n
        stroke = EDGE if k in (0, n) else THIN
        items.append(path([(x, 0), (x, tall)], stroke, layer="CHECK"))
    items.append(Text(words, (drawn / 2, 3.2), letters_mm, anchor="middle"))
    turned = Move(at_mm[0], at_mm[1], 90.0 if way == "up" else 0.0)
    return Group(tuple(moved(i, turned) for i in items), kind="check")


def check_cross(at_mm: Point, stretch: tuple[float, float] = (1.0, 1.0)) -> Group:
    """The four check lines of a full-size sheet from one corner: 100 mm and 4 in, both ways."""
    x, y = at_mm
    return Group(
        (
            check_line((x + 6, y), 100.0, "100 mm", stretch=stretch[0]),
            check_line((x + 6, y + 8), 4 * INCH_MM, "4 in", stretch=stretch[0]),
            check_line((x, y + 6), 100.0, "100 mm", way="up", stretch=stretch[1]),
            check_line((x - 8, y + 6), 4 * INCH_MM, "4 in", way="up", stretch=stretch[1]),
        ),
        kind="check",
    )


def scale_bar(
    at_mm: Point, unit_mm: float, count: int, words: list[str], letters_mm: float = 2.6
) -> Group:
    """A bar of ``count`` parts, each ``unit_mm`` of paper, words at all ticks."""
    x, y = at_mm
    items: list[Item] = [path([(x, y), (x + unit_mm * count, y)], EDGE, layer="SCALE")]
    for k in range(count + 1):
        items.append(path([(x + k * unit_mm, y), (x + k * unit_mm, y + 1.8)], EDGE, layer="SCALE"))
        if words[k]:
            items.append(Text(words[k], (x + k * unit_mm, y + 2.4), letters_mm, anchor="middle"))
    return Group(tuple(items), kind="scale bar")
