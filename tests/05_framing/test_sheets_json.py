"""Documents of standing sheets, rabbet lines, bevel map, cants and frames as built."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from exact_surfaces import keeled, settings

from futtock.framing.asbuilt import advice, run_ribbands
from futtock.framing.bevels import bevel_map
from futtock.framing.build import frame_hull
from futtock.framing.cants import plan_views
from futtock.framing.rabbet import rabbet_lines
from futtock.framing.sheets_json import (
    as_built_json,
    bevel_map_json,
    cants_json,
    rabbet_json,
    standing_json,
)
from futtock.framing.standing import standing_sheets
from futtock.vessel.smaller import AsBuilt

STATED = settings(
    cants="propose", first_mm=4000.0, room_and_space_mm=330.0, count=12, longest_mm=9000.0,
    diagonals=(("A", 2600.0, -35.0),), largest_bevel_deg=2.5,
)  # fmt: skip


@pytest.fixture(scope="module")
def framing():
    return frame_hull(keeled(), STATED)


def plain(document):
    """The document as another program reads it, where no figure may be Infinity or NaN."""
    return json.loads(json.dumps(document, allow_nan=False))


def test_standing_sheets_carry_every_figure(framing):
    """Each sheet's figures come back to a thousandth; what the last frame lacks is null."""
    sheets = standing_sheets(framing.frames, keeled(), STATED)
    read = plain(standing_json(sheets))
    assert [r["frame"] for r in read] == [s.frame for s in sheets]
    assert read[-1]["to_next_head_mm"] is None
    for r, s in zip(read[:-1], sheets[:-1], strict=True):
        assert r["to_next_head_mm"] == pytest.approx(s.to_next_head_mm, abs=1e-3)
        assert r["diagonal_mm"] == pytest.approx(s.diagonal_mm, abs=1e-3)
        assert [p["name"] for p in r["places"]] == [p.name for p in s.places]
        for p, q in zip(r["places"], s.places, strict=True):
            assert p["spread_mm"] == pytest.approx(2 * q.half_mm, abs=2e-3)


def test_rabbet_rows_are_the_lines(framing):
    """A row a section, each line under its own name; a line that is not met is null."""
    lines = rabbet_lines(keeled(), np.array([4500.0, 6000.0, 99999.0]), 32.0)
    read = plain(rabbet_json(lines))
    assert read[0]["bearding_up_mm"] == pytest.approx(lines.bearding_up_mm[0], abs=1e-3)
    assert read[2]["rabbet_up_mm"] is None


def test_bevel_map_lists_each_frame_heel_to_head(framing):
    """A frame's column of the map is its joint face's leans at the shares listed."""
    found = bevel_map(framing.frames)
    read = plain(bevel_map_json(found))
    for k, frame in enumerate(framing.frames):
        face = frame.joint
        lean = np.interp(read["share"], face.girth_mm / face.girth_mm[-1], face.lean_deg)
        assert read["frames"][k]["number"] == frame.number
        assert np.abs(np.array(read["frames"][k]["lean_deg"]) - lean).max() < 1e-3


def test_cants_are_listed_with_the_line_that_accepts_them(framing):
    """Every proposed cant is in the list, the line and the plan, which is drawn as proposed."""
    assert framing.cants
    asked = replace(STATED, cants=tuple((c.frame, c.angle_deg) for c in framing.cants))
    canted = frame_hull(keeled(), asked)
    read = plain(cants_json(framing.cants, plan_views(canted.frames)))
    by_number = {v["frame"]: v for v in read["plan_views"]}
    for c in read["cants"]:
        assert f"frame = {c['frame']}" in read["accept"]
        assert by_number[c["frame"]]["cant_deg"] == c["angle_deg"]
        (x0, y0), (x1, y1) = by_number[c["frame"]]["joint_mm"]
        # turned about its place on the centreline: out runs along (-sin c, cos c)
        turn = np.degrees(np.arctan2(-(x1 - x0), y1 - y0))
        assert turn == pytest.approx(c["angle_deg"], abs=1e-3)
    assert plain(cants_json((), ()))["accept"] is None


def test_as_built_says_in_words_what_to_do(framing):
    """One shy frame: its advice is carried with its figure and its words."""
    points = []
    for f in framing.frames:
        for k in range(20, 150, 12):
            o, u = f.joint.edge_mm[k]
            off = -8.0 if f.number == 6 else 0.0
            points.append(AsBuilt(f.number, "S", float(u), float(o) + off, 0))
    ribbands = run_ribbands(framing.frames, points, 3.0)
    read = plain(as_built_json(ribbands, advice(ribbands, 3.0)))
    assert read["frames"] == [f.number for f in framing.frames]
    assert [a["frame"] for a in read["advice"]] == [6]
    assert "shy" in read["advice"][0]["words"]
