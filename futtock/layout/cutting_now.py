"""What may be cut now, with slabs not yet measured: the price of each cut, in chance lost.

A timber cut from a slab is sure, but what the slab might have given instead is gone. The pile is
drawn again and again, as it may turn out to be, and laid out with the slab left whole and with its
timbers already cut from it, on the same draws. What waiting is worth is the difference.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from futtock.layout.drawn import Case, Drawn, Run, draw, draw_closer, last_of, run_here
from futtock.layout.islands import rules_of
from futtock.layout.placement import Placement
from futtock.progress import Progress, Report, quiet

Array = NDArray[np.float64]

PILES = 60  # piles drawn for every price
FREE = 0.02  # chance lost that is no price worth waiting for


@dataclass(frozen=True, slots=True)
class Price:
    """What it costs to cut these timbers of a slab now.

    ``chance`` lost (negative: gained, as far as can be told), its standard ``error``; ``timbers``
    more that are expected to go short. ``free``: neither is more than its error, or worth a wait.
    """

    slab: str
    marks: tuple[str, ...]
    chance: float
    error: float
    timbers: float
    timbers_error: float

    @property
    def free(self) -> bool:
        """Whether they may be cut now."""
        chance = self.chance <= max(FREE, self.error)
        return chance and self.timbers <= max(0.1, 2.0 * self.timbers_error)


def prices(
    case: Case,
    placements: Sequence[Placement],
    report: Report = quiet,
    *,
    by_slab: bool = True,
    piles: int = PILES,
    run: Run = run_here,
) -> tuple[Price, ...]:
    """The price of cutting each slab's placements now, or each placement's; cheapest first.

    ``placements`` lie on measured slabs.
    """
    groups: dict[tuple[str, str], list[Placement]] = {}
    for p in placements:
        groups.setdefault((p.slab, "" if by_slab else p.mark), []).append(p)
    whole = list(run(draw, case, range(piles)))
    out = []
    for done, ((slab, _), own) in enumerate(sorted(groups.items())):
        if not report(Progress("pricing cuts", done, len(groups), slab)):
            break
        less = with_cut(case, own)
        cut = list(run(draw, less, range(piles)))
        # a pile that is nearly complete is searched longer both ways, or the search tells its own
        near = [
            r
            for r in range(piles)
            if any(0 < d[r].short.sum() <= last_of(case.demand) for d in (whole, cut))
        ]
        for many, of in ((whole, case), (cut, less)):
            for r, d in zip(near, run(draw_closer, of, near), strict=True):
                many[r] = d
        out.append(_price(slab, own, whole, cut))
    return tuple(sorted(out, key=lambda p: (not p.free, round(p.chance, 3), p.timbers, p.slab)))


def with_cut(case: Case, placements: Sequence[Placement]) -> Case:
    """The case with these timbers got and cut out of their slabs, of which the rest remains."""
    from futtock.layout import filling

    problem = case.problem
    ground = problem.ground._replace(
        top=problem.ground.top.copy(), bottom=problem.ground.bottom.copy()
    )
    number = {m.mark: j for j, m in enumerate(problem.moulds)}
    slabs = {s.name: k for k, s in enumerate(problem.slabs)}
    gap = rules_of(problem.settings).gap
    demand = case.demand.copy()
    for p in placements:
        j, k = number[p.mark], slabs[p.slab]
        demand[problem.member[j].pattern] -= 1
        a, b = ground.off[k], ground.off[k + 1]
        filling.cut_item(
            problem.patterns, ground, k, ground.top[a:b], ground.bottom[a:b],
            problem.item(j, k, p), gap,
        )  # fmt: skip
    return replace(case, problem=replace(problem, ground=ground), demand=demand)


def _price(
    slab: str, own: Sequence[Placement], whole: Sequence[Drawn], cut: Sequence[Drawn]
) -> Price:
    n = len(whole)
    short = np.array([[d.short.sum() for d in many] for many in (whole, cut)], float)
    lost = (short[0] == 0).astype(float) - (short[1] == 0)
    more = short[1] - short[0]
    return Price(
        slab,
        tuple(sorted(p.mark for p in own)),
        float(lost.mean()),
        float(max(lost.std(), 0.5 / np.sqrt(n)) / np.sqrt(n)),
        float(more.mean()),
        float(max(more.std(), 0.5 / np.sqrt(n)) / np.sqrt(n)),
    )
