"""The frame plan: places, sidings, cants, rakes, heads, half frames."""

from __future__ import annotations

import numpy as np
import pytest
from exact_surfaces import hull_of, keeled, settings, sphere

from futtock.errors import Interrupted, Misused, Unsolvable
from futtock.framing.build import frame_hull
from futtock.framing.plan import frame_planes, places_mm


def test_spacing_may_change_and_frames_be_left_out_or_added():
    """Changes count from their frame on; numbers run afresh over what stands."""
    stated = settings(
        first_mm=1000.0,
        room_and_space_mm=400.0,
        count=6,
        spacing_changes=((3, 300.0),),
        left_out=(2,),
        added_mm=(1900.0,),
        cants="none",
        sided_changes=((4, 60.0),),
    )
    assert places_mm(stated).tolist() == [1000.0, 1800.0, 1900.0, 2100.0, 2400.0, 2700.0]
    planes = frame_planes(sphere(), stated)
    assert [p.number for p in planes] == [1, 2, 3, 4, 5, 6]
    assert [p.sided_mm for p in planes] == [47.0] * 3 + [60.0] * 3


def test_axes_are_a_right_handed_unit_set_at_any_cant_and_rake():
    """out x up = a, all of unit length; a cant is positive where the outer end swings forward."""
    planes = frame_planes(sphere(), settings(cants=((2, 25.0),)))
    a, out, up = planes[1].axes()
    assert np.allclose(np.cross(out, up), a)
    assert np.allclose([a @ a, out @ out, up @ up], 1.0)
    assert out[0] < 0


def test_frames_square_to_the_keel_carry_its_rake():
    """A keel that deepens 40 mm in a metre going aft rakes the heads aft by atan(0.04)."""
    hull = sphere(keel=lambda x: 900.0 - 0.04 * x)
    framing = frame_hull(hull, settings(stand="keel", cants="none"))
    for frame in framing.frames:
        assert frame.plane.rake_deg == pytest.approx(np.degrees(np.arctan(0.04)))
        a, _, up = frame.plane.axes()
        assert a @ np.array([1.0, 0.0, -0.04]) == pytest.approx(np.hypot(1.0, 0.04))
        assert up[0] > 0
        # the sphere's closed form holds in the raked plane too
        centre = np.array([6000.0, 0.0, 3000.0])
        d = a @ (frame.plane.origin(0.0) - centre)
        edge = frame.joint.edge_mm
        _, out, up = frame.plane.axes()
        p = frame.plane.origin(0.0) + edge[:, :1] * out + edge[:, 1:] * up
        assert np.abs(np.linalg.norm(p - centre, axis=1) - (2500.0 - 31.75)).max() < 1e-4
        lean = -np.degrees(np.arcsin(d / (2500.0 - 31.75)))
        assert np.abs(frame.joint.lean_deg - lean).max() < 1e-5


def test_heads_may_stop_at_a_stated_height():
    """A height in place of the sheer ends every face there."""
    framing = frame_hull(sphere(), settings(heads=2500.0, cants="none"))
    for frame in framing.frames:
        for face in (frame.forward, frame.joint, frame.aft):
            assert face.edge_mm[-1, 1] == pytest.approx(2500.0, abs=1e-4)


def test_a_head_left_long_lengthens_the_last_timbers_alone():
    """head_over adds to the girth of the timbers at the head; the edge keeps to the sheer."""
    plain = frame_hull(keeled(), settings(longest_mm=9000.0, cants="none"))
    longer = frame_hull(keeled(), settings(longest_mm=9000.0, cants="none", head_over_mm=76.0))
    for a, b in zip(plain.timbers, longer.timbers, strict=True):
        assert b.girth_mm[1] - a.girth_mm[1] == pytest.approx(76.0)
    for a, b in zip(plain.frames, longer.frames, strict=True):
        assert np.array_equal(a.joint.edge_mm, b.joint.edge_mm)


def test_a_frame_beyond_the_hull_is_said_and_the_rest_stand():
    """A plane beyond the surface is a finding with its number, not an error."""
    framing = frame_hull(sphere(), settings(first_mm=3000.0, room_and_space_mm=900.0, cants="none"))
    missed = [f for f in framing.findings if f.code == "F001"]
    assert [f.line for f in missed] == [1, 2]
    assert [f.number for f in framing.frames] == [3, 4]


def test_no_frame_at_all_is_an_error_in_words():
    """A plan wholly off the hull cannot be framed."""
    with pytest.raises(Unsolvable, match="None of the frames"):
        frame_hull(sphere(), settings(first_mm=90000.0, cants="none"))


def test_a_stop_is_heeded():
    """Where the report says stop, framing stops."""
    with pytest.raises(Interrupted):
        frame_hull(sphere(), settings(), lambda _: False)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"sided_mm": 0.0}, "sided_mm must be more than 0"),
        ({"count": 0}, "At least one frame"),
        ({"moulded_mm": ((0.0, -3.0),)}, "Moulded sizes"),
        ({"longest_mm": 100.0}, "shorter than the shortest"),
        ({"points": 7}, "40 points"),
        ({"butt_shift_mm": -1.0}, "must not be negative"),
    ],
)
def test_senseless_settings_are_refused_in_words(change, words):
    """Each setting that can mean nothing says what was expected and what came."""
    with pytest.raises(Misused, match=words):
        settings(**change)


def test_a_cant_for_a_frame_that_is_not_there_is_refused():
    """The message names the frames there are."""
    with pytest.raises(Misused, match="frames 1 to 4"):
        frame_planes(sphere(), settings(cants=((9, 5.0),)))


def test_half_frames_land_on_high_deadwood():
    """Asked to propose, frames whose heels stand high over the rabbet take no floor."""
    hull = keeled(rabbet=lambda x: np.where(x < 5000.0, 1000.0, 1420.0))
    framing = frame_hull(hull, settings(half_frames="propose", floors="in frame", cants="none"))
    assert [f.plane.full for f in framing.frames] == [False, True, True, True]
    assert [any(t.side == "C" for t in f.timbers) for f in framing.frames] == [
        False, True, True, True,
    ]  # fmt: skip


def test_a_hull_without_a_keel_top_stops_opposite_the_rabbet():
    """The first point of every face comes from the surface's lower bound."""
    for frame in frame_hull(hull_of(sphere().surface), settings()).frames:
        assert not frame.on_keel
        for face in (frame.forward, frame.joint, frame.aft):
            assert face.uv[0, 1] == pytest.approx(0.25, abs=1e-9)


def test_added_frames_may_be_canted_or_half():
    """An added frame carries its own cant and may land on deadwood."""
    stated = settings(
        cants="none",
        added_mm=(5100.0, 6300.0),
        added_cants_deg=(8.0, 0.0),
        added_half=(False, True),
    )
    planes = {p.x_mm: p for p in frame_planes(sphere(), stated)}
    assert planes[5100.0].cant_deg == 8.0
    assert not planes[6300.0].full
    assert planes[4800.0].cant_deg == 0.0
    assert planes[5100.0].full


def test_heads_may_stop_at_another_line_of_the_table():
    """A named line ends the faces; one that the table lacks is said, and the sheer taken."""
    wale = keeled(wale=lambda x: 2400.0 + 0.01 * (x - 6000.0))
    framing = frame_hull(wale, settings(heads="wale", cants="none"))
    for frame in framing.frames:
        want = 2400.0 + 0.01 * (frame.plane.x_mm - 6000.0)
        assert frame.joint.edge_mm[-1, 1] == pytest.approx(want, abs=1e-4)
    lacking = frame_hull(wale, settings(heads="rail", cants="none"))
    assert [f.read for f in lacking.findings if f.code == "F016"] == ["rail"]


def test_a_frame_that_runs_off_the_surfaces_end_is_left_out_rather_than_bent():
    """A cant whose head lies beyond the surface is a finding; no point is given off its plane."""
    framing = frame_hull(sphere(), settings(cants=((1, 40.0),)))
    assert [f.line for f in framing.findings if f.code == "F001"] == [1]
    for frame in framing.frames:
        for face in (frame.forward, frame.joint, frame.aft):
            assert np.isfinite(face.edge_mm).all()


def test_a_heel_left_long_reaches_below_the_keels_top_alone():
    """heel_over lowers the foot of timbers on the keel, and lengthens those that stop opposite the
    rabbet along their girth; edges and butts stay.
    """
    plain, longer = (
        frame_hull(keeled(), settings(longest_mm=9000.0, cants="none", heel_over_mm=over))
        for over in (0.0, 12.0)
    )
    for a, b in zip(plain.timbers, longer.timbers, strict=True):
        assert a.girth_mm == b.girth_mm
        assert a.heel_mm[-1, 1] - b.heel_mm[-1, 1] == pytest.approx(12.0)
    for a, b in zip(plain.frames, longer.frames, strict=True):
        assert np.array_equal(a.joint.edge_mm, b.joint.edge_mm)
    free = frame_hull(sphere(), settings(longest_mm=9000.0, cants="none", heel_over_mm=12.0))
    assert all(t.girth_mm[0] == -12.0 for t in free.timbers)
