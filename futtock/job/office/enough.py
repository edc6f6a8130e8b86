"""The page that asks whether there is enough: the sentence, the gauge, what to buy."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from futtock.findings import Finding, Severity
from futtock.job.accounts import counted
from futtock.job.office.said import show

if TYPE_CHECKING:
    from futtock.job.office.office import Office
    from futtock.job.office.tasks import Outcome
    from futtock.measure import Style

ODDS = (
    (0.98, "Surely."),
    (0.8, "Probably."),
    (0.55, "Likely, not surely."),
    (0.45, "As like as not."),
    (0.2, "Probably not."),
    (-1.0, "No."),
)


@dataclass(frozen=True)
class EnoughView:
    """The page."""

    says: str
    lead: str
    percent: float | None
    low: float
    high: float
    piles: int
    missing: tuple[tuple[str, str, str, str, str], ...]
    more: str
    stacks: tuple[tuple[str, int, int], ...]
    account: str
    findings: tuple[Finding, ...]
    failed: Outcome | None
    stale: bool
    seconds: float


def enough_view(office: Office) -> EnoughView:
    """What was found last, or what is to be asked."""
    job = office.sitting().need("papers")
    style = job.stated.vessel.show
    found = office.tasks.outcome("enough")
    slabs = job.rack.slabs
    measured = sum(s.measured for s in slabs)
    names = sorted({s.stack for s in slabs})
    stacks = tuple(
        (
            n,
            sum(s.measured for s in slabs if s.stack == n),
            sum(not s.measured for s in slabs if s.stack == n),
        )
        for n in names
    )
    if found is None or found.document is None:
        lead = (
            f"{measured} of {counted(len(slabs), 'slab')} are measured. The rest are taken to be "
            "like those of their stack, some two hundred times over, and every pile is laid out."
        )
        return EnoughView(
            "Is there enough?", lead, None, 0, 0, 0, (), "", stacks, "", (), found, False, 0.0
        )
    d = found.document
    chance = d["probability"]
    if chance is None:
        return EnoughView(
            "Nothing can be said yet.", d["says"], None, 0, 0, 0, (), "", stacks, found.account,
            found.findings, None, found.revision != job.revision, found.seconds,
        )  # fmt: skip
    word = next(w for least, w in ODDS if chance >= least)
    reach = 1.96 * d["error"]
    low, high = max(0.0, chance - reach), min(1.0, chance + reach)
    return EnoughView(
        f"{word} About {round(100 * chance)} piles in 100 like yours give every timber."
        if chance >= 0.005
        else "No. None of the piles drawn gives every timber.",
        d["says"],
        round(100 * chance, 1),
        round(100 * low, 1),
        round(100 * high, 1),
        round(100 * chance),
        _missing(d, style),
        _more(d),
        stacks,
        found.account,
        tuple(f for f in found.findings if f.severity is not Severity.NOTE),
        None,
        found.revision != job.revision,
        found.seconds,
    )


def _missing(d: dict[str, Any], style: Style) -> tuple[tuple[str, str, str, str, str], ...]:
    rows = []
    for q in d.get("buy") or d["missing"]:
        count = q.get("count", 0.0)
        rows.append(
            (
                f"{count:.0f}" if count >= 1 else "perhaps 1",
                show(q["length_mm"], style),
                show(q["width_mm"], style),
                show(q["sweep_mm"], style),
                show(q["thickness_mm"], style),
            )
        )
    return tuple(rows)


def _more(d: dict[str, Any]) -> str:
    more = d.get("more_slabs") or {}
    if more.get("p90") == 0:
        return ""
    if more.get("p90"):
        return f"{counted(more['p90'], 'more slab')} of the same mix would make it nine in ten."
    return "Even twice the pile, of the same mix, would not make it nine in ten: buy by shape."
