"""Saw sheets: hands in every combination, angles on closed forms, and the solid built again."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from exact_frames import cone_frame, shape_of, sphere_frame
from hypothesis import given
from hypothesis import strategies as st

from futtock.bench.head import parts, tightest_turn_mm
from futtock.bench.saw import HeadError, SawSettings, blade_radius, twist_limit_deg_ft
from futtock.bench.sawing import saw_sheet, saw_sheets
from futtock.errors import Misused
from futtock.moulds.flat import lay_flat
from futtock.moulds.mould import SawnEdge
from futtock.moulds.settings import MouldSettings


def laid(frame, mark, up="joint"):
    timber = next(t for t in frame.timbers if t.mark == mark)
    return lay_flat(shape_of(frame, timber), frame, timber, MouldSettings(up=up))


COMBINATIONS = list(
    itertools.product("PS", "fa", [0, 1], ["heel first", "head first"], [True, False])
)


@pytest.mark.parametrize(("side", "layer", "edge", "feed", "widens"), COMBINATIONS)
def test_hands_of_all_thirty_two_combinations(side, layer, edge, feed, widens):
    """Joint face up, positive lean, heel first: port leans right, starboard left, whatever the
    layer or the edge; turning the feed or the sign turns the hand.
    """
    assert len(COMBINATIONS) == 32
    frame = cone_frame(12.0, widens_aft=widens, x_mm=6000.0)
    cut = saw_sheet(laid(frame, f"1-{side}-{layer}1"), SawSettings(feed=feed)).cuts[edge]
    right = side == "P"
    right ^= feed == "head first"
    right ^= not widens
    assert cut.head == ("right" if right else "left")
    assert {m.head for m in cut.marks} == {cut.head}
    assert [m.deg for m in cut.marks] == [12.0] * len(cut.marks)


@pytest.mark.parametrize(("side", "layer", "edge", "feed", "widens"), COMBINATIONS)
def test_blade_top_leans_over_kept_wood_where_the_inside_angle_is_obtuse(
    side, layer, edge, feed, widens
):
    """In the vessel's own axes, with the feeder stood at the saw: the blade's top lies on the hand
    named, and over the kept wood just when the inside angle at the up face exceeds 90 degrees.
    """
    frame = cone_frame(12.0, widens_aft=widens, x_mm=6000.0)
    mould = laid(frame, f"1-{side}-{layer}1")
    cut = saw_sheet(mould, SawSettings(feed=feed)).cuts[edge]
    y = 1.0 if side == "S" else -1.0
    mid = np.radians(27.5)  # within timber 1 of either layer
    x_far = 6000.0 + (-50.0 if layer == "f" else 50.0)

    def point(x, angle):
        r = abs(x - (0.0 if widens else 12000.0)) * np.tan(np.radians(12.0))
        r -= 0.0 if edge == 0 else 100.0
        return np.array([x, y * r * np.sin(angle), -r * np.cos(angle)])

    up, down = point(6000.0, mid), point(x_far, mid)
    sky = np.array([1.0 if mould.up == "aft" else -1.0, 0, 0])  # out of the up face
    towards_head = point(6000.0, mid + 1e-4) - point(6000.0, mid)
    looks = -towards_head if feed == "heel first" else towards_head
    looks /= np.linalg.norm(looks)
    left = np.cross(sky, looks)
    other = point(6000.0, mid) * np.array([0, 1, 1])
    into_wood = -other if edge == 0 else other  # outer edge: wood lies towards the axis
    top_over = up - down
    assert cut.kept == ("left" if into_wood @ left > 0 else "right")
    assert cut.head == ("left" if top_over @ left > 0 else "right")
    inside = np.degrees(
        np.arccos((down - up) @ into_wood / np.linalg.norm(down - up) / np.linalg.norm(into_wood))
    )
    assert (inside > 90.0) == (cut.head == cut.kept)


def rebuilt(mould, sheet, edge):
    """The lower edge from the sheet and the line on the up face alone, by plain 3-D rotation."""
    cut = next(c for c in sheet.cuts if c.edge == edge.name)
    at = np.array([m.at_mm for m in cut.marks])
    signed = np.array([m.deg * {"left": 1, "right": -1, "square": 0}[m.head] for m in cut.marks])
    lean = np.radians(np.interp(edge.at_mm, at, signed))
    ahead = np.gradient(edge.up_mm, edge.at_mm, axis=0, edge_order=2)
    if cut.feed == "heel first":
        ahead = -ahead
    ahead /= np.hypot(*ahead.T)[:, None]
    left = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1)
    return edge.up_mm - np.tan(lean)[:, None] * sheet.sided_mm * left


@pytest.mark.parametrize("feed", ["heel first", "head first"])
@pytest.mark.parametrize("mark", ["1-S-f1", "1-P-f2", "1-S-a2", "1-P-a3"])
def test_cone_built_again_from_the_sheet(mark, feed):
    """Built from the sheet alone, both edges of the far face lie within 0.1 mm of the cone."""
    frame = cone_frame(12.25)
    mould = laid(frame, mark)
    sheet = saw_sheet(mould, SawSettings(feed=feed))
    x_far = 4000.0 + (-50.0 if mould.layer == "f" else 50.0)
    for edge, less in zip(mould.edges, (0.0, 100.0), strict=True):
        far = mould.place.to_frame(rebuilt(mould, sheet, edge))
        off = np.hypot(*far.T) - (x_far * np.tan(np.radians(12.25)) - less)
        assert np.abs(off).max() < 0.1
        assert np.hypot(*(far - mould.place.to_frame(edge.down_mm)).T).max() < 0.1


@pytest.mark.parametrize("up", ["joint", "forward", "aft"])
def test_sphere_built_again_from_the_sheet(up):
    """On a sphere the rebuilt edge errs by the angle's rounding alone, whichever face is up."""
    frame = sphere_frame(3000.0, 4900.0, sided_mm=60.0)
    for mark in ("1-S-f1", "1-P-a2"):
        mould = laid(frame, mark, up)
        sheet = saw_sheet(mould, SawSettings())
        rounding = 60.0 * np.radians(0.125) / np.cos(np.radians(22.0)) ** 2
        for edge in mould.edges:
            off = rebuilt(mould, sheet, edge) - edge.down_mm
            assert np.hypot(*off.T).max() < rounding + 0.02


def test_chord_lean_of_a_sphere():
    """The angle sawn is the chord between the true circles, not the tangent at one face."""
    frame = sphere_frame(3000.0, 4900.0, sided_mm=60.0)
    cut = saw_sheet(laid(frame, "1-S-a2"), SawSettings(step_deg=0.25)).cuts[0]
    r0, r1 = np.sqrt(3000.0**2 - 900.0**2), np.sqrt(3000.0**2 - 840.0**2)
    chord = np.degrees(np.arctan((r1 - r0) / 60.0))
    assert [abs(m.left_deg) for m in cut.marks] == pytest.approx([chord] * len(cut.marks), abs=1e-4)


def edge_of(angles_deg, sided=50.0, length=2000.0):
    """A straight edge along x whose head angle, heel first, is the given curve."""
    x = np.linspace(0.0, length, len(angles_deg))
    up = np.stack([x, np.zeros_like(x)], axis=1)
    # Heel first he looks along -x, his left is -y: a top over -y leans left.
    down = up + np.stack([0 * x, sided * np.tan(np.radians(angles_deg))], axis=1)
    return SawnEdge("outer", up, down, x, np.asarray(angles_deg, float))


def mould_of(angles_deg, **kwargs):
    outer = edge_of(angles_deg, **kwargs)
    across = outer.up_mm + np.array([0.0, 100.0])
    inner = SawnEdge("inner", across, across, outer.at_mm, 0 * outer.at_mm)
    frame = cone_frame(12.0)
    return replace(laid(frame, "1-S-f1"), edges=(outer, inner), sided_mm=50.0, departure_mm=0.0)


@given(
    st.lists(st.floats(-18, 18), min_size=3, max_size=6),
    st.sampled_from([0.25, 0.5]),
    st.sampled_from(["heel first", "head first", "one hand"]),
)
def test_straight_lines_between_marks_err_by_half_a_degree_at_most(knots, step, feed):
    """Wherever one reads between two marks, the written angles are within half a degree."""
    x = np.linspace(0, 2000, 201)
    curve = np.interp(x, np.linspace(0, 2000, len(knots)), knots)
    cut = saw_sheet(mould_of(curve), SawSettings(step_deg=step, feed=feed)).cuts[0]
    at = np.array([m.at_mm for m in cut.marks])
    written = np.array([m.set_left_deg for m in cut.marks])
    sign = 1.0 if cut.feed == "heel first" else -1.0
    assert np.abs(np.interp(x, at, written) - sign * curve).max() <= 0.5 + 1e-9
    assert all(m.deg / step == pytest.approx(round(m.deg / step)) for m in cut.marks)
    for m in cut.marks:
        assert m.head == ("square" if m.deg == 0 else "left" if m.set_left_deg > 0 else "right")
    if feed == "one hand" and cut.largest_deg > step:
        assert cut.head == "left"


def test_marks_turns_and_standing_still():
    """Marks stand every 6 in, turns add up to the change, a flat stretch stands still."""
    x = np.linspace(0, 2000, 401)
    curve = np.interp(x, [0, 800, 2000], [4.0, 4.0, 10.0])
    settings = SawSettings(turns_per_deg=2.0)
    cut = saw_sheet(mould_of(curve), settings).cuts[0]
    at = [m.at_mm for m in cut.marks]
    assert set(np.arange(0, 2000, 152.4)) <= set(at)
    assert at[-1] == 2000.0
    assert sum(t.turns for t in cut.turns) == pytest.approx(12.0)
    assert cut.still[0] == (0.0, pytest.approx(762.0))
    assert cut.head == "left"
    assert cut.deg_ft == pytest.approx(6.0 / 1200 * 304.8)
    # 2 turns a degree, 0.005 degrees a mm: 0.01 turns a mm, so 40 turns a minute are 4 m of feed
    assert cut.feed_mm_min == settings.feed_mm_min == 1200.0
    assert cut.turns_a_minute == pytest.approx(12.0)
    slow = saw_sheet(mould_of(curve), SawSettings(turns_per_deg=20.0)).cuts[0]
    assert slow.feed_mm_min == pytest.approx(400.0)
    assert slow.turns_a_minute == pytest.approx(40.0)


def test_edges_are_divided_at_their_corners():
    """A floor's rising sides and its flat foot are three cuts; a curve of small turns is one."""
    side = np.linspace(0, 500, 26)
    rise = np.tan(np.radians(25.0))
    x = np.concatenate([-side[::-1] - 80, np.linspace(-80, 80, 9)[1:-1], side + 80])
    up = np.stack([x, np.maximum(np.abs(x) - 80, 0) * rise], axis=1)
    run = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(up, axis=0).T))])
    edge = SawnEdge("outer", up, up, run, 0 * run)
    cut = parts(edge)
    assert len(cut) == 3
    assert [up[p][0, 0] for p in cut] == pytest.approx([-580, -80, 80])
    assert cut[-1].stop == len(up)
    t = np.linspace(0, 2.5, 60)
    arc = 300 * np.stack([np.cos(t), np.sin(t)], axis=1)
    assert len(parts(SawnEdge("outer", arc, arc, 300 * t, 0 * t))) == 1


def test_hand_changes_near_the_dead_flat():
    """A cut whose lean changes sign changes hand within the cut, through square."""
    cut = saw_sheet(mould_of(np.linspace(-3, 3, 101)), SawSettings()).cuts[0]
    heads = [m.head for m in cut.marks]
    assert heads[0] == "right"
    assert heads[-1] == "left"


def test_head_range_splits_the_cut():
    """Past the head's range the stretch, what must be hewn, and whether turning helps are named."""
    sheet = saw_sheet(mould_of(np.linspace(0, 20, 201)), SawSettings(left_deg=15.0, right_deg=30.0))
    (beyond,) = sheet.cuts[0].beyond
    assert beyond.from_mm == pytest.approx(1500.0, abs=10.1)
    assert beyond.to_mm == 2000.0
    assert beyond.other_feed
    assert beyond.hew_mm == pytest.approx(50 * (np.tan(np.radians(20)) - np.tan(np.radians(15))))
    assert "B003" in [f.code for f in sheet.findings]


def test_scale_is_corrected_for_the_head():
    """With the head's error known, the figure to set gives the true angle back."""
    head = HeadError(zero_deg=0.4, scale=1.02, backlash_deg=0.6)
    cut = saw_sheet(mould_of(np.linspace(2, 10, 201)), SawSettings(head=head)).cuts[0]
    for m in cut.marks:  # cranked left all the way: the head lags half the backlash behind
        assert 0.4 + 1.02 * m.scale_deg - 0.3 == pytest.approx(m.set_left_deg)
    back = saw_sheet(mould_of(np.linspace(10, 2, 201)), SawSettings(head=head)).cuts[0]
    for m in back.marks[1:]:
        if m.set_left_deg < back.marks[0].set_left_deg:
            assert 0.4 + 1.02 * m.scale_deg + 0.3 == pytest.approx(m.set_left_deg)


def test_blade_radii_are_the_charts_and_grow_beyond_them():
    """Charted widths give the charts' most cautious radius; wider blades the own formula."""
    # bandsaw.csv: 1/2 in 2.5 in, 1 in 7.625 in, 1-1/4 in 9.875 in
    for width, radius in ((0.5, 2.5), (1.0, 7.625), (1.25, 9.875)):
        assert blade_radius(width * 25.4).radius_mm == pytest.approx(radius * 25.4)
    wide = blade_radius(2 * 25.4, 0.02 * 25.4)
    assert wide.radius_mm == pytest.approx((2.0**2 / (8 * 0.02)) * 25.4)
    assert "own formula" in wide.source
    # At the edge of the charts the own formula meets them: 1-1/4 in, 0.02 in of set: 9.77 in.
    assert pytest.approx(9.875, abs=0.15) == 1.25**2 / (8 * 0.02)


def test_twist_limit_of_a_wide_blade():
    """0.025 in clearance, 1-1/4 in, 2 in above the axis: some 7 degrees a foot (from memory)."""
    settings = SawSettings(blade_width_mm=1.25 * 25.4, blade_set_mm=0.025 * 25.4)
    assert twist_limit_deg_ft(settings, 2 * 25.4) == pytest.approx(6.875, abs=0.01)
    lower = SawSettings(blade_width_mm=1.25 * 25.4, blade_set_mm=0.025 * 25.4, tilt_axis_mm=50.8)
    assert twist_limit_deg_ft(lower, 50.8) == pytest.approx(6.875 / 2, abs=0.01)


def test_tightest_turn():
    """An arc's tightest turn is its radius; a straight edge has none."""
    t = np.linspace(0, 1.2, 200)
    for r in (150.0, 900.0):
        arc = r * np.stack([np.cos(t), np.sin(t)], axis=1)
        edge = SawnEdge("outer", arc, 1.1 * arc, r * t, 0 * t)
        assert tightest_turn_mm(edge) == pytest.approx(r, rel=2e-3)
    assert tightest_turn_mm(edge_of(np.zeros(50))) == np.inf


def test_narrow_turn_and_fast_twist_are_said():
    """A turn tighter than the blade follows and a twist faster than it lets are findings."""
    frame = cone_frame(12.0, x_mm=1500.0, moulded_mm=80.0)
    sheet = saw_sheet(laid(frame, "1-S-f1"), SawSettings(blade_width_mm=50.8))
    assert not sheet.cuts[1].blade_ok
    twisted = saw_sheet(mould_of(np.linspace(0, 60, 401)), SawSettings(blade_width_mm=38.0))
    assert not twisted.cuts[0].twist_ok
    assert {"B001", "B002"} <= {f.code for f in (*sheet.findings, *twisted.findings)}


def test_stopping_keeps_what_is_done():
    """A report that says stop ends the sheets early; one that does not gives one for each mould."""
    frame = cone_frame(12.0)
    moulds = [laid(frame, t.mark) for t in frame.timbers]
    assert [s.mark for s in saw_sheets(moulds, SawSettings())] == [m.mark for m in moulds]
    assert saw_sheets(moulds, SawSettings(), lambda _: False) == ()


def test_settings_that_mean_nothing_are_refused():
    """A saw without blade width, or angles coarser than the error allowed, are refused by name."""
    with pytest.raises(Misused, match="blade_width_mm"):
        SawSettings(blade_width_mm=0.0)
    with pytest.raises(Misused, match="coarser"):
        SawSettings(step_deg=1.0)
