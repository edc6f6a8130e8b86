"""Trials of the journal: killed, crowded, starved of disk, long. Prints a section for RESULTS.md.

    python -m benchmarks.journal_trials [--kills 1000] [--seconds 60] [--postgres ADDRESS]

Runs in a temporary folder; the small disk needs leave to mount one and is left out without it.
"""

from __future__ import annotations

import argparse
import http.client
import itertools
import json
import os
import platform
import random
import re
import shutil
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path

from futtock.errors import Unreadable, Unwritable
from futtock.yard import Entry, Journal

WRITER = """
import sys, time
from datetime import UTC, datetime
from pathlib import Path
from futtock.yard import Entry, Journal
place, who, seconds = sys.argv[1], sys.argv[2], float(sys.argv[3])
journal = Journal(place if "://" in place else Path(place))
until = time.monotonic() + seconds
i = 0
while time.monotonic() < until:
    i += 1
    entry = Entry(f"{i % 40 + 1}-P-f{i % 3 + 1}", "note", who, {"text": str(i)}, id=f"{who}-{i}")
    began = time.perf_counter()
    event = journal.enter(entry, datetime.now(UTC)).event
    took = time.perf_counter() - began
    sys.stdout.write(f"{event.id} {took:.6f}\\n")
    sys.stdout.flush()
"""


def start(place: str, who: str, seconds: float) -> subprocess.Popen[str]:
    """A writer in a program of its own; it tells each id once the entry is acknowledged."""
    words = [sys.executable, "-c", WRITER, place, who, str(seconds)]
    return subprocess.Popen(words, stdout=subprocess.PIPE, text=True)


def told(output: str) -> list[tuple[str, float]]:
    """Acknowledged ids with their times; a line cut off by a kill is none."""
    whole = output.split("\n")[:-1]
    return [(i, float(t)) for i, t in (line.split() for line in whole if line.count(" ") == 1)]


def check(place: Path | str, ids: set[str]) -> tuple[int, int]:
    """Acknowledged entries that are missing, and faults of chain, copies or order."""
    with Journal(place) as journal:
        faults = len([f for f in journal.verify() if f.code != "Y033"])
        there = [e.id for e in journal.events()]
    by_who: dict[str, list[int]] = {}
    for name in there:
        who, _, number = name.rpartition("-")
        by_who.setdefault(who, []).append(int(number))
    faults += sum(numbers != list(range(1, len(numbers) + 1)) for numbers in by_who.values())
    faults += len(there) - len(set(there))
    return len(ids - set(there)), faults


def kills(folder: Path, count: int) -> str:
    """Kill a writer so many times at random moments.

    One in ten is a program of its own, killed at any moment from its start; the others are forked
    and killed at any moment from opening the journal on, or once they have begun to write.
    """
    rng = random.Random(1889)
    place = folder / "journal.sqlite"
    ids: set[str] = set()
    for n in range(count):
        if n % 10 == 0:
            writer = start(str(place), f"k{n}", 60)
            time.sleep(rng.uniform(0.0, 1.0))
            writer.kill()
            ids |= {i for i, _ in told(writer.communicate()[0])}
        else:
            ids |= _forked(place, f"k{n}", rng.uniform(0.0, 0.2), wait=n % 3 > 0)
    lost, faults = check(place, ids)
    return (
        f"| killed (SIGKILL) {count} times at random while writing | {len(ids)} entries "
        f"acknowledged, {lost} lost, {faults} faults of chain, copies or order |"
    )


def _forked(place: Path, who: str, seconds: float, *, wait: bool) -> set[str]:
    """Ids acknowledged by a forked writer that is killed after so long (or so long after one)."""
    out, into = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(out)
        journal = Journal(place)
        for i in itertools.count(1):
            entry = Entry(f"{i % 40 + 1}-P-f1", "note", who, {"text": str(i)}, id=f"{who}-{i}")
            event = journal.enter(entry, datetime.now(UTC)).event
            os.write(into, f"{event.id} 0\n".encode())
    os.close(into)
    with os.fdopen(out) as said:
        first = said.readline() if wait else ""
        time.sleep(seconds)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        return {i for i, _ in told(first + said.read())}


def crowd(place: Path | str, writers: int, seconds: float, what: str) -> str:
    """So many writers at once for so long."""
    with Journal(place):
        pass
    running = [start(str(place), f"c{n}", seconds) for n in range(writers)]
    times: list[float] = []
    ids: set[str] = set()
    for writer in running:
        for name, took in told(writer.communicate()[0]):
            ids.add(name)
            times.append(took)
    lost, faults = check(place, ids)
    p50 = statistics.median(times) * 1000
    p99 = statistics.quantiles(times, n=100)[98] * 1000
    return (
        f"| {writers} writers for {seconds:.0f} s, {what} | {len(ids)} entries, {lost} lost, "
        f"{faults} faults; median {p50:.0f} ms, p99 {p99:.0f}, longest {max(times) * 1000:.0f} |"
    )


def served(folder: Path, writers: int, seconds: float) -> str:
    """So many browsers at once, ticking stages through the pages of one server on loopback."""
    home = folder / "served"
    demo = Path(__file__).resolve().parents[1] / "futtock" / "demo"
    shutil.copytree(demo, home, ignore=shutil.ignore_patterns(".futtock"))
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        port = door.getsockname()[1]
    words = [sys.executable, "-m", "futtock", "serve", str(home), "--port", str(port)]
    server = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    ids: set[str] = set()
    times: list[float] = []
    try:
        _await_pages(port)
        until = time.monotonic() + seconds
        with ThreadPoolExecutor(writers) as pool:
            for told_by in pool.map(lambda n: _browser(port, f"b{n}", until), range(writers)):
                for name, took in told_by:
                    ids.add(name)
                    times.append(took)
    finally:
        server.terminate()
        server.wait(20)
    lost, faults = check(home / "journal.sqlite", ids)
    p50 = statistics.median(times) * 1000
    p99 = statistics.quantiles(times, n=100)[98] * 1000
    return (
        f"| {writers} browsers for {seconds:.0f} s, one server on loopback | {len(ids)} entries, "
        f"{lost} lost, {faults} faults; median {p50:.0f} ms, p99 {p99:.0f}, longest "
        f"{max(times) * 1000:.0f} |"
    )


def _visit(port: int) -> tuple[http.client.HTTPConnection, dict[str, str]]:
    """A connection of its own, with its visit's cookie and token."""
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=120)
    line.request("GET", "/papers")
    answer = line.getresponse()
    page = answer.read().decode()
    found = re.search(r'"X-Futtock-Token": "([0-9a-f]{64})"', page)
    token = found[1] if found else ""
    cookie = "; ".join(
        value.partition(";")[0]
        for name, value in answer.getheaders()
        if name.lower() == "set-cookie"
    )
    return line, {"X-Futtock-Token": token, "Cookie": cookie, "Content-Type": "application/json"}


def _await_pages(port: int, seconds: float = 240.0) -> None:
    """Until the server answers and her frames are worked out."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        try:
            line, _ = _visit(port)
            line.request("GET", "/traveller/1-P-f1/now")
            if line.getresponse().status == 200:
                return
        except (OSError, http.client.HTTPException):
            pass
        time.sleep(0.5)
    raise TimeoutError("the server did not come up")


def _browser(port: int, who: str, until: float) -> list[tuple[str, float]]:
    """Notes sent one after another, each once the one before is acknowledged; its ids and times."""
    line, headers = _visit(port)
    told: list[tuple[str, float]] = []
    i = 0
    while time.monotonic() < until:
        i += 1
        entry = {"id": f"{who}-{i}", "mark": f"{i % 27 + 1}-P-f1", "stage": "note", "who": who}
        body = json.dumps({**entry, "text": str(i)})
        began = time.perf_counter()
        line.request("POST", "/floor/entries", body, headers)
        answer = line.getresponse()
        said = json.loads(answer.read())
        if answer.status != 200:
            raise RuntimeError(f"{answer.status}: {said}")
        told.append((said["id"], time.perf_counter() - began))
    return told


def small_disk(folder: Path) -> str:
    """Fill a small disk, again and again, with room made in between."""
    disk = folder / "small"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=300k", "tmpfs", disk], capture_output=True
    )
    if mounted.returncode:
        return "| disk full | not tried: no disk can be mounted here |"
    kept: list[str] = []
    refused = 0
    try:
        size = 300
        for _ in range(20):
            with Journal(disk / "journal.sqlite", folder / "small-copies") as journal:
                try:
                    while True:
                        entry = Entry(
                            "1", "note", "d", {"text": "x" * 400}, id=f"d-{len(kept) + 1}"
                        )
                        kept.append(journal.enter(entry, datetime.now(UTC)).event.id)
                except Unwritable:
                    refused += 1
            size += 150
            subprocess.run(["mount", "-o", f"remount,size={size}k", disk], check=True)
        with Journal(disk / "journal.sqlite", folder / "small-copies") as journal:
            there = [e.id for e in journal.events()]
            faults = len(journal.verify())
    finally:
        subprocess.run(["umount", disk], check=False)
    lost = len(set(kept) - set(there))
    return (
        f"| disk full {refused} times (a small tmpfs) | {len(kept)} entries acknowledged, {lost} "
        f"lost, {faults} faults; each refusal said so |"
    )


def damaged(folder: Path, count: int) -> str:
    """Cut the file short or overwrite a part, at random, and recover from the copies."""
    rng = random.Random(7)
    whole = folder / "whole"
    whole.mkdir()
    with Journal(whole / "journal.sqlite") as journal:
        entries = [Entry("1", "note", "d", {"text": "x" * 200}, id=f"d-{i}") for i in range(1, 801)]
        journal.enter_all(entries, datetime.now(UTC))
    back = 0
    alone: list[float] = []
    for n in range(count):
        for copies in (True, False):
            place = folder / f"damaged-{n}-{copies}"
            shutil.copytree(whole, place)
            if not copies:
                shutil.rmtree(place / "journal-copies")
            path = place / "journal.sqlite"
            size = path.stat().st_size
            with path.open("r+b") as file:
                if n % 2:
                    file.truncate(rng.randrange(size))
                else:
                    file.seek(rng.randrange(size))
                    file.write(rng.randbytes(rng.randrange(1, 20_000)))
            try:
                with Journal(path) as journal:
                    if journal.verify() and not journal.findings:
                        journal.make_good()
                    got = len(journal.events())
                    clean = not [f for f in journal.verify() if f.code != "Y024"]
            except Unreadable as error:  # nothing at all can be read, and there is no copy
                if copies:
                    raise
                print(error, file=sys.stderr)
                got = 0
            if copies:
                back += got == 800 and clean
            else:
                alone.append(got / 800)
            shutil.rmtree(place)
    return (
        f"| file cut short or overwritten, {count} times | all 800 records back from the copies "
        f"{back} times; without copies {100 * statistics.mean(alone):.0f} % of records on average |"
    )


def clock_back(folder: Path) -> str:
    """The clock jumps back and forth by hours and years."""
    rng = random.Random(3)
    place = folder / "clock"
    place.mkdir()
    now = datetime(2031, 5, 5, tzinfo=UTC)
    with Journal(place / "journal.sqlite") as journal:
        for i in range(1, 501):
            moment = now + timedelta(hours=rng.gauss(0, 2000))
            journal.enter(Entry("1", "note", "t", {"text": str(i)}, id=f"t-{i}"), moment)
        noted = len([f for f in journal.verify() if f.code == "Y033"])
    lost, faults = check(place / "journal.sqlite", {f"t-{i}" for i in range(1, 501)})
    return (
        f"| clock set back and forth 500 times | {lost} lost, {faults} faults, order kept; "
        f"{noted} jumps back noted |"
    )


def long_journal(folder: Path) -> str:
    """A journal of 100,000 records: written, read and folded, verified."""
    place = folder / "long"
    place.mkdir()
    words = ("moulded", "laid-out", "roughed", "rested", "flattened", "thicknessed", "bevelled")
    with Journal(place / "journal.sqlite") as journal:
        for k in range(10):
            entries = [
                Entry(
                    f"{i % 90 + 1}-{'PS'[i % 2]}-{'fa'[i % 3 % 2]}{i % 5 + 1}",
                    words[i % 7],
                    f"w{i % 6}",
                    {"slab": f"A-{i % 300}", "because": "x"} if i % 7 == 1 else {},
                    id=f"l-{i}",
                )
                for i in range(k * 10_000, (k + 1) * 10_000)
            ]
            journal.take_in(_lines(journal, entries))
        began, worked = time.perf_counter(), time.process_time()
        state = journal.state()
        folded, worked = time.perf_counter() - began, time.process_time() - worked
        began = time.perf_counter()
        faults = journal.verify()
        verified = time.perf_counter() - began
        began = time.perf_counter()
        journal.enter(Entry("5-P-f1", "note", "z", {"text": "x"}), datetime.now(UTC))
        entered = time.perf_counter() - began
    size = (place / "journal.sqlite").stat().st_size / 1e6
    assert state.last == 100_000
    assert not faults
    return (
        f"| 100,000 records ({size:.0f} MB) | read and folded in {folded:.2f} s ({worked:.2f} s of "
        f"work), verified with its copies in {verified:.2f} s, one more entered in "
        f"{entered * 1000:.0f} ms |"
    )


def _lines(journal: Journal, entries: list[Entry]) -> list[str]:
    """Entries as exported lines that follow on this journal."""
    from futtock.yard.copies import line
    from futtock.yard.event import FIRST, made

    last = journal.last()
    previous = journal.events(last - 1)[0].hash if last else FIRST
    lines = []
    for seq, entry in enumerate(entries, start=last + 1):
        event = made(entry, datetime.now(UTC)).sealed(seq, previous)
        previous = event.hash
        lines.append(line(event.as_json()))
    return lines


def cold(folder: Path) -> str:
    """One entry by a new program, from its start to its acknowledgement."""
    place = folder / "cold"
    place.mkdir()
    times = []
    for i in range(20):
        began = time.perf_counter()
        code = (
            "import sys; from datetime import UTC, datetime; from pathlib import Path; "
            "from futtock.yard import Entry, Journal; "
            f"j = Journal(Path({str(place)!r}) / 'journal.sqlite'); "
            f"print(j.enter(Entry('12-P-f{i + 1}', 'moulded', 'Ann'), datetime.now(UTC)).event.id)"
        )
        subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)
        times.append(time.perf_counter() - began)
    return (
        f"| an entry by a new program, 20 times (command line's own start apart) | median "
        f"{statistics.median(times) * 1000:.0f} ms, longest {max(times) * 1000:.0f} ms |"
    )


def main() -> None:
    """Run the trials and print their figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=1000)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--postgres", default="")
    parser.add_argument("--only", default="", help="part of a trial's name, to run that alone")
    wanted = parser.parse_args()
    home = Path(tempfile.mkdtemp(prefix="futtock-trials-"))
    print("## The journal\n")
    print(
        f"From `python -m benchmarks.journal_trials`, {datetime.now(UTC):%Y-%m-%d}, "
        f"Python {platform.python_version()}, 2 cores shared with other work.\n"
    )
    print("| trial | outcome |\n| --- | --- |", flush=True)
    try:
        (home / "kills").mkdir()
        (home / "crowd").mkdir()
        place = home / "crowd" / "journal.sqlite"
        seconds, server = wanted.seconds, wanted.postgres
        trials: dict[str, Callable[[], str]] = {
            "cold": lambda: cold(home),
            "long": lambda: long_journal(home),
            "clock": lambda: clock_back(home),
            "disk": lambda: small_disk(home),
            "damaged": lambda: damaged(home, 100),
            "crowd": lambda: crowd(place, 20, seconds, "one SQLite file"),
            "server": lambda: crowd(server, 20, seconds, "PostgreSQL"),
            "browsers": lambda: served(home, 20, seconds),
            "kills": lambda: kills(home / "kills", wanted.kills),
        }
        for name, trial in trials.items():
            if wanted.only in name and (server or name != "server"):
                print(trial(), flush=True)
    finally:
        shutil.rmtree(home, ignore_errors=True)


if __name__ == "__main__":
    main()
