"""``lay --divide``: butts chosen with the rack in view, and written to ``futtocks.csv``."""

from __future__ import annotations

import csv
import io
import math
import time
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from futtock.errors import Misused
from futtock.findings import Kind, Severity
from futtock.job import accounts, papers, settings
from futtock.job.answer import Answer
from futtock.job.pile import Pile
from futtock.job.whole import Job
from futtock.job.written import KEPT
from futtock.progress import Report

if TYPE_CHECKING:
    from futtock.framing.divide import Division
    from futtock.layout.placement import Layout
    from futtock.layout.problem import Problem

FUTTOCKS = "futtocks.csv"
_HEAD = ["frame", "layer", "side", "butt"]

NO_BETTER = Kind(
    "J021",
    Severity.NOTE,
    "No division was found that suits the rack better",
    "The frames stay divided as they are.",
)


def lay_divided(
    folder: str,
    report: Report,
    *,
    seconds: float | None,
    rounds: int | None,
    seed: int | None,
    slabs: str | None,
    measured: bool,
    accept: bool,
    out: str | None,
) -> Answer:
    """Choose each frame's butts and the layout together; write ``futtocks.csv`` where it helps.

    Both divisions are laid out with the same effort, so that the gain told is what was gained.
    Frames of which a timber is cut, locked or whose butts are stated already keep their division.
    """
    from futtock.layout.dividing import choices, divide_for, plain_mark
    from futtock.layout.document import layout_json
    from futtock.layout.lay import lay
    from futtock.layout.part import part_of
    from futtock.layout.problem import prepare
    from futtock.layout.store import FolderStore

    job = Job(folder, report)
    if job.from_patterns:
        raise Misused("These timbers are patterns already made: there is no frame to divide.")
    pile = Pile(job, job.slabs(file=slabs, measured=measured))
    vessel = job.sound.vessel
    framing = settings.framing_settings(vessel, job.fairing.hull, job.sound.divisions)
    held = {_frame(m) for m in (*pile.shown.cut, *(p.mark for p in pile.accepted if p.locked))}
    options = choices(
        job.framing.frames, framing, settings.mould_settings(vessel), report, held=held
    )
    store = FolderStore(job.folder / KEPT / "poses")
    problem = prepare(options.moulds, pile.slabs, pile.settings, report, store=store)
    number = {m.mark: j for j, m in enumerate(problem.moulds)}
    start = vessel.layout.seed if seed is None else seed
    if rounds is None and seconds is None:
        seconds = vessel.layout.seconds

    def laid(chosen: Sequence[int]) -> tuple[Layout, Problem]:
        marks = [m for m in options.marks(chosen) if m in number]
        part = part_of(problem, [number[m] for m in marks])
        layout = lay(
            part.moulds,
            part.slabs,
            pile.settings,
            report,
            seed=start,
            rounds=rounds,
            seconds=seconds,
            clock=time.perf_counter,
            problem=part,
        )
        return layout, part

    found = divide_for(problem, options, report, seed=start)
    before, of_before = laid([0] * len(options.of))
    after, of_after = laid(found.chosen)
    was, now = _figures(before, of_before), _figures(after, of_after)
    better = (round(now["short_m2"], 4), now["begun_m2"]) < (
        round(was["short_m2"], 4),
        was["begun_m2"],
    )
    document: dict[str, Any] = {"before": was, "after": now, "changed": []}
    if not better or not found.changed:
        said = "No division was found that suits this rack better; futtocks.csv is as it was."
        return Answer(
            {**layout_json(before), **document},
            said,
            (*job.stated_findings, NO_BETTER.found(said)),
        )
    changed = {
        f.number: d
        for f, d, c in zip(options.frames, found.divisions, found.chosen, strict=True)
        if c
    }
    write_divisions(job.folder, changed)
    fresh = Job(folder, report)
    layout = Pile(fresh, pile.slabs).lay(seed=start, rounds=rounds, seconds=seconds)
    document["changed"] = sorted(changed)
    document["after"] = now = {
        **now,
        "timbers": len(fresh.moulds),
        "unplaced": len(layout.unplaced),
        "slabs_used": layout.slabs_used,
    }
    gone = {plain_mark(m) for m in before.unplaced}
    account = (
        f"{len(changed)} of {len(options.frames)} frames are divided otherwise for this rack: "
        f"{was['unplaced']} of {was['timbers']} timbers had no place on {was['slabs_used']} slabs "
        f"begun, now {now['unplaced']} of {now['timbers']} on {now['slabs_used']}.\n"
        f"The butts are written to {FUTTOCKS}; the moulds of these frames are to be drawn again: "
        f"{', '.join(str(n) for n in sorted(changed))}.\n"
        + accounts.laid(layout, len(fresh.moulds), len(pile.slabs), vessel.show)
    )
    document["had_no_place"] = sorted(gone)
    if accept:
        account += f"\nAccepted: {Pile(fresh, pile.slabs).accept(layout)}."
    if out is not None:
        written = papers.write_slabs(fresh, Path(out), pile.slabs, layout)
        document["files"] = written.files
        account += f"\n{written.account}"
    return Answer(
        {**layout_json(layout), **document}, account, (*fresh.stated_findings, *layout.findings)
    )


def _figures(layout: Layout, problem: Problem) -> dict[str, Any]:
    left = set(layout.unplaced)
    return {
        "timbers": len(problem.moulds),
        "unplaced": len(left),
        "short_m2": sum(m.square_m2 for m in problem.moulds if m.mark in left),
        "slabs_used": layout.slabs_used,
        "begun_m2": layout.bound.reached,
        "yield": layout.yield_,
    }


def _frame(mark: str) -> int:
    head = mark.partition("-")[0]
    return int(head) if head.isdecimal() else 0


def write_divisions(folder: Path, divisions: dict[int, Division]) -> None:
    """Add butts to ``futtocks.csv``; rows that are there, with their notes, stay as they are."""
    from futtock.framing.divide import division_rows
    from futtock.job.written import Written

    path = folder / FUTTOCKS
    old = path.read_text("utf-8") if path.is_file() else ""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    if not old:
        table.writerow(_HEAD)
    for frame, layer, side, butt in division_rows(sorted(divisions.items())):
        table.writerow([frame, layer, side, "" if math.isnan(butt) else f"{butt:.2f} mm"])
    joined = old + ("" if not old or old.endswith("\n") else "\n") + text.getvalue()
    Written(folder).put(FUTTOCKS, joined)
