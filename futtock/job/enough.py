"""``enough``: whether the pile gives every timber still wanted, from what of it is measured."""

from __future__ import annotations

import re
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from futtock.errors import Misused
from futtock.findings import Finding, Kind, Severity
from futtock.job.accounts import counted
from futtock.job.answer import Answer
from futtock.job.pile import Pile
from futtock.job.whole import Job
from futtock.progress import Report

if TYPE_CHECKING:
    from futtock.layout.alike import Alike
    from futtock.layout.drawn import EnoughSettings, Run
    from futtock.layout.enough import Enough
    from futtock.layout.problem import Problem
    from futtock.stock.slab import Slab

COUNT_SHORT = Kind(
    "J020",
    Severity.DOUBT,
    "A stack is said to hold fewer slabs than are measured of it",
    "Count the stack again; what is measured is taken to be all of it.",
)

CUT_ROUNDS = 200
LIKE = 3
"""Slabs made over from each that is measured."""

_COUNT = re.compile(r"\s*(\d+)\s*")
_BULK = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(m3|m³|bd ?ft|board feet|board ft)\s*", re.IGNORECASE)


@dataclass(frozen=True)
class Stack:
    """A stack: slabs measured and still whole, and how many lie there unmeasured."""

    name: str
    measured: int
    unmeasured: int
    measured_m3: float


class Stocktaking:
    """The pile as the question sees it: what is measured, what only counted, what is wanted.

    Parameters
    ----------
    job
        The vessel's job.
    stacks
        What the builder says the stacks hold in all: a count of slabs (``"40"``) or a volume
        (``"2.5 m3"``, ``"600 bd ft"``), by the stack's name; a stack not named holds what the
        rack lists.
    file
        Another rack's file.
    """

    def __init__(
        self, job: Job, stacks: Mapping[str, str] | None = None, file: str | None = None
    ) -> None:
        self.job = job
        self.said = dict(stacks or {})
        self.file = file
        self.findings: list[Finding] = []

    @cached_property
    def at_hand(self) -> tuple[Slab, ...]:
        """Slabs of the rack that are neither begun nor gone, as the journal shows them."""
        from futtock.stock.pile import State, at_hand
        from futtock.yard import Journal, place_of

        slabs = self.job.slabs(file=self.file)
        place = place_of(self.job.folder)
        if isinstance(place, Path) and not place.exists():
            return slabs
        with Journal(place, create=False) as journal:
            states = journal.state().slab_states()
        return at_hand(slabs, {name: State(now) for name, now in states.items()})

    @cached_property
    def measured(self) -> tuple[Slab, ...]:
        """The slabs whose outlines may be used."""
        return tuple(s for s in self.at_hand if s.measured)

    @cached_property
    def stacks(self) -> tuple[Stack, ...]:
        """Every stack with what lies in it; counts below what is measured are told of."""
        from futtock.stock.weight import volume_m3

        names = sorted({s.stack for s in self.at_hand} | set(self.said))
        every = [volume_m3(s) for s in self.measured]
        out = []
        for name in names:
            bulk = [volume_m3(s) for s in self.measured if s.stack == name]
            rest = sum(s.stack == name and not s.measured for s in self.at_hand)
            if name in self.said:
                total = _slabs_said(name, self.said[name], bulk or every)
                rest = total - len(bulk)
            if rest < 0:
                shown = f"stack {name}" if name else "the pile"
                self.findings.append(
                    COUNT_SHORT.found(
                        f"{shown} is said to hold {self.said[name]}, but "
                        f"{counted(len(bulk), 'slab')} of it are measured.",
                        line=name or None,
                        read=self.said[name],
                        expected=f"{len(bulk)} or more",
                    )
                )
                rest = 0
            out.append(Stack(name, len(bulk), rest, sum(bulk)))
        return tuple(out)

    @cached_property
    def pile(self) -> Pile:
        """The timbers and the measured slabs."""
        return Pile(self.job, self.measured)

    @cached_property
    def problem(self) -> Problem:
        """The timbers still to be got, tried on the measured slabs."""
        from futtock.layout.problem import prepare
        from futtock.layout.store import FolderStore

        done = set(self.pile.shown.cut)
        wanted = [m for m in self.job.moulds if m.mark not in done]
        store = FolderStore(self.job.folder / ".futtock" / "poses")
        slabs = (*self.measured, *self.like.slabs)
        return prepare(wanted, slabs, self.pile.settings, self.job.report, store=store)

    @cached_property
    def like(self) -> Alike:
        """Slabs like those measured, that stand for the unmeasured; none where all are measured."""
        from futtock.layout.alike import alike

        return alike(self.measured, LIKE if any(s.unmeasured for s in self.stacks) else 0)


def _slabs_said(name: str, said: str, bulk: Sequence[float]) -> int:
    """A count of slabs from what was said; a volume is divided by the mean slab measured."""
    from futtock.measure.bulk import cubic_metres

    count = _COUNT.fullmatch(said)
    if count:
        return int(count[1])
    volume = _BULK.fullmatch(said)
    if not volume:
        raise Misused(
            f"stack {name} is said to hold '{said}': give a count, as 40, or a volume, as 2.5 m3."
        )
    if not bulk:
        raise Misused(
            f"stack {name} is said to hold {said}, but no slab is measured to tell how many "
            "slabs that is: give a count."
        )
    m3 = float(volume[1]) if "m" in volume[2].lower() else cubic_metres(float(volume[1]))
    return max(len(bulk), round(m3 / (sum(bulk) / len(bulk))))


def read_stacks(words: Sequence[str]) -> dict[str, str]:
    """``NAME=HOLDS`` words as a mapping; a stack without a name is ``=40``."""
    out: dict[str, str] = {}
    for word in words:
        name, is_, holds = word.partition("=")
        if not is_ or not holds.strip():
            raise Misused(f"'{word}': say the stack and what it holds in all, as A=40 or A=2.5m3.")
        if name.strip() in out:
            raise Misused(f"stack {name.strip()} is said twice.")
        out[name.strip()] = holds.strip()
    return out


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
    out: str | None = None,
    cluster: str | None = None,
) -> Answer:
    """Whether the pile is enough, with what is missing and how many more slabs are wanted.

    Parameters
    ----------
    stacks
        ``NAME=HOLDS`` words: what stacks hold in all.
    buy
        Percent: make the list of slabs to get for this chance; with ``out`` it is drawn there.
    now
        Tell which timbers may be cut from the measured slabs now, and the price of the rest.
    cluster
        Address of a scheduler, to draw the piles on its workers.
    """
    from futtock.job.cluster import runner
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
            account.append(_bought(taking, answer, buy, out, document))
        if now and answer.measured_slabs and answer.wanted:
            account.append(_cut_now(taking, rest, asked, seed, run, document))
    document["seconds"] = round(time.perf_counter() - began, 3)
    found = (*job.stated_findings, *taking.findings, *answer.findings)
    return Answer(document, "\n".join(account), found)


def _bought(
    taking: Stocktaking, answer: Enough, percent: float, out: str | None, document: dict[str, Any]
) -> str:
    """The buying list into the document and, with ``out``, into a sheet and a spreadsheet."""
    from futtock.job import papers
    from futtock.layout.buying import buying_list
    from futtock.measure import show

    job = taking.job
    buying = buying_list(
        taking.problem, answer, level=percent / 100.0, price_per_m2=price_per_m2(taking.measured)
    )
    style = job.sound.vessel.show
    costs = [w.cost for w in buying.wanted]
    whole = sum(c for c in costs if c is not None) if None not in costs and costs else None
    document["buying"] = {
        "chance": percent / 100.0,
        "slabs": buying.slabs,
        "before": buying.before,
        "after": buying.after,
        "cost": whole,
        "wanted": [
            {
                "count": w.count,
                "length_mm": w.length_mm,
                "width_mm": w.width_mm,
                "sweep_mm": w.sweep_mm,
                "thickness_mm": w.thickness_mm,
                "marks": list(w.marks),
                "cost": w.cost,
            }
            for w in buying.wanted
        ],
    }
    lines = [buying.says]
    lines += [
        f"  {w.count:3d} slabs {show(w.length_mm, style)} long, {show(w.width_mm, style)} wide, "
        f"swept {show(w.sweep_mm, style)}, {show(w.thickness_mm, style)} thick"
        for w in buying.wanted[:12]
    ]
    if whole is not None:
        lines.append(f"At the price of the slabs on the rack they come to about {whole:,.0f}.")
    if out is not None:
        from futtock.drawing.buying import buying_sheets
        from futtock.export.buying import buying_book

        written = papers.Written(Path(out))
        head, species = papers.heading(job), job.sound.vessel.timber.species
        papers.write_sheet(written, "buying", buying_sheets(buying, head, species))
        written.put("buying.xlsx", buying_book(buying, head, species))
        document["files"] = written.files
        lines.append(written.account)
    return "\n".join(lines)


def price_per_m2(slabs: Sequence[Slab]) -> float | None:
    """Mean price of the sound face of slabs that have one; None where none has."""
    from futtock.stock.rack import areas_m2

    priced = [s for s in slabs if s.price is not None]
    area = min(areas_m2(priced)) if priced else 0.0
    return sum(s.price or 0.0 for s in priced) / area if area > 0 else None


def _cut_now(
    taking: Stocktaking,
    rest: Mapping[str, int],
    asked: EnoughSettings,
    seed: int,
    run: Run,
    document: dict[str, Any],
) -> str:
    """What may be cut from the measured slabs now; each slab as it would be laid out by itself."""
    from futtock.layout.cutting_now import prices
    from futtock.layout.drawn import case_of
    from futtock.layout.lay import lay
    from futtock.layout.part import part_of

    problem = taking.problem
    own = [k for k, s in enumerate(problem.slabs) if s.name not in taking.like.parent]
    part = part_of(problem, None, own)
    layout = lay(
        part.moulds, part.slabs, part.settings, taking.job.report, seed=seed, rounds=CUT_ROUNDS,
        problem=part,
    )  # fmt: skip
    case = case_of(problem, rest, asked, taking.like.parent, seed)
    told = prices(case, layout.placements, taking.job.report, run=run)
    document["cut_now"] = [
        {
            "slab": p.slab,
            "marks": list(p.marks),
            "free": p.free,
            "chance_lost": p.chance,
            "chance_error": p.error,
            "timbers_lost": p.timbers,
            "timbers_error": p.timbers_error,
        }
        for p in told
    ]
    free = [p for p in told if p.free]
    lines = [
        f"{len(free)} of {len(told)} measured slabs may be cut now without harm that could be told:"
        if told
        else "No timber fits a measured slab, so there is nothing to cut now."
    ]
    lines += [f"  {p.slab}: {', '.join(p.marks)}" for p in free]
    if len(free) < len(told):
        lines.append("Wait with these until more is measured; cut now, they cost:")
    lines += [
        f"  {p.slab}: {', '.join(p.marks)}: {100 * p.chance:.0f} in 100 of the chance, "
        f"{p.timbers:.1f} timbers more to go short (+-{2 * p.timbers_error:.1f})"
        for p in told
        if not p.free
    ]
    return "\n".join(lines)


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
