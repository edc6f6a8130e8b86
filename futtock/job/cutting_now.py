"""``enough --now`` and ``--cut``: what may be cut before the rest of the pile is measured."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from futtock.errors import Misused
from futtock.findings import Finding, Kind, Severity

if TYPE_CHECKING:
    from futtock.job.stocktaking import Stocktaking
    from futtock.layout.cutting_now import Price
    from futtock.layout.drawn import EnoughSettings, Run
    from futtock.layout.placement import Placement

NO_PLACE = Kind(
    "J022",
    Severity.MISFIT,
    "No slab measured gives the timber that is to be cut",
    "Measure more slabs, or look for the shape that would serve: futtock lay --timber MARK.",
)

CUT_ROUNDS = 200
PLACES = 4
"""Slabs on which the price of one timber is told."""


def cut_now(
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

    part = taking.measured_part
    layout = lay(
        part.moulds, part.slabs, part.settings, taking.job.report, seed=seed, rounds=CUT_ROUNDS,
        problem=part,
    )  # fmt: skip
    case = case_of(taking.problem, rest, asked, taking.like.parent, seed)
    told = prices(case, layout.placements, taking.job.report, run=run)
    document["cut_now"] = [_price(p) for p in told]
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


def cut_one(
    taking: Stocktaking,
    mark: str,
    rest: Mapping[str, int],
    asked: EnoughSettings,
    seed: int,
    run: Run,
    document: dict[str, Any],
) -> tuple[str, list[Finding]]:
    """The price of cutting one timber now: where it is laid out, else at its best places.

    Raises Misused where there is no such timber, or it is cut already.
    """
    from futtock.layout.cutting_now import PILES, prices
    from futtock.layout.drawn import case_of

    case = case_of(taking.problem, rest, asked, taking.like.parent, seed)
    places = _places(taking, mark)
    document["cut"] = {"mark": mark, "piles": PILES, "places": []}
    if not places:
        said = f"No slab measured gives {mark}, so it cannot be cut now."
        return said, [NO_PLACE.found(said, read=mark)]
    told = prices(case, places, taking.job.report, by_slab=False, run=run)
    document["cut"]["places"] = [_price(p) for p in told]
    best = told[0]
    head = (
        f"{mark} may be cut from {best.slab} now: no harm could be told."
        if best.free
        else f"Wait with {mark}: cut from {best.slab} now it costs {_costs(best)}."
    )
    rests = f"({PILES} piles drawn, with the timber cut and with the slab left whole)"
    lines = [f"{head} {rests}"]
    lines += [f"  from {p.slab}: {_costs(p)}{', free' if p.free else ''}" for p in told]
    return "\n".join(lines), []


def _places(taking: Stocktaking, mark: str) -> list[Placement]:
    """Where the accepted layout has the timber; else its best place on each of a few slabs."""
    from futtock.layout.hand import best_places

    if mark in taking.pile.shown.cut:
        raise Misused(f"{mark} is cut already.")
    mould = next((m for m in taking.job.moulds if m.mark == mark), None)
    if mould is None:
        raise Misused(f"There is no timber {mark}.")
    names = {s.name for s in taking.measured}
    laid = [p for p in taking.pile.accepted if p.mark == mark and p.slab in names]
    if laid:
        return laid
    found: dict[str, Placement] = {}
    for place in best_places(
        mould, taking.measured, taking.pile.settings, problem=taking.measured_part, n=2 * PLACES
    ):
        found.setdefault(place.placement.slab, place.placement)
    return list(found.values())[:PLACES]


def _costs(p: Price) -> str:
    return (
        f"{max(100 * p.chance, 0.0):.0f} in 100 of the chance (+-{200 * p.error:.0f}), "
        f"{max(p.timbers, 0.0):.1f} timbers more to go short (+-{2 * p.timbers_error:.1f})"
    )


def _price(p: Price) -> dict[str, Any]:
    return {
        "slab": p.slab,
        "marks": list(p.marks),
        "free": p.free,
        "chance_lost": p.chance,
        "chance_error": p.error,
        "timbers_lost": p.timbers,
        "timbers_error": p.timbers_error,
    }
