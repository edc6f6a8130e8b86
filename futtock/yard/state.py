"""The state of the yard, folded from the journal's records in their order.

The fold is a plain function of the records: of two entries that cannot both hold, the first in
the journal's order counts and the other is kept among :attr:`YardState.contested`; undoing the
first lets the second count. So every copy of a journal folds to the same state.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from futtock.yard.event import Event, utc_text
from futtock.yard.stages import (
    CORRECTION,
    FRAME_STAGES,
    NEEDS,
    STAGES,
    TIMBER_STAGES,
    frame_of,
    mark_of,
    subject,
)

_TIMBER_WORDS = {*TIMBER_STAGES, "ends-sealed", "rechecked"}
_FRAME_WORDS = set(FRAME_STAGES)


@dataclass(slots=True)
class Piece:
    """One timber as it is now: the steps done, and the slab it was given.

    ``done`` holds the record of each step by its word; ``lost`` the pieces that were spoiled
    before it, each with its own steps and slab.
    """

    mark: str
    done: dict[str, Event] = field(default_factory=dict)
    slab: str | None = None
    lost: list[Piece] = field(default_factory=list)
    spoiled: Event | None = None

    @property
    def to_make_anew(self) -> bool:
        """Whether a piece was spoiled and none is begun in its stead (its mould still serves)."""
        return bool(self.lost) and not self.done.keys() - {"moulded"}


@dataclass(slots=True)
class FrameWork:
    """One frame: records of steps by (word, half), the half ``""`` where it was the whole."""

    number: int
    done: dict[tuple[str, str], Event] = field(default_factory=dict)

    def has(self, word: str, half: str = "") -> bool:
        """Whether a step is done: of the whole, or of the half asked for, or of both halves."""
        if (word, "") in self.done or (half and (word, half) in self.done):
            return True
        return not half and (word, "P") in self.done and (word, "S") in self.done

    def record(self, word: str, half: str = "") -> Event | None:
        """The record of a step of the whole, or of that half, or the later of both halves."""
        found = self.done.get((word, "")) or (self.done.get((word, half)) if half else None)
        if found is None and not half and self.has(word):
            found = max((self.done[word, h] for h in "PS"), key=lambda e: e.seq)
        return found


@dataclass(slots=True)
class SlabState:
    """One slab: ``whole``, ``begun``, ``consumed`` or ``spoiled``; where it lies; its moisture."""

    name: str
    state: str = "whole"
    place: str = ""
    moisture: list[tuple[str, float]] = field(default_factory=list)
    given_to: dict[str, Event] = field(default_factory=dict)
    offcuts: tuple[str, ...] = ()
    cut_from: str | None = None


@dataclass(frozen=True, slots=True)
class Contested:
    """A record that does not count, the one it yields to, why: ``done``, ``given``, ``gone``."""

    event: Event
    first: Event
    why: str


@dataclass(slots=True)
class YardState:
    """Everything that has happened, as it stands after a record.

    Attributes
    ----------
    last
        Number of the last record folded.
    pieces, frames, slabs
        By mark, number and name.
    contested
        Records that do not count.
    undone
        Records that were undone, by their id.
    checks, notes, photographs
        Check measurements, notes and photographs, in order.
    """

    last: int = 0
    pieces: dict[str, Piece] = field(default_factory=dict)
    frames: dict[int, FrameWork] = field(default_factory=dict)
    slabs: dict[str, SlabState] = field(default_factory=dict)
    contested: list[Contested] = field(default_factory=list)
    undone: dict[str, Event] = field(default_factory=dict)
    checks: list[Event] = field(default_factory=list)
    notes: list[Event] = field(default_factory=list)
    photographs: list[Event] = field(default_factory=list)

    def has(self, mark: str, word: str) -> bool:
        """Whether a timber or a frame (``12``, ``12-P``) has had a step done to it."""
        if word in _TIMBER_WORDS:
            piece = self.pieces.get(mark)
            if piece is not None and word in piece.done:
                return True
        frame = self.frames.get(frame_of(mark) or 0)
        return frame is not None and frame.has(word, _half(mark))

    def record(self, mark: str, word: str) -> Event | None:
        """The record of a step done to a timber or a frame, or None."""
        piece = self.pieces.get(mark)
        if piece is not None and word in piece.done:
            return piece.done[word]
        frame = self.frames.get(frame_of(mark) or 0)
        return frame.record(word, _half(mark)) if frame is not None else None

    def stage(self, mark: str) -> str | None:
        """The furthest stage that a timber or a frame has reached, or None."""
        return next((word for word in reversed(STAGES) if self.has(mark, word)), None)

    def missing(self, mark: str, word: str, timbers: Iterable[str] = ()) -> tuple[str, ...]:
        """What must come before a step and has not been entered.

        For a whole frame's first step the timbers are looked at: those of ``timbers`` that are
        of it, else those the journal has met.
        """
        lacking = []
        for need in NEEDS.get(word, ()):
            if need in _TIMBER_WORDS and mark_of(mark) == "frame":
                mine = [t for t in (*timbers, *self.pieces) if _of_frame(t, mark)]
                lacking += [f"{t} {need}" for t in dict.fromkeys(mine) if not self.has(t, need)]
            elif not self.has(mark, need):
                lacking.append(need)
        return tuple(lacking)

    def slab_states(self) -> dict[str, str]:
        """``whole``, ``begun``, ``consumed`` or ``spoiled``, of the slabs the journal has met."""
        return {name: slab.state for name, slab in self.slabs.items()}


def effective(events: Sequence[Event]) -> tuple[list[Event], dict[str, Event]]:
    """Records with their corrections applied, without those undone; and the undone ones by id.

    A correction may itself be undone, and then its record stands again as it was.
    """
    undone: set[str] = set()
    puts: dict[str, list[Event]] = {}
    for event in reversed(events):
        if event.stage == CORRECTION and event.id not in undone:
            of = str(event.body.get("of", ""))
            if event.body.get("undo"):
                undone.add(of)
            else:
                puts.setdefault(of, []).append(event)
    if not undone and not puts:
        return [e for e in events if e.stage != CORRECTION], {}
    kept: list[Event] = []
    out: dict[str, Event] = {}
    for event in events:
        if event.id in undone:
            out[event.id] = event
        elif event.stage != CORRECTION:
            for correction in reversed(puts.get(event.id, ())):
                event = _amended(event, correction.body.get("put", {}))
            kept.append(event)
    return kept, out


def fold(
    events: Sequence[Event], *, upto: int | None = None, at: datetime | None = None
) -> YardState:
    """The state after all records, or as it was.

    Parameters
    ----------
    events
        All records (or all that touch what is asked), in the journal's order.
    upto
        Fold only the first so many: what the journal knew then.
    at
        Fold only what was done by then, as the journal knows it now.
    """
    if upto is not None:
        events = [e for e in events if e.seq <= upto]
    state = YardState(last=events[-1].seq if events else 0)
    kept, state.undone = effective(events)
    limit = None if at is None else utc_text(at)
    for event in kept:
        if limit is None or event.at <= limit:
            _apply(state, event)
    return state


def _apply(state: YardState, event: Event) -> None:
    word, mark = event.stage, event.mark
    of = subject(mark, word)
    if word == "note":
        state.notes.append(event)
    elif word == "photograph":
        state.photographs.append(event)
    elif word == "checked":
        state.checks.append(event)
    elif of == "slab":
        _apply_to_slab(state, event)
    elif word == "spoiled":
        if of == "timber":
            _spoil(state, event)
        else:
            state.notes.append(event)
    elif word in _TIMBER_WORDS and of == "timber":
        _apply_to_piece(state, event)
    elif of in ("timber", "frame"):
        # A frame's step entered on one of its timbers is the frame's; a timber's step entered on
        # a frame is that of all its timbers.
        _apply_to_frame(state, event)


def _apply_to_frame(state: YardState, event: Event) -> None:
    number = frame_of(event.mark)
    assert number is not None
    frame = state.frames.get(number)
    if frame is None:
        frame = state.frames[number] = FrameWork(number)
    half = _half(event.mark) if mark_of(event.mark) == "frame" else ""
    first = frame.record(event.stage, half)
    if first is not None:
        state.contested.append(Contested(event, first, "done"))
        return
    frame.done[event.stage, half] = event


def _apply_to_piece(state: YardState, event: Event) -> None:
    piece = state.pieces.get(event.mark)
    if piece is None:
        piece = state.pieces[event.mark] = Piece(event.mark)
    first = piece.done.get(event.stage)
    if event.stage == "laid-out":
        if not _lay_out(state, piece, event, first):
            return
    elif first is not None:
        state.contested.append(Contested(event, first, "done"))
        return
    piece.done[event.stage] = event
    if event.stage == "roughed" and piece.slab is not None:
        slab = _slab(state, piece.slab)
        if slab.state == "whole":
            slab.state = "begun"


def _lay_out(state: YardState, piece: Piece, event: Event, first: Event | None) -> bool:
    """Give a slab to a timber; False, contested, where it cannot be had."""
    if first is not None:
        seen = event.body.get("seen")
        if "roughed" in piece.done or (isinstance(seen, int) and seen < first.seq):
            state.contested.append(Contested(event, first, "done"))
            return False
    name = event.body.get("slab")
    if not isinstance(name, str) or not name:
        return True
    slab = _slab(state, name)
    if slab.state in ("consumed", "spoiled"):
        gone = next(iter(slab.given_to.values()), event)
        state.contested.append(Contested(event, gone, "gone"))
        return False
    layout = event.body.get("layout")
    for other, held in slab.given_to.items():
        if other == piece.mark or event.body.get("because"):
            continue
        if layout is None or held.body.get("layout") != layout:
            state.contested.append(Contested(event, held, "given"))
            return False
    if piece.slab is not None and piece.slab != name:
        _slab(state, piece.slab).given_to.pop(piece.mark, None)
    piece.slab = name
    slab.given_to[piece.mark] = event
    return True


def _spoil(state: YardState, event: Event) -> None:
    """The piece is lost; the mark begins anew, with its mould."""
    piece = state.pieces.get(event.mark) or Piece(event.mark)
    again = Piece(event.mark, lost=[*piece.lost, replace(piece, lost=[], spoiled=event)])
    if "moulded" in piece.done:
        again.done["moulded"] = piece.done["moulded"]
    if piece.slab is not None and "roughed" not in piece.done:
        _slab(state, piece.slab).given_to.pop(piece.mark, None)
    state.pieces[event.mark] = again


def _apply_to_slab(state: YardState, event: Event) -> None:
    slab, body = _slab(state, event.mark), event.body
    if event.stage == "measured":
        if "moisture_percent" in body:
            slab.moisture.append((event.at, float(body["moisture_percent"])))
    elif event.stage == "moved":
        slab.place = str(body.get("to", ""))
    elif event.stage in ("consumed", "spoiled"):
        if slab.state in ("consumed", "spoiled"):
            return
        slab.state = event.stage
        slab.offcuts = tuple(str(o) for o in body.get("offcuts", ()))
        for name in slab.offcuts:
            _slab(state, name).cut_from = event.mark


def _slab(state: YardState, name: str) -> SlabState:
    slab = state.slabs.get(name)
    if slab is None:
        slab = state.slabs[name] = SlabState(name)
    return slab


def _half(mark: str) -> str:
    """P or S of a timber or a half frame; nothing for a whole frame or a timber that crosses."""
    half = mark.split("-")[1] if "-" in mark else ""
    return half if half in ("P", "S") else ""


def _of_frame(timber: str, frame: str) -> bool:
    if mark_of(timber) != "timber" or frame_of(timber) != frame_of(frame):
        return False
    return not _half(frame) or _half(timber) in ("", _half(frame))


def _amended(event: Event, put: Any) -> Event:
    if not isinstance(put, dict):
        return event
    body = {**event.body, **put["body"]} if isinstance(put.get("body"), dict) else event.body
    return event._replace(at=put.get("at", event.at), who=put.get("who", event.who), body=body)
