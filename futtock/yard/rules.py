"""What is to be said about a new entry: rules of the work, and entries that cannot both hold."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from futtock.findings import Finding
from futtock.yard import kinds
from futtock.yard.event import Event
from futtock.yard.stages import CORRECTION, NEEDS, SLAB_EVENTS, mark_of
from futtock.yard.state import Contested, fold


def judge(
    near: Sequence[Event], event: Event, marks: Iterable[str] | None = None
) -> tuple[Finding, ...]:
    """What an entry breaks, judged by the records that have to do with it.

    Nothing is refused: an entry out of turn counts, with its reason where one is given; of two
    that cannot both hold, the first counts.

    Parameters
    ----------
    near
        Records of its frame, its slab and its mark, in their order, without itself.
    event
        The new record.
    marks
        Marks of the vessel's timbers where they are known; None: not checked.
    """
    if event.stage == CORRECTION:
        return ()
    return tuple(_judged(near, event, None if marks is None else tuple(marks)))


def _judged(
    near: Sequence[Event], event: Event, marks: tuple[str, ...] | None
) -> Iterator[Finding]:
    mark, word = event.mark, event.stage
    if marks is not None and mark_of(mark) == "timber" and mark not in marks:
        said = f"No timber of the vessel is marked {mark}."
        yield kinds.UNKNOWN_MARK.found(said, column="mark", read=mark)
    state = fold([*near, event])
    yield from (_told(c) for c in state.contested if c.event.id == event.id)
    if word in SLAB_EVENTS or word not in NEEDS:
        return
    before = fold(near)
    lacking = before.missing(mark, word, marks or ())
    if not lacking:
        return
    what = ", ".join(lacking[:6]) + (f" and {len(lacking) - 6} more" if len(lacking) > 6 else "")
    reason = event.body.get("because")
    said = f"{mark} is entered as {word} without: {what}."
    if reason:
        yield kinds.OUT_OF_TURN_WITH_REASON.found(f"{said} Reason: {reason}.", read=word)
    else:
        yield kinds.OUT_OF_TURN.found(said, column=mark, read=word, expected=what)


def _told(contested: Contested) -> Finding:
    event, first = contested.event, contested.first
    by = f"{first.who} at {first.at[:16].replace('T', ' ')} UTC"
    if contested.why == "done":
        said = f"{event.mark} was entered as {event.stage} already, by {by}."
        return kinds.DONE_ALREADY.found(said, column=event.mark, read=event.stage)
    slab = str(event.body.get("slab", ""))
    if contested.why == "given":
        said = f"Slab {slab} was given to {first.mark} already, by {by}."
        return kinds.GIVEN_ALREADY.found(said, column=event.mark, read=slab)
    return kinds.SLAB_GONE.found(
        f"Slab {slab} is used up or spoiled.", column=event.mark, read=slab
    )
