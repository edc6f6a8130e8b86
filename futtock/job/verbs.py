"""The verbs of the job: each takes a vessel folder and gives one answer, for any face to show."""

from __future__ import annotations

import shlex
import time
from pathlib import Path
from typing import Any

from futtock.errors import Unreadable
from futtock.findings import Finding
from futtock.job import accounts, bench, documents, handover, papers, prints
from futtock.job.answer import Answer
from futtock.job.pile import Pile, place_document
from futtock.job.title import unwritten, use_font
from futtock.job.whole import Job
from futtock.progress import Report


def new(folder: str, *, demo: bool) -> Answer:
    """Make a vessel folder."""
    from futtock.vessel import write_new

    written = [p.name for p in write_new(folder, demo=demo)]
    account = (
        f"Made {folder} with {', '.join(written)}.\n"
        + ("" if demo else "State the vessel in vessel.toml and her offsets in offsets.csv.\n")
        + f"Next: futtock check {shlex.quote(folder)}"
    )
    return Answer({"folder": folder, "files": written}, account)


def check(folder: str, report: Report) -> Answer:
    """Read everything stated and tell every fault at once."""
    job = Job(folder, report)
    stated = job.stated
    if not stated.folder.is_dir():
        raise Unreadable("There is no vessel folder.", stated.findings)
    rack = job.rack
    document: dict[str, Any] = {
        "vessel": stated.vessel.name,
        "files": dict(stated.files),
        "slabs": len(rack.slabs),
    }
    findings = (*stated.findings, *rack.findings)
    account = accounts.checked(stated, findings)
    if rack.entries:
        account += f"\nRack: {accounts.counted(len(rack.slabs), 'slab')} can be laid out."
    return Answer(document, account, findings)


def fair(folder: str, report: Report, *, out: str | None = None) -> Answer:
    """Fair the lines; what is doubtful is written to ``doubtful.csv``."""
    from futtock.lines.fairness import bends_of, where_to_measure

    began = time.perf_counter()
    job = Job(folder, report)
    fairing = job.fairing
    seconds = time.perf_counter() - began
    bends = bends_of(fairing.hull, job.table)
    scanty = where_to_measure(fairing.hull, most=3, times=1.0)
    document = documents.fair_document(fairing, seconds, bends, scanty)
    papers.write_doubtful(job.folder, fairing)
    account = accounts.faired(fairing, job.stated.vessel.show, bends, scanty)
    if job.standing is not None:
        document["restoration"] = documents.restoration_document(job.standing)
        account = accounts.restored(job.standing) + "\n" + account
    if out is not None:
        written = papers.write_lines(job, Path(out))
        document["files"] = written.files
        account += f"\n{written.account}"
    return Answer(document, account, (*job.stated_findings, *fairing.findings))


def frames(folder: str, report: Report, *, out: str | None = None) -> Answer:
    """Frame the hull; with ``out`` draw the frames, and write the workbook and the 3-D model."""
    from futtock.job.as_built import learned
    from futtock.job.framed import framed_document, framed_findings

    began = time.perf_counter()
    job = Job(folder, report)
    framing = job.framing
    document = {**framed_document(job), "seconds": round(time.perf_counter() - began, 3)}
    account = accounts.framed(framing, job.stated.vessel.show)
    known = learned(job)
    if known is not None:
        account += "\nAs built:\n  " + "\n  ".join(known.words)
    if out is not None:
        written = papers.write_frames(job, Path(out))
        handover.write_workbook(job, written)
        handover.write_models(job, written)
        document["files"] = written.files
        account += f"\n{written.account}"
    return Answer(document, account, (*_upto_frames(job), *framed_findings(job)))


def moulds(
    folder: str,
    report: Report,
    *,
    out: str | None,
    stretch: tuple[float, float] | None = None,
    font: str | None = None,
) -> Answer:
    """Lay every timber flat; write the full-size patterns where a folder is named."""
    from futtock.moulds.document import moulds_json

    job = Job(folder, report)
    if font is not None:
        use_font(font)
    made = job.moulds
    document = moulds_json(made)
    account = accounts.moulded(made, job.stated.vessel.show)
    if out is not None:
        written = papers.write_moulds(job, Path(out), stretch)
        prints.record(job)
        document["files"] = written.files
        account += f"\n{written.account}"
    signs = unwritten(job) if out is not None else ()
    return Answer(document, account, (*_upto_moulds(job), *signs))


def sheets(folder: str, report: Report, *, out: str | None, font: str | None = None) -> Answer:
    """Make the working sheets."""
    from futtock.bench.document import sheets_json

    job = Job(folder, report)
    if font is not None:
        use_font(font)
    document = sheets_json(
        job.saw_sheets,
        job.fastenings,
        job.moulds,
        job.framing.frames,
        thickness=job.thicknessing,
        bedded=job.bedding,
        order=job.sawing_order,
        strength=bench.strength(job),
        trial=bench.trial(job),
    )
    sawn = (f for s in job.saw_sheets for f in s.findings)
    found = (*_upto_moulds(job), *sawn, *job.fastenings.findings, *bench.noticed(job))
    kg = sum(m.mass_kg for m in job.moulds)
    account = accounts.benched(job.saw_sheets, job.fastenings, kg, job.stated.vessel.show)
    if out is not None:
        written = papers.write_sheets(job, Path(out))
        found = (*found, *unwritten(job))
        handover.write_book(job, written, found)
        document["files"] = written.files
        account += f"\n{written.account}"
    return Answer(document, account, found)


def lay(
    folder: str,
    report: Report,
    *,
    seconds: float | None,
    rounds: int | None,
    seed: int | None,
    slabs: str | None,
    measured: bool,
    accept: bool,
    prove: bool,
    out: str | None,
) -> Answer:
    """Lay the timbers on the slabs."""
    job = Job(folder, report)
    pile = Pile(job, job.slabs(file=slabs, measured=measured))
    layout = pile.lay(seed=seed, rounds=rounds, seconds=seconds)
    document = pile.document(layout)
    account = accounts.laid(layout, len(job.moulds), len(pile.slabs), job.stated.vessel.show)
    found = (*job.stated_findings, *layout.findings)
    if prove:
        proof = pile.prove(layout)
        b = proof.bound
        document["bound"] = {
            "what": b.what, "value": b.value, "reached": b.reached, "gap": b.gap
        }  # fmt: skip
        document["unwanted"] = list(proof.unwanted)
        account += f"\n{proof.says}"
        found = (*found, *proof.findings)
    if accept:
        account += f"\nAccepted: {pile.accept(layout)}."
    if out is not None:
        written = papers.write_slabs(job, Path(out), pile.slabs, layout)
        document["files"] = written.files
        account += f"\n{written.account}"
    return Answer(document, account, found)


def lay_slab(folder: str, report: Report, *, slab: str, slabs: str | None) -> Answer:
    """What is best cut from one slab, and what it would be a waste to cut from it."""
    from futtock.layout.document import placement_json

    job = Job(folder, report)
    pile = Pile(job, job.slabs(file=slabs))
    answer = pile.of_slab(slab)
    document = {
        "placements": [placement_json(p) for p in answer.placements],
        "unplaced": [],
        "slab": answer.slab,
        "yield": answer.yield_,
        "scarce": [list(s) for s in answer.scarce],
        "waste": [list(s) for s in answer.waste],
    }
    return Answer(document, accounts.of_slab(answer))


def lay_timber(folder: str, report: Report, *, timber: str, slabs: str | None) -> Answer:
    """The ten best places for one timber."""
    job = Job(folder, report)
    pile = Pile(job, job.slabs(file=slabs))
    places = pile.best_places(timber)
    document = {"timber": timber, "places": [place_document(p) for p in places]}
    return Answer(document, accounts.places(timber, places))


def lay_heal(
    folder: str, report: Report, *, spoiled: tuple[str, ...], lost: tuple[str, ...], accept: bool
) -> Answer:
    """Mend the accepted layout after spoiled timbers and lost slabs."""
    pile = Pile(Job(folder, report))
    healing = pile.heal(spoiled, lost)
    document = pile.healed_document(healing)
    account = accounts.healed(healing)
    if accept:
        account += f"\nAccepted: {pile.accept(healing.layout)}."
    return Answer(document, account, healing.layout.findings)


def demo(out: str, report: Report, *, seconds: float) -> Answer:
    """The whole job on Marram, with its folder of sheets and pictures."""
    from futtock.job.demo import whole_demo

    return whole_demo(Path(out), report, seconds=seconds)


def _upto_frames(job: Job) -> tuple[Finding, ...]:
    return (*job.stated_findings, *job.lines_findings, *job.framing.findings)


def _upto_moulds(job: Job) -> tuple[Finding, ...]:
    from futtock.moulds.doubt import noticed

    return (*_upto_frames(job), *job.pattern_findings, *noticed(job.moulds, job.stated.vessel.show))
