"""``lay --seeds``: many layouts of one rack, by seed and limit of grain, here or on a cluster."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from futtock.errors import Misused
from futtock.job import accounts, papers
from futtock.job.answer import Answer
from futtock.job.cluster import runner
from futtock.job.pile import Pile
from futtock.job.whole import Job
from futtock.job.written import KEPT
from futtock.progress import Progress, Report

if TYPE_CHECKING:
    from futtock.layout.placement import Layout
    from futtock.layout.problem import Problem


@dataclass(frozen=True)
class Task:
    """What all runs share: a problem for every limit of grain, the seeds, and the rounds."""

    problems: tuple[Problem, ...]
    seeds: tuple[int, ...]
    rounds: int


def lay_one(task: Task, number: int) -> Layout:
    """Run number: the seeds of the first limit, then those of the next."""
    from futtock.layout.lay import lay

    problem = task.problems[number // len(task.seeds)]
    seed = task.seeds[number % len(task.seeds)]
    return lay(
        problem.moulds, problem.slabs, problem.settings, seed=seed, rounds=task.rounds,
        problem=problem,
    )  # fmt: skip


def lay_several(
    folder: str,
    report: Report,
    *,
    seeds: int,
    limits: Sequence[float],
    rounds: int | None,
    seed: int | None,
    slabs: str | None,
    measured: bool,
    accept: bool,
    out: str | None,
    cluster: str | None,
) -> Answer:
    """The best of many layouts, with what each limit of grain would give.

    ``limits`` are slopes as 1 in so many; none: the one stated. The layout answered is the best at
    the steepest stated limit, the first of ``limits``.
    """
    from futtock.layout.document import layout_json
    from futtock.layout.islands import DEFAULT_ROUNDS
    from futtock.layout.problem import prepare
    from futtock.layout.store import FolderStore

    if seeds < 1:
        raise Misused("give one seed at least.")
    job = Job(folder, report)
    pile = Pile(job, job.slabs(file=slabs, measured=measured))
    if any(p.locked for p in pile.accepted):
        raise Misused("Some placements are locked: lay with one seed, so that the locks hold.")
    asked = tuple(limits) or (pile.settings.grain_slope,)
    store = FolderStore(job.folder / KEPT / "poses")
    problems = tuple(
        prepare(job.moulds, pile.slabs, replace(pile.settings, grain_slope=n), report, store=store)
        for n in asked
    )
    first = job.sound.vessel.layout.seed if seed is None else seed
    task = Task(
        problems,
        tuple(range(first, first + seeds)),
        DEFAULT_ROUNDS if rounds is None else rounds,
    )
    every = range(len(asked) * seeds)
    layouts: list[Layout] = []
    with runner(cluster) as run:
        for layout in run(lay_one, task, every):
            layouts.append(layout)
            if not report(Progress("laying out", len(layouts), len(every))):
                break
    area = {m.mark: m.square_m2 for m in job.moulds}

    def rank(layout: Layout) -> tuple[float, float]:
        return sum(area[m] for m in layout.unplaced), layout.bound.reached

    runs: list[dict[str, Any]] = [
        {
            "grain_slope": asked[n // seeds],
            "seed": task.seeds[n % seeds],
            "placed": len(layout.placements),
            "unplaced": len(layout.unplaced),
            "slabs_used": layout.slabs_used,
            "yield": layout.yield_,
        }
        for n, layout in enumerate(layouts)
    ]
    best = min(layouts[:seeds], key=rank)
    lines = [accounts.laid(best, len(job.moulds), len(pile.slabs), job.sound.vessel.show)]
    for k, n in enumerate(asked):
        own = layouts[k * seeds : (k + 1) * seeds]
        if own:
            top = min(own, key=rank)
            lines.append(
                f"Grain to 1 in {n:g}: best of {len(own)} seeds {len(top.placements)} placed on "
                f"{top.slabs_used} slabs, yield {100 * top.yield_:.1f} %."
            )
    document = {**layout_json(best), "runs": runs}
    if accept:
        lines.append(f"Accepted: {pile.accept(best)}.")
    if out is not None:
        written = papers.write_slabs(job, Path(out), pile.slabs, best)
        document["files"] = written.files
        lines.append(written.account)
    return Answer(document, "\n".join(lines), (*job.stated_findings, *best.findings))
