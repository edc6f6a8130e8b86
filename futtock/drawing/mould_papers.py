"""The papers of many moulds, by several processes where that is worth their start.

Each mould's papers depend on nothing but the mould and the heading, so they are made apart from
each other and come back in the moulds' own order whatever the processes do.
"""

from __future__ import annotations

import multiprocessing
import os
import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from futtock.drawing.heading import Heading
from futtock.drawing.mould import mould_group, mould_outline, mould_sheet
from futtock.moulds.mould import Mould
from futtock.sheet.dxf import dxf
from futtock.sheet.pdf import pdf
from futtock.sheet.sheet import Sheet
from futtock.sheet.svg import svg

_WORTH = 48  # fewer moulds than this are made sooner than a second process starts


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


def mould_papers(mould: Mould, heading: Heading) -> MouldPapers:
    """The papers of one mould."""
    outline = mould_outline(mould, heading)
    return MouldPapers(
        mould.mark,
        dxf(outline),
        svg(outline).encode(),
        pdf([mould_sheet(mould, heading)]),
        mould_group(mould, heading) if mould.same_as is None else None,
    )


def every_mould(
    moulds: Sequence[Mould], heading: Heading, processes: int | None = None
) -> Iterator[MouldPapers]:
    """The papers of many moulds, one after another in the order given.

    Parameters
    ----------
    processes
        How many work at it; None: two where the machine has them, the moulds are many, and a copy
        of this process can be started safely (no other thread runs in it).

    Whoever takes them may stop at any time: closing the iterator ends the processes.
    """
    if processes is None:
        processes = min(2, os.cpu_count() or 1) if len(moulds) >= _WORTH and _can_copy() else 1
    make = partial(mould_papers, heading=heading)
    if processes <= 1 or "fork" not in multiprocessing.get_all_start_methods():
        yield from map(make, moulds)
        return
    from concurrent.futures import ProcessPoolExecutor

    size = 8  # moulds handed out together: few enough that progress is steady
    pool = ProcessPoolExecutor(processes, multiprocessing.get_context("fork"))
    try:
        yield from pool.map(make, moulds, chunksize=size)
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _can_copy() -> bool:
    return threading.active_count() == 1
