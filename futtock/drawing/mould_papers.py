"""The papers of many moulds and frames, by several processes where that is worth their start.

Each mould's papers depend on nothing but the mould and the heading, so they are made apart from
each other and come back in the moulds' own order whatever the processes do.
"""

from __future__ import annotations

import multiprocessing
import os
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

from futtock.drawing.half_pattern import half_pattern
from futtock.drawing.heading import Heading
from futtock.drawing.mould import mould_group, mould_outline, mould_sheet
from futtock.drawing.mould_look import USUAL, MouldLook
from futtock.framing.frame import Frame
from futtock.lines.as_found import Sides
from futtock.moulds.mould import Mould
from futtock.progress import Report, quiet
from futtock.sheet.dxf import dxf
from futtock.sheet.pdf import pdf
from futtock.sheet.roll import rolled
from futtock.sheet.sheet import Sheet
from futtock.sheet.svg import svg
from futtock.sheet.tiles import tiled

_WORTH = 48  # fewer moulds than this are made sooner than a second process starts

Thing = TypeVar("Thing")
Made = TypeVar("Made")


@dataclass(frozen=True)
class MouldPapers:
    """One mould's papers: the router's DXF and SVG, the print, and the group for roll and tiles.

    ``group`` is None for a mould that is its twin turned over: the twin's print serves both.
    """

    mark: str
    dxf: bytes
    svg: bytes
    pdf: bytes
    group: Sheet | None


@dataclass(frozen=True)
class HalfPattern:
    """One frame's half pattern, or one side's, as a print and for a router; ``name`` its file's."""

    number: int
    name: str
    dxf: bytes
    pdf: bytes


@dataclass(frozen=True)
class ManyMoulds:
    """All moulds on a roll and in tiles: both documents, and the paper they take."""

    roll: bytes
    roll_m: float
    tiles: bytes
    tile_count: int


def mould_papers(mould: Mould, heading: Heading, look: MouldLook = USUAL) -> MouldPapers:
    """The papers of one mould."""
    outline = mould_outline(mould, heading, look)
    return MouldPapers(
        mould.mark,
        dxf(outline),
        svg(outline).encode(),
        pdf([mould_sheet(mould, heading, look)]),
        mould_group(mould, heading, look) if mould.same_as is None else None,
    )


def every_mould(
    moulds: Sequence[Mould],
    heading: Heading,
    processes: int | None = None,
    look: MouldLook = USUAL,
) -> Iterator[MouldPapers]:
    """The papers of many moulds, one after another in the order given.

    Parameters
    ----------
    processes
        How many work at it; None: two where the machine has them, the moulds are many, and a copy
        of this process can be started safely (no other thread runs in it).

    Whoever takes them may stop at any time: closing the iterator ends the processes.
    """
    make = partial(mould_papers, heading=heading, look=look)
    return _apart(make, moulds, processes or _hands(len(moulds)))


def every_half_pattern(
    frames: Sequence[tuple[Frame, Sides]], heading: Heading, processes: int | None = None
) -> Iterator[HalfPattern]:
    """The half patterns of many frames, each with the side or sides that it is of, in the order
    given; ``processes`` as for the moulds.
    """
    make = partial(_half_pattern, heading=heading)
    return _apart(make, frames, processes or _hands(4 * len(frames)))


def _half_pattern(of: tuple[Frame, Sides], heading: Heading) -> HalfPattern:
    frame, side = of
    sheet = half_pattern(frame, heading, side=side)
    name = f"frame-{frame.number}{'-port' if side == 'port' else ''}"
    return HalfPattern(frame.number, name, dxf(sheet), pdf([sheet]))


def roll_and_tiles(
    groups: Sequence[Sheet],
    roll_mm: float,
    paper: str,
    *,
    stretch: tuple[float, float] = (1.0, 1.0),
    report: Report = quiet,
    processes: int | None = None,
) -> ManyMoulds:
    """All moulds on a roll and in tiles, the two side by side where a second process may start.

    Parameters
    ----------
    roll_mm
        Width of the roll.
    paper, stretch
        As :func:`futtock.sheet.tiles.tiled` has them.
    """
    tile = partial(_tiles, tuple(groups), paper, stretch)
    if (processes or _hands(len(groups))) < 2:
        roll = rolled(groups, roll_mm, stretch=stretch, report=report)
        tiles, count = tile()
        return ManyMoulds(pdf(roll.pages), roll.paper_m, tiles, count)
    from concurrent.futures import ProcessPoolExecutor

    with ProcessPoolExecutor(1, multiprocessing.get_context("fork")) as pool:
        waiting = pool.submit(tile)
        roll = rolled(groups, roll_mm, stretch=stretch, report=report)
        document = pdf(roll.pages)
        tiles, count = waiting.result()
    return ManyMoulds(document, roll.paper_m, tiles, count)


def _tiles(groups: Sequence[Sheet], paper: str, stretch: tuple[float, float]) -> tuple[bytes, int]:
    pages = [p for g in groups for p in tiled(g, paper, stretch=stretch).pages]
    return pdf(pages), len(pages)


def _apart(
    make: Callable[[Thing], Made], things: Sequence[Thing], processes: int
) -> Iterator[Made]:
    """What is made of each thing, in order, by that many processes."""
    if processes <= 1 or "fork" not in multiprocessing.get_all_start_methods():
        yield from map(make, things)
        return
    from concurrent.futures import ProcessPoolExecutor

    size = 8  # things handed out together: few enough that progress is steady
    pool = ProcessPoolExecutor(processes, multiprocessing.get_context("fork"))
    try:
        yield from pool.map(make, things, chunksize=size)
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _hands(things: int) -> int:
    """How many processes are worth while, and safe: none is copied while other threads run."""
    if things < _WORTH or threading.active_count() > 1:
        return 1
    if "fork" not in multiprocessing.get_all_start_methods():
        return 1
    return min(2, os.cpu_count() or 1)
