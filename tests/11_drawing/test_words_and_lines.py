"""No words lie over a line that matters, on any kind of sheet."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import pytest
from sheet_words import words_over_lines
from whole_marram import HEADING, marram

from futtock.drawing.bevel_board import bevel_board
from futtock.drawing.buying import buying_sheets
from futtock.drawing.floor import floor_drawing, hole_template
from futtock.drawing.half_pattern import half_pattern
from futtock.drawing.mould import mould_sheet
from futtock.layout.buying import BuyingList, Wanted
from futtock.sheet.items import Path, Text, flat, path
from futtock.sheet.sheet import Sheet, fitted
from futtock.sheet.style import SEEN, Tone


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


def test_a_long_name_in_three_alphabets_lies_over_nothing() -> None:
    """On moulds, half patterns, floor and frame drawings and bevel boards of such a vessel."""
    name = "Святая Великомученица Екатерина, Ναυτικός Όμιλος of the Outer Banks"
    heading = replace(HEADING, vessel=name)
    job = marram()
    sheets = [mould_sheet(m, heading) for m in job.moulds[::31]]
    for frame in (job.framing.frames[0], job.framing.frames[13]):
        sheets += [draw(frame, heading) for draw in (half_pattern, floor_drawing, bevel_board)]
    _clear(sheets)
    assert all("Святая" in " ".join(_words(s)) for s in sheets)


def _words(sheet: Sheet) -> list[str]:
    return [i.text for i in flat(sheet.items) if isinstance(i, Text)]


def _wanted(count: int, long_mm: float, sweep_mm: float) -> Wanted:
    x = np.linspace(0.0, long_mm, 40)
    grain = np.stack([x, 4 * sweep_mm * (x / long_mm) * (1 - x / long_mm)], axis=1)
    along = np.gradient(grain, axis=0)
    side = np.stack([-along[:, 1], along[:, 0]], axis=1) / np.hypot(*along.T)[:, None] * 110.0
    ring = np.concatenate([grain - side, (grain + side)[::-1]])
    marks = tuple(f"{k}-S-f2" for k in range(1, 40))
    return Wanted(count, long_mm, 220.0, sweep_mm, 60.0, marks, ring, grain, 250.0)


def test_the_buying_list_keeps_words_off_its_shapes() -> None:
    """Long crooks and straight slabs alike, on every page; the grain is the one broken line."""
    shapes = [(12, 1800.0, 300.0), (4, 900.0, 0.0), (1, 700.0, 150.0), (2, 1500.0, 90.0)] * 2
    wanted = tuple(_wanted(*s) for s in shapes)
    listed = BuyingList(wanted, 38, 0.12, 0.92, "Buy 38 slabs.")
    sheets = buying_sheets(listed, HEADING, "white oak")
    assert len(sheets) == 2
    _clear(sheets)
    broken = [
        i.points_mm
        for s in sheets
        for i in flat(s.items)
        if isinstance(i, Path) and i.stroke is not None and i.stroke.pattern_mm
    ]
    assert [len(line) for line in broken] == [40] * len(wanted)


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
