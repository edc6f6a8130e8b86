"""Long work under way in processes of its own: begun, watched, stopped, its outcome kept."""

from __future__ import annotations

import contextlib
import json
import subprocess
import sys
import threading
import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from futtock.errors import Misused
from futtock.findings import Finding, Severity
from futtock.job.office.worker import MADE, WORKS, kept_at
from futtock.job.written import KEPT


@dataclass(frozen=True)
class Running:
    """How far a piece of work has come."""

    kind: str
    task: str = "beginning"
    done: float = 0.0
    of: float = 0.0
    says: str = ""
    seconds: float = 0.0
    stopping: bool = False

    @property
    def percent(self) -> float | None:
        """Share done, in hundredths; None where the end is not known."""
        return round(min(100.0, 100 * self.done / self.of), 1) if self.of else None


@dataclass(frozen=True)
class Outcome:
    """What came of it: the document and account, or why there is none."""

    kind: str
    revision: str = ""
    document: dict[str, Any] | None = None
    account: str = ""
    findings: tuple[Finding, ...] = ()
    seconds: float = 0.0
    stopped: bool = False
    failed: str = ""


class _Work:
    def __init__(self, folder: Path, kind: str, args: dict[str, Any]) -> None:
        self.now = Running(kind)
        self.failed: Outcome | None = None
        self.began = time.monotonic()
        words = [sys.executable, "-m", "futtock.job.office.worker", str(folder), kind]
        self.process = subprocess.Popen(
            [*words, json.dumps(args)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self.thread = threading.Thread(target=self._listen, daemon=True)
        self.thread.start()

    def _listen(self) -> None:
        assert self.process.stdout is not None
        assert self.process.stderr is not None
        ended = False
        for line in self.process.stdout:
            try:
                said = json.loads(line)
            except ValueError:
                continue
            if "task" in said:
                done, of = said["done_of"]
                self.now = replace(self.now, task=said["task"], done=done, of=of, says=said["says"])
            elif "failed" in said:
                found = tuple(_finding(f) for f in said["findings"])
                self.failed = Outcome(self.now.kind, failed=said["failed"], findings=found)
                ended = True
            elif "done" in said:
                ended = True
        trouble = self.process.stderr.read()
        self.process.wait()
        for pipe in (self.process.stdin, self.process.stdout, self.process.stderr):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()
        if not ended:
            last = trouble.strip().splitlines()[-1:] or ["no word was left"]
            said = f"The work came to an end that was not foreseen: {last[0][:200]}"
            self.failed = Outcome(self.now.kind, failed=said)


class Tasks:
    """The long work of one vessel folder; one piece of a kind at a time."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._lock = threading.Lock()
        self._works: dict[str, _Work] = {}

    def begin(self, kind: str, **args: Any) -> None:
        """Begin a piece of work.

        Raises
        ------
        Misused
            Where there is no such kind, or one is under way.
        """
        if kind not in WORKS:
            raise Misused(f"'{kind[:30]}' is no work that can be begun.")
        with self._lock:
            work = self._works.get(kind)
            if work is not None and work.thread.is_alive():
                raise Misused("It is under way already.")
            self._works[kind] = _Work(self.folder, kind, args)

    def running(self, kind: str) -> Running | None:
        """How far it has come; None where none is under way."""
        work = self._works.get(kind)
        if work is None or not work.thread.is_alive():
            return None
        return replace(work.now, seconds=time.monotonic() - work.began)

    def stop(self, kind: str) -> None:
        """Ask it to stop with the best so far."""
        work = self._works.get(kind)
        if work is None or not work.thread.is_alive() or work.process.stdin is None:
            return
        work.now = replace(work.now, stopping=True)
        try:
            work.process.stdin.write("stop\n")
            work.process.stdin.flush()
        except (OSError, ValueError):
            return  # it ended by itself meanwhile

    def outcome(self, kind: str) -> Outcome | None:
        """The last outcome, of this run or of one before; None where there is none."""
        work = self._works.get(kind)
        if work is not None and work.failed is not None and not work.thread.is_alive():
            return work.failed
        try:
            kept = json.loads(kept_at(self.folder, kind).read_text("utf-8"))
            return Outcome(
                kind,
                kept["revision"],
                kept["document"],
                kept["account"],
                tuple(_finding(f) for f in kept["findings"]),
                float(kept["seconds"]),
                bool(kept["stopped"]),
            )
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def forget(self, kind: str) -> None:
        """Throw the last outcome away."""
        self._works.pop(kind, None)
        kept_at(self.folder, kind).unlink(missing_ok=True)

    def wait(self, kind: str, seconds: float) -> bool:
        """Wait for its end at most so long; whether it has come."""
        work = self._works.get(kind)
        if work is not None:
            work.thread.join(seconds)
        return work is None or not work.thread.is_alive()

    def made(self, name: str) -> Path | None:
        """A file that a piece of work made, by its name; None where there is none of that name."""
        place = self.folder / KEPT / MADE
        return next((p for p in place.glob("*") if p.name == name and p.is_file()), None)

    def end(self) -> None:
        """End all work; nobody waits for it any more."""
        for work in self._works.values():
            if work.thread.is_alive():
                work.process.kill()
                work.thread.join(5)


def _finding(said: dict[str, Any]) -> Finding:
    return Finding(**{**said, "severity": Severity(said["severity"])})
