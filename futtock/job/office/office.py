"""One job for all who look at a vessel folder, made anew where what is stated there changes.

Long steps run in a thread of their own, so that a page never waits: it is given what is ready, or
how far the step has come.
"""

from __future__ import annotations

import copy
import logging
import threading
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from futtock.errors import FuttockError, Unreadable
from futtock.findings import Finding, Kind, Severity
from futtock.job.office.tasks import Tasks
from futtock.job.whole import Job
from futtock.progress import Progress

T = TypeVar("T")
Key = tuple[tuple[str, int, int], ...]

UNFORESEEN = Kind(
    "J030",
    Severity.FAULT,
    "A step came to an end that was not foreseen",
    "What is typed and kept stands. Change what was changed last, or try the step on the command "
    "line, and keep what it says there.",
)
_PAPERS = (
    "*.toml", "*.csv", "*.xlsx", "*.xyz", "*.ply", "*.las", "*.dxf", "slabs.json", "slabs/*.json",
    "patterns/*", "survey/*",
)  # fmt: skip


class NotYet(FuttockError, RuntimeError):
    """A step is still being worked out; ``progress`` says how far it has come."""

    def __init__(self, step: str, progress: Progress | None) -> None:
        super().__init__(f"The {step} is still being worked out.")
        self.step = step
        self.progress = progress


@dataclass(frozen=True)
class Step:
    """A step of the job: its name, what a person calls it, what it needs, and its work."""

    name: str
    called: str
    needs: tuple[str, ...]
    work: Callable[[Sitting], object]


def _papers(sitting: Sitting) -> None:
    _ = sitting.job.stated, sitting.job.rack


def _hull(sitting: Sitting) -> None:
    _ = sitting.job.fairing


def _frames(sitting: Sitting) -> None:
    _ = sitting.job.framing


def _moulds(sitting: Sitting) -> None:
    _ = sitting.job.moulds, sitting.job.weights


def _lines(sitting: Sitting) -> None:
    from futtock.job.office.lines import lines_view

    lines_view(sitting.job)


def _plan(sitting: Sitting) -> None:
    from futtock.job.office.vessel import vessel_view

    vessel_view(sitting)


def _floor(sitting: Sitting) -> None:
    from futtock.job.floor import prepare

    prepare(sitting)


STEPS = (
    Step("papers", "reading of her papers", (), _papers),
    Step("lines", "fairing of her lines", ("papers",), _lines),
    Step("frames", "framing", ("papers",), _frames),
    Step("moulds", "moulding of her timbers", ("frames",), _moulds),
    Step("hull", "fair hull", ("papers",), _hull),
    Step("plan", "framing plan", ("lines", "frames", "hull"), _plan),
    Step("floor", "preparing of the floor's pages", ("moulds", "hull"), _floor),
)


class Sitting:
    """One content of the folder: its job, and how far each step has come."""

    def __init__(self, folder: Path, before: Sitting | None = None) -> None:
        self.job = Job(folder, self._told)
        self.drawing = threading.Lock()
        self.views: dict[Any, Any] = {}
        self._before = before
        self._done: dict[str, FuttockError | None] = {}
        self._at: Progress | None = None
        self._left = threading.Event()
        self._patience = 0.0
        self._changed = threading.Condition()
        self._beside: dict[Any, Future[Any]] = {}
        self._beside_lock = threading.Lock()
        self._hands = ThreadPoolExecutor(1, "beside")
        self._thread = threading.Thread(target=self._run, name="office", daemon=True)
        self._thread.start()

    def need(self, *steps: str) -> Job:
        """The job, once these steps are done.

        Raises
        ------
        NotYet
            Where one of them is still being worked out.
        FuttockError
            What stopped one of them.
        """
        for step in steps:
            if self._patience and step not in self._done:
                self.wait(step, self._patience)
            if step not in self._done:
                called = next(s.called for s in STEPS if s.name == step)
                raise NotYet(called, self._at)
            failed = self._done[step]
            if failed is not None:
                raise failed
        return self.job

    def has(self, *steps: str) -> bool:
        """Whether these steps are done, and well."""
        return all(step in self._done and self._done[step] is None for step in steps)

    def wait(self, step: str, seconds: float) -> bool:
        """Wait for a step at most so long; whether it has come to its end.

        Nobody waits for what is given up because a paper has changed meanwhile; papers are read
        in any case.
        """

        def over() -> bool:
            return step in self._done or (step != "papers" and self._left.is_set())

        with self._changed:
            self._changed.wait_for(over, seconds)
            return step in self._done

    def patient(self, seconds: float) -> Sitting:
        """The same sitting, for who would rather wait so long for a step than be told to wait."""
        mine = copy.copy(self)
        mine._patience = seconds
        return mine

    def drawn(self, key: Any, draw: Callable[[], T]) -> T:
        """What was drawn before under this key, or what ``draw`` gives now; one at a time."""
        if key not in self.views:
            with self.drawing:
                if key not in self.views:
                    if len(self.views) > 400:
                        self.views.clear()
                    self.views[key] = draw()
        return self.views[key]  # type: ignore[no-any-return]

    def later(self, key: Any, called: str, work: Callable[[], T]) -> T:
        """What ``work`` gives, worked out beside; NotYet until then, and its error where it fails.

        One piece of such work at a time: the rest wait for their turn.
        """
        with self._beside_lock:
            if key in self.views:
                return self.views[key]  # type: ignore[no-any-return]
            if key not in self._beside:
                self._beside[key] = self._hands.submit(work)
            asked = self._beside[key]
            if not asked.done():
                raise NotYet(called, self.job_at())
            del self._beside[key]
        self.views[key] = asked.result()
        return self.views[key]  # type: ignore[no-any-return]

    def job_at(self) -> Progress | None:
        """The progress told last."""
        return self._at

    def leave(self) -> None:
        """Give up what is not done: the papers have changed."""
        self._left.set()
        with self._changed:
            self._changed.notify_all()

    def _told(self, progress: Progress) -> bool:
        self._at = progress
        return not self._left.is_set()

    def _run(self) -> None:
        for step in STEPS:
            if self._left.is_set() and step.name != "papers":
                return
            failed: FuttockError | None = None
            failed = next((e for n in step.needs if (e := self._done.get(n)) is not None), None)
            if failed is None:
                try:
                    step.work(self)
                    if step.name == "papers":
                        self._take_over()
                except FuttockError as error:
                    failed = error
                except Exception as error:
                    logging.getLogger("futtock").exception("the %s", step.called)
                    said = f"The {step.called} came to an end that was not foreseen: {error}."
                    failed = Unreadable(said, [UNFORESEEN.found(said)])
            with self._changed:
                self._done[step.name] = failed
                self._at = None
                self._changed.notify_all()
        self._before = None

    def _take_over(self) -> None:
        """Take the fair hull from the sitting before where nothing it is made from has changed."""
        before = self._before
        if before is None or "fairing" not in before.job.__dict__:
            return
        old, new = before.job.stated, self.job.stated
        lines = [
            {n: h for n, h in s.files.items() if n.endswith((".csv", ".xlsx")) and "butt" not in n}
            for s in (old, new)
        ]
        same = lines[0] == lines[1] and old.vessel.lines == new.vessel.lines
        if same and old.vessel.diagonals == new.vessel.diagonals:
            self.job.__dict__["fairing"] = before.job.fairing


class Office:
    """A vessel folder and the job that all its pages share."""

    def __init__(self, folder: Path | str) -> None:
        self.folder = Path(folder)
        self.tasks = Tasks(self.folder)
        self._lock = threading.Lock()
        self._key: Key | None = None
        self._sitting: Sitting | None = None

    def sitting(self) -> Sitting:
        """The job of what is stated now, begun anew where a paper has changed."""
        with self._lock:
            key = self._content()
            if self._sitting is None or key != self._key:
                before = self._sitting
                if before is not None:
                    before.leave()
                self._key, self._sitting = key, Sitting(self.folder, before)
            return self._sitting

    def follow(self, before: Sitting) -> None:
        """Begin from another sitting: where her lines are the same, its fair hull is taken."""
        with self._lock:
            self._key, self._sitting = self._content(), Sitting(self.folder, before)

    def findings(self) -> tuple[Finding, ...]:
        """What was noticed in her papers, where they are read."""
        sitting = self.sitting()
        if not sitting.has("papers"):
            return ()
        return (*sitting.job.stated_findings, *sitting.job.rack.findings)

    def _content(self) -> Key:
        found = []
        for pattern in _PAPERS:
            for path in self.folder.glob(pattern):
                try:
                    told = path.stat()
                except OSError:
                    continue
                if path.name != "doubtful.csv":
                    found.append((path.name, told.st_mtime_ns, told.st_size))
        return tuple(sorted(found))
