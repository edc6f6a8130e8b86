"""Every check can fail: each is made to, and is silent where nothing is wrong."""

from __future__ import annotations

import numpy as np
import pytest
from exact_surfaces import keeled, settings, sphere

from futtock.framing.build import frame_hull
from futtock.vessel.smaller import Division as Stated


def codes(framing):
    return [f.code for f in framing.findings]


def test_a_sound_plan_has_no_findings():
    """A plan within all its rules says nothing."""
    sound = settings(cants="none", longest_mm=1500.0, largest_bevel_deg=60.0, butt_line_mm=0.0)
    assert codes(frame_hull(keeled(), sound)) == []


@pytest.mark.parametrize(
    ("code", "changes"),
    [
        ("F002", {"largest_bevel_deg": 1.0}),
        ("F003", {"saw_bevel_deg": 1.0, "largest_bevel_deg": 60.0}),
        ("F004", {"departure_mm": 0.001}),
        ("F007", {"longest_mm": 400.0, "shortest_mm": 350.0}),
        ("F010", {"widest_mm": 90.0}),
        ("F009", {"grain_slope": 10.0}),
        ("F006", {"butt_line_mm": 900.0}),
    ],
)
def test_each_rule_broken_is_found(code, changes):
    """Tightening one rule past the hull brings its own finding, with figures and a remedy."""
    framing = frame_hull(keeled(), settings(**{"cants": "none", "longest_mm": 1500.0, **changes}))
    found = [f for f in framing.findings if f.code == code]
    assert found
    assert all(f.remedy and f.read for f in found)


def test_stated_butts_that_are_too_near_or_too_short_are_found():
    """Butts of futtocks.csv are kept as stated, and what they break is said."""
    rows = (
        Stated(1, "f", "", (700.0, 1500.0), 2),
        Stated(1, "a", "", (650.0, 730.0, 1400.0), 3),
    )
    framing = frame_hull(
        keeled(), settings(cants="none", longest_mm=1500.0, divisions=rows, butt_line_mm=0.0)
    )
    near = [f.read for f in framing.findings if f.code == "F005"]
    assert near == ["50.0", "30.0", "100.0"]
    assert [f.line for f in framing.findings if f.code == "F008"] == ["1-S-a2"]


def test_heads_and_heels_that_miss_are_found():
    """A sheer above the surface's end, and a keel top below the rabbet, are misfits."""
    low = frame_hull(
        keeled(**{"keel top": lambda x: 1300.0 + 0.0 * x}),
        settings(cants="none", longest_mm=1500.0),
    )
    assert codes(low).count("F012") == len(low.frames)
    unknown = frame_hull(
        keeled(sheer=lambda x: np.full_like(x, np.nan)), settings(cants="none", longest_mm=1500.0)
    )
    assert codes(unknown).count("F016") == len(unknown.frames)


def test_a_frame_may_land_where_the_sheer_is_above_the_surface():
    """Where the surface never reaches the stated height the head is low, and says by how much."""
    framing = frame_hull(sphere(), settings(heads=9000.0, cants="none"))
    found = [f for f in framing.findings if f.code == "F011"]
    assert len(found) == len(framing.frames)
    frame = framing.frames[0]
    assert float(found[0].read) == pytest.approx(9000.0 - frame.joint.edge_mm[-1, 1], abs=60.0)


def test_heels_of_cants_nearer_than_stated_are_found():
    """Two canted frames whose heels are 206 mm apart, where 300 were asked for; 100 are enough."""
    plan = {"cants": ((1, 8.0), (2, 6.0)), "room_and_space_mm": 300.0, "longest_mm": 1500.0}
    near = frame_hull(keeled(), settings(**plan, heel_gap_mm=300.0))
    found = [f for f in near.findings if f.code == "F015"]
    assert [f.line for f in found] == [2, 3]
    assert float(found[0].read) == pytest.approx(300.0 - 2 * 47.0, abs=12.0)
    assert "F015" not in codes(frame_hull(keeled(), settings(**plan, heel_gap_mm=100.0)))


def test_a_heel_that_hardly_bears_is_found():
    """A keel so narrow that half timbers stand almost beside it is told, with what they bear on."""
    narrow = frame_hull(keeled(), settings(cants="none", longest_mm=1500.0, keel_siding_mm=40.0))
    found = [f for f in narrow.findings if f.code == "F018"]
    assert found
    assert all(float(f.read) == pytest.approx(20.0, abs=0.5) for f in found)
    broad = frame_hull(keeled(), settings(cants="none", longest_mm=1500.0, keel_siding_mm=160.0))
    assert "F018" not in codes(broad)


def test_a_canted_frame_is_not_told_to_be_canted():
    """A bevel too large of a frame that is turned already has another remedy than turning her."""
    turned = settings(cants=((1, 30.0),), longest_mm=1500.0, largest_bevel_deg=1.0)
    found = {f.line: f.remedy for f in frame_hull(keeled(), turned).findings if f.code == "F002"}
    assert "Turn her less or further" in found[1]
    assert found[2].startswith("Cant the frame")
