"""All patterns of 45 double frames written: DXF, SVG and PDF of each mould, half patterns, roll.

Run ``python -m benchmarks.patterns``; seconds by the clock, and of the processor with those of the
processes that help.
"""

from __future__ import annotations

import os
import resource
import shutil
import tempfile
import time
from pathlib import Path

from futtock.job.papers import write_moulds
from futtock.job.whole import Job

DEMO = Path(__file__).resolve().parent.parent / "futtock" / "demo"


def used() -> float:
    """Processor seconds so far, with those of processes that have ended."""
    both = (resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN))
    return sum(u.ru_utime + u.ru_stime for u in both)


class Watch:
    """Notes when the work passes from one thing to the next."""

    def __init__(self) -> None:
        self.told = 0
        self.marks: list[tuple[str, float, float]] = []

    def __call__(self, progress) -> bool:
        self.told += 1
        if not self.marks or self.marks[-1][0] != progress.task:
            self.marks.append((progress.task, time.perf_counter(), used()))
        return True


def main():
    """Print the table."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "v"
        shutil.copytree(DEMO, folder)
        stated = (folder / "vessel.toml").read_text()
        stated = stated.replace("count = 27", "count = 45").replace('"1-3-0"', '"0-8-7"')
        (folder / "vessel.toml").write_text(stated)
        watch = Watch()
        job = Job(folder, watch)
        moulds, frames = len(job.moulds), len(job.framing.frames)
        watch.marks.clear()
        watch.told = 0
        began, before = time.perf_counter(), used()
        written = write_moulds(job, Path(place) / "out")
        wall, processor = time.perf_counter() - began, used() - before
        size = sum(p.stat().st_size for p in (Path(place) / "out").iterdir()) / 1e6
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    print(f"{moulds} moulds of {frames} frames: {len(written.files)} files, {size:.0f} MB")
    ends = [*watch.marks[1:], ("", began + wall, before + processor)]
    for (name, t, p), (_, t1, p1) in zip(watch.marks, ends, strict=True):
        print(f"{name:10} {t1 - t:6.1f} s by the clock {p1 - p:6.1f} s of processor")
    print(f"{'all':10} {wall:6.1f} s by the clock {processor:6.1f} s of processor")
    print(f"progress told {watch.told} times; {' '.join(written.notes)}")


if __name__ == "__main__":
    main()
