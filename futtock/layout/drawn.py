"""Piles drawn from what is measured, each laid out by the quick greedy search.

How the pile is made up is itself uncertain with few measured: each replicate first draws weights
over the measured slabs from a Dirichlet law (the Bayesian bootstrap: Rubin 1981), made flatter so
that the mean's spread is that of an unbiased variance. Each stack is then drawn about that pile:
its own measured slabs count one each, the pile ``LENT`` together (the law of shares drawn about
common ones: Ferguson 1973; Teh and others 2006), so that a stack of which two are measured is not
taken to hold two kinds of slab. The slabs not measured are drawn from their stack's weights.

A timber that no measured slab gives, nor any like one, may still be given by one not measured. How
often such slabs come is drawn from a Beta law fitted to how often the measured slabs give the other
timbers, with the failures seen added to it (empirical Bayes).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused
from futtock.layout.islands import new_island, rules_of
from futtock.layout.problem import Problem

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Common = TypeVar("Common")
Made = TypeVar("Made")
Run = Callable[[Callable[[Any, int], Any], Any, Sequence[int]], Iterable[Any]]
"""Calls a function of (what is common, number) for every number and gives the results in order."""

LENT = 4.0  # slabs' worth that the pile lends to each stack; settled on invented yards
NEAR = 0.04  # share of the timbers, short of which a pile is nearly complete
MOVES = 8  # slabs emptied and filled again to eke out a pile
A_SLAB = 10  # rounds of the full search for each slab: under 6 it seeks no prices, and gets less
LAST = 3  # timbers left over that the full search might get, or that share of them
CLOSER = (8, 4, 3)  # piles short of one, of two, of a few, that the full search lays out
MORE = 1.0  # slabs tried beyond the pile, as a share of it
THREADS = 2
_RAREST = 1e-5  # rate of slabs below which none is waited for


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


@dataclass(frozen=True)
class Case:
    """One question, ready to be drawn.

    ``member`` (slabs,) says which measured slab each slab of the problem is like (itself, where it
    is measured); ``stacks`` (name, slabs not measured) in order; ``stack_of`` (measured,) names.
    ``demand`` (patterns,) timbers wanted. ``use`` (slabs,) ranks slabs by what they can give.
    ``rare``: the Beta law of how often a slab gives a timber.
    """

    problem: Problem
    settings: EnoughSettings
    measured: int
    member: Ints
    stack_of: tuple[str, ...]
    stacks: tuple[tuple[str, int], ...]
    demand: Ints
    use: Array
    rare: tuple[float, float] = (0.5, 2.0)
    seed: int = 0


@dataclass(frozen=True)
class Drawn:
    """What one drawn pile gave.

    ``short`` (patterns,) timbers it did not give; ``more`` further slabs that were wanted (None:
    more than were tried); ``laid`` (slabs,) area laid on each slab of the problem, m2, and
    ``turned`` (slabs,) how often each was turned over.
    """

    short: Ints
    more: int | None
    laid: Array
    turned: Ints


def case_of(
    problem: Problem,
    unmeasured: Mapping[str, int],
    settings: EnoughSettings,
    like: Mapping[str, str],
    seed: int,
) -> Case:
    """The case. ``like``: the measured slab's name by the name of a slab like it; those come last.

    Raises Misused where a stack has fewer than no slabs.
    """
    if any(n < 0 for n in unmeasured.values()):
        raise Misused("a stack cannot have fewer slabs than are measured of it.")
    number = {s.name: k for k, s in enumerate(problem.slabs) if s.name not in like}
    measured = len(number)
    member = np.array(
        [number[like.get(s.name, s.name)] for s in problem.slabs], np.int64
    )  # a slab made over comes after all that are measured
    demand = np.zeros(len(problem.patterns.area), np.int64)
    for m in problem.member:
        demand[m.pattern] += 1
    use = (problem.poses.ok * (problem.patterns.area * demand)[:, None]).sum(0)
    return Case(
        problem,
        settings,
        measured,
        member,
        tuple(problem.slabs[k].stack for k in range(measured)),
        tuple((name, int(unmeasured[name])) for name in sorted(unmeasured)),
        demand,
        use / (0.3 + problem.ground.cost),
        _rare(problem.poses.ok[:, :measured].mean(1) if measured else np.empty(0), demand),
        seed,
    )


def _rare(rate: Array, demand: Ints) -> tuple[float, float]:
    """The Beta law with the mean and variance of the rates at which slabs give timbers.

    Kept to an evidence of 1 to 20 slabs, and to the law of no knowledge where there are no rates.
    """
    if not demand.sum() or not len(rate):
        return 0.5, 2.0
    mean = float(np.clip(np.average(rate, weights=demand), 0.02, 0.98))
    spread = float(np.average((rate - mean) ** 2, weights=demand))
    total = float(np.clip(mean * (1.0 - mean) / max(spread, 1e-6) - 1.0, 1.0, 20.0))
    return mean * total, (1.0 - mean) * total


def shares(case: Case, rng: np.random.Generator) -> Array:
    """How each stack may be made up: shares (stacks, measured) of slabs like each measured one.

    The pile's shares come from a Dirichlet law whose parameters sum to the slabs' number less 2, a
    third of it at least: its mean then spreads as the unbiased variance over n does,
    1 / (a n + 1) = 1 / (n - 1). A pile of one stack is that stack.
    """
    m = case.measured
    pile = rng.dirichlet(np.full(m, max((m - 2) / m, 1.0 / 3.0)))
    if {*case.stack_of, *(name for name, _ in case.stacks)} <= {case.stack_of[0]}:
        return np.tile(pile, (len(case.stacks), 1))
    own = np.array([[name == stack for name in case.stack_of] for stack, _ in case.stacks])
    law = np.maximum(own.reshape(-1, m) + LENT * pile, 1e-9)
    out: Array = np.array([rng.dirichlet(a) for a in law]).reshape(-1, m)
    return out


def draw(case: Case, r: int) -> Drawn:
    """Pile number r, laid out quickly."""
    return _drawn(case, r, False)


def draw_closer(case: Case, r: int) -> Drawn:
    """The same pile, laid out by the full search."""
    return _drawn(case, r, True)


def _drawn(case: Case, r: int, longer: bool) -> Drawn:
    from futtock.layout import piles
    from futtock.layout.filling import MOST

    problem, settings = case.problem, case.settings
    rng = np.random.default_rng([case.seed, r])
    whole, further = pile_of(case, rng)
    fresh = np.arange(len(whole)) >= case.measured
    kept = rng.random(len(whole)) >= settings.drying_loss
    whole, fresh = whole[kept], fresh[kept]
    spoiled = rng.binomial(case.demand, settings.spoilage) if settings.spoilage else 0
    wanted = case.demand + spoiled
    island = new_island(problem, case.demand, int(rng.integers(2**31)))
    rules = rules_of(problem.settings)
    laid, turned = np.zeros(len(problem.slabs)), np.zeros(len(problem.slabs), np.int64)

    never: NDArray[np.bool_] = np.asarray(~problem.poses.ok.any(1))
    whole, found, waits = _unseen(case, never, wanted, whole, fresh, rng)
    wanted = wanted - found
    items = np.zeros((len(whole), MOST, 7))
    count = np.zeros(len(whole), np.int64)
    left = wanted.copy()
    order = whole[np.argsort(-case.use[whole] * rng.uniform(0.85, 1.0, len(whole)), kind="stable")]
    arrays = (problem.patterns, problem.ground, problem.poses, rules)
    work = (island.top, island.bottom, island.state)
    turn = piles.through(*arrays, order, left, 1, *work, items, count)
    gave = [problem.patterns.area[items[q, : count[q], 0].astype(int)].sum() for q in range(turn)]
    np.add.at(laid, order[:turn], gave)
    np.add.at(turned, order[:turn], 1)
    near = 0 < left.sum() <= last_of(wanted)
    # where no slab of the pile gives a timber, no other order of laying will
    if near and problem.poses.ok[left > 0][:, order].any(1).all():
        if longer:
            left = _searched(problem, order, wanted, left, r)
        else:
            piles.eked_out(*arrays, order, left, MOVES, *work, items, count)
    short = left.copy()
    if not short.sum():
        return Drawn(short, 0, laid, turned)
    left[never] = 0
    items, count = np.zeros((len(further), MOST, 7)), np.zeros(len(further), np.int64)
    more = piles.through(*arrays, further, left, 1, *work, items, count)
    return Drawn(
        short, None if left.sum() or waits > len(further) else max(more, waits), laid, turned
    )


def last_of(wanted: Ints) -> int:
    """Timbers left over by the quick search that the full one may still get."""
    return max(LAST, round(NEAR * int(wanted.sum())))


def _searched(problem: Problem, pile: Ints, wanted: Ints, left: Ints, seed: int) -> Ints:
    """What the full search leaves over (patterns,) of a pile in which a slab may stand twice."""
    from futtock.layout.laying import searched
    from futtock.layout.part import part_of
    from futtock.progress import quiet

    whole = part_of(problem, None, pile.tolist())
    rounds = A_SLAB * len(pile)
    best, _ = searched(
        whole, wanted, problem.settings, quiet, seed, rounds, None, None, till_got=True
    )
    return best.left if best.left.sum() < left.sum() else left


def pile_of(case: Case, rng: np.random.Generator) -> tuple[Ints, Ints]:
    """A pile as it may be: its slabs, the measured first, and others of its mix beyond it."""
    families = _families(case)
    stacks = shares(case, rng)
    pile: list[Ints] = []
    mix = np.full(case.measured, 1e-9)
    for share, (_, n) in zip(stacks, case.stacks, strict=True):
        mix += share * max(n, 1)
        pile.append(rng.choice(case.measured, n, p=share))
    parents = np.concatenate([*pile, np.empty(0, np.int64)])
    whole = np.concatenate([np.arange(case.measured), _of_family(families, parents, rng)])
    beyond = rng.choice(case.measured, max(1, int(MORE * len(whole))), p=mix / mix.sum())
    return whole, _of_family(families, beyond, rng)


def _unseen(
    case: Case,
    never: NDArray[np.bool_],
    wanted: Ints,
    whole: Ints,
    fresh: NDArray[np.bool_],
    rng: np.random.Generator,
) -> tuple[Ints, Ints, int]:
    """Timbers that nothing measured gives, found on slabs not measured (``fresh``).

    Returns the pile without the slabs that they take, how many of each pattern were found
    (patterns,), and how many slabs beyond the pile must be turned over for those that were not.
    """
    found, waits = np.zeros_like(wanted), 0
    if not (never & (wanted > 0)).any():
        return whole, found, waits
    strange = int(fresh.sum())
    a, b = case.rare
    taken = 0.0
    P, G = case.problem.patterns, case.problem.ground
    usual = 0.45 * float(G.sound.mean())
    for i in np.flatnonzero(never & (wanted > 0)):
        rate = rng.beta(a, b + case.measured)
        found[i] = min(int(rng.binomial(strange, rate)), int(wanted[i]))
        taken += found[i] * min(1.0, float(P.plan[i]) / usual)
        if found[i] < wanted[i]:
            short = int(wanted[i] - found[i])
            waits = max(waits, short + int(rng.negative_binomial(short, max(rate, _RAREST))))
    gone = min(strange, int(taken + rng.random()))
    lost = rng.choice(np.flatnonzero(fresh), gone, replace=False) if gone else np.empty(0, np.int64)
    return np.delete(whole, lost), found, waits


def _families(case: Case) -> list[Ints]:
    """The slabs like each measured one; itself where none was made over."""
    out = []
    for k in range(case.measured):
        own = np.flatnonzero(case.member == k)
        over = own[own >= case.measured]
        out.append(over if len(over) else own)
    return out


def _of_family(families: Sequence[Ints], parents: Ints, rng: np.random.Generator) -> Ints:
    """For each parent drawn, one slab like it; none twice before the family has been through."""
    out = np.empty(len(parents), np.int64)
    for p in np.unique(parents):
        at, own = np.flatnonzero(parents == p), families[p]
        turns = [rng.permutation(own) for _ in range(-(-len(at) // len(own)))]
        out[at] = np.concatenate(turns)[: len(at)]
    return out


def run_here(
    function: Callable[[Common, int], Made], common: Common, numbers: Sequence[int]
) -> Iterable[Made]:
    """Results in order, on this machine's threads: compiled code leaves Python's lock alone."""
    pool = ThreadPoolExecutor(THREADS)
    try:
        yield from pool.map(lambda r: function(common, r), numbers)
    finally:
        pool.shutdown(cancel_futures=True)
