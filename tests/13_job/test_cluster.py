from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest
from layout_cases import plank, strip
from slow_piles import slowly

from futtock.errors import Unreadable
from futtock.job.cluster import runner
from futtock.layout.drawn import EnoughSettings, case_of, draw
from futtock.layout.problem import prepare
from futtock.layout.settings import LaySettings

TESTS = Path(__file__).resolve().parent.parent
pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")


class Cluster:
    """A scheduler and two workers, each a process of its own, on this machine alone."""

    def __init__(self, folder):
        self.file = folder / "scheduler.json"
        self.processes = []
        self.start("scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard",
                   "--scheduler-file", str(self.file))  # fmt: skip
        deadline = time.monotonic() + 60
        while not self.file.exists() and time.monotonic() < deadline:
            time.sleep(0.1)
        self.workers = [
            self.start("worker", "--scheduler-file", str(self.file), "--nthreads", "1",
                       "--no-nanny", "--no-dashboard", "--local-directory", str(folder / f"w{k}"))
            for k in range(2)
        ]  # fmt: skip
        import json

        self.address = json.loads(self.file.read_text())["address"]

    def start(self, what, *words):
        process = subprocess.Popen(
            [sys.executable, "-W", "ignore", "-m", f"distributed.cli.dask_{what}", *words],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            env={**os.environ, "PYTHONWARNINGS": "ignore", "PYTHONPATH": str(TESTS)},
        )
        self.processes.append(process)
        return process

    def wait(self, count):
        from distributed import Client

        with Client(self.address, set_as_default=False) as client:
            client.wait_for_workers(count, timeout=60)

    def close(self):
        for process in reversed(self.processes):
            with contextlib.suppress(ProcessLookupError):
                process.kill()
            process.wait(30)


@pytest.fixture
def cluster(tmp_path):
    made = Cluster(tmp_path)
    try:
        made.wait(2)
        yield made
    finally:
        made.close()


def yard():
    line = np.c_[np.linspace(0, 600, 31), np.zeros(31)]
    moulds = [strip(f"{k}-P-f1", line, 70) for k in range(9)]
    slabs = [plank(f"G{k}", 640, 100, stack="A") for k in range(6)]
    slabs += [plank(f"B{k}", 400, 100, stack="A") for k in range(4)]
    problem = prepare(moulds, slabs, LaySettings(kerf_mm=6.0))
    return case_of(problem, {"A": 6}, EnoughSettings(0.05, 0.02), {}, 3)


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
def test_a_worker_killed_loses_nothing(cluster):
    """Two workers, one killed midway: every pile comes, in order, the same as drawn here."""
    case, many = yard(), 60
    with runner(None) as run:
        here = list(run(draw, case, range(many)))
    killed = []

    def kill():
        cluster.workers[0].send_signal(signal.SIGKILL)
        killed.append(len(there))

    there = []
    with runner(cluster.address) as run:
        for one in run(slowly, case, range(many)):
            there.append(one)
            if len(there) == 8 and not killed:
                threading.Thread(target=kill).start()
    assert killed
    assert killed[0] < many
    assert cluster.workers[0].wait(10) == -signal.SIGKILL
    assert len(there) == many
    for a, b in zip(here, there, strict=True):
        assert (a.short == b.short).all()
        assert a.more == b.more


def test_no_scheduler_is_told():
    """A scheduler that is not there is a clear refusal, within seconds."""
    with pytest.raises(Unreadable, match="cannot be reached"), runner("tcp://127.0.0.1:9"):
        pass
