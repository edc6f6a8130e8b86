"""How every verb runs: progress on standard error, one answer on standard output, an exit code.

Exit codes: 0 done; 1 a file or a notation cannot be read; 2 the command was misused; 3 done, but
something does not fit.
"""

from __future__ import annotations

import json as jsonlib
import signal
import sys
import time
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from futtock.errors import FuttockError, Misused, Unreadable, Unwritable
from futtock.findings import Finding, Severity, told, worst

if TYPE_CHECKING:
    from futtock.job.answer import Answer
    from futtock.progress import Progress, Report

Folder = Annotated[
    str, typer.Argument(metavar="[DIR]", help="The vessel folder.", show_default="here")
]
Json = Annotated[bool, typer.Option("--json", help="Print one JSON document and nothing else.")]

_QUIET_SECONDS = 1.0


def run(work: Callable[[Report], Answer], *, json: bool) -> None:
    """Do ``work``, show what it answers, and end the process with the exit code it earns."""
    progress = _Progress()
    try:
        answer = work(progress)
    except (Unreadable, Unwritable) as error:
        progress.close()
        _refuse(error.findings, str(error), json=json, code=1)
    except Misused as error:
        progress.close()
        _refuse((), str(error), json=json, code=2)
    except FuttockError as error:
        progress.close()
        _refuse((), str(error), json=json, code=3)
    except KeyboardInterrupt:
        progress.close()
        print("Stopped. What was finished is kept.", file=sys.stderr)
        raise typer.Exit(130) from None
    finally:
        progress.close()
    if json:
        document = {**answer.document, "findings": [f.as_json() for f in answer.findings]}
        print(jsonlib.dumps(document, ensure_ascii=False, allow_nan=False))
    else:
        if answer.account:
            print(answer.account)
        show_findings(answer.findings)
    raise typer.Exit(exit_code(answer.findings))


def exit_code(findings: Sequence[Finding]) -> int:
    """The exit code that findings earn when the work itself was done."""
    found = worst(findings)
    return {Severity.FAULT: 1, Severity.MISFIT: 3}.get(found, 0) if found else 0


def show_findings(findings: Sequence[Finding]) -> None:
    """Findings for a person, on standard error, greatest first."""
    for line in told(findings):
        print(line, file=sys.stderr)


def _refuse(findings: Sequence[Finding], message: str, *, json: bool, code: int) -> None:
    if json:
        shown: list[dict[str, Any]] = [f.as_json() for f in findings]
        if not shown:
            shown = [Finding(f"C00{code}", Severity.FAULT, message).as_json()]
        print(jsonlib.dumps({"findings": shown}, ensure_ascii=False))
    elif findings:
        show_findings(findings)
    else:
        print(message, file=sys.stderr)
    raise typer.Exit(code)


class _Progress:
    """Shows progress once the work has taken more than a second.

    The first interrupt asks the work to stop with the best so far; a second one ends it at once.
    """

    def __init__(self) -> None:
        self._stopped = False
        self._handler = signal.signal(signal.SIGINT, self._stop)
        self._began = time.monotonic()
        self._bar: Any = None
        self._task: Any = None
        self._name = ""

    def __call__(self, progress: Progress) -> bool:
        if (
            self._bar is None
            and sys.stderr.isatty()
            and time.monotonic() - self._began > _QUIET_SECONDS
        ):
            from rich.console import Console
            from rich.progress import BarColumn, TextColumn, TimeElapsedColumn
            from rich.progress import Progress as Bar

            self._bar = Bar(
                TextColumn("{task.description}"),
                BarColumn(bar_width=30),
                TextColumn("{task.fields[says]}"),
                TimeElapsedColumn(),
                console=Console(stderr=True),
                transient=True,
            )
            self._bar.start()
        if self._bar is not None:
            if self._task is None or self._name != progress.task:
                self._name = progress.task
                self._task = self._bar.add_task(progress.task, total=None, says="")
            self._bar.update(
                self._task,
                completed=progress.done,
                total=progress.of or None,
                says=progress.says,
            )
        return not self._stopped

    def _stop(self, *_: object) -> None:
        self._stopped = True
        signal.signal(signal.SIGINT, signal.default_int_handler)
        print("Stopping with the best so far; once more to stop at once.", file=sys.stderr)

    def close(self) -> None:
        signal.signal(signal.SIGINT, self._handler)
        if self._bar is not None:
            self._bar.stop()
            self._bar = None
