"""Which drawing shows which thing; kept here, so that what is computed need not know drawing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import singledispatch
from pathlib import Path
from typing import Any

from futtock.bench.cuts import SawSheet
from futtock.drawing.body import frames_body_picture
from futtock.drawing.frame import frame_picture
from futtock.drawing.lines_plan import lines_data, lines_picture
from futtock.drawing.mould import mould_group
from futtock.drawing.saw_sheet import saw_page
from futtock.drawing.slab import slab_items, slab_picture
from futtock.errors import Misused
from futtock.framing.frame import Frame, Framing
from futtock.job.title import heading
from futtock.job.whole import Job
from futtock.layout.placement import Layout
from futtock.lines.fair import Fairing
from futtock.moulds.mould import Mould
from futtock.sheet.extent import box_of
from futtock.sheet.items import Face, Group, Item, Move, Text, moved
from futtock.sheet.sheet import Sheet, fitted
from futtock.sheet.svg import svg
from futtock.stock.slab import Slab

_WIDE_MM = 260.0
_GAP_MM = 6.0
_RATIO = 40.0


@dataclass(frozen=True)
class Picture:
    """A drawing for a page or a notebook, as SVG."""

    svg: str
    about: str

    def _repr_svg_(self) -> str:
        return self.svg

    def save(self, path: Path | str) -> Path:
        """Write it as an SVG file."""
        Path(path).write_text(self.svg, encoding="utf-8")
        return Path(path)


def picture(job: Job, thing: Any) -> Picture:
    """The picture of a fairing, a framing, a frame, a mould, a saw sheet, a slab or a layout.

    Raises
    ------
    Misused
        Where the thing is none of these.
    """
    sheet = drawn(thing, job)
    return Picture(svg(sheet, "picture"), sheet.about or sheet.title)


@singledispatch
def drawn(thing: Any, job: Job) -> Sheet:
    """The sheet that shows a thing; other types are added with ``drawn.register``."""
    raise Misused(f"there is no picture of a {type(thing).__name__}.")


@drawn.register
def _(thing: Fairing, job: Job) -> Sheet:
    return lines_picture(lines_data(thing.hull, job.table), heading(job))


@drawn.register
def _(thing: Framing, job: Job) -> Sheet:
    return frames_body_picture(thing.frames, heading(job))


@drawn.register
def _(thing: Frame, job: Job) -> Sheet:
    return frame_picture(thing, heading(job))


@drawn.register
def _(thing: Mould, job: Job) -> Sheet:
    return mould_group(thing, heading(job))


@drawn.register
def _(thing: SawSheet, job: Job) -> Sheet:
    mould = next(m for m in job.moulds if m.mark == thing.mark)
    return saw_page(thing, mould, heading(job))[0]


@drawn.register
def _(thing: Slab, job: Job) -> Sheet:
    return slab_picture(thing, (), {})


@drawn.register
def _(thing: Layout, job: Job) -> Sheet:
    """Every slab begun with what lies on it, side by side at one scale."""
    items = tuple(_side_by_side(_slabs_begun(thing, job)))
    about = f"{len(thing.placements)} timbers on {thing.slabs_used} slabs."
    return fitted("layout", items, 3.0, title="Layout", about=about)


def _slabs_begun(layout: Layout, job: Job) -> Iterator[Group]:
    moulds = {m.mark: m for m in job.moulds}
    for name in sorted({p.slab for p in layout.placements}):
        here = [p for p in layout.placements if p.slab == name]
        wood = slab_items(job.rack[name], here, moulds, _RATIO, None)
        box = box_of(wood) or (0.0, 0.0, 0.0, 0.0)
        below = (round((box[0] + box[2]) / 2, 2), round(box[1] - 4.0, 2))
        label = Text(name, below, 2.8, Face.FIGURES_BOLD, anchor="middle")
        yield Group((*wood, label), name=name)


def _side_by_side(groups: Iterator[Group]) -> Iterator[Item]:
    """Groups set in rows from the top left corner, as words are on a page."""
    x = y = deep = 0.0
    for group in groups:
        box = box_of([group])
        if box is None:
            continue
        wide, high = box[2] - box[0], box[3] - box[1]
        if x and x + wide > _WIDE_MM:
            x, y, deep = 0.0, y - deep - _GAP_MM, 0.0
        yield moved(group, Move(x - box[0], y - high - box[1]))
        x, deep = x + wide + _GAP_MM, max(deep, high)
