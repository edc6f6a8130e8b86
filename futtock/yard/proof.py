"""Proof that a journal stands as it was written: its chain, its seals, its copies, its clock."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime

from futtock.findings import Finding
from futtock.yard import kinds
from futtock.yard.copies import Copies
from futtock.yard.event import FIRST, Event, seal

_WAITED = 60.0
"""Seconds by which a later record may be older: programs that write at once take the time before
their turn comes, and that is no fault of the clock."""


def proven(events: Iterable[Event], file: str, copies: Copies | None) -> Iterator[Finding]:
    """What is wrong with records in their order, and between them and the dated copies."""
    expected, previous, entered = 1, FIRST, ""
    seals: dict[int, str] = {}
    for event in events:
        seq = event.seq
        if seq != expected:
            gap = f"{expected}" if seq == expected + 1 else f"{expected} to {seq - 1}"
            said = f"Record {gap} is missing."
            yield kinds.RECORD_MISSING.found(said, file=file, line=expected)
        elif event.previous != previous:
            said = f"Record {seq} is not chained to the one before it."
            yield kinds.CHAIN_BROKEN.found(said, file=file, line=seq)
        if (found := seal(event)) != event.hash:
            said = (
                f"Record {seq} ({event.mark} {event.stage}, {event.who}, {event.at}) does not "
                "match its seal."
            )
            yield kinds.CHAIN_BROKEN.found(
                said, file=file, line=seq, read=found[:12], expected=event.hash[:12]
            )
        if event.entered < entered and _seconds(event.entered, entered) > _WAITED:
            said = f"Record {seq} was entered at {event.entered}, after one of {entered}."
            yield kinds.CLOCK_BACK.found(said, file=file, line=seq)
        seals[seq] = event.hash
        expected, previous, entered = seq + 1, event.hash, event.entered
    if copies is not None:
        yield from _compared(copies, seals)


def _compared(copies: Copies, seals: dict[int, str]) -> Iterator[Finding]:
    told: set[int] = set()
    for record in copies.lines():
        seq = record.get("seq")
        if not isinstance(seq, int) or seq in told or seals.get(seq) == record.get("hash"):
            continue
        told.add(seq)
        said = (
            f"Record {seq} of the copies is not in the journal."
            if seq not in seals
            else f"Record {seq} differs between the journal and its copies."
        )
        yield kinds.COPY_DIFFERS.found(said, file=str(copies.folder), line=seq)


def _seconds(earlier: str, later: str) -> float:
    try:
        return (datetime.fromisoformat(later) - datetime.fromisoformat(earlier)).total_seconds()
    except ValueError:  # a time that was tampered with is told of by its seal
        return 0.0
