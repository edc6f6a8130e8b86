"""Is there enough? The chance that a pile, part of it measured, gives every timber still wanted.

The slabs not measured are taken to be like those measured on the same stack. How alike is itself
uncertain with few measured: each replicate first draws how the stack may be made up (weights from
the flat Dirichlet law over its measured slabs, the Bayesian bootstrap: Rubin 1981), then draws the
unmeasured slabs from that. Every drawn pile is laid out by the quick greedy search, which finds a
little less than the full one, so the chance told is a cautious one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused
from futtock.findings import Finding
from futtock.layout import kinds
from futtock.layout.exact import thickness_needed
from futtock.layout.islands import new_island, rules_of
from futtock.layout.problem import Problem
from futtock.progress import Progress, Report, quiet

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
ShapeClass = tuple[float, float, float, float]

FEWEST = 8  # measured slabs below which no chance is worth having
MORE = 1.0  # slabs tried beyond the pile, as a share of it
THREADS = 2
_STEP_MM = {"length": 150.0, "width": 20.0, "sweep": 30.0}


@dataclass(frozen=True, slots=True)
class EnoughSettings:
    """How the question is asked.

    ``spoilage``: share of timbers that will be spoiled and made again; ``drying_loss``: share of
    slabs lost to checks and warp before they are used; ``replicates``: piles drawn.
    """

    spoilage: float = 0.04
    drying_loss: float = 0.02
    replicates: int = 200

    def __post_init__(self) -> None:
        if not (0.0 <= self.spoilage < 1.0 and 0.0 <= self.drying_loss < 1.0):
            raise Misused("spoilage and drying_loss are shares: give 0 to 1.")
        if self.replicates < 1:
            raise Misused("draw one pile at least.")


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

    ``probability`` that all timbers are got, with its standard error from the number of piles
    drawn; ``short`` (replicates,) timbers missing in each, ``short_of`` (replicates, patterns) by
    pattern; ``more_slabs`` further slabs, of the
    pile's own mix, at which the chance is 50 and 90 % (None: not within twice the pile);
    ``measure_next`` the stack whose measuring would narrow the answer most.
    """

    measured_slabs: int
    unmeasured_slabs: int
    probability: float
    error: float
    missing: tuple[Missing, ...]
    more_slabs: tuple[int | None, int | None]
    short: Ints
    measure_next: str | None
    says: str
    findings: tuple[Finding, ...]
    short_of: Ints
    seconds: float = 0.0


def enough(
    problem: Problem,
    unmeasured: Mapping[str, int],
    settings: EnoughSettings | None = None,
    report: Report = quiet,
    *,
    seed: int = 0,
    seconds: float = 0.0,
) -> Enough:
    """The chance that the pile is enough.

    Parameters
    ----------
    problem
        The timbers still wanted, and the *measured* slabs.
    unmeasured
        How many slabs of each stack are not measured.

    Raises Misused where a count is below nought. With no slab measured there is no answer: the
    probability is nan and a finding says how many to measure first.
    """
    settings = settings or EnoughSettings()
    if any(n < 0 for n in unmeasured.values()):
        raise Misused("a stack cannot have fewer slabs than are measured of it.")
    findings = list(problem.findings)
    names = [s.stack for s in problem.slabs]
    m, wanted = len(names), len(problem.moulds)
    more = int(sum(unmeasured.values()))
    if m == 0:
        findings.append(
            kinds.TOO_FEW.found(f"No slab is measured; measure {FEWEST} first, some of each stack.")
        )
        return Enough(
            0,
            more,
            float("nan"),
            0.0,
            (),
            (None, None),
            np.empty(0, np.int64),
            None,
            f"Nothing can be said before slabs are measured: measure {FEWEST} first, some of "
            "each stack.",
            tuple(findings),
            np.empty((0, len(problem.patterns.area)), np.int64),
            seconds,
        )
    if m < FEWEST:
        findings.append(
            kinds.TOO_FEW.found(
                f"Only {m} slabs are measured: the answer is little worth before {FEWEST} are."
            )
        )
    strange = sorted(s for s, n in unmeasured.items() if n and s not in names)
    if strange:
        findings.append(
            kinds.NO_SAMPLE.found(
                f"No slab is measured of stack {', '.join(strange)}: taken to be like all others.",
                read=", ".join(strange),
            )
        )
    of = {s: np.array([k for k, n in enumerate(names) if n == s]) for s in set(names)}
    everything = np.arange(m)
    demand = np.zeros(len(problem.patterns.area), np.int64)
    for member in problem.member:
        demand[member.pattern] += 1
    usable = problem.poses.ok.sum(1)
    use = (problem.poses.ok * (problem.patterns.area * demand)[:, None]).sum(0)
    use = use / (0.3 + problem.ground.cost)

    def replicate(r: int) -> tuple[Ints, int | None]:
        rng = np.random.default_rng([seed, r])
        pile: list[Any] = [everything]
        extra_from: list[Any] = []
        for stack in sorted(unmeasured):
            n = unmeasured[stack]
            group = of.get(stack, everything)
            share = rng.dirichlet(np.ones(len(group)))
            pile.append(rng.choice(group, n, p=share))
            extra_from.append(np.bincount(group, share * max(n, 1), minlength=m))
        whole = np.concatenate(pile)
        whole = whole[rng.random(len(whole)) >= settings.drying_loss]
        whole = whole[np.argsort(-use[whole] * rng.uniform(0.85, 1.0, len(whole)), kind="stable")]
        spoiled = rng.binomial(demand, settings.spoilage) if settings.spoilage else 0
        left = demand + spoiled
        island = new_island(problem, demand, int(rng.integers(2**31)))
        rules = rules_of(problem.settings)

        def lay_on(slabs: Ints) -> int:
            from futtock.layout.piles import through

            return int(
                through(
                    problem.patterns,
                    problem.ground,
                    problem.poses,
                    rules,
                    np.ascontiguousarray(slabs, np.int64),
                    left,
                    1,
                    island.top,
                    island.bottom,
                    island.state,
                )
            )

        lay_on(whole)
        short = left.copy()
        if not short.sum():
            return short, 0
        mix = np.sum(extra_from, axis=0) if extra_from else np.ones(m)
        never = short[usable == 0].sum()
        further = rng.choice(m, max(1, int(MORE * (m + more))), p=mix / mix.sum())
        left[usable == 0] = 0
        turned = lay_on(further)
        return short, None if left.sum() or never else turned

    shorts: list[Ints] = []
    needs: list[int | None] = []
    with ThreadPoolExecutor(THREADS) as pool:
        for r, (short, need) in enumerate(pool.map(replicate, range(settings.replicates))):
            shorts.append(short)
            needs.append(need)
            if not report(Progress("drawing piles", r + 1, settings.replicates)):
                pool.shutdown(cancel_futures=True)
                break
    table = np.array(shorts)
    total = table.sum(1)
    chance = float((total == 0).mean())
    error = float(np.sqrt(max(chance * (1 - chance), 0.25 / len(total)) / len(total)))
    more_slabs = (_quantile(needs, 0.5), _quantile(needs, 0.9))
    missing = _missing(problem, table.mean(0))
    following = _measure_next(use, of, unmeasured)
    says = _says(m, more, wanted, chance, error, total, more_slabs, following)
    return Enough(
        m,
        more,
        chance,
        error,
        missing,
        more_slabs,
        total,
        following,
        says,
        tuple(findings),
        table,
        seconds,
    )


def _quantile(needs: Sequence[int | None], share: float) -> int | None:
    """The least count that is enough in this share of the drawn piles, or None."""
    order = sorted(needs, key=lambda n: (n is None, n or 0))
    return order[min(len(order) - 1, int(np.ceil(share * len(order))) - 1)]


def _measure_next(use: Array, of: Mapping[str, Ints], unmeasured: Mapping[str, int]) -> str | None:
    """The stack in which the most is still unknown.

    That is: slabs not measured times the standard error of their mean usefulness, a stack with one
    or none measured taken at the worst.
    """
    best: tuple[float, str] | None = None
    spread = float(use.std()) + 1e-9
    for stack in sorted(unmeasured):
        if not unmeasured[stack]:
            continue
        group = of.get(stack)
        if group is None or len(group) < 2:
            unknown = unmeasured[stack] * spread
        else:
            own = float(use[group].std(ddof=1))
            unknown = unmeasured[stack] * (own + 0.1 * spread) / np.sqrt(len(group))
        if best is None or unknown > best[0]:
            best = (unknown, stack)
    return best[1] if best else None


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
    m: int,
    more: int,
    wanted: int,
    chance: float,
    error: float,
    total: Ints,
    more_slabs: tuple[int | None, int | None],
    following: str | None,
) -> str:
    rests = (
        f"from {m} slabs measured and {more} not, {len(total)} piles drawn, +-{100 * error:.0f} %"
    )
    if chance >= 0.9:
        head = f"The pile is very likely enough for the {wanted} timbers: {100 * chance:.0f} %"
    elif chance >= 0.5:
        head = f"The pile is more likely enough than not: {100 * chance:.0f} %"
    else:
        low, high = np.percentile(total, [10, 90])
        head = (
            f"The pile is likely short by {low:.0f} to {high:.0f} of {wanted} timbers; the chance "
            f"of all is {100 * chance:.0f} %"
        )
    tail = ""
    if chance < 0.9:
        half, most = more_slabs
        if most is not None:
            tail = f" Get {most} more slabs of this mix for 9 chances in 10 ({half} for 1 in 2)."
        else:
            tail = (
                " No number of slabs of this mix within reach brings it to 9 in 10: see the shapes."
            )
    if following is not None:
        tail += f" Measure stack {following} next."
    return f"{head} ({rests}).{tail}"


def enough_json(answer: Enough) -> dict[str, Any]:
    """The answer with the keys that outside checks read; a chance that cannot be told is null."""
    chance = answer.probability
    return {
        "measured_slabs": answer.measured_slabs,
        "unmeasured_slabs": answer.unmeasured_slabs,
        "probability": None if np.isnan(chance) else chance,
        "error": answer.error,
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
        "says": answer.says,
        "seconds": answer.seconds,
    }
