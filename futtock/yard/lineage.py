"""Any timber back to its slab, the place in it, its moisture, and who did what to it and when."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from futtock.yard.event import Event
from futtock.yard.stages import FRAME_STAGES, TIMBER_STAGES, frame_of
from futtock.yard.state import Piece, YardState

_STEPS = (*TIMBER_STAGES, "ends-sealed", "rechecked", *FRAME_STAGES)


@dataclass(frozen=True, slots=True)
class Lineage:
    """Where one timber comes from.

    Attributes
    ----------
    mark, frame
        Its mark, and its frame's number.
    slab, slabs
        The slab it was got out of, and the slabs that one was cut from (an offcut's own slab).
    place
        Where in the slab it lay, as it was entered or as the accepted layout has it; or None.
    moisture_percent, moisture_at
        The last reading of the slab before the timber was roughed out (else the last of all).
    steps
        The record of each step done, in the order of the work.
    checks, photographs
        Records of check measurements and photographs that bear its mark.
    lost
        How many pieces of this mark were spoiled before it.
    """

    mark: str
    frame: int | None
    slab: str | None
    slabs: tuple[str, ...]
    place: Mapping[str, Any] | None
    moisture_percent: float | None
    moisture_at: str | None
    steps: tuple[Event, ...]
    checks: tuple[Event, ...]
    photographs: tuple[Event, ...]
    lost: int

    def step(self, word: str) -> Event | None:
        """The record of one step, or None."""
        return next((e for e in self.steps if e.stage == word), None)


def trace(
    state: YardState,
    mark: str,
    places: Mapping[str, tuple[str, Mapping[str, Any]]] | None = None,
) -> Lineage:
    """One timber's lineage.

    Parameters
    ----------
    state
        The yard's state.
    mark
        The timber's mark.
    places
        Slab and place of each timber in the accepted layout, for those whose entry names none.
    """
    piece = state.pieces.get(mark) or Piece(mark)
    laid = piece.done.get("laid-out")
    planned = (places or {}).get(mark)
    slab, place = piece.slab, laid.body.get("place") if laid else None
    if planned and slab in (None, planned[0]):
        slab, place = planned[0], place or planned[1]
    moisture_at, moisture = _moisture(state, piece, slab)
    steps = [e for word in _STEPS if (e := state.record(mark, word)) is not None]
    return Lineage(
        mark,
        frame_of(mark),
        slab,
        _cut_from(state, slab),
        place if isinstance(place, Mapping) else None,
        moisture,
        moisture_at,
        tuple(steps),
        tuple(e for e in state.checks if e.mark == mark),
        tuple(e for e in state.photographs if e.mark == mark),
        len(piece.lost),
    )


def standing_timbers(
    state: YardState, places: Mapping[str, tuple[str, Mapping[str, Any]]] | None = None
) -> tuple[Lineage, ...]:
    """The list for a surveyor: every timber of every frame that stands, by frame and mark."""
    marks = [m for m in {*state.pieces, *(places or {})} if state.has(m, "standing")]
    return tuple(
        trace(state, m, places) for m in sorted(marks, key=lambda m: (frame_of(m) or 0, m))
    )


def _moisture(
    state: YardState, piece: Piece, slab: str | None
) -> tuple[str | None, float | None]:  # fmt: skip
    readings: list[tuple[str, float]] = []
    for name in (slab, *_cut_from(state, slab)) if slab else ():
        if name in state.slabs:
            readings += state.slabs[name].moisture
    if not readings:
        return None, None
    readings.sort()
    sawn = piece.done.get("roughed")
    before = [r for r in readings if sawn is None or r[0] <= sawn.at]
    return (before or readings)[-1]


def _cut_from(state: YardState, slab: str | None) -> tuple[str, ...]:
    found: list[str] = []
    while slab in state.slabs and (parent := state.slabs[slab].cut_from) and parent not in found:
        found.append(parent)
        slab = parent
    return tuple(found)
