"""Is there enough? The chance that a pile, part of it measured, gives every timber still wanted.

The slabs not measured are taken to be like those measured, of the same stack above all
(:mod:`futtock.layout.drawn`, :mod:`futtock.layout.alike`). Every drawn pile is laid out by the
quick greedy search, which finds a little less than the full one, so the chance told is a cautious
one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from futtock.findings import Finding
from futtock.layout import kinds
from futtock.layout.drawn import (
    CLOSER,
    Case,
    Drawn,
    EnoughSettings,
    Run,
    case_of,
    draw,
    draw_closer,
    last_of,
    run_here,
)
from futtock.layout.exact import thickness_needed
from futtock.layout.narrowing import Narrowing, narrowing
from futtock.layout.problem import Problem
from futtock.progress import Progress, Report, quiet

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
ShapeClass = tuple[float, float, float, float]

FEWEST = 8  # measured slabs below which no chance is worth having
_SMALL, _HOPELESS = 0.2, 0.3  # a chance known to be told low; a share of timbers short at which not
_STEP_MM = {"length": 150.0, "width": 20.0, "sweep": 30.0}


@dataclass(frozen=True, slots=True)
class Missing:
    """Timbers of one shape class expected to go without: middle sizes in mm, and how many."""

    length_mm: float
    width_mm: float
    sweep_mm: float
    thickness_mm: float
    count: float


@dataclass(frozen=True)
class Enough:
    """The answer.

    ``probability`` that all timbers are got (nan where nothing is measured), with its standard
    ``error`` from the number of piles drawn; ``low`` and ``high`` between which it would lie 8
    times in 10 were the make-up of each stack known; ``short`` (replicates,) timbers missing in
    each pile, ``short_of`` (replicates, patterns) by pattern; ``more_slabs`` further slabs, of the
    pile's own mix, at which the chance is 50 and 90 % (None: not within twice the pile);
    ``narrowing`` how further measuring narrows it; ``measure_next`` the stack that narrows it most.
    """

    measured_slabs: int
    unmeasured_slabs: int
    wanted: int
    probability: float
    error: float
    low: float
    high: float
    missing: tuple[Missing, ...]
    more_slabs: tuple[int | None, int | None]
    short: Ints
    measure_next: str | None
    says: str
    findings: tuple[Finding, ...]
    short_of: Ints
    narrowing: Narrowing
    seconds: float = 0.0


def enough(
    problem: Problem,
    unmeasured: Mapping[str, int],
    settings: EnoughSettings | None = None,
    report: Report = quiet,
    *,
    like: Mapping[str, str] | None = None,
    seed: int = 0,
    seconds: float = 0.0,
    run: Run = run_here,
) -> Enough:
    """The chance that the pile is enough.

    Parameters
    ----------
    problem
        The timbers still wanted, and the *measured* slabs, then any slabs like them.
    unmeasured
        How many slabs of each stack are not measured.
    like
        By the name of a slab like a measured one (:func:`futtock.layout.alike.alike`), the
        measured one's; those of the problem that are named here are no part of the pile.
    run
        What draws the piles: :func:`futtock.layout.drawn.run_here`, or a cluster's.

    Raises Misused where a count is below nought. With no slab measured there is no answer: the
    probability is nan and a finding says how many to measure first.
    """
    settings = settings or EnoughSettings()
    case = case_of(problem, unmeasured, settings, like or {}, seed)
    findings = list(problem.findings)
    m, more = case.measured, int(sum(unmeasured.values()))
    wanted = len(problem.moulds)
    nothing = np.empty((0, len(problem.patterns.area)), np.int64)
    if wanted == 0:
        findings.append(kinds.NO_TIMBERS.found("There is no timber still to be got."))
        return Enough(
            m, more, 0, 1.0, 0.0, 1.0, 1.0, (), (0, 0), np.zeros(1, np.int64), None,
            "Every timber is got already; nothing more is wanted of the pile.",
            tuple(findings), nothing, Narrowing((), None, 1.0, 1.0), seconds,
        )  # fmt: skip
    if m == 0:
        said = f"No slab is measured; measure {FEWEST} first, some of each stack."
        findings.append(kinds.TOO_FEW.found(said))
        nan = float("nan")
        return Enough(
            0, more, wanted, nan, 0.0, 0.0, 1.0, (), (None, None), np.empty(0, np.int64), None,
            f"Nothing can be said before slabs are measured: measure {FEWEST} first, some of "
            "each stack.",
            tuple(findings), nothing, Narrowing((), None, 0.0, 1.0), seconds,
        )  # fmt: skip
    findings += _few(case)
    draws: list[Drawn] = []
    for one in run(draw, case, range(settings.replicates)):
        draws.append(one)
        if not report(Progress("drawing piles", len(draws), settings.replicates)):
            findings.append(kinds.STOPPED.found(f"Stopped after {len(draws)} piles were drawn."))
            break
    table, chance, error = _chance(case, draws, run)
    total = table.sum(1)
    needs = [d.more for d in draws]
    more_slabs = (_quantile(needs, 0.5), _quantile(needs, 0.9))
    narrow = _narrowing(case, draws, table, chance)
    missing = _missing(problem, table.mean(0))
    says = _says(case, more, wanted, chance, narrow, total, more_slabs)
    return Enough(
        m,
        more,
        wanted,
        chance,
        error,
        min(chance, narrow.low),
        max(chance, narrow.high),
        missing,
        more_slabs,
        total,
        narrow.following,
        says,
        tuple(findings),
        table,
        narrow,
        seconds,
    )


def _chance(case: Case, draws: Sequence[Drawn], run: Run) -> tuple[Ints, float, float]:
    """Timbers short by pile and pattern, the chance that none is, and its standard error.

    The quick search leaves a timber or two over where the full one would not. Of the piles so
    close, every so many are laid out by the full search, and the share of them that come out
    complete is taken for all (double sampling: Cochran 1977, chapter 12).
    """
    table = np.array([d.short for d in draws])
    total = table.sum(1)
    n = len(total)
    chance, spread = float((total == 0).mean()), 0.0
    edges = (1, 2, 3, last_of(case.demand) + 1)
    for k, (low, high) in enumerate(pairwise(edges)):
        near = np.flatnonzero((total >= low) & (total < high))
        # as many of each kind as there are of it, the closest first
        some = near[:: max(1, -(-len(near) // CLOSER[k]))]
        if not len(some):
            continue
        closer = [d.short for d in run(draw_closer, case, some.tolist())]
        got = float(np.mean([s.sum() == 0 for s in closer]))
        share = len(near) / n
        chance += share * got
        spread += (
            share**2 * max(got * (1 - got), 0.05) / len(some) if len(some) < len(near) else 0.0
        )
        for r, s in zip(some, closer, strict=True):
            table[r] = s
    error = float(np.sqrt(max(chance * (1 - chance), 0.25 / n) / n + spread))
    return table, chance, error


def _few(case: Case) -> list[Finding]:
    """Findings for too small a sample, stacks without one, shapes that nothing measured gives."""
    m = case.measured
    out: list[Finding] = []
    if m < FEWEST:
        out.append(
            kinds.TOO_FEW.found(
                f"Only {m} slabs are measured: the answer is little worth before {FEWEST} are; "
                f"measure {FEWEST - m} more first."
            )
        )
    strange = [s for s, n in case.stacks if n and s not in case.stack_of]
    if strange:
        out.append(
            kinds.NO_SAMPLE.found(
                f"No slab is measured of stack {', '.join(strange)}: taken to be like all others.",
                read=", ".join(strange),
            )
        )
    never = np.flatnonzero(~case.problem.poses.ok.any(1) & (case.demand > 0))
    if len(never):
        marks = [
            case.problem.moulds[j].mark
            for j, member in enumerate(case.problem.member)
            if member.pattern in never
        ]
        shown = ", ".join(marks[:6]) + (" and others" if len(marks) > 6 else "")
        out.append(
            kinds.NO_SHAPE.found(
                f"No slab measured, nor any like one, gives {len(marks)} of the timbers ({shown}); "
                "how many slabs not measured might give them is a guess.",
                read=shown,
            )
        )
    return out


def _narrowing(case: Case, draws: Sequence[Drawn], table: Ints, chance: float) -> Narrowing:
    """How the answer narrows, from the areas laid on the slabs turned over."""
    from scipy.special import ndtri

    laid, turned = (np.sum([getattr(d, n) for d in draws], axis=0) for n in ("laid", "turned"))
    seen = turned > 0
    gives = laid[seen] / turned[seen]
    stack = np.array(case.stack_of)[case.member[seen]]
    whole = float(gives.var()) if len(gives) > 1 else 0.0
    variance: dict[str, float] = {}
    for name, _n in case.stacks:
        own = gives[stack == name]
        # two slabs' worth of the whole pile's spread, for stacks of few
        variance[name] = (len(own) * float(own.var() if len(own) else 0.0) + 2.0 * whole) / (
            len(own) + 2.0
        )
    area, p = case.problem.patterns.area, case.settings.spoilage
    slabs, q = case.measured + sum(n for _, n in case.stacks), case.settings.drying_loss
    other = float((case.demand * area**2).sum()) * p * (1 - p)
    other += slabs * float((gives**2).mean() if len(gives) else 0.0) * q * (1 - q)
    lack = table @ area
    n = len(lack)
    z = float(ndtri(np.clip(chance, 0.5 / n, 1.0 - 0.5 / n)))
    if chance <= 0.0 and n > 1:
        z = min(z, -float(lack.mean()) / max(float(lack.std()), 1e-3))
    counts = {s: case.stack_of.count(s) for s, _ in case.stacks}
    return narrowing(z, dict(case.stacks), counts, variance, other)


def _quantile(needs: Sequence[int | None], share: float) -> int | None:
    """The least count that is enough in this share of the drawn piles, or None."""
    order = sorted(needs, key=lambda n: (n is None, n or 0))
    return order[min(len(order) - 1, int(np.ceil(share * len(order))) - 1)]


def shape_class(problem: Problem, pattern: int) -> ShapeClass:
    """The class of a pattern: middles of its length, width and sweep class, and thickness, mm."""
    j = next(j for j, member in enumerate(problem.member) if member.pattern == pattern)
    mould = problem.moulds[j]
    line = np.asarray(mould.grain_mm, float)
    chord = line[-1] - line[0]
    size = max(float(np.hypot(*chord)), 1e-9)
    rise = np.abs((line - line[0]) @ np.array([-chord[1], chord[0]])) / size
    wide = float(problem.patterns.plan[pattern]) * 1e6 / float(problem.patterns.long[pattern])
    length, width, sweep = (
        float((np.floor(v / _STEP_MM[n]) + 0.5) * _STEP_MM[n])
        for n, v in (("length", mould.length_mm), ("width", wide), ("sweep", float(rise.max())))
    )
    return length, width, sweep, float(thickness_needed(mould, problem.settings))


def _missing(problem: Problem, mean: Array) -> tuple[Missing, ...]:
    """Expected shortfall by shape class, the greatest first; classes under a tenth left out."""
    count: dict[ShapeClass, float] = {}
    for i in np.flatnonzero(mean):
        key = shape_class(problem, int(i))
        count[key] = count.get(key, 0.0) + float(mean[i])
    rows = sorted(count.items(), key=lambda kv: (-kv[1], kv[0]))
    return tuple(Missing(*key, round(float(n), 2)) for key, n in rows if n >= 0.1)


def _says(
    case: Case,
    more: int,
    wanted: int,
    chance: float,
    narrow: Narrowing,
    total: Ints,
    more_slabs: tuple[int | None, int | None],
) -> str:
    m = case.measured
    told = _percent(chance, len(total))
    if chance >= 0.9:
        head = f"The pile is very likely enough for the {wanted} timbers still wanted: {told}"
    elif chance >= 0.5:
        head = f"The pile is more likely enough than not for the {wanted} timbers: {told}"
    else:
        few, many = (round(float(v)) for v in np.percentile(total, [10, 90]))
        much = f"{few} to {many}" if few < many else f"{few}"
        head = f"The pile is likely short by {much} of {wanted} timbers; that all are got: {told}"
    low, high = min(chance, narrow.low), max(chance, narrow.high)
    rests = f"from {m} slabs measured and {more} not, {len(total)} piles drawn"
    if more:
        rests += (
            f"; another {m} slabs measured might have said {100 * low:.0f} to {100 * high:.0f} %"
        )
    tail = ""
    if m < FEWEST:
        tail = f" That is too few to go by: measure {FEWEST - m} more first."
    elif chance < 0.9:
        half, most = more_slabs
        if most is not None:
            tail = f" Get {most} more slabs of this mix for 9 chances in 10 ({half} for 1 in 2)."
        else:
            tail = " Twice the pile of this mix would not make it 9 in 10: get the shapes named."
        if more and chance < _SMALL and np.percentile(total, 10) < _HOPELESS * wanted:
            tail += (
                " On yards made up to try it, chances so small came true more often than told: "
                "measure more before you give the pile up."
            )
    if narrow.following is not None:
        named = f"stack {narrow.following}" if narrow.following else "some of the rest"
        tail += f" Measure {named} next."
    return f"{head} ({rests}).{tail}"


def _percent(chance: float, piles: int) -> str:
    """A chance as a percentage, never finer than the piles drawn can tell."""
    least = max(1, round(100 / piles))
    if chance <= 0.0:
        return f"less than {least} %"
    if chance >= 1.0:
        return f"more than {100 - least} %"
    return f"{100 * chance:.0f} %"


def enough_json(answer: Enough) -> dict[str, Any]:
    """The answer with the keys that outside checks read; a chance that cannot be told is null."""
    chance = answer.probability
    return {
        "measured_slabs": answer.measured_slabs,
        "unmeasured_slabs": answer.unmeasured_slabs,
        "timbers": answer.wanted,
        "probability": None if np.isnan(chance) else chance,
        "error": answer.error,
        "low": answer.low,
        "high": answer.high,
        "piles": len(answer.short),
        "missing": [
            {
                "length_mm": q.length_mm,
                "width_mm": q.width_mm,
                "sweep_mm": q.sweep_mm,
                "thickness_mm": q.thickness_mm,
                "count": q.count,
            }
            for q in answer.missing
        ],
        "more_slabs": {"p50": answer.more_slabs[0], "p90": answer.more_slabs[1]},
        "measure_next": answer.measure_next,
        "narrowing": [
            {
                "further": step.further,
                "measure": [{"stack": s, "slabs": n} for s, n in step.measure],
                "low": step.low,
                "high": step.high,
                "settled": step.settled,
            }
            for step in answer.narrowing.steps
        ],
        "says": answer.says,
        "seconds": answer.seconds,
    }
