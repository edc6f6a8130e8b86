"""The yard's planing as the journal shows it, for the time that thicknessing takes."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from futtock.bench.planing import Planed
    from futtock.bench.thicknessing import Rough, Thicknessing

_FACE = {"flattened": "first", "thicknessed": "second"}


def planed(folder: Path, pieces: Mapping[str, tuple[Rough, Thicknessing]]) -> tuple[Planed, ...]:
    """Every entry of planing that says its hours, with what was planed by it.

    An entry on a frame, or on half of one, is for all its timbers.
    """
    from futtock.bench.planing import Planed
    from futtock.yard import Journal, place_of
    from futtock.yard.stages import frame_of, mark_of
    from futtock.yard.state import effective

    place = place_of(folder)
    if isinstance(place, Path) and not place.exists():
        return ()
    with Journal(place, create=False) as journal:
        events = effective(journal.events())[0]
    found = []
    for event in events:
        hours = event.body.get("hours")
        if event.stage not in _FACE or not isinstance(hours, (int, float)) or hours <= 0:
            continue
        if mark_of(event.mark) == "timber":
            marks = [event.mark] if event.mark in pieces else []
        else:
            half = event.mark.partition("-")[2]
            marks = [
                m
                for m in pieces
                if frame_of(m) == event.frame and (not half or m.split("-")[1] in (half, "C"))
            ]
        area = 0.0
        for mark in marks:
            rough, plan = pieces[mark]
            passes = sum(p.face == _FACE[event.stage] for p in plan.passes)
            area += passes * rough.long_mm * rough.wide_mm * 1e-6
        found.append(Planed(area, len(marks), 60.0 * float(hours)))
    return tuple(found)
