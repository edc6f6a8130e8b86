"""A mould full size: outlines of both faces, bevels on their ticks, marks, and its checks.

The sheet's own axes are the mould's: a point of the outline stands on paper where the mould has it.
Along y = 0 runs the tape line from which offsets are pricked through to plywood; corners A to D
carry the two control diagonals.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from futtock.drawing.heading import FULL, Heading, titled
from futtock.drawing.mould_checks import control_lines, controls, table_beside
from futtock.drawing.mould_look import USUAL, MouldLook
from futtock.drawing.mould_marks import (
    bevels,
    code_on_wood,
    ends,
    heel_lines,
    heel_words,
    holes,
    marks,
)
from futtock.drawing.mould_words import about, lettering, mark_on
from futtock.moulds.blank import blank
from futtock.moulds.mould import Mould
from futtock.sheet.check import INCH_MM, check_line
from futtock.sheet.extent import box_of
from futtock.sheet.items import Group, Item, path
from futtock.sheet.labels import Labels
from futtock.sheet.sheet import Sheet, fitted
from futtock.sheet.style import BEHIND, FREE, GRAIN, SEEN

NOTES = (
    "Heavy line: the face that is up. Dashed: the far face. Degrees are square to the edge:",
    "s standing, the far face lies outside the line; u under, it lies inside.",
    "Paper moves: prick A, B, C, D and the offsets through to plywood and check both diagonals.",
)


@dataclass(frozen=True)
class _Drawn:
    """One mould as it was composed: what is drawn, of that what a router marks, and its table."""

    mould: Mould
    how: tuple[Heading, MouldLook]
    items: tuple[Item, ...]
    marked: tuple[Item, ...]

    @cached_property
    def tabled(self) -> tuple[Item, ...]:
        """All that is drawn, as a group, with the table of offsets beside it."""
        group = Group(self.items, name=self.mould.mark, kind="mould")
        return (group, *table_beside(self.mould, self.how[0], self.items))


# the last mould drawn: a yard's papers want each of them alone, on a roll and in tiles in turn
_last: _Drawn | None = None


def mould_items(mould: Mould, heading: Heading, look: MouldLook = USUAL) -> list[Item]:
    """Everything that is drawn on and about one mould, full size, without border or table."""
    return list(_composed(mould, heading, look).items)


def _composed(mould: Mould, heading: Heading, look: MouldLook) -> _Drawn:
    global _last
    if _last is not None and _last.mould is mould and _last.how == (heading, look):
        return _last
    up, down = mould.outline_up_mm, mould.outline_down_mm
    labels = Labels(gap_mm=0.8)
    labels.keep_off(up, closed=True)
    labels.keep_off(down, closed=True)
    for line in control_lines(mould, look.offsets_every_mm):
        labels.keep_off(line)
    out: list[Item] = _outlines(mould)
    if look.allowance_mm > 0:
        ring = blank(mould, look.allowance_mm)
        out.insert(0, path(ring, FREE, closed=True, layer="BLANK"))
        labels.keep_off(ring, closed=True)
    out += ends(mould)
    # marks and degrees have their place at the edge; the rest of the lettering gives way to them
    marked = [
        *holes(mould, labels),
        *heel_lines(mould, labels),
        *marks(mould, labels, heading),
        *bevels(mould, labels),
        *heel_words(mould, labels),
    ]
    out += marked
    out += controls(mould, heading, labels, look.offsets_every_mm)
    out += code_on_wood(mould, heading, labels)
    said = mark_on(mould, labels)
    out += [said, *lettering(mould, heading, labels, look)]
    _last = _Drawn(mould, (heading, look), tuple(out), (*marked, said))
    return _last


def _outlines(mould: Mould) -> list[Item]:
    return [
        path(mould.outline_down_mm, BEHIND, closed=True, layer="OUTLINE-DOWN"),
        path(mould.grain_mm, GRAIN, layer="GRAIN"),
        path(mould.outline_up_mm, SEEN, closed=True, layer="OUTLINE-UP"),
    ]


def mould_group(mould: Mould, heading: Heading, look: MouldLook = USUAL) -> Sheet:
    """The mould with a table of its tape offsets, on paper just large enough: for a roll."""
    return fitted(
        mould.mark,
        _composed(mould, heading, look).tabled,
        4.0,
        title=f"{heading.vessel} {mould.mark}".strip(),
        about=about(mould),
    )


def mould_sheet(mould: Mould, heading: Heading, look: MouldLook = USUAL) -> Sheet:
    """The mould on a sheet of its own, full size, with border, title block and check lines."""
    drawn: list[Item] = list(_composed(mould, heading, look).tabled)
    box = box_of(drawn) or (0.0, 0.0, 0.0, 0.0)
    for k, (long, words) in enumerate(((100.0, "100 mm"), (4 * INCH_MM, "4 in"))):
        drawn.append(check_line((box[2] + 10 + 9 * k, box[1]), long, words, way="up"))
    return titled(
        mould.mark,
        drawn,
        heading,
        f"Mould {mould.mark}",
        FULL,
        about=about(mould),
        notes=NOTES,
        inches=True,
    )


def mould_outline(mould: Mould, heading: Heading, look: MouldLook = USUAL) -> Sheet:
    """What a router or a laser wants: outlines, grain, marks and mark, in the mould's own axes."""
    items = [*_outlines(mould), *_composed(mould, heading, look).marked]
    return fitted(mould.mark, items, 10.0, title=mould.mark, about=about(mould))
