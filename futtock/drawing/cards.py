"""The sheet of marker cards that lie on a slab while it is photographed: full size, to cut out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from futtock.drawing.heading import FULL, Heading, titled
from futtock.errors import Misused
from futtock.sheet.items import Face, Item, Path, Text, frozen, path
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import RULE, THIN, Tone
from futtock.stock.photo.cards import CARD_MM, CELL_MM, CELLS, COUNT, SQUARE_MM, bits

Array = NDArray[np.float64]

_GAP_MM = 4.0
_LETTERS = 3.4

HOW = (
    "Print at full size and check the length below. Cut along the thin lines, glue to stiff card.",
    "Lay four or more flat on the slab, the outermost near its ends; none shaded or bent.",
    "Tape one distance between the outermost, from middle to middle, and give it with the picture.",
)


def card_sheets(
    numbers: Sequence[int] = tuple(range(8)), heading: Heading | None = None, paper: str = "A4"
) -> tuple[Sheet, ...]:
    """Cards by number, one to an A4 sheet's half: 120 mm square with a black square of 100 mm.

    Raises
    ------
    Misused
        where a number is not from 0 to 49, or comes twice.
    """
    if len(set(numbers)) != len(numbers) or any(not 0 <= n < COUNT for n in numbers):
        raise Misused(f"cards {', '.join(map(str, numbers))}: expected numbers 0 to 49, each once")
    heading = heading or Heading("")
    # three cards to a lying A4, two to an upright one: one of the two leaves room for the words
    each = 1 if paper == "A4" else 2
    sheets = []
    for at in range(0, len(numbers), each):
        group = numbers[at : at + each]
        items: list[Item] = []
        for k, number in enumerate(group):
            items += _card(number, (k * (CARD_MM + _GAP_MM), 0.0))
        for n, line in enumerate(HOW):
            items.append(Text(line, (0.0, -9.0 - 4.6 * n), 3.2, Face.WORDS))
        name = f"cards-{group[0]}" if len(group) == 1 else f"cards-{group[0]}-{group[-1]}"
        title = f"card {group[0]}" if len(group) == 1 else f"cards {group[0]} and {group[-1]}"
        about = "A marker card for photographing slabs, printed full size."
        sheets.append(
            titled(name, items, heading, title, FULL, paper=paper, lying=each == 2, about=about)
        )
    return tuple(sheets)


def _card(number: int, at: tuple[float, float]) -> list[Item]:
    """One card, its lower left corner at a point: black cells, edge to cut along, its number."""
    x0, y0 = at
    edge = (CARD_MM - SQUARE_MM) / 2.0
    low, high = edge, edge + SQUARE_MM
    square = np.array([[low, low], [high, low], [high, high], [low, high]]) + at
    # white cells that touch along an edge are one hole, or a hair of ink would part them; black
    # cells that white ones shut in are inked again
    rings = [_rings(cells, CELLS) for cells in _groups(bits(number))]
    corner = np.array(at) + low
    holes = tuple(frozen(outer * CELL_MM + corner) for outer, _ in rings)
    shut = [frozen(ring * CELL_MM + corner) for _, inner in rings for ring in inner]
    cut = np.array([[0, 0], [CARD_MM, 0], [CARD_MM, CARD_MM], [0, CARD_MM]]) + at
    middle = (x0 + CARD_MM / 2, y0 + 2.6)
    return [
        path(cut, THIN, closed=True, layer="CUT"),
        Path(frozen(square), None, True, Tone.INK, "CARD", holes),
        *(Path(ring, None, True, Tone.INK, "CARD") for ring in shut),
        Text(f"card {number}", middle, _LETTERS, Face.FIGURES, "middle"),
        path(
            [(x0 + CARD_MM / 2, y0 + CARD_MM - 6.5), (x0 + CARD_MM / 2, y0 + CARD_MM - 2.5)], RULE
        ),
    ]


def _groups(white: NDArray[np.bool_]) -> list[list[tuple[int, int]]]:
    """White cells in groups that touch along an edge."""
    left = {(int(r), int(c)) for r, c in zip(*np.nonzero(white), strict=True)}
    groups = []
    while left:
        edge, group = [left.pop()], []
        while edge:
            r, c = edge.pop()
            group.append((r, c))
            for cell in ((r + 1, c), (r - 1, c), (r, c + 1), (r, c - 1)):
                if cell in left:
                    left.remove(cell)
                    edge.append(cell)
        groups.append(group)
    return groups


def _rings(cells: list[tuple[int, int]], size: int) -> tuple[Array, list[Array]]:
    """Outer ring and inner rings of a group of cells, x right and y up from the lower left."""
    import shapely

    boxes = [shapely.box(c, size - 1 - r, c + 1, size - r) for r, c in cells]
    shape = shapely.union_all(boxes)
    if not isinstance(shape, shapely.Polygon):
        raise Misused("cells that do not hang together")
    outer = shapely.get_coordinates(shape.exterior)[:-1]
    return outer, [shapely.get_coordinates(ring)[:-1] for ring in shape.interiors]
