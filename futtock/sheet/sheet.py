"""A sheet: a size of paper, an origin, and what is drawn on it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from futtock.sheet.extent import box_of
from futtock.sheet.items import Box, Item, Move, moved

PAPERS: dict[str, tuple[float, float]] = {
    "A4": (210.0, 297.0),
    "A3": (297.0, 420.0),
    "A2": (420.0, 594.0),
    "A1": (594.0, 841.0),
    "A0": (841.0, 1189.0),
    "Letter": (215.9, 279.4),
    "Tabloid": (279.4, 431.8),
}
"""Papers by name, upright: width, height in mm (ISO 216; Letter and Tabloid by ANSI Y14.1)."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet of paper.

    Attributes
    ----------
    name
        Short name, fit for a file and an index.
    size_mm
        Width and height of the paper.
    origin_mm
        Where the drawing's own point (0, 0) lies, from the paper's lower left corner.
    items
        What is drawn, in order, in the drawing's own millimetres (of paper), y up.
    title
        What a reader calls it.
    about
        What it shows in a sentence or two, for who cannot see it.
    """

    name: str
    size_mm: tuple[float, float]
    origin_mm: tuple[float, float]
    items: tuple[Item, ...]
    title: str = ""
    about: str = ""

    @property
    def window_mm(self) -> Box:
        """The paper's edges in the drawing's own millimetres."""
        (w, h), (ox, oy) = self.size_mm, self.origin_mm
        return (-ox, -oy, w - ox, h - oy)

    def on_paper(self) -> tuple[Item, ...]:
        """The items measured from the paper's lower left corner."""
        by = Move(*self.origin_mm)
        return tuple(moved(i, by) for i in self.items)


def fitted(
    name: str,
    items: Iterable[Item],
    margin_mm: float = 10.0,
    *,
    title: str = "",
    about: str = "",
    least_mm: tuple[float, float] = (0.0, 0.0),
) -> Sheet:
    """A sheet just large enough for the items with a margin round them.

    No items give a sheet of the least size with twice the margin.
    """
    kept = tuple(items)
    box = box_of(kept) or (0.0, 0.0, 0.0, 0.0)
    w = max(box[2] - box[0], least_mm[0]) + 2 * margin_mm
    h = max(box[3] - box[1], least_mm[1]) + 2 * margin_mm
    # whole hundredths, so that every writer states the same origin
    origin = (round(margin_mm - box[0], 2), round(margin_mm - box[1], 2))
    return Sheet(name, (round(w, 2), round(h, 2)), origin, kept, title, about)
