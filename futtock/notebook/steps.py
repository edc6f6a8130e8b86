"""The steps of the job as functions of one opened vessel."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from futtock.errors import Misused
from futtock.job.whole import Job
from futtock.notebook.showing import show_in_notebook

if TYPE_CHECKING:
    from futtock.bench.cuts import SawSheet
    from futtock.findings import Finding
    from futtock.framing.frame import Framing
    from futtock.job.answer import Answer
    from futtock.layout.placement import Layout
    from futtock.lines.fair import Fairing
    from futtock.moulds.mould import Mould

Marked = TypeVar("Marked")

PARTS = ("lines", "frames", "moulds", "sheets", "slabs")
"""What :func:`write` can write."""


def new(folder: Path | str, *, demo: bool = False) -> Job:
    """Make a vessel folder and open it.

    Parameters
    ----------
    folder
        A folder that does not hold a vessel yet.
    demo
        With Marram in it, an invented 38 ft smack with a rack of slabs.

    Raises
    ------
    FuttockError
        Where there is a vessel in the folder already.
    """
    from futtock.vessel import write_new

    write_new(folder, demo=demo)
    return read(folder)


def read(folder: Path | str) -> Job:
    """Open a vessel folder; in a notebook her frames, moulds and slabs show as pictures from now.

    Nothing is computed before it is asked for, and each step once: the same job gives the same
    hull. After a change of her files, read her again.

    Raises
    ------
    Misused
        Where there is no such folder.
    """
    if not Path(folder).is_dir():
        raise Misused(f"there is no folder {folder}.")
    job = Job(folder)
    show_in_notebook(job)
    return job


def check(job: Job) -> tuple[Finding, ...]:
    """Everything noticed in what is stated, her rack included; empty where nothing is amiss."""
    return (*job.stated.findings, *job.rack.findings)


def fair(job: Job) -> Fairing:
    """The fair hull, with the doubtful figures of her table (``.doubtful``).

    Raises
    ------
    Unreadable
        Where what is stated cannot be used, with every finding.
    """
    return job.fairing


def frames(job: Job) -> Framing:
    """Her double frames: ``frames(job).frame(13)`` is one of them.

    Raises
    ------
    Unreadable
        Where what is stated cannot be used, with every finding.
    """
    return job.framing


def mould(job: Job, mark: str) -> Mould:
    """The mould of one timber by its piece mark; ``job.moulds`` holds them all.

    Raises
    ------
    Misused
        Where no timber has that mark.
    """
    return _marked({m.mark: m for m in job.moulds}, mark)


def saw(job: Job, mark: str) -> SawSheet:
    """The saw sheet of one timber by its piece mark; ``job.saw_sheets`` holds them all.

    Raises
    ------
    Misused
        Where no timber has that mark.
    """
    return _marked({s.mark: s for s in job.saw_sheets}, mark)


def lay(
    job: Job,
    *,
    seed: int | None = None,
    rounds: int | None = None,
    seconds: float | None = None,
    accept: bool = False,
) -> Layout:
    """The best layout of her timbers on her slabs that is found in the time given.

    Parameters
    ----------
    seed, rounds
        The same two give the same layout on the same machine.
    seconds
        Time to search; where neither this nor ``rounds`` is given, that of ``vessel.toml``.
    accept
        Keep it as the yard's own, in ``layout.json``.
    """
    from futtock.job.pile import Pile

    pile = Pile(job)
    layout = pile.lay(seed=seed, rounds=rounds, seconds=seconds)
    if accept:
        pile.accept(layout)
    return layout


def enough(job: Job, stacks: Sequence[str] = (), **asked: Any) -> Answer:
    """Whether her pile is enough, with what it rests on.

    Parameters
    ----------
    stacks
        ``NAME=HOLDS`` words: what stacks hold in all, as ``A=40`` slabs or ``A=2.5m3``.
    asked
        ``seed``, ``replicates``, ``buy`` and the rest of :func:`futtock.job.enough.enough`.
    """
    from futtock.job.enough import enough as ask

    return ask(str(job.folder), job.report, stacks=stacks, **asked)


def did(job: Job, mark: str, stage: str, who: str, **body: Any) -> Answer:
    """Enter in the journal that ``who`` has done a stage of a timber or a frame."""
    from futtock.job.yard import did as enter

    return enter(str(job.folder), mark, stage, who, body=body or None)


def when(job: Job, *, runs: int = 1000, seed: int = 0) -> Answer:
    """When she will be framed, from what the journal shows of the pace so far."""
    from futtock.job.yard import when as ask

    return ask(str(job.folder), job.report, runs=runs, seed=seed)


def write(job: Job, out: Path | str, parts: Sequence[str] = PARTS) -> tuple[Path, ...]:
    """Write her papers into a folder for each part; the files written.

    Parameters
    ----------
    out
        The folder; made where there is none.
    parts
        Some of ``lines``, ``frames``, ``moulds``, ``sheets``, ``slabs``.

    Raises
    ------
    Misused
        Where a part is none of these.
    """
    from futtock.job import papers

    writers = {
        "lines": papers.write_lines,
        "frames": papers.write_frames,
        "moulds": papers.write_moulds,
        "sheets": papers.write_sheets,
        "slabs": _write_slabs,
    }
    for part in parts:
        if part not in writers:
            raise Misused(f"'{part}': expected some of {', '.join(PARTS)}.")
    return tuple(
        Path(out) / part / name
        for part in parts
        for name in writers[part](job, Path(out) / part).files
    )


def _write_slabs(job: Job, out: Path) -> Any:
    from futtock.job.handover import accepted
    from futtock.job.papers import write_slabs

    return write_slabs(job, out, job.slabs(), accepted(job))


def _marked(things: dict[str, Marked], mark: str) -> Marked:
    if mark not in things:
        raise Misused(f"there is no timber {mark}.")
    return things[mark]
