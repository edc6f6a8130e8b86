"""The buying list as a sheet for the timber merchant: each shape wanted, drawn to scale."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from futtock.drawing.figures import length
from futtock.drawing.heading import Heading, Scale, room_on, titled
from futtock.layout.buying import BuyingList, Wanted
from futtock.sheet.items import Face, Item, Text, path
from futtock.sheet.letters import shortened, wrapped
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import DIMENSION, FREE, RULE, SEEN, THIN, Tone

Array = NDArray[np.float64]

SHAPES_A_PAGE = 4
_WIDE = 178.0
_HIGH = 50.0
_PICTURE = 112.0


def buying_sheets(
    buying: BuyingList, heading: Heading, species: str, paper: str = "A4"
) -> list[Sheet]:
    """The pages: on the first what is asked for in a sentence, then the shapes, most wanted first.

    A list of nothing is one page that says so.
    """
    parts = [
        buying.wanted[k : k + SHAPES_A_PAGE] for k in range(0, len(buying.wanted), SHAPES_A_PAGE)
    ] or [()]
    return [
        _page(part, k, len(parts), buying, heading, species, paper) for k, part in enumerate(parts)
    ]


def _page(
    part: Sequence[Wanted],
    number: int,
    pages: int,
    buying: BuyingList,
    heading: Heading,
    species: str,
    paper: str,
) -> Sheet:
    out: list[Item] = [
        Text(f"Wanted: {species}", (0.0, 0.0), 8.0, Face.FIGURES_BOLD, rise="top"),
        Text(f"{buying.slabs} slabs", (_WIDE, 0.0), 8.0, Face.FIGURES_BOLD, "end", "top"),
    ]
    y = -11.0
    if number == 0:
        for line in wrapped(buying.says, 3.2, Face.WORDS, _WIDE):
            y -= 4.4
            out.append(Text(line, (0.0, y), 3.2))
        for line in (
            "Sizes are of sound wood, clear of sapwood, knots, checks and rot, within the bark.",
            "The grain must follow the broken line: a crook is no use where its bend is sawn into "
            "straight wood.",
        ):
            for piece in wrapped(line, 3.2, Face.WORDS, _WIDE):
                y -= 4.4
                out.append(Text(piece, (0.0, y), 3.2))
    y -= 5.0
    longest = max((float(np.ptp(w.outline_mm[:, 0])) for w in buying.wanted), default=1.0)
    highest = max((float(np.ptp(w.outline_mm[:, 1])) for w in buying.wanted), default=1.0)
    ratio = max(longest / (_PICTURE - 8.0), highest / (_HIGH - 18.0), 1.0)
    for w in part:
        out += _shape(w, y, ratio, heading)
        y -= _HIGH
    out.append(path([(0.0, y), (_WIDE, y)], RULE))
    # hold the page to one width and height, so that all pages lie alike
    room = room_on(paper, lying=False)
    out.append(Text(" ", (0.0, -room[1] + 6.0), 2.0))
    name = "buying" if pages == 1 else f"buying-{number + 1}"
    about = f"{buying.slabs} slabs of {len(buying.wanted)} shapes to get, each drawn to scale."
    title = "Buying list" if pages == 1 else f"Buying list, {number + 1} of {pages}"
    scale = Scale(ratio, f"all shapes 1 : {ratio:.0f}")
    return titled(name, out, heading, title, scale, paper=paper, lying=False, about=about)


def _shape(w: Wanted, y: float, ratio: float, heading: Heading) -> list[Item]:
    """One shape: how many, its picture with its length, breadth and sweep, and the figures."""
    show = heading.show
    out: list[Item] = [
        path([(0.0, y), (_WIDE, y)], RULE),
        Text(f"{w.count}", (0.0, y - 4.0), 11.0, Face.FIGURES_BOLD, rise="top"),
    ]
    low, high = w.outline_mm.min(0), w.outline_mm.max(0)
    x0 = 18.0
    middle = y - 5.0 - (_HIGH - 18.0) / 2.0
    back = np.array([x0, middle]) - np.array([low[0], 0.5 * (low[1] + high[1])]) / ratio

    def put(p: Array) -> Array:
        placed: Array = p / ratio + back
        return placed

    ring, line = put(w.outline_mm), put(w.grain_mm)
    out += [
        path(ring, SEEN, True, Tone.OAK),
        path(line, FREE),
        path([line[0], line[-1]], THIN),
    ]
    foot = float(ring[:, 1].min()) - 3.2
    ends = (float(line[0, 0]), float(line[-1, 0]))
    out += [
        path([(ends[0], foot), (ends[1], foot)], DIMENSION),
        path([(ends[0], foot - 1.2), (ends[0], foot + 1.2)], DIMENSION),
        path([(ends[1], foot - 1.2), (ends[1], foot + 1.2)], DIMENSION),
        Text(
            length(w.length_mm, show),
            (0.5 * (ends[0] + ends[1]), foot - 1.0),
            3.2,
            Face.FIGURES,
            "middle",
            "top",
        ),
    ]
    x = x0 + _PICTURE
    rows = [
        ("long", length(w.length_mm, show)),
        ("wide along the sweep", length(w.width_mm, show)),
        ("sweep of the grain", length(w.sweep_mm, show) if w.sweep_mm >= 10.0 else "straight"),
        ("thick, not less than", length(w.thickness_mm, show)),
    ]
    if w.cost is not None:
        rows.append(("cost about", f"{w.cost:,.0f}"))
    base = y - 4.5
    for label, words in rows:
        base -= 4.0
        out.append(Text(label, (x, base), 2.7, tone=Tone.PENCIL))
        base -= 4.3
        out.append(Text(words, (x, base), 3.8, Face.FIGURES_BOLD))
    marks = ", ".join(w.marks)
    said = shortened(f"for {marks}", 2.7, Face.FIGURES, _PICTURE - 4.0)
    out.append(Text(said, (x0, y - _HIGH + 2.2), 2.7, tone=Tone.PENCIL))
    return out
