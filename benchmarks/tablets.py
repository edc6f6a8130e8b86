"""Twenty tablets at once on the floor's pages: how long each read takes, while work is entered.

``python -m benchmarks.tablets [FOLDER] [--seconds N]`` makes Marram with 45 frames and 200 slabs in
a folder, lays her out, enters some weeks of work and serves her from a process of its own. Twenty
tablets, each on a connection of its own that is kept, read travellers, saw guides, bench pages, the
saw list and what the journal has now, while one of them ticks a stage each second, so that every
read meets a journal that has just changed. Once at a yard's pace (a page every two seconds a
tablet), once with no pause at all. It ends with 1 where the yard's 99th percentile is over 0.5 s.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import random
import re
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path
from urllib.parse import urlsplit

from benchmarks.pages import make, served

TABLETS = 20
AIM_S = 0.5
PREPARED_S = 8.0
"""Seconds after the first page in which the server prepares the others, as it does at each start."""


class Tablet(threading.Thread):
    """One tablet; ``took`` are the kind of each read and its seconds."""

    def __init__(self, n: int, url: str, marks: list[str], frames: int, pause: float) -> None:
        super().__init__(daemon=True)
        self.random = random.Random(n)
        self.where = urlsplit(url).netloc
        self.marks, self.frames, self.pause = marks, frames, pause
        self.took: list[tuple[str, float]] = []
        self.failed: list[str] = []
        self.stopping = threading.Event()

    def run(self) -> None:
        line = http.client.HTTPConnection(self.where, timeout=60)
        self.stopping.wait(self.random.random() * self.pause)
        while not self.stopping.is_set():
            kind, path = self._next()
            began = time.perf_counter()
            line.request("GET", path)
            answer = line.getresponse()
            answer.read()
            self.took.append((kind, time.perf_counter() - began))
            if answer.status != 200:
                self.failed.append(f"{answer.status} {path}")
            self.stopping.wait(self.pause * self.random.uniform(0.5, 1.5))
        line.close()

    def _next(self) -> tuple[str, str]:
        mark, frame = self.random.choice(self.marks), self.random.randint(1, self.frames)
        return self.random.choice(
            (
                ("traveller of a frame", f"/traveller/{frame}"),
                ("traveller of a timber", f"/traveller/{mark}"),
                ("what the journal has now", f"/traveller/{frame}/now"),
                ("what the journal has now", f"/traveller/{mark}/now"),
                ("saw guide", f"/saw/{mark}"),
                ("saw list", "/saw"),
                ("bench page", f"/bench/{frame}"),
            )
        )


def ticking(url: str, marks: list[str], stopping: threading.Event, took: list[float]) -> None:
    """One more tablet enters a stage each second."""
    line = http.client.HTTPConnection(urlsplit(url).netloc, timeout=60)
    line.request("GET", "/traveller/1")
    answer = line.getresponse()
    cookie = (answer.getheader("Set-Cookie") or "").partition(";")[0]
    found = re.search(rb'data-token="([0-9a-f]{64})"', answer.read())
    assert found
    head = {
        "Content-Type": "application/json", "X-Futtock-Token": found[1].decode(), "Cookie": cookie,
    }  # fmt: skip
    for n, mark in enumerate(marks):
        if stopping.wait(1.0):
            break
        body = {"id": f"t-{time.time_ns()}-{n}", "mark": mark, "stage": "moulded", "who": "Tam"}
        began = time.perf_counter()
        line.request("POST", "/floor/entries", json.dumps(body), head)
        answer = line.getresponse()
        answer.read()
        assert answer.status == 200, answer.status
        took.append(time.perf_counter() - began)
    line.close()


def p99(seconds: list[float]) -> float:
    """The 99th percentile."""
    return sorted(seconds)[max(0, -(-99 * len(seconds) // 100) - 1)]


def worked(pid: int) -> float:
    """Seconds of processor that a process has had (Linux)."""
    spent = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(spent[11]) + int(spent[12])) / os.sysconf("SC_CLK_TCK")


def trial(url: str, pid: int, marks: list[str], frames: int, pause: float, seconds: float) -> float:
    """Run once, print its table; the 99th percentile of all reads."""
    before = worked(pid)
    tablets = [Tablet(n, url, marks, frames, pause) for n in range(TABLETS)]
    stopping, entered = threading.Event(), []
    ticks = threading.Thread(target=ticking, args=(url, marks, stopping, entered), daemon=True)
    began = time.perf_counter()
    for thread in (*tablets, ticks):
        thread.start()
    time.sleep(seconds)
    stopping.set()
    for tablet in tablets:
        tablet.stopping.set()
    for thread in (*tablets, ticks):
        thread.join(90)
    lasted = time.perf_counter() - began
    took = [t for tablet in tablets for t in tablet.took]
    failed = [f for tablet in tablets for f in tablet.failed]
    assert not failed, failed[:5]
    every = [s for _, s in took]
    pace = f"a page every {pause:g} s a tablet" if pause else "with no pause"
    each = (worked(pid) - before) / (len(every) + len(entered))
    print(f"\n{pace}: {len(every)} reads, {len(every) / lasted:.0f} a second, load "
          f"{os.getloadavg()[0]:.1f} on {os.cpu_count()} cores; the server worked "
          f"{each * 1e3:.1f} ms a request, so twenty at one instant {20 * each:.2f} s")  # fmt: skip
    print("| read | number | median | 99th percentile | most |")
    print("|---|---|---|---|---|")
    for kind in sorted({k for k, _ in took}):
        own = [s for k, s in took if k == kind]
        print(
            f"| {kind} | {len(own)} | {statistics.median(own):.3f} s | {p99(own):.3f} s | {max(own):.3f} s |"
        )
    print(
        f"| all reads | {len(every)} | {statistics.median(every):.3f} s | {p99(every):.3f} s | {max(every):.3f} s |"
    )
    if entered:
        print(
            f"| entering a tick | {len(entered)} | {statistics.median(entered):.3f} s | {p99(entered):.3f} s | {max(entered):.3f} s |"
        )
    return p99(every)


def main() -> int:
    asked = argparse.ArgumentParser()
    asked.add_argument("folder", nargs="?")
    asked.add_argument("--seconds", type=float, default=40.0)
    given = asked.parse_args()
    folder = Path(given.folder) if given.folder else Path(tempfile.mkdtemp()) / "fine"
    make(folder)
    process, url = served(folder)
    try:
        marks, frames = _known(url)
        yard = trial(url, process.pid, marks, frames, 2.0, given.seconds)
        trial(url, process.pid, marks[::-1], frames, 0.0, min(given.seconds / 2, 10.0))
    finally:
        process.terminate()
        process.wait(10)
    print(f"\n99th percentile at a yard's pace: {yard:.3f} s (aim {AIM_S} s)")
    return int(yard > AIM_S)


def _known(url: str) -> tuple[list[str], int]:
    """Marks and number of frames, once all pages can be had and are prepared."""
    line = http.client.HTTPConnection(urlsplit(url).netloc, timeout=120)
    for _ in range(600):
        try:
            line.request("GET", "/bench/1")
            answer = line.getresponse()
            answer.read()
            if answer.status == 200:
                break
        except OSError:
            line.close()
        time.sleep(0.5)
    time.sleep(PREPARED_S)
    line.request("GET", "/saw")
    marks = re.findall(r'href="/saw/([^"]+)"', line.getresponse().read().decode())
    frames = max(int(m.split("-")[0]) for m in marks)
    line.close()
    return marks, frames


if __name__ == "__main__":
    sys.exit(main())
