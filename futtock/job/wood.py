"""What a slab's wood still does: how much to leave for its drying, what its grain leaves of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from futtock.job.whole import Job
    from futtock.measure import Style
    from futtock.stock.moisture import Allowance
    from futtock.stock.slab import Slab


def to_leave(job: Job, slab: Slab) -> tuple[Allowance, Allowance] | None:
    """What to leave on sided and greatest moulded size, from the slab's moisture to service.

    None where the frames' sizes, the slab's moisture or its wood's shrinkage are not known.
    """
    from futtock.stock.moisture import allowance
    from futtock.stock.species import species

    vessel = job.stated.vessel
    wood = species(slab.species)
    if vessel.framing is None or wood is None or slab.moisture_percent is None:
        return None
    sided = vessel.framing.sided_of_mm(1)
    moulded = max(depth for _share, depth in vessel.framing.moulded.table())
    now, then, sawn = slab.moisture_percent, vessel.timber.moisture_percent, vessel.timber.sawn
    one = allowance(wood, "sided", sided, now, then, sawn)
    other = allowance(wood, "moulded", moulded, now, then, sawn)
    return (one, other) if one is not None and other is not None else None


def leave_document(left: tuple[Allowance, Allowance] | None) -> dict[str, Any] | None:
    """``to_leave`` of a slab in ``rack list``: least and most, negative where the wood swells."""
    if left is None:
        return None
    sided, moulded = left
    return {
        "service_percent": sided.service_percent,
        "sided_mm": [round(sided.least_mm, 2), round(sided.most_mm, 2)],
        "moulded_mm": [round(moulded.least_mm, 2), round(moulded.most_mm, 2)],
    }


def leave_words(left: tuple[Allowance, Allowance], style: Style) -> str:
    """How much to leave on sizes sawn now, in words."""
    from futtock.measure import show

    sided, moulded = left

    def of(one: Allowance) -> str:
        low, high = sorted((one.least_mm, one.most_mm))
        span = f"{low:.1f}" if round(low, 1) == round(high, 1) else f"{low:.1f} to {high:.1f}"
        return f"{span} mm on {show(one.wanted_mm, style)}"

    return (
        f"from {sided.now_percent:g} % to {sided.service_percent:g} % in service leave {of(sided)} "
        f"sided, {of(moulded)} moulded"
    )


def strength_words(slope_1_in: float) -> list[str]:
    """What each published source leaves of the strength where the grain slopes 1 in so many."""
    from futtock.stock.strength import strength_left

    by_source: dict[str, list[str]] = {}
    for left in strength_left(1.0 / slope_1_in):
        memory = ", from memory" if left.remembered else ""
        figure = "not given so steep" if left.percent is None else f"{left.percent:.0f} %"
        key = f"{left.source} ({left.of}{memory})"
        by_source.setdefault(key, []).append(f"{left.what} {figure}")
    return [f"{source}: {', '.join(figures)}" for source, figures in by_source.items()]
