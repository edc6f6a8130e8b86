"""Whether there is enough, as a picture: what the drawn piles lacked, and how measuring narrows it.

Above stands the answer in its one sentence. On the left the piles drawn, by how many timbers each
was short; those that give every timber are filled. On the right between what chances the answer
will lie 8 times in 10 once more slabs are measured.
"""

from __future__ import annotations

import numpy as np

from futtock.drawing.heading import Heading, Scale, titled
from futtock.layout.enough import Enough
from futtock.sheet.items import Face, Item, Point, Text, path
from futtock.sheet.letters import wrapped
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import BUTT, EDGE, RULE, SEEN, Tone

_WIDE, _HIGH = 112.0, 78.0
_APART = 34.0
_BARS = 16


def enough_sheet(answer: Enough, heading: Heading, paper: str = "A4") -> Sheet:
    """The picture on a titled sheet; without a chance (nothing measured) the sentence alone."""
    items: list[Item] = []
    y = _HIGH + 16.0
    for line in reversed(wrapped(answer.says, 3.6, Face.WORDS, 2 * _WIDE + _APART)):
        items.append(Text(line, (0.0, y), 3.6))
        y += 5.2
    if len(answer.short) and answer.wanted:
        items += _lacking(answer)
        items += _narrowing(answer, _WIDE + _APART)
    return titled(
        "enough",
        items,
        heading,
        "Is there enough?",
        Scale(1, "not to scale"),
        paper=paper,
        about=answer.says,
    )


def bars(short: np.ndarray) -> list[tuple[int, int, int]]:
    """(from, to, piles) by timbers short: none on its own, the rest in even steps."""
    most = int(short.max(initial=0))
    step = max(1, -(-most // _BARS))
    out = [(0, 0, int((short == 0).sum()))]
    for low in range(1, most + 1, step):
        high = min(low + step - 1, most)
        out.append((low, high, int(((short >= low) & (short <= high)).sum())))
    return out


def _lacking(answer: Enough) -> list[Item]:
    rows = bars(answer.short)
    top = max(n for _, _, n in rows)
    wide = _WIDE / len(rows)
    out: list[Item] = []
    for k, (low, high, n) in enumerate(rows):
        x0, x1 = k * wide + 0.12 * wide, (k + 1) * wide - 0.12 * wide
        tall = n / top * (_HIGH - 6.0)
        if n:
            ring = [(x0, 0.0), (x1, 0.0), (x1, tall), (x0, tall)]
            out.append(path(ring, SEEN, True, Tone.OAK_DEEP if low == 0 else None))
            middle = 0.5 * (x0 + x1)
            out.append(Text(f"{n}", (middle, tall + 1.4), 3.0, Face.FIGURES, "middle"))
        said = f"{low}" if low == high else f"{low} to {high}"
        if low == high or k % 2 or wide > 14.0:
            out.append(Text(said, (0.5 * (x0 + x1), -4.6), 3.0, Face.FIGURES, "middle"))
    out.append(path([(0.0, 0.0), (_WIDE, 0.0)], SEEN))
    title = f"{len(answer.short)} piles drawn, by how many of {answer.wanted} timbers they lack"
    out.append(Text(title, (0.0, _HIGH + 2.5), 3.2, tone=Tone.PENCIL))
    words = "timbers short; filled: piles that give all as first laid"
    out.append(Text(words, (_WIDE / 2, -10.0), 3.0, Face.WORDS, "middle", tone=Tone.PENCIL))
    return out


def _narrowing(answer: Enough, x0: float) -> list[Item]:
    steps = answer.narrowing.steps
    last = steps[-1].further if steps else 1
    out: list[Item] = []
    for percent in (0, 25, 50, 75, 100):
        y = percent / 100 * _HIGH
        out.append(path([(x0, y), (x0 + _WIDE, y)], RULE if percent else SEEN))
        out.append(Text(f"{percent}", (x0 - 2.0, y), 3.0, Face.FIGURES, "end", "middle"))
    out.append(path([(x0, 0.0), (x0, _HIGH)], SEEN))

    def place(further: int, chance: float) -> Point:
        return (x0 + further / last * (_WIDE - 6.0), chance * _HIGH)

    now = answer.probability
    for step in steps:
        x, low = place(step.further, step.low)
        high = place(step.further, step.high)[1]
        ring = [(x - 1.6, low), (x + 1.6, low), (x + 1.6, high), (x - 1.6, high)]
        out.append(path(ring, EDGE, True, Tone.OAK))
        out.append(Text(f"{step.further}", (x, -4.6), 3.0, Face.FIGURES, "middle"))
    out.append(path([place(0, now), (x0 + _WIDE, now * _HIGH)], BUTT if not steps else EDGE))
    out.append(Text("now", (x0 + 1.5, now * _HIGH + 1.5), 3.0, Face.WORDS, halo=Tone.WHITE))
    title = "chance in 100, told when so many more are measured, 8 times in 10"
    out.append(Text(title, (x0, _HIGH + 2.5), 3.2, tone=Tone.PENCIL))
    words = "further slabs measured" if steps else "all slabs are measured"
    middle = x0 + _WIDE / 2
    out.append(Text(words, (middle, -10.0), 3.0, Face.WORDS, "middle", tone=Tone.PENCIL))
    return out
