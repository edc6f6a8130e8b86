"""The pile: what lies in each stack, what it holds, weighs and cost, and what is still to be had.

What has happened to a slab is the journal's to say; here it comes as a state by name. A slab that
was cut up or spoiled stays in the record and leaves the count of what is to be had.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from futtock.findings import Finding
from futtock.measure import board_feet
from futtock.stock import kinds
from futtock.stock.rack import areas_m2
from futtock.stock.slab import Slab
from futtock.stock.species import species
from futtock.stock.weight import lift, volume_m3, weight


class State(StrEnum):
    """What has become of a slab."""

    WHOLE = "whole"
    BEGUN = "begun"
    CONSUMED = "consumed"
    SPOILED = "spoiled"


GONE = (State.CONSUMED, State.SPOILED)


@dataclass(frozen=True, slots=True)
class StackCount:
    """A stack, or the whole pile.

    Attributes
    ----------
    name
        The stack's; empty for slabs that are in none.
    slabs, measured, unmeasured
        Slabs still to be had, and how many of them are measured and not.
    begun, consumed, spoiled
        Slabs begun (still to be had), and those that are gone.
    volume_m3, board_feet
        Of the slabs to be had, whole faces where known.
    sound_m2
        Area of their smaller sound faces: what moulds can lie on.
    kg
        Their mass; ``weighed`` of them are of a known wood.
    value
        Sum of the prices given; ``priced`` of them have one.
    moisture_percent
        Least and most metered, or None; ``oldest_reading`` the day of the oldest, if dated.
    """

    name: str
    slabs: int
    measured: int
    unmeasured: int
    begun: int
    consumed: int
    spoiled: int
    volume_m3: float
    board_feet: float
    sound_m2: float
    kg: float
    weighed: int
    value: float
    priced: int
    moisture_percent: tuple[float, float] | None
    oldest_reading: str | None


@dataclass(frozen=True, slots=True)
class Pile:
    """All stacks by name, and the whole."""

    stacks: tuple[StackCount, ...]
    whole: StackCount
    findings: tuple[Finding, ...] = ()


def count_pile(slabs: Iterable[Slab], states: Mapping[str, State] | None = None) -> Pile:
    """Count a pile, stack by stack.

    Parameters
    ----------
    slabs
        The rack, offcuts among them.
    states
        What has become of slabs, by name; one that is not named is whole.

    Returns
    -------
    Pile
        With a note for every slab that is beyond one person's lift, and for woods in no table.
    """
    slabs, states = tuple(slabs), states or {}
    by: dict[str, list[Slab]] = {}
    for slab in slabs:
        by.setdefault(slab.stack, []).append(slab)
    stacks = tuple(_count(name, by[name], states) for name in sorted(by))
    standing = [s for s in slabs if states.get(s.name, State.WHOLE) not in GONE]
    return Pile(stacks, _count("", slabs, states), tuple(_notes(standing)))


def at_hand(slabs: Iterable[Slab], states: Mapping[str, State]) -> tuple[Slab, ...]:
    """The slabs from which a timber may still be got whole: neither begun nor gone."""
    return tuple(s for s in slabs if states.get(s.name, State.WHOLE) is State.WHOLE)


def _count(name: str, slabs: Iterable[Slab], states: Mapping[str, State]) -> StackCount:
    slabs = tuple(slabs)
    state = [states.get(s.name, State.WHOLE) for s in slabs]
    here = [s for s, now in zip(slabs, state, strict=True) if now not in GONE]
    volume = sum(volume_m3(s) for s in here)
    masses = [w.kg for w in map(weight, here) if w is not None]
    prices = [s.price for s in here if s.price is not None]
    wet = [s.moisture_percent for s in here if s.moisture_percent is not None]
    days = [s.moisture_date for s in here if s.moisture_date]
    return StackCount(
        name=name,
        slabs=len(here),
        measured=sum(s.measured for s in here),
        unmeasured=sum(not s.measured for s in here),
        begun=state.count(State.BEGUN),
        consumed=state.count(State.CONSUMED),
        spoiled=state.count(State.SPOILED),
        volume_m3=volume,
        board_feet=board_feet(volume),
        sound_m2=sum(min(areas_m2([s])) for s in here),
        kg=sum(masses),
        weighed=len(masses),
        value=sum(prices),
        priced=len(prices),
        moisture_percent=(min(wet), max(wet)) if wet else None,
        oldest_reading=min(days) if days else None,
    )


def _notes(slabs: Iterable[Slab]) -> Iterable[Finding]:
    for slab in slabs:
        if species(slab.species) is None:
            said = f"slab {slab.name}: {slab.species!r} is in no table."
            yield kinds.SPECIES_UNKNOWN.found(
                said, line=slab.name, column="species", read=slab.species
            )
            continue
        heavy = weight(slab)
        if heavy is None:
            continue
        load = lift(heavy.kg)
        if load.index > 1.0:
            bare = " without its bark and wane" if heavy.bark_left_out else ""
            green = ", taken as green" if heavy.moisture_guessed else ""
            much = "far beyond" if load.index > 3 else "beyond"
            yield kinds.HEAVY.found(
                f"slab {slab.name} weighs about {heavy.kg:.0f} kg{bare}{green}: {much} one "
                f"person's best-case lift of {load.limit_kg:g} kg; {load.hands} people or a hoist.",
                line=slab.name,
                read=f"{heavy.kg:.0f} kg",
                expected=f"{load.limit_kg:g} kg ({load.source})",
            )
