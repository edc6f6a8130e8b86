"""Treenail holes by rule on exact frames, their counts and stock, and the published values."""

import numpy as np
import pytest
from exact_frames import cone_frame, sphere_frame
from hypothesis import given, settings
from hypothesis import strategies as st

from futtock.bench.fastening import FasteningSettings, published
from futtock.bench.holes import frame_holes, lay_holes, with_holes
from futtock.bench.treenails import (
    fastenings,
    group_strength,
    squares_of_board,
    wedges,
)
from futtock.errors import Misused
from futtock.moulds.flat import moulds
from futtock.moulds.settings import MouldSettings

IN = 25.4


def distances_on_all_faces(frame, hole, g_deg, moulded):
    """Least distance from a hole's axis to the four circles' edges: closed form on a cone."""
    r = np.hypot(*hole.at_mm)
    found = []
    for s in (-frame.plane.sided_mm, 0.0, frame.plane.sided_mm):
        outer = (frame.plane.x_mm + s) * np.tan(np.radians(g_deg))
        found += [outer - r, r - (outer - moulded)]
    return min(found)


@settings(max_examples=25, deadline=None)
@given(
    g_deg=st.floats(0.5, 20),
    moulded=st.floats(90, 180),
    diameter=st.floats(14, 25),
    rows=st.sampled_from(["one", "two", "staggered"]),
)
def test_holes_keep_their_distances(g_deg, moulded, diameter, rows):
    """On a cone every hole that is not complained of keeps edge and end distance on every face."""
    x_mm = 1200.0 / np.tan(np.radians(g_deg))
    frame = cone_frame(g_deg, moulded_mm=moulded, x_mm=x_mm)
    rule = FasteningSettings(diameter_mm=diameter, rows=rows)
    laid = frame_holes(frame, rule)
    complained = any(f.code == "B102" for f in laid.findings)
    stops = np.array([0.0, 0.25, 0.5, 0.75, 1.0]) * frame.joint.girth_mm[-1]
    for hole in laid.holes:
        least = distances_on_all_faces(frame, hole, g_deg, moulded)
        assert hole.edge_mm == pytest.approx(least, abs=0.3)
        if not complained:
            assert least >= 2 * diameter - 0.3
        assert np.abs(hole.girth_mm - stops).min() >= 4 * diameter - 1e-6
        assert hole.grip_mm == 2 * frame.plane.sided_mm
    at = np.array([h.at_mm for h in laid.holes]).reshape(-1, 2)
    apart = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1)) + np.eye(len(at)) * 1e9
    assert apart.min(initial=1e9) >= 1.8 * diameter
    for _, _, below, above in laid.at_butts:
        assert min(below, above) >= 2 or any(f.code == "B101" for f in laid.findings) or complained


def test_two_rows_where_deep_one_where_not():
    """Staggered rows stand at the two edge distances of a deep frame; a shallow one has one row."""
    deep = frame_holes(cone_frame(4.0, moulded_mm=150.0, x_mm=14000.0), FasteningSettings())
    assert {h.row for h in deep.holes} == {0, 1}
    assert [h.row for h in deep.holes] == [k % 2 for k in range(len(deep.holes))]
    shallow = frame_holes(cone_frame(4.0, moulded_mm=90.0, x_mm=14000.0), FasteningSettings())
    assert {h.row for h in shallow.holes} == {-1}


def test_a_shallow_head_is_said_plainly():
    """3-1/4 in of depth has no room for 7/8 in treenails with two diameters at both edges."""
    rule = FasteningSettings(diameter_mm=0.875 * IN, edge_mm=2 * 0.875 * IN)
    frame = cone_frame(2.0, moulded_mm=3.25 * IN, x_mm=34000.0)
    laid = frame_holes(frame, rule)
    (no_room,) = [f for f in laid.findings if f.code == "B102"]
    assert f"{len(laid.holes)} holes a side" in no_room.message
    assert "2.0 diameters of 22.2 mm to both edges, which want 89 mm" in no_room.message
    # a square frame has 82.55 mm; the bevel over both layers takes 2 x 50 tan 2 = 3.5 mm of it
    common = 3.25 * IN - 2 * 50 * np.tan(np.radians(2.0))
    assert f"have {common:.0f} mm" in no_room.message
    assert {h.row for h in laid.holes} == {-1}


def test_short_shift_of_butts_is_said():
    """Butts too close for two treenails between them are a misfit with the place named."""
    frame = cone_frame(4.0, x_mm=14000.0, divisions={"f": (0.5,), "a": (0.56,)})
    laid = frame_holes(frame, FasteningSettings())
    assert [f.code for f in laid.findings] == ["B101"]
    assert any(min(below, above) < 2 for _, _, below, above in laid.at_butts)


def test_kept_clear_stretches_and_sirmarks_have_no_hole():
    """Holes move out of stretches kept for planking fastenings and off the sirmarks."""
    frame = cone_frame(4.0, x_mm=14000.0, moulded_mm=140.0, marks=[("A", "sirmark", 0.3)])
    plain = frame_holes(frame, FasteningSettings())
    shut = tuple((h.girth_mm - 15, h.girth_mm + 10) for h in plain.holes[::3])
    rule = FasteningSettings(clear=shut, sirmark_clear_mm=30.0, plank_fastening_mm=60.0)
    laid = frame_holes(frame, rule)
    sirmark = 0.3 * frame.joint.girth_mm[-1]
    for hole in laid.holes:
        assert not any(a < hole.girth_mm < b for a, b in shut)
        assert abs(hole.girth_mm - sirmark) >= 30.0 - 1e-6
        assert hole.in_mm >= 60.0 - 1e-6
    assert len(laid.holes) == len(plain.holes)


def test_planking_fastenings_by_zone():
    """In a zone of deeper planking fastenings holes stand further in; elsewhere as before."""
    frame = cone_frame(4.0, x_mm=14000.0, moulded_mm=150.0)
    girth = frame.joint.girth_mm[-1]
    rule = FasteningSettings(plank_fastening_mm=40.0, plank_zones=((0.0, 0.3 * girth, 70.0),))
    laid = frame_holes(frame, rule)
    for hole in laid.holes:
        assert hole.in_mm >= (70.0 if hole.girth_mm <= 0.3 * girth else 40.0)
    assert min(h.in_mm for h in laid.holes) < 70.0


def test_wedges_stand_across_the_grain():
    """A hole's grain runs along the frame there and its wedge is square to it."""
    frame = cone_frame(4.0, x_mm=14000.0)
    for hole in frame_holes(frame, FasteningSettings()).holes:
        radius = np.degrees(np.arctan2(hole.at_mm[1], hole.at_mm[0]))
        across = (hole.grain_deg - radius) % 180
        assert across == pytest.approx(90.0, abs=0.2)
        assert hole.wedge_deg == hole.grain_deg + 90.0


def test_holes_come_out_at_one_place_in_both_layers():
    """Laid on the moulds, a hole of the f and of the a timber is one point of the frame."""
    frame = sphere_frame()
    laid = lay_holes([frame], FasteningSettings())
    drilled = with_holes(moulds([frame], MouldSettings()), laid)
    back = {"f": [], "a": []}
    for mould in drilled:
        assert len(mould.holes_mm) >= 2
        if mould.side == "S":
            back[mould.layer].append(mould.place.to_frame(mould.holes_mm))
    wanted = np.array(sorted(h.at_mm for h in laid[0].holes))
    for layer in "fa":
        found = np.array(sorted(map(tuple, np.concatenate(back[layer]))))
        assert found == pytest.approx(wanted, abs=1e-9)


def test_counts_lengths_stock_and_drills():
    """Treenails are as many as holes, long enough for both layers and what stands proud."""
    frames = [cone_frame(4.0, x_mm=14000.0, number=k) for k in (1, 2, 3)]
    rule = FasteningSettings(diameter_mm=19.05, proud_mm=25.4, spoil_percent=10.0)
    laid = lay_holes(frames, rule)
    whole = fastenings(laid, rule)
    assert whole.holes == sum(2 * len(f.holes) for f in laid)
    (kind,) = whole.lengths
    assert kind.length_mm == pytest.approx(152.4)  # 100 + 2 x 25.4 = 150.8, up to a half inch
    assert kind.driven == whole.holes
    assert kind.to_make == int(np.ceil(whole.holes * 1.1))
    assert whole.drills == ((pytest.approx(19.05 - 0.79375), 100.0, whole.holes),)
    assert whole.stock.running_m == pytest.approx(kind.to_make * (152.4 + 3.2) / 1000)
    # board feet: 144 cubic inches each, squares of 1 in with a 3.2 mm rip kerf
    inches = kind.to_make * (152.4 + 3.2) * (25.4 + 3.2) ** 2 / 25.4**3
    assert whole.stock.board_feet == pytest.approx(inches / 144, rel=1e-4)


def test_two_wedges_a_treenail():
    """n treenails want 2 n wedges, with the spoil rate; common practice, no source."""
    plain = FasteningSettings(spoil_percent=0.0)
    assert wedges(12 * 45, plain).count == 2 * 12 * 45
    assert wedges(100, FasteningSettings(spoil_percent=10.0)).count == 220


def test_squares_of_a_board():
    """A 6 in by 2 in board 6 ft long gives what a person counts along, across and through."""
    rule = FasteningSettings(diameter_mm=19.05, square_allowance_mm=6.35)
    count = squares_of_board(72 * IN, 6 * IN, 2 * IN + 3.2, 6 * IN, rule, kerf_mm=3.2)
    assert count == 11 * 5 * 2  # 72 in less kerfs: 11; 6 in: 5 of 1 in with kerfs; 2 in: 2
    assert squares_of_board(100.0, 100.0, 20.0, 150.0, rule) == 0


def test_published_rules_are_kept_apart_and_offered():
    """T01 to T21 speak of planks on frames, T22 on of buildings; none of a frame's own layers."""
    planks = published("plank to frame")
    assert [p.code for p in planks] == [f"T{k:02d}" for k in range(1, 22)]
    assert all(p.source and p.how for p in published())
    assert not [p for p in published() if "layer" in p.joint]
    # T02 (Curtis 1919): hole smaller than the peg by 1/16 in; ours is half that, within it
    t02 = next(p for p in planks if p.code == "T02")
    assert 0 < FasteningSettings().drift_mm <= float(t02.value) * IN
    # T05 and T21: wedges across the grain
    assert "across the grain" in next(p for p in planks if p.code == "T05").value
    assert "across the grain" in wedges(1, FasteningSettings()).rule


def test_doubtful_settings_are_named():
    """No drift, wet treenails and distances below the published ones are findings."""
    rule = FasteningSettings(
        drift_mm=0.0, moisture_percent=16.0, frame_moisture_percent=14.0, end_mm=30.0, edge_mm=30.0
    )
    codes = [f.code for f in fastenings([], rule).findings]
    assert codes == ["B105", "B104", "B103", "B103"]
    assert fastenings([], FasteningSettings()).findings == ()


def test_group_strength_uses_only_published_or_given_figures():
    """Oak pins: 4425 psi (T27) times the section; osage orange has no figure and is refused."""
    one = group_strength(1, IN, "oak")
    assert one.newton == pytest.approx(4425 * np.pi / 4 * 4.448222, rel=1e-5)
    assert group_strength(12, IN, "oak").newton == pytest.approx(12 * one.newton)
    assert "not a design" in one.caution
    with pytest.raises(Misused, match="osage orange"):
        group_strength(1, IN, "osage orange")
    assert group_strength(2, IN, "osage orange", 30000.0).source == "the user's own figure"


def test_about_a_dozen_to_a_frame():
    """A frame of some 9 ft of girth a side, two butts a layer: a dozen or two, as yards do
    (common practice, no source: about a dozen under 50 ft).
    """
    frame = cone_frame(
        4.0, x_mm=14000.0, angles_deg=(5, 95), moulded_mm=110.0, divisions={"f": (0.5,), "a": ()}
    )
    assert 8 <= frame_holes(frame, FasteningSettings()).count <= 24
