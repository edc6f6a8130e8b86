"""No words lie over a line that matters, on any kind of sheet."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pytest
import shapely
from whole_marram import HEADING, marram

from futtock.drawing.floor import floor_drawing, hole_template
from futtock.drawing.half_pattern import half_pattern
from futtock.drawing.mould import mould_sheet
from futtock.sheet.items import Arc, Path, Text, flat, path, text_corners
from futtock.sheet.sheet import Sheet, fitted
from futtock.sheet.style import SEEN, Tone

# Lines that words with a white ground may break: what is only construction, hatching, the middle
# line of a timber, and contours that carry their own figure.
MAY_BE_BROKEN = {"GRAIN", "GRID", "CONSTRUCTION", "WATERLINES", "BUTTOCKS", "BEVELS"}
_TOUCH_MM = 0.25  # the body's box is a little larger than the letters in it
_OVER_MM = 0.5


def words_over_lines(sheet: Sheet) -> list[tuple[str, str]]:
    """(words, layer of the line) wherever words lie over a line that matters."""
    words = [i for i in flat(sheet.items) if isinstance(i, Text) and i.text.strip()]
    if not words:
        return []
    boxes = [shapely.Polygon(text_corners(w)).buffer(-_TOUCH_MM, join_style=2) for w in words]
    tree = shapely.STRtree(boxes)
    found = []
    for item in flat(sheet.items):
        line, layer = _line(item)
        if line is None:
            continue
        for k in tree.query(line, predicate="intersects").tolist():
            if words[k].halo is not None and layer in MAY_BE_BROKEN:
                continue
            if shapely.length(shapely.intersection(line, boxes[k])) > _OVER_MM:
                found.append((words[k].text, layer))
    return found


def _line(item: object) -> tuple[shapely.Geometry | None, str]:
    if isinstance(item, Path) and item.stroke is not None and len(item.points_mm) > 1:
        p, closed = item.points_mm, item.closed
    elif isinstance(item, Arc) and item.stroke is not None:
        p, closed = item.points_mm(0.1), item.whole
    else:
        return None, ""
    ring = np.vstack([p, p[:1]]) if closed else p
    return shapely.LineString(ring), item.layer or item.stroke.layer


def _clear(sheets: Iterable[Sheet]) -> None:
    crossed = {s.name: found for s in sheets if (found := words_over_lines(s))}
    assert crossed == {}


def test_the_search_finds_what_is_wrong() -> None:
    """Words across an outline are found, with a white ground too; beside it they are not."""
    line = path([(0, 0), (100, 0)], SEEN, layer="OUTLINE-UP")
    for at, halo, want in (
        ((10.0, -1.0), None, [("heel", "OUTLINE-UP")]),
        ((10.0, -1.0), Tone.WHITE, [("heel", "OUTLINE-UP")]),
        ((10.0, 1.5), None, []),
    ):
        sheet = fitted("s", [line, Text("heel", at, 4.0, halo=halo)])
        assert words_over_lines(sheet) == want
    middle = path([(0, 0), (100, 0)], SEEN, layer="GRAIN")
    assert words_over_lines(fitted("s", [middle, Text("heel", (10.0, -1.0), 4.0)]))
    assert not words_over_lines(
        fitted("s", [middle, Text("heel", (10.0, -1.0), 4.0, halo=Tone.WHITE)])
    )


@pytest.mark.slow
def test_no_words_lie_over_lines_on_moulds() -> None:
    """On every second mould of the demo that is no twin's."""
    own = [m for m in marram().moulds if m.same_as is None]
    _clear(mould_sheet(m, HEADING) for m in own[::2])


@pytest.mark.parametrize("number", [1, 7, 14, 21, 27])
def test_no_words_lie_over_lines_on_a_frames_sheets(number: int) -> None:
    """On the half pattern, the assembly floor's drawing and the treenail template."""
    job = marram()
    frame = next(f for f in job.framing.frames if f.plane.number == number)
    holes = next(h for h in job.holes if h.frame == number)
    _clear(
        [
            half_pattern(frame, HEADING),
            floor_drawing(frame, HEADING, holes, checks=job.checks(frame)),
            hole_template(frame, holes, HEADING),
        ]
    )
