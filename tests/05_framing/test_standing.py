"""Standing sheets against plain geometry, and the frames as built."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from exact_surfaces import keeled, settings

from futtock.framing.asbuilt import SHARES, advice, amended, astray, off_drawing, run_ribbands
from futtock.framing.build import frame_hull
from futtock.framing.curve import tangents
from futtock.framing.offered import offers
from futtock.framing.outline import outlines
from futtock.framing.standing import standing_sheets
from futtock.vessel.smaller import AsBuilt

STATED = settings(
    cants="none", first_mm=4600.0, room_and_space_mm=250.0, count=12, longest_mm=9000.0,
    diagonals=(("A", 2600.0, -35.0),), levels_mm=(2200.0,), cross_spall_mm=2600.0,
    declivity_deg=3.0, horning_mm=2400.0,
)  # fmt: skip
WITHIN = 3.0


@pytest.fixture(scope="module")
def frames():
    return frame_hull(keeled(), STATED).frames


def test_places_are_where_the_marks_are(frames):
    """Spreads are twice the half-breadth, levels at their height, sirmarks on their line."""
    for frame, sheet in zip(frames, standing_sheets(frames, keeled(), STATED), strict=True):
        by_name = {p.name: p for p in sheet.places}
        assert by_name["level 2200"].height_mm == pytest.approx(2200.0, abs=1e-3)
        a = by_name["A"]
        want = 2600.0 - a.half_mm * np.tan(np.radians(35.0))
        assert a.height_mm == pytest.approx(want, abs=1e-2)
        assert a.spread_mm == pytest.approx(2 * a.half_mm)
        top = keeled().profiles["keel top"]
        pin = np.array([frame.plane.x_mm + 2400.0, 0.0, top(frame.plane.x_mm + 2400.0)])
        there = np.array([frame.plane.x_mm, a.half_mm, a.height_mm])
        assert a.horning_mm == pytest.approx(np.linalg.norm(there - pin))
        assert sheet.spall_height_mm == 2600.0
        assert 0 < sheet.spall_length_mm < by_name["cross spall"].spread_mm


def test_a_bob_from_the_head_falls_aft_by_the_declivity(frames):
    """Three degrees down by the stern carries a plumb frame's head aft by height x sin 3."""
    for frame, sheet in zip(frames, standing_sheets(frames, keeled(), STATED), strict=True):
        rise = frame.joint.edge_mm[-1, 1] - frame.joint.edge_mm[0, 1]
        assert sheet.plumb_offset_mm == pytest.approx(rise * np.sin(np.radians(3.0)))


def test_lengths_along_the_keel_top_add_up(frames):
    """The run along a sloping keel top is longer than x, by the arc of its parabola."""
    sheets = standing_sheets(frames, keeled(), STATED)
    x = np.linspace(frames[0].plane.x_mm, frames[-1].plane.x_mm, 20001)
    z = keeled().profiles["keel top"](x)
    assert sheets[-1].along_keel_mm == pytest.approx(
        np.hypot(np.diff(x), np.diff(z)).sum(), abs=0.01
    )
    assert sheets[0].along_keel_mm == 0.0
    gap = np.linalg.norm([250.0, *(frames[1].joint.edge_mm[-1] - frames[0].joint.edge_mm[-1])])
    assert sheets[0].to_next_head_mm == pytest.approx(gap)
    assert np.isnan(sheets[-1].to_next_head_mm)


def measured(frames, numbers, move):
    """Points read off standing frames at even heights, moved square to the edge by move(frame)."""
    out = []
    for f in frames:
        if f.number not in numbers:
            continue
        edge = f.joint.edge_mm
        t = tangents(edge)
        out_mm, up_mm = (edge + move(f.number) * np.stack([t[:, 1], -t[:, 0]], axis=1)).T
        for side in ("P", "S"):
            out += [
                AsBuilt(f.number, side, float(up_mm[k]), float(out_mm[k]), 0)
                for k in range(8, len(edge) - 4, 24)
            ]
    return out


def test_measured_points_come_back_as_their_distance_off_the_edge(frames):
    """Points moved 5 mm square to the edge are read as 5 mm, to a tenth."""
    for f in frames[::5]:
        share, off = off_drawing(f, measured(frames, {f.number}, lambda _: 5.0))
        assert len(share) == 14
        assert np.abs(off - 5.0).max() < 0.15


def test_one_shy_frame_is_named_and_its_neighbours_are_not(frames):
    """Frame 6 stands 6 mm shy, all others true: the battens leave it out and say shim."""
    points = measured(frames, range(1, 13), lambda n: -6.0 if n == 6 else 0.0)
    ribbands = run_ribbands(frames, points, WITHIN)
    said = advice(ribbands, WITHIN)
    assert [a.frame for a in said] == [6]
    assert "frame 6 is" in said[0].words
    assert "shy" in said[0].words
    assert "shim" in said[0].words
    assert said[0].off_mm == pytest.approx(-6.0, abs=0.8)
    assert amended(frames, ribbands, {6}, WITHIN, STATED) == ()


def test_a_shy_frame_beside_a_proud_one_may_have_that_one_eased(frames):
    """Frame 6 shy and 7 proud: the words offer either."""
    off = {6: -5.0, 7: 5.0}
    points = measured(frames, range(1, 13), lambda n: off.get(n, 0.0))
    words = {a.frame: a.words for a in advice(run_ribbands(frames, points, WITHIN), WITHIN)}
    assert words[6].endswith("shim, or ease 7")
    assert words[7].endswith("ease it")


def test_frames_not_yet_sawn_follow_a_hull_that_has_grown(frames):
    """Where all that stands is 8 mm full, the next frame is offered moved out, none that stands."""
    points = measured(frames, range(1, 9), lambda _: 8.0)
    ribbands = run_ribbands(frames, points, WITHIN)
    assert advice(ribbands, WITHIN) == ()
    offered = amended(frames, ribbands, set(range(1, 9)), WITHIN, STATED)
    assert [f.number for f in offered][:2] == [9, 10]
    # ten frames from the nearest that stands the ribband is back within a millimetre
    far = run_ribbands(frames, measured(frames, {1, 2}, lambda _: 8.0), WITHIN)
    assert np.abs(far.batten_mm[:, 11]).max() < 1.0
    assert np.abs(far.batten_mm[:, 2]).min() > 6.0
    moved, drawn = offered[0].joint.edge_mm, frames[8].joint.edge_mm
    away = np.hypot(*(moved - drawn).T)
    share = frames[8].joint.girth_mm / frames[8].joint.girth_mm[-1]
    assert away[share > SHARES[0]].min() > 5.0
    assert away.max() < 9.0
    assert away[0] == 0.0  # her heel stands on the keel where it is
    assert np.array_equal(frames[8].joint.edge_mm, drawn)
    # its timbers come with it, cut by the same butts from the moved faces
    assert [t.mark for t in offered[0].timbers] == [t.mark for t in frames[8].timbers]
    shape = outlines([offered[0]])[0][0]
    sawn = shapely.points(shape.joint_outer[5:-5])
    assert shapely.distance(sawn, shapely.LineString(moved)).max() < 0.1
    up = shape.girth_mm[5:-5] > 0.2 * shape.girth_mm[-1]
    assert shapely.distance(sawn[up], shapely.LineString(drawn)).min() > 5.0


def test_amended_bevels_follow_the_battens_slope(frames):
    """Where she has grown 1 mm more in every 50 mm aft, the next frames' bevels open by as much.

    A surface moved out along its in-plane normal by b(x) leans by tan(lean) + b'(x) (our own
    derivation, first order in b'); chords still join the edges of both faces.
    """
    x = {f.number: f.plane.x_mm for f in frames}
    stand = {1, 2, 3, 4, 5, 8, 9, 10, 11, 12}
    points = measured(frames, stand, lambda n: 5.0 + 0.02 * (x[n] - x[1]))
    run = run_ribbands(frames, points, WITHIN)
    offered = amended(frames, run, stand, WITHIN, STATED)
    assert [f.number for f in offered] == [6, 7]
    new, old = offered[0], frames[offered[0].number - 1]
    share = old.joint.girth_mm / old.joint.girth_mm[-1]
    middle = (share > 0.2) & (share < 0.85)
    opened = np.tan(np.radians(new.joint.lean_deg)) - np.tan(np.radians(old.joint.lean_deg))
    assert opened[middle] == pytest.approx(0.02, abs=0.001)
    for layer, s in zip(new.layers, (-1.0, 1.0), strict=True):
        t = tangents(new.joint.edge_mm)
        d = layer.far_edge_mm - new.joint.edge_mm
        rise = (d[:, 0] * t[:, 1] - d[:, 1] * t[:, 0]) / (s * new.plane.sided_mm)
        chord = np.degrees(np.arctan(rise))
        assert np.abs(chord - layer.chord_deg)[middle].max() < 0.02


def test_a_point_that_cannot_be_of_its_frame_is_told(frames):
    """A frame that is not there, and a point far off or below the heel, each give a finding."""
    good = AsBuilt(3, "S", 2200.0, float(np.interp(2200.0, *frames[2].joint.edge_mm.T[::-1])), 2)
    wrong = [AsBuilt(99, "S", 900.0, 800.0, 3), AsBuilt(3, "P", 2200.0, 10.0, 4)]
    told = astray(frames, [good, *wrong])
    assert [(f.code, f.file, f.line) for f in told] == [
        ("F019", "as_built.csv", 3),
        ("F019", "as_built.csv", 4),
    ]


@pytest.mark.parametrize(("read_mm", "asked"), [(12.0, False), (25.4, True), (-152.4, True)])
def test_a_tape_misread_is_asked_after(frames, read_mm, asked):
    """A point an inch or six off its drawing is doubted, one half an inch off is not."""
    edge = frames[2].joint.edge_mm
    up = float(edge[145, 1])
    point = AsBuilt(3, "S", up, float(edge[145, 0]) + read_mm, 7)
    told = astray(frames, [point], "imperial")
    assert [(f.code in ("F019", "F020"), f.line) for f in told] == [(True, 7)] * asked
    if read_mm == 25.4:
        assert "outside her drawing: is the tape misread?" in told[0].message


def test_nothing_measured_moves_nothing(frames):
    """Without measurements the battens lie on the drawing."""
    ribbands = run_ribbands(frames, [], WITHIN)
    assert not ribbands.batten_mm.any()
    assert ribbands.off_mm.shape == (len(SHARES), 12)
    assert advice(ribbands, WITHIN) == ()


def test_a_point_below_the_heel_is_left_out(frames):
    """A height that the frame does not reach says nothing about it."""
    share, _ = off_drawing(frames[0], [AsBuilt(1, "S", 10.0, 500.0, 0)])
    assert len(share) == 0


def test_rules_are_offered_with_their_source_and_how_it_was_read(frames):
    """A seventh of her breadth is offered beside the stated shift, marked as from memory."""
    by_rule = {o.rule: o for o in offers(frames, STATED)}
    breadth = 2 * max(f.joint.edge_mm[:, 0].max() for f in frames)
    assert by_rule["H26"].offered_mm == pytest.approx(breadth / 7, rel=1e-3)
    assert by_rule["H26"].stated_mm == STATED.butt_shift_mm
    assert "memory" in by_rule["H26"].read
    assert all(o.source for o in by_rule.values())
    assert replace(STATED) == STATED


def test_a_canted_frames_diagonal_is_measured_in_space():
    """Port heel to starboard head of a canted frame: both halves swing, so the ends part in x."""
    canted = replace(STATED, cants=((1, 20.0),))
    framing = frame_hull(keeled(), canted)
    frame = framing.frames[0]
    sheet = standing_sheets(framing.frames, keeled(), canted)[0]
    c = np.radians(20.0)
    (o0, u0), (o1, u1) = frame.joint.edge_mm[[0, -1]]
    heel = np.array([-o0 * np.sin(c), -o0 * np.cos(c), u0])
    head = np.array([-o1 * np.sin(c), o1 * np.cos(c), u1])
    assert sheet.diagonal_mm == pytest.approx(np.linalg.norm(head - heel))
