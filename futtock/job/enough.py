"""``enough``: whether the pile gives every timber still wanted, from what of it is measured."""

from __future__ import annotations

import time
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from futtock.job.answer import Answer
from futtock.job.stocktaking import Stocktaking, read_stacks
from futtock.job.whole import Job
from futtock.progress import Report

if TYPE_CHECKING:
    from futtock.layout.drawn import EnoughSettings
    from futtock.layout.enough import Enough


def enough(
    folder: str,
    report: Report,
    *,
    stacks: Sequence[str] = (),
    slabs: str | None = None,
    seed: int = 0,
    replicates: int | None = None,
    buy: float | None = None,
    now: bool = False,
    cut: str | None = None,
    out: str | None = None,
    cluster: str | None = None,
) -> Answer:
    """Whether the pile is enough, with what is missing and how many more slabs are wanted.

    Parameters
    ----------
    stacks
        ``NAME=HOLDS`` words: what stacks hold in all.
    buy
        Percent: make the list of slabs to get for this chance.
    now
        Tell which timbers may be cut from the measured slabs now, and the price of the rest.
    cut
        A timber's mark: tell the price of cutting it now.
    out
        Folder for the answer's picture and the buying list.
    cluster
        Address of a scheduler, to draw the piles on its workers.
    """
    from futtock.job.buying import bought
    from futtock.job.cluster import runner
    from futtock.job.cutting_now import cut_now, cut_one
    from futtock.layout.enough import enough as ask
    from futtock.layout.enough import enough_json

    began = time.perf_counter()
    job = Job(folder, report)
    taking = Stocktaking(job, read_stacks(stacks), slabs)
    rest = {s.name: s.unmeasured for s in taking.stacks}
    asked = _settings(job, replicates)
    with runner(cluster) as run:
        answer = ask(
            taking.problem, rest, asked, report, like=taking.like.parent, seed=seed, run=run
        )
        document = enough_json(answer)
        document["stacks"] = [
            {"stack": s.name, "measured": s.measured, "unmeasured": s.unmeasured,
             "measured_m3": round(s.measured_m3, 4)}
            for s in taking.stacks
        ]  # fmt: skip
        account = [_account(answer, taking)]
        if out is not None and buy is None:
            buy = job.sound.vessel.enough.chance_percent
        if buy is not None and len(answer.short_of):
            account.append(bought(taking, answer, buy, out, document))
        if out is not None:
            account.append(_drawn(job, answer, out, document))
        if now and answer.measured_slabs and answer.wanted:
            account.append(cut_now(taking, rest, asked, seed, run, document))
        if cut is not None:
            said, found_cut = cut_one(taking, cut, rest, asked, seed, run, document)
            account.append(said)
            taking.findings += found_cut
    document["seconds"] = round(time.perf_counter() - began, 3)
    found = (*job.stated_findings, *taking.findings, *answer.findings)
    return Answer(document, "\n".join(account), found)


def _drawn(job: Job, answer: Enough, out: str, document: dict[str, Any]) -> str:
    """The answer's picture into the folder."""
    from futtock.drawing.enough import enough_sheet
    from futtock.job.title import heading
    from futtock.job.written import Written, write_sheet

    written = Written(Path(out))
    write_sheet(written, "enough", [enough_sheet(answer, heading(job))])
    document["files"] = [*document.get("files", ()), *written.files]
    return written.account


def _settings(job: Job, replicates: int | None) -> EnoughSettings:
    from futtock.layout.drawn import EnoughSettings

    asked = job.sound.vessel.enough
    return EnoughSettings(
        asked.spoilage_percent / 100.0,
        asked.drying_percent / 100.0,
        asked.replicates if replicates is None else replicates,
    )


def _account(answer: Enough, taking: Stocktaking) -> str:
    from futtock.measure import show

    style = taking.job.sound.vessel.show
    lines = [answer.says]
    if answer.missing:
        lines.append("Timbers that will be missing, by shape (middle of its class):")
    lines += [
        f"  {q.count:5.1f}: {show(q.length_mm, style)} long, {show(q.width_mm, style)} wide, "
        f"{show(q.sweep_mm, style)} of sweep, {show(q.thickness_mm, style)} thick"
        for q in answer.missing[:8]
    ]
    if answer.narrowing.steps:
        lines.append("If more slabs are measured, the chance told will 8 times in 10 lie between:")
    for step in answer.narrowing.steps:
        which = ", ".join(f"{n} of {s or 'the pile'}" for s, n in step.measure)
        low, high = 100 * step.low, 100 * step.high
        lines.append(f"  {step.further:3d} more ({which}): {low:.0f} and {high:.0f} %")
    return "\n".join(lines)
