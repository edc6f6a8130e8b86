"""How the work grows with its size: processor seconds, and the exponent fitted to them.

``python -m benchmarks.growth`` puts its section into RESULTS.md; ``--print`` only shows it.
"""

from __future__ import annotations

import argparse
import resource
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from threadpoolctl import threadpool_limits

sys.path.insert(0, str(Path(__file__).resolve().parent))

import yard_instance
from framing import DEMO, FT, SETTINGS
from invented_hulls import hollow, take_table
from record import put

from futtock.framing.build import frame_hull
from futtock.layout.lay import lay, warm
from futtock.layout.problem import prepare
from futtock.layout.settings import LaySettings
from futtock.lines.fair import fair
from futtock.lines.settings import FairSettings
from futtock.moulds.flat import moulds
from futtock.moulds.settings import MouldSettings
from futtock.vessel.folder import read_folder
from futtock.yard.event import Entry, Event, made
from futtock.yard.state import fold

Run = Callable[[], object]


@dataclass(frozen=True)
class Growth:
    """One kind of work at several sizes."""

    work: str
    of: str
    sizes: tuple[int, ...]
    seconds: tuple[float, ...]

    @property
    def exponent(self) -> float:
        """Slope of log seconds over log size, by least squares."""
        return float(np.polyfit(np.log(self.sizes), np.log(self.seconds), 1)[0])

    def row(self) -> str:
        """A row of the table."""
        at = ", ".join(f"{n:,}: {s:.3g}" for n, s in zip(self.sizes, self.seconds, strict=True))
        return f"| {self.work} | {self.of} | {at} | {self.exponent:.2f} |"


def used() -> float:
    """Processor seconds of this process and of its children that have ended."""
    own, theirs = (resource.getrusage(w) for w in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return own.ru_utime + own.ru_stime + theirs.ru_utime + theirs.ru_stime


def seconds(run: Run, repeats: int) -> float:
    """Least processor seconds of several runs after one to warm up (of one run: that one)."""
    if repeats > 1:
        run()
    best = np.inf
    for _ in range(repeats):
        began = used()
        run()
        best = min(best, used() - began)
    return float(best)


def grown(work: str, of: str, runs: dict[int, Run], repeats: int = 3) -> Growth:
    """The same work at several sizes."""
    return Growth(work, of, tuple(runs), tuple(seconds(r, repeats) for r in runs.values()))


def framing() -> Iterator[Growth]:
    """More frames on one hull, and their moulds."""
    stated = read_folder(DEMO)
    assert stated.mended is not None
    hull = fair(stated.mended, FairSettings(1.0)).hull
    framed, runs = {}, {}
    for count in (12, 24, 48, 96):
        room = 1.25 * FT * 26 / (count - 1)
        asked = replace(SETTINGS, count=count, room_and_space_mm=room, sided_mm=min(47.6, room / 3))
        framed[count] = frame_hull(hull, asked).frames
        runs[count] = lambda asked=asked: frame_hull(hull, asked)
    yield grown("frame a fair hull", "frames", runs)
    made = {n: lambda f=f: moulds(f, MouldSettings()) for n, f in framed.items()}
    yield grown("lay every timber flat", "frames", made)


def fairing() -> Iterator[Growth]:
    """More figures in one table."""
    runs: dict[int, Run] = {}
    for step in (500.0, 250.0, 125.0, 62.5):
        table = take_table(hollow(), waterline_step=step)
        figures = int(sum(np.isfinite(r.values_mm).sum() for r in table.rows))
        runs[figures] = lambda table=table: fair(table, FairSettings(1.0))
    yield grown("fair a table", "figures", runs, 2)


def laying() -> Iterator[Growth]:
    """More timbers on one rack; more slabs for the same timbers."""
    warm()
    asked = LaySettings(kerf_mm=6.0, grain_slope=10.0)
    every, rack = yard_instance.timbers(), yard_instance.rack(320)
    for of, sizes in (("timbers", (45, 90, 180, 358)), ("slabs", (40, 80, 160, 320))):
        tried: dict[int, Run] = {}
        laid: dict[int, Run] = {}
        for n in sizes:
            timbers = every[:n] if of == "timbers" else every[:90]
            slabs = rack[:160] if of == "timbers" else rack[:n]
            problem = prepare(timbers, slabs, asked)
            tried[n] = lambda t=timbers, s=slabs: prepare(t, s, asked)
            laid[n] = lambda t=timbers, s=slabs, p=problem: lay(
                t, s, asked, seed=0, rounds=200, clock=time.perf_counter, problem=p
            )
        yield grown("try every mould on every slab", of, tried, 1)
        yield grown("lay out, 200 rounds", of, laid, 1)


def folding() -> Iterator[Growth]:
    """A longer journal."""
    began = datetime(2031, 5, 5, 9, tzinfo=UTC)

    def events(count: int) -> list[Event]:
        entries = (
            Entry(f"{k % 40 + 1}-P-f1", "note", "Ann", {"text": str(k)}, id=f"e{k}")
            for k in range(count)
        )
        return [made(e, began + timedelta(seconds=k)) for k, e in enumerate(entries)]

    journals = {n: events(n) for n in (1_000, 10_000, 100_000)}
    runs = {n: lambda e=e: fold(e) for n, e in journals.items()}
    yield grown("fold a journal", "events", runs)


def main() -> None:
    """Run and record."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--print", action="store_true", help="print, and write nothing")
    asked = parser.parse_args()
    rows = []
    with threadpool_limits(1, "blas"):
        for part in (folding, fairing, framing, laying):
            for growth in part():
                print(growth.row(), flush=True)
                rows.append(growth.row())
    lines = [
        "## Growth with size",
        "",
        "By `python -m benchmarks.growth`: processor seconds of all processes together, the least of",
        "two or three runs (of layout: one), and the exponent of size fitted to them.",
        "",
        "| work | size in | processor seconds at each size | exponent |",
        "| --- | --- | --- | --- |",
        *rows,
    ]
    if not asked.print:
        put(lines)


if __name__ == "__main__":
    main()
