"""Words, tables and figures flowed over pages, with running heads, page numbers and contents."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from futtock.errors import Misused
from futtock.sheet.items import Face, Group, Item, Move, Text, moved, path
from futtock.sheet.letters import shortened, width_mm, wrapped
from futtock.sheet.sheet import PAPERS, Sheet
from futtock.sheet.style import EDGE, RULE, Tone
from futtock.sheet.table import Table, set_table


@dataclass(frozen=True, slots=True)
class Head:
    """A heading; ``level`` 0 opens a chapter on a new page, 1 a section."""

    words: str
    level: int = 0


@dataclass(frozen=True, slots=True)
class Para:
    """A paragraph; ``mark`` stands before it (a dash, a number)."""

    words: str
    mark: str = ""
    bold: bool = False


@dataclass(frozen=True, slots=True)
class Figure:
    """A sheet set into the page, made smaller where it is too large, with words under it."""

    sheet: Sheet
    words: str = ""


@dataclass(frozen=True, slots=True)
class Break:
    """A new page, unless one has just begun."""


Block = Head | Para | Figure | Table | Break


@dataclass(frozen=True, slots=True)
class Flowed:
    """Pages, and the contents: page index -> (words, depth), fit for the PDF writer's bookmarks."""

    pages: tuple[Sheet, ...]
    contents: dict[int, tuple[str, int]]


@dataclass(frozen=True, slots=True)
class Look:
    """Measures of a page."""

    paper: str = "A4"
    left_mm: float = 16.0
    right_mm: float = 16.0
    top_mm: float = 22.0
    foot_mm: float = 20.0
    body_mm: float = 3.5
    table_mm: float = 2.7


def flowed(
    name: str,
    title: str,
    blocks: Sequence[Block],
    *,
    running: str = "",
    foot: str = "",
    look: Look | None = None,
    contents: bool = True,
) -> Flowed:
    """The blocks on pages, after a contents page.

    Parameters
    ----------
    title
        The document's title, at the head of the first page.
    running
        Words at the head of each page; the chapter stands opposite.
    foot
        Words at the foot, before the page's number.
    """
    if not blocks:
        raise Misused("a book needs something in it")
    own = look or Look()
    body = _Setter(own)
    for block in blocks:
        body.set(block)
    body.close()
    front = _contents(own, title, body.heads, contents)
    shift = len(front)
    pages = [*front, *(p.items for p in body.pages)]
    chapters = ["Contents"] * shift + [p.chapter for p in body.pages]
    total = len(pages)
    w, h = PAPERS[own.paper]
    made = []
    for k, (items, chapter) in enumerate(zip(pages, chapters, strict=True)):
        frame = _frame(own, running, chapter if k >= shift else "", foot, k + 1, total)
        label = f"{title}, page {k + 1}"
        made.append(Sheet(f"{name}-{k + 1}", (w, h), (0.0, 0.0), (*items, *frame), label))
    marks: dict[int, tuple[str, int]] = {0: (title, 0)}
    for words, level, page in body.heads:
        # a page has one bookmark: the first heading of least depth on it
        at = page + shift
        if at not in marks or level < marks[at][1]:
            marks[at] = (words, level)
    return Flowed(tuple(made), marks)


@dataclass(slots=True)
class _Page:
    items: list[Item]
    chapter: str


class _Setter:
    def __init__(self, look: Look) -> None:
        self.look = look
        w, h = PAPERS[look.paper]
        self.wide = w - look.left_mm - look.right_mm
        self.top = h - look.top_mm
        self.bottom = look.foot_mm
        self.pages: list[_Page] = []
        self.heads: list[tuple[str, int, int]] = []
        self.chapter = ""
        self.items: list[Item] = []
        self.y = self.top
        self.fresh = True

    def close(self) -> None:
        if not self.fresh:
            self.turn()

    def turn(self) -> None:
        self.pages.append(_Page(self.items, self.chapter))
        self.items = []
        self.y = self.top
        self.fresh = True

    def need(self, height: float) -> None:
        if self.y - height < self.bottom and not self.fresh:
            self.turn()

    def set(self, block: Block) -> None:
        if isinstance(block, Break):
            if not self.fresh:
                self.turn()
        elif isinstance(block, Head):
            self.head(block)
        elif isinstance(block, Para):
            self.para(block)
        elif isinstance(block, Figure):
            self.figure(block)
        else:
            self.table(block)

    def head(self, block: Head) -> None:
        size = (6.4, 4.6, 3.8)[min(block.level, 2)]
        if block.level == 0:
            if not self.fresh:
                self.turn()
            self.chapter = block.words
        # a heading never stands alone at the foot of a page
        self.need(size * 2.2 + 26.0)
        if not self.fresh:
            self.y -= size * 0.9
        for line in wrapped(block.words, size, Face.WORDS_BOLD, self.wide):
            self.y -= size * 1.15
            at = (self.look.left_mm, self.y)
            self.items.append(Text(line, at, size, Face.WORDS_BOLD))
        self.y -= size * 0.5
        self.fresh = False
        self.heads.append((block.words, block.level, len(self.pages)))

    def para(self, block: Para) -> None:
        size = self.look.body_mm
        face = Face.WORDS_BOLD if block.bold else Face.WORDS
        indent = width_mm(block.mark + " ", size, face) + 0.6 if block.mark else 0.0
        for k, line in enumerate(wrapped(block.words, size, face, self.wide - indent)):
            self.need(size * 1.45)
            self.y -= size * 1.45
            if k == 0 and block.mark:
                self.items.append(Text(block.mark, (self.look.left_mm, self.y), size, face))
            self.items.append(Text(line, (self.look.left_mm + indent, self.y), size, face))
            self.fresh = False
        self.y -= size * 0.55

    def figure(self, block: Figure) -> None:
        w, h = block.sheet.size_mm
        caption = 6.0 if block.words else 0.0
        tall = self.top - self.bottom - caption - 14.0
        scale = min(1.0, self.wide / w, tall / h)
        turn = 0.0
        if scale < 0.75 and min(1.0, self.wide / h, tall / w) > 1.2 * scale:
            # a long drawing is read from the right rather than made too small to read
            turn, scale = 90.0, min(1.0, self.wide / h, tall / w)
            w, h = h, w
        self.need(h * scale + caption + 2.0)
        self.y -= h * scale + 1.0
        x = self.look.left_mm + (self.wide - w * scale) / 2
        ox, oy = block.sheet.origin_mm
        right = w * scale if turn else 0.0
        at = Move(x + right, self.y, turn, scale, scale).point((ox, oy))
        by = Move(at[0], at[1], turn, scale, scale)
        drawn = tuple(moved(i, by) for i in block.sheet.items)
        self.items.append(Group(drawn, name=block.sheet.name, kind="figure"))
        if block.words:
            self.y -= 4.6
            said = shortened(block.words, 2.9, Face.FIGURES, self.wide)
            self.items.append(Text(said, (self.look.left_mm, self.y), 2.9, tone=Tone.PENCIL))
            self.y -= 1.4
        self.fresh = False

    def table(self, block: Table) -> None:
        size = self.look.table_mm
        line = size * 1.55
        k = 0
        title = block.title
        while True:
            above = line * (2 if title else 1)
            self.need(above + line * min(3, max(len(block.rows) - k, 1)) + 1.0)
            room = self.y - self.bottom - above - 1.0
            n = max(int(room / line), 1)
            part = Table(block.head, block.rows, block.align, title)
            rows = slice(k, k + n)
            at = (self.look.left_mm, self.y - 1.0)
            items, tall = set_table(part, at, size, self.wide, rows)
            self.items += items
            self.y -= tall + 1.0
            self.fresh = False
            k += n
            if k >= len(block.rows):
                break
            title = f"{block.title}, continued" if block.title else ""
            self.turn()
        self.y -= size


def _frame(look: Look, running: str, chapter: str, foot: str, page: int, total: int) -> list[Item]:
    w, h = PAPERS[look.paper]
    left, right = look.left_mm, w - look.right_mm
    head, low = h - look.top_mm + 6.0, look.foot_mm - 6.0
    half = (right - left) * 0.55
    return [
        path([(left, head), (right, head)], RULE),
        Text(
            shortened(running, 2.9, Face.FIGURES_BOLD, half),
            (left, head + 1.6),
            2.9,
            Face.FIGURES_BOLD,
        ),
        Text(
            shortened(chapter, 2.9, Face.FIGURES, right - left - half - 4),
            (right, head + 1.6),
            2.9,
            anchor="end",
        ),
        path([(left, low), (right, low)], RULE),
        Text(
            shortened(foot, 2.7, Face.FIGURES, right - left - 24),
            (left, low - 4.0),
            2.7,
            tone=Tone.PENCIL,
        ),
        Text(f"{page} of {total}", (right, low - 4.0), 3.2, Face.FIGURES_BOLD, "end"),
    ]


def _contents(
    look: Look, title: str, heads: list[tuple[str, int, int]], wanted: bool
) -> list[list[Item]]:
    """Contents pages; how many there are is found first, since it moves every number."""
    if not wanted:
        return []
    w, h = PAPERS[look.paper]
    rows = [r for r in heads if r[1] <= 1]
    top = h - look.top_mm
    step = 5.2
    first = int((top - 26.0 - look.foot_mm) / step)
    later = int((top - 6.0 - look.foot_mm) / step)
    pages = 1
    while first + later * (pages - 1) < len(rows):
        pages += 1
    out: list[list[Item]] = []
    k = 0
    for p in range(pages):
        items: list[Item] = []
        y = top
        if p == 0:
            for line in wrapped(title, 8.0, Face.WORDS_BOLD, w - look.left_mm - look.right_mm)[:2]:
                y -= 9.0
                items.append(Text(line, (look.left_mm, y), 8.0, Face.WORDS_BOLD))
            y = top - 22.0
            items.append(path([(look.left_mm, y + 1.0), (w - look.right_mm, y + 1.0)], EDGE))
        for words, level, page in rows[k : k + (first if p == 0 else later)]:
            y -= step
            face = Face.FIGURES_BOLD if level == 0 else Face.FIGURES
            x = look.left_mm + 6.0 * level
            room = w - look.right_mm - x - 14.0
            said = shortened(words, 3.3, face, room)
            items.append(Text(said, (x, y), 3.3, face))
            number = Text(str(page + 1 + pages), (w - look.right_mm, y), 3.3, face, "end")
            items.append(number)
            begin = x + width_mm(said, 3.3, face) + 2.0
            items.append(path([(begin, y + 0.3), (w - look.right_mm - 8.0, y + 0.3)], RULE))
        k += first if p == 0 else later
        out.append(items)
    return out
