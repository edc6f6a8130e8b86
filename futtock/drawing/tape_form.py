"""The form on which a slab is measured by tape: one slab a sheet, to be filled in by hand."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from futtock.drawing.figures import lettered
from futtock.drawing.heading import FULL, Heading, titled
from futtock.errors import Misused
from futtock.sheet.items import Face, Item, Text, path
from futtock.sheet.letters import shortened
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import CENTRE, DIMENSION, EDGE, GRAIN, RULE, SEEN, WANE, Tone
from futtock.stock.tape_form import TapeForm

_WIDTH = 182.0
_FIELD = 7.4
_ROW = 7.0
_HIGH = 238.0
_HEAD = 8.6
_LETTERS = 3.0
_MOST_STATIONS = 17

HOW = (
    "Stretch a line along the slab from the butt. Stand at the butt: left and right are yours.",
    "Measure square from the line to each edge; an edge beyond the line takes a minus.",
    "Top is the face you see, sound wood only; bark: to the inside of the bark; grain: + left.",
    "Flaws: knot, check, shake, split, rot, sapwood, bark, pith, hole, insect; "
    "face top, bottom or both.",
)


def tape_form_sheet(form: TapeForm, heading: Heading, paper: str = "A4") -> Sheet:
    """The blank as a sheet that matches the file: same headings, same order.

    Raises
    ------
    Misused
        where the form has more stations than a sheet holds; measure so long a slab in two.
    """
    if len(form.stations) > _MOST_STATIONS:
        raise Misused(
            f"a form of {len(form.stations)} stations: a sheet holds {_MOST_STATIONS}; "
            "measure the slab in two parts"
        )
    items: list[Item] = []
    y = _fields(items, form.lines, 0.0)
    y = _figure(items, y - 2.0)
    for line in HOW:
        y -= 4.2
        items.append(Text(line, (0.0, y), 2.9, Face.WORDS))
    lines = len(form.stations) + form.flaws
    row = min(_ROW, (_HIGH + y - 7.0 - 2 * _HEAD) / lines)
    y = _ruled(items, form.columns, form.stations, y - 3.5, row)
    _ruled(items, form.flaw_columns, [""] * form.flaws, y - 3.5, row)
    name = dict(form.lines).get("slab") or "blank"
    about = "A form for measuring a slab by tape: edges, thickness, grain and flaws by station."
    title = f"slab {name} by tape" if name != "blank" else "a slab by tape"
    return titled(
        f"tape-{name}".replace("/", "-"),
        items,
        heading,
        title,
        FULL,
        paper=paper,
        lying=False,
        about=about,
    )


def _fields(items: list[Item], lines: Sequence[tuple[str, str]], y: float) -> float:
    """Names with a line to write on, in two columns; what is known is printed."""
    half = _WIDTH / 2
    for k, (key, value) in enumerate(lines):
        x, base = (k % 2) * half, y - (k // 2 + 1) * _FIELD
        items.append(Text(key, (x, base), _LETTERS, Face.WORDS))
        items.append(path([(x + 25.0, base - 0.8), (x + half - 5.0, base - 0.8)], EDGE))
        if value:
            items.append(Text(value, (x + 26.5, base), 3.6, Face.FIGURES))
    return y - (len(lines) + 1) // 2 * _FIELD - 2.0


def _figure(items: list[Item], y: float) -> float:
    """What is measured, in a small picture."""
    middle = y - 14.0
    x = np.linspace(22.0, 160.0, 70)
    left = middle + 9.5 + 2.2 * np.sin((x - 22.0) / 40.0)
    right = middle - 8.5 + 2.6 * np.sin((x - 22.0) / 46.0)
    items.append(path(np.vstack([np.c_[x, right], np.c_[x, left][::-1]]), SEEN, closed=True))
    bark = np.vstack([np.c_[x, right - 2.2], np.c_[x, left + 2.2][::-1]])
    items.append(path(bark, WANE, closed=True))
    items.append(path(np.c_[x, middle + 3.2 + 1.8 * np.sin((x - 10.0) / 42.0)], GRAIN))
    items.append(path([(10.0, middle), (172.0, middle)], CENTRE))
    at = 78.0
    for edge, word, rise in ((left, "left", 1.0), (right, "right", -1.0)):
        end = float(np.interp(at, x, edge))
        items.append(path([(at, middle), (at, end)], DIMENSION))
        spot = (at + 1.5, middle + (6.0 if rise > 0 else -3.2))
        items.append(Text(word, spot, 2.9, Face.WORDS, rise="middle", halo=Tone.WHITE))
    for words, spot in (("butt", (9.0, middle + 1.4)), ("head", (164.0, middle + 1.4))):
        items.append(Text(words, spot, 2.9, Face.WORDS))
    items.append(path([(22.0, middle - 13.4), (at, middle - 13.4)], DIMENSION))
    items.append(path([(at, middle - 12.2), (at, middle - 14.6)], DIMENSION))
    items.append(path([(22.0, middle - 12.2), (22.0, middle - 14.6)], DIMENSION))
    station = Text("station", (44.0, middle - 17.0), 2.9, Face.WORDS, "middle")
    line = Text("base line", (118.0, middle - 4.6), 2.9, Face.WORDS, halo=Tone.WHITE)
    items += [station, line]
    return middle - 18.0


def _ruled(
    items: list[Item], heads: Sequence[str], rows: Sequence[str], y: float, row: float
) -> float:
    """A table to write in, its first column filled in where it is known."""
    first = 24.0 if len(heads) > 7 else _WIDTH / len(heads)
    rest = (_WIDTH - first) / (len(heads) - 1)
    edges = [0.0, *(first + rest * k for k in range(len(heads)))]
    for k, head in enumerate(heads):
        words = head.rsplit(" ", 1)
        for n, word in enumerate(words):
            base = y - 3.4 - 3.6 * n - (1.8 if len(words) == 1 else 0.0)
            said = shortened(word, _LETTERS, Face.WORDS_BOLD, edges[k + 1] - edges[k] - 1.5)
            items.append(Text(said, (edges[k] + 1.0, base), _LETTERS, Face.WORDS_BOLD))
    low = y - _HEAD - row * len(rows)
    items.append(path([(0.0, y - _HEAD), (_WIDTH, y - _HEAD)], SEEN))
    for n, said in enumerate(rows):
        base = y - _HEAD - row * (n + 1)
        items.append(path([(0.0, base), (_WIDTH, base)], RULE))
        if said:
            items.append(Text(lettered(said), (1.0, base + 2.0), 3.4, Face.FIGURES))
    items += [path([(x, y), (x, low)], RULE) for x in edges]
    items.append(path([(0.0, y), (_WIDTH, y), (_WIDTH, low), (0.0, low)], EDGE, closed=True))
    return low
