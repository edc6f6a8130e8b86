"""A ruled table as items: a head, rows, columns as wide as their words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from futtock.sheet.items import Anchor, Face, Item, Point, Text, path
from futtock.sheet.letters import shortened, width_mm
from futtock.sheet.style import EDGE, RULE, Tone


@dataclass(frozen=True, slots=True)
class Table:
    """Words in rows.

    ``align`` has a letter for each column: ``l`` or ``r``; figures stand to the right.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    align: str = ""
    title: str = ""

    def sides(self) -> str:
        """A letter for each column, left where none was given."""
        return (self.align + "l" * len(self.head))[: len(self.head)]

    def leads(self, letters_mm: float) -> list[float]:
        """Room before each column's words in mm: some where words follow figures, else none."""
        sides = self.sides()
        pairs = zip("l" + sides, sides, strict=False)
        return [letters_mm if pair == ("r", "l") else 0.0 for pair in pairs]


def widths(table: Table, letters_mm: float, room_mm: float | None = None) -> list[float]:
    """Width of each column in mm; where they do not fit in the room the widest give way."""
    pad = letters_mm * 1.1
    out = []
    for k, (head, lead) in enumerate(zip(table.head, table.leads(letters_mm), strict=True)):
        cells = [width_mm(r[k], letters_mm, Face.FIGURES) for r in table.rows]
        out.append(max([width_mm(head, letters_mm, Face.FIGURES_BOLD), *cells]) + pad + lead)
    if room_mm is not None and sum(out) > room_mm:
        lo, hi = 0.0, max(out)
        for _ in range(60):
            cap = (lo + hi) / 2
            lo, hi = (cap, hi) if sum(min(w, cap) for w in out) < room_mm else (lo, cap)
        out = [min(w, lo) for w in out]
    return out


def set_table(
    table: Table,
    at_mm: Point,
    letters_mm: float = 3.0,
    room_mm: float | None = None,
    rows: slice | None = None,
) -> tuple[list[Item], float]:
    """The table with its upper left corner at ``at_mm``: items, and its height in mm.

    ``rows`` picks some of them, for a table that goes on over the page. Long words are shortened
    with an ellipsis, never laid over their neighbours.
    """
    x0, y = at_mm
    sides, cols = table.sides(), widths(table, letters_mm, room_mm)
    leads = table.leads(letters_mm)
    line, pad = letters_mm * 1.55, letters_mm * 0.55
    items: list[Item] = []
    if table.title:
        items.append(Text(table.title, (x0, y - letters_mm), letters_mm * 1.05, Face.WORDS_BOLD))
        y -= line

    def put(words: Sequence[str], face: Face, base: float) -> None:
        x = x0
        for k, cell in enumerate(words):
            said = shortened(cell, letters_mm, face, cols[k] - pad - leads[k])
            anchor: Anchor = "end" if sides[k] == "r" else "start"
            at = x + cols[k] - pad if sides[k] == "r" else x + leads[k]
            tone = Tone.PENCIL if face is Face.FIGURES and cell == "none" else Tone.INK
            items.append(Text(said, (at, base), letters_mm, face, anchor, tone=tone))
            x += cols[k]

    right = x0 + sum(cols) - pad
    put(table.head, Face.FIGURES_BOLD, y - letters_mm)
    y -= line
    items.append(
        path([(x0, y + letters_mm * 0.12), (right, y + letters_mm * 0.12)], EDGE, layer="TABLE")
    )
    for row in table.rows[rows or slice(None)]:
        put(row, Face.FIGURES, y - letters_mm)
        y -= line
        items.append(
            path([(x0, y + letters_mm * 0.12), (right, y + letters_mm * 0.12)], RULE, layer="TABLE")
        )
    return items, at_mm[1] - y
