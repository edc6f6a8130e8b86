"""Standing sheets, body plan of the frames, cants from above, rabbet: true, titled, readable."""

from __future__ import annotations

import io
from dataclasses import replace
from functools import lru_cache
from itertools import combinations

import numpy as np
import pdfplumber
import pytest
from sheet_words import words_over_lines
from whole_marram import HEADING, marram

from futtock.drawing.body import frames_body, frames_body_picture
from futtock.drawing.cants import cants_plan
from futtock.drawing.figures import close_length
from futtock.drawing.rabbet import rabbet_sheets
from futtock.drawing.standing import standing_page
from futtock.framing.build import frame_hull
from futtock.framing.cants import plan_views
from futtock.framing.rabbet import RabbetLines, rabbet_lines
from futtock.framing.standing import StandingSheet, standing_sheets
from futtock.job import settings
from futtock.sheet.extent import box_of
from futtock.sheet.items import Group, Path, Text, flat
from futtock.sheet.labels import Labels
from futtock.sheet.pdf import pdf
from futtock.sheet.sheet import Sheet


@lru_cache(maxsize=1)
def _asked():
    job = marram()
    return settings.framing_settings(job.sound.vessel, job.fairing.hull, job.sound.divisions)


@lru_cache(maxsize=1)
def _canted():
    hull = marram().fairing.hull
    asked = replace(_asked(), cants="propose", largest_bevel_deg=18.0)
    proposed = frame_hull(hull, asked).cants
    turned = replace(asked, cants=tuple((c.frame, c.angle_deg) for c in proposed))
    return proposed, frame_hull(hull, turned).frames


def _rabbet() -> RabbetLines:
    x = np.array([f.plane.x_mm for f in marram().framing.frames])
    return rabbet_lines(marram().fairing.hull, x, _asked().planking_mm)


def _standing(k: int, canted: bool = False) -> tuple[StandingSheet, Sheet]:
    frames = _canted()[1] if canted else marram().framing.frames
    asked = replace(_asked(), declivity_deg=2.0) if canted else _asked()
    sheet = standing_sheets(frames, marram().fairing.hull, asked)[k]
    return sheet, standing_page(frames[k], sheet, HEADING)


@lru_cache(maxsize=1)
def _all() -> dict[str, Sheet]:
    frames = marram().framing.frames
    cants, canted = _canted()
    table, sections = rabbet_sheets(_rabbet(), HEADING, names=[str(f.number) for f in frames])
    asked = _asked()
    return {
        "standing": _standing(11)[1],
        "standing last": _standing(-1)[1],
        "standing canted": _standing(0, canted=True)[1],
        "body": frames_body(frames, HEADING, levels_mm=asked.levels_mm, diagonals=asked.diagonals),
        "body canted": frames_body(canted, HEADING, paper="A2"),
        "cants": cants_plan(plan_views(frames), plan_views(canted), cants, HEADING),
        "no cants": cants_plan(plan_views(frames), plan_views(frames), (), HEADING),
        "rabbet": table,
        "rabbet sections": sections,
    }


NAMES = (
    "standing", "standing last", "standing canted", "body", "body canted", "cants", "no cants",
    "rabbet", "rabbet sections",
)  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_no_words_lie_over_a_line_that_matters(name: str) -> None:
    """Words keep off frames, marks and borders; only what carries them is broken by them."""
    assert words_over_lines(_all()[name]) == []


@pytest.mark.parametrize("name", NAMES)
def test_all_lies_on_the_paper_and_words_lie_apart(name: str) -> None:
    """Nothing drawn leaves the paper, no words touch others, and the title block is filled."""
    sheet = _all()[name]
    x0, y0, x1, y1 = sheet.window_mm
    a, b, c, d = box_of(sheet.items) or (0.0, 0.0, 0.0, 0.0)
    assert (a >= x0, b >= y0, c <= x1, d <= y1) == (True, True, True, True)
    words = [i for i in flat(sheet.items) if isinstance(i, Text) and i.text.strip("_ ")]
    for one, other in combinations(words, 2):
        labels = Labels(0.0)
        labels.put(one)
        assert labels.collisions(other)[1] == 0, (one.text, other.text)
    with pdfplumber.open(io.BytesIO(pdf([sheet]))) as doc:
        text = doc.pages[0].extract_text()
    for part in ("Marram", "14 March 2026", "7f3a21bc"):
        assert part in text


def test_the_standing_sheet_carries_its_figures() -> None:
    """Every figure of the sheet is lettered on the page, as the yard writes it."""
    sheet, page = _standing(11)
    said = " ".join(i.text for i in flat(page.items) if isinstance(i, Text))
    for mm in (sheet.along_keel_mm, sheet.diagonal_mm, sheet.to_next_head_mm):
        assert close_length(mm, "imperial") in said
    for place in sheet.places:
        assert close_length(place.spread_mm, "imperial") in said
        assert close_length(place.horning_mm, "imperial") in said


def test_the_body_plan_is_to_scale_each_frame_on_its_side() -> None:
    """Every frame's line is its joint edge over the scale, fore frames right, after left."""
    frames = marram().framing.frames
    groups = {
        i.name: next(p for p in i.items if isinstance(p, Path))
        for i in _all()["body"].items
        if isinstance(i, Group) and i.kind == "frame"
    }
    assert len(groups) == len(frames)
    widest = max(frames, key=lambda f: f.joint.edge_mm[:, 0].max()).number
    for f in frames:
        side = 1.0 if f.number <= widest else -1.0
        drawn = groups[str(f.number)].points_mm
        assert np.abs(drawn * (12.0 * side, 12.0) - f.joint.edge_mm).max() < 1e-9


def test_a_page_may_lead_from_each_frame() -> None:
    """The picture for a page carries the links given."""
    frames = marram().framing.frames
    links = {f.number: f"/frames/{f.number}" for f in frames}
    sheet = frames_body_picture(frames, HEADING, links=links)
    found = {i.name: i.href for i in sheet.items if isinstance(i, Group) and i.kind == "frame"}
    assert found == {str(n): link for n, link in links.items()}


def test_every_proposed_cant_is_drawn_turned() -> None:
    """A canted frame's outline on paper stands at its angle, beside its broken square one."""
    cants, _ = _canted()
    assert cants
    sheet = _all()["cants"]
    rings = {
        i.name: next(p for p in i.items if isinstance(p, Path)).points_mm
        for i in sheet.items
        if isinstance(i, Group) and i.kind == "frame"
    }
    for c in cants:
        ring = rings[str(c.frame)]
        # heel forward and heel aft: their line lies square to the joint, but for the bevel
        dx, dy = ring[1] - ring[0]
        assert np.degrees(np.arctan2(-dx, -dy)) == pytest.approx(c.angle_deg, abs=0.01)
    behind = [i for i in flat(sheet.items) if isinstance(i, Path) and i.layer == "AS-THEY-STAND"]
    assert len(behind) == len(cants)
    said = " ".join(i.text for i in flat(sheet.items) if isinstance(i, Text))
    assert "To accept, write into [framing]" in said


def test_the_rabbets_section_is_full_size() -> None:
    """The cut drawn runs from rabbet to apex to bearding line, one plank's thickness deep.

    The apex lies a plank's thickness from the rabbet, seen across her a little more where the
    plank is bevelled (its normal leans out of the section).
    """
    lines = _rabbet()
    cuts = [
        i.points_mm
        for i in flat(_all()["rabbet sections"].items)
        if isinstance(i, Path) and i.layer == "RABBET"
    ]
    assert len(cuts) == 3
    for cut, k in zip(cuts, (0, 13, 26), strict=True):
        rise = lines.bearding_up_mm[k] - lines.rabbet_up_mm[k]
        assert cut[2] - cut[0] == pytest.approx([0.0, rise])
        deep = np.hypot(*(cut[1] - cut[0]))
        assert 31.75 - 1e-6 <= deep < 36.0
