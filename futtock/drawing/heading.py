"""What stands on every sheet: border, title block, check length; and the choice of scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from futtock.errors import Misused
from futtock.measure import Style
from futtock.sheet.check import INCH_MM, check_line
from futtock.sheet.extent import box_of
from futtock.sheet.items import Face, Item, Move, Path, Text, moved, path
from futtock.sheet.letters import shortened, width_mm
from futtock.sheet.sheet import PAPERS, Sheet
from futtock.sheet.style import EDGE, SEEN, THIN, Tone

BLOCK_MM = 16.0
"""Height of the title block."""
CHECK_MM = 12.0
"""Height of the strip above it that holds the check length."""
_MARGIN = 10.0


@dataclass(frozen=True, slots=True)
class Heading:
    """What the title block says, apart from the sheet itself.

    ``date`` is the date of the data, as text: no drawing reads a clock. ``revision`` is the short
    code of the lines and settings behind the print, by which a stale one is known. ``show`` is how
    lengths are lettered. ``link`` is where the code on a print leads, with ``{mark}`` and
    ``{revision}`` in it; without one the code says these two alone.
    """

    vessel: str
    date: str = ""
    revision: str = ""
    show: Style = "imperial"
    link: str = ""


@dataclass(frozen=True, slots=True)
class Scale:
    """A drawing scale: ``ratio`` millimetres of ship to one of paper, and how it is said."""

    ratio: float
    words: str


_IMPERIAL = (
    Scale(1, "full size"),
    Scale(2, "6 in to the foot"),
    Scale(4, "3 in to the foot"),
    Scale(8, "1½ in to the foot"),
    Scale(12, "1 in to the foot"),
    Scale(16, "¾ in to the foot"),
    Scale(24, "½ in to the foot"),
    Scale(32, "⅜ in to the foot"),
    Scale(48, "¼ in to the foot"),
    Scale(64, "³⁄₁₆ in to the foot"),
    Scale(96, "⅛ in to the foot"),
    Scale(192, "¹⁄₁₆ in to the foot"),
)
_METRIC = (Scale(1, "full size"), *(Scale(r, f"1 : {r}") for r in (2, 5, 10, 20, 25, 50, 100, 200)))
FULL = _METRIC[0]


def scales(style: Style) -> tuple[Scale, ...]:
    """The scales the trade uses, largest drawing first."""
    return _IMPERIAL if style == "imperial" else _METRIC


def scale_to_fit(real_mm: tuple[float, float], room_mm: tuple[float, float], style: Style) -> Scale:
    """The largest trade scale at which something of a real size fits in the room."""
    for scale in scales(style):
        if real_mm[0] / scale.ratio <= room_mm[0] and real_mm[1] / scale.ratio <= room_mm[1]:
            return scale
    return scales(style)[-1]


def room_on(paper: str, lying: bool = True) -> tuple[float, float]:
    """Width and height in mm that a titled paper leaves for the drawing."""
    w, h = _paper(paper, lying)
    return (w - 2 * _MARGIN - 8.0, h - 2 * _MARGIN - BLOCK_MM - CHECK_MM - 8.0)


def _paper(paper: str, lying: bool) -> tuple[float, float]:
    if paper not in PAPERS:
        raise Misused(f"paper {paper!r}: expected one of {', '.join(PAPERS)}")
    w, h = PAPERS[paper]
    return (h, w) if lying else (w, h)


def titled(
    name: str,
    items: Sequence[Item],
    heading: Heading,
    sheet: str,
    scale: Scale,
    *,
    paper: str | None = None,
    lying: bool = True,
    about: str = "",
    notes: Sequence[str] = (),
    inches: bool = False,
) -> Sheet:
    """The drawing inside a border, with title block and check length beneath it.

    Parameters
    ----------
    items
        The drawing, in its own millimetres of paper; its origin is kept.
    sheet
        What the sheet is called in the title block.
    paper
        A paper to centre the drawing on (see ``PAPERS``); None: as large as the drawing needs.
    notes
        Lines of words at the right of the check length.
    inches
        A check line of 4 in beside that of 100 mm, for what is printed full size.
    """
    box = box_of(items) or (0.0, 0.0, 0.0, 0.0)
    w, h = box[2] - box[0], box[3] - box[1]
    foot = BLOCK_MM + max(CHECK_MM, 4.0 + 3.6 * len(notes))
    if paper is None:
        size = (
            max(w + 8.0, 400.0 if inches else 190.0) + 2 * _MARGIN,
            h + 2 * _MARGIN + foot + 12.0,
        )
    else:
        size = _paper(paper, lying)
    inner = (size[0] - 2 * _MARGIN, size[1] - 2 * _MARGIN)
    ox = _MARGIN + (inner[0] - w) / 2 - box[0]
    oy = _MARGIN + foot + (inner[1] - foot - h) / 2 - box[1]
    origin = (round(ox, 2), round(oy, 2))
    size = (round(size[0], 2), round(size[1], 2))
    frame = _border(size, heading, sheet, scale, notes, inches)
    back = Move(-origin[0], -origin[1])
    title = f"{heading.vessel}: {sheet}" if heading.vessel else sheet
    return Sheet(name, size, origin, (*items, *(moved(i, back) for i in frame)), title, about)


def bare(
    name: str, items: Sequence[Item], title: str, about: str = "", margin_mm: float = 3.0
) -> Sheet:
    """The drawing alone, for a page that has its own heading."""
    from futtock.sheet.sheet import fitted

    return fitted(name, items, margin_mm, title=title, about=about)


def _border(
    size: tuple[float, float],
    heading: Heading,
    sheet: str,
    scale: Scale,
    notes: Sequence[str],
    inches: bool,
) -> list[Item]:
    w, h = size
    m = _MARGIN
    out: list[Item] = [
        _rect(m, m, w - m, h - m, SEEN),
        _rect(m - 2, m - 2, w - m + 2, h - m + 2, THIN),
    ]
    out += title_block((m, m), w - 2 * m, heading, sheet, scale)
    check = m + BLOCK_MM + 2.0
    out.append(check_line((m + 5, check), 100.0, "100 mm: measure before use"))
    x = m + 112
    if inches:
        out.append(check_line((m + 112, check), 4 * INCH_MM, "4 in"))
        x = m + 220
    for k, note in enumerate(notes):
        line = shortened(note, 2.7, Face.FIGURES, w - m - x - 3)
        out.append(Text(line, (x, check + 3.6 * (len(notes) - 1 - k) + 1.0), 2.7))
    return out


def title_block(
    at_mm: tuple[float, float], width: float, heading: Heading, sheet: str, scale: Scale
) -> list[Item]:
    """Vessel, sheet, scale, date, revision in one row; its lower left corner at ``at_mm``."""
    x, y = at_mm
    parts = [
        ("vessel", heading.vessel, 1.25),
        ("sheet", sheet, 2.1),
        ("scale", scale.words, 1.0),
        ("date", heading.date or "none given", 0.85),
        ("revision", heading.revision or "none", 0.7),
    ]
    total = sum(p[2] for p in parts)
    out: list[Item] = [_rect(x, y, x + width, y + BLOCK_MM, SEEN, Tone.WHITE)]
    for k, (label, words, share) in enumerate(parts):
        wide = width * share / total
        if k:
            out.append(path([(x, y), (x, y + BLOCK_MM)], THIN, layer="TITLE"))
        out.append(Text(label, (x + 2.5, y + BLOCK_MM - 4.4), 2.6, tone=Tone.PENCIL, layer="TITLE"))
        size = 4.2
        while size > 2.6 and width_mm(words, size, Face.FIGURES_BOLD) > wide - 5:
            size -= 0.2
        said = shortened(words, size, Face.FIGURES_BOLD, wide - 5)
        out.append(Text(said, (x + 2.5, y + 3.6), size, Face.FIGURES_BOLD, layer="TITLE"))
        x += wide
    return out


def _rect(
    x0: float, y0: float, x1: float, y1: float, stroke: object = EDGE, fill: Tone | None = None
) -> Path:
    ring = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    return path(ring, stroke, closed=True, fill=fill, layer="TITLE")  # type: ignore[arg-type]
