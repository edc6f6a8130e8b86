"""What is cut at the heel: notch, limber, bolt zone."""

from __future__ import annotations

import numpy as np
import pytest
from exact_surfaces import keeled, settings, sphere
from shapely import Polygon

from futtock.framing.build import frame_hull
from futtock.framing.outline import outlines


def notched(**changes):
    return frame_hull(
        keeled(),
        settings(**{"cants": "none", "longest_mm": 1500.0, "notch_mm": 20.0, **changes}),
    )


def test_the_notch_runs_over_the_keels_top_and_down_its_side():
    """Clear of the keel by the bedding's clearance, as deep below the top as stated."""
    for frame in notched(notch_clear_mm=1.5).frames:
        line = frame.heel.notch_mm
        top = frame.joint.edge_mm[0, 1]
        assert line[:2, 1] == pytest.approx(top + 1.5)
        assert line[1:, 0] == pytest.approx(90.0 + 1.5)
        assert line[2, 1] == pytest.approx(top - 20.0)
        assert frame.heel.half_siding_mm == 90.0


def test_edges_are_the_same_with_and_without_a_notch():
    """A notch never enters the edge; the timber's wood reaches below the keel's top for it."""
    plain = frame_hull(keeled(), settings(cants="none", longest_mm=1500.0))
    for a, b in zip(plain.frames, notched(notch_mm=4.0).frames, strict=True):
        assert np.array_equal(a.joint.edge_mm, b.joint.edge_mm)
        foot = [t.heel_mm[-1, 1] for f in (a, b) for t in f.timbers if len(t.heel_mm)]
        assert foot[0] - foot[-1] == pytest.approx(4.0)


@pytest.mark.parametrize("floors", ["separate", "in frame"])
def test_wood_for_a_notch_goes_no_deeper_than_the_keels_side(floors):
    """However deep a notch is stated, the foot stops where the edge comes in to the keel's side.

    Straight on from the heel that would be rise over run times what the heel stands outside the
    side; her edge flattens inboard, so that it is somewhat less.
    """
    framing = notched(notch_mm=90.0, floors=floors)
    for frame, shapes in zip(framing.frames, outlines(framing.frames), strict=True):
        (o, u), (p, q) = frame.joint.edge_mm[:2]
        straight = (o - 90.0) * (q - u) / (p - o)
        assert 5.0 < straight < 90.0
        for t, s in zip(frame.timbers, shapes, strict=True):
            if len(t.heel_mm):
                assert 0.4 * straight < u - t.heel_mm[-1, 1] <= straight
                assert t.heel_mm[-1, 0] > 80.0
            assert Polygon(s.joint_ring).is_valid
            assert Polygon(s.far_ring).is_valid


def test_a_notch_sawn_with_the_timber_is_part_of_its_outline():
    """Then the outline lacks just the keel's section and the clearance."""
    later = notched()
    now = notched(notch_sawn="with the timber")
    for f, a, b in zip(later.frames, outlines(later.frames), outlines(now.frames), strict=True):
        for t, s, cut in zip(f.timbers, a, b, strict=True):
            taken = Polygon(s.joint_ring).area - Polygon(cut.joint_ring).area
            want = 0.0
            if len(t.heel_mm):
                assert s.joint_outer[0, 0] > 91.5
                want = 91.5 * (1.5 + f.joint.edge_mm[0, 1] - t.heel_mm[-1, 1])
            assert taken == pytest.approx(want, abs=1e-6)


def test_keel_top_and_side_bevels_are_the_keels():
    """The keel top's slope along the vessel is the heel's bevel, the siding's taper the side's."""
    hull = keeled(**{"rabbet breadth": lambda x: 60.0 + 0.005 * x})
    for frame in frame_hull(hull, settings(cants="none", longest_mm=1500.0, notch_mm=15.0)).frames:
        x = frame.plane.x_mm
        slope = np.degrees(np.arctan(0.01 + 4.4e-5 * (x - 6000.0)))
        assert frame.heel.top_bevel_deg == pytest.approx(slope, abs=1e-3)
        assert frame.heel.side_bevel_deg == pytest.approx(np.degrees(np.arctan(0.005)))


def test_limber_and_bolt_zone_are_marked_where_asked_for():
    """A limber of its height and width starts on the edge; the bolts' strip is as wide."""
    frame = notched(limber_mm=30.0, limber_wide_mm=50.0, heel_bolt_mm=19.0).frames[1]
    arch = frame.heel.limber_mm
    assert np.allclose(arch[0], frame.joint.edge_mm[0])
    assert np.hypot(*(arch[-1] - arch[0])) == pytest.approx(50.0, abs=0.2)
    assert np.ptp(frame.heel.bolts_mm[:, 0]) == pytest.approx(38.0)
    assert len(notched().frames[0].heel.limber_mm) == 0


def test_no_heel_is_worked_where_there_is_no_keel():
    """Heels that stop opposite the rabbet have nothing to notch."""
    assert all(f.heel is None for f in frame_hull(sphere(), settings(notch_mm=20.0)).frames)


@pytest.mark.parametrize("sawn", ["after assembly", "with the timber"])
def test_a_notch_clears_the_deadwood_in_space_square_or_canted(sawn):
    """Over deadwood that tapers and slopes, the notch's corner is clear of its top and of its side
    by the bedding's clearance, on all three faces, and the wood that is left is nowhere in it.

    The deadwood is known in closed form: top z(x), half siding 60 + 0.03 (x - 6000).
    """

    def half_at(x):
        return 60.0 + 0.03 * (x - 6000.0)

    hull = keeled(**{"rabbet breadth": half_at})
    top = hull.profiles["keel top"]
    asked = settings(
        cants=((1, 17.0), (4, -11.0)), longest_mm=1500.0, notch_mm=25.0, notch_clear_mm=2.0,
        setting_in_mm=0.0, half_frames=(1, 2, 3, 4), notch_sawn=sawn,
    )  # fmt: skip
    framing = frame_hull(hull, asked)
    for frame, shapes in zip(framing.frames, outlines(framing.frames), strict=True):
        assert frame.heel is not None
        _, out, up = frame.plane.axes()
        sided = frame.plane.sided_mm
        for at, line in (
            (-sided, frame.heel.notch_forward_mm),
            (0.0, frame.heel.notch_mm),
            (sided, frame.heel.notch_aft_mm),
        ):
            points = frame.plane.origin(at) + line[:, :1] * out + line[:, 1:] * up
            assert points[:2, 2] == pytest.approx(top(points[:2, 0]) + 2.0, abs=0.05)
            assert points[1:, 1] == pytest.approx(half_at(points[1:, 0]) + 2.0, abs=0.01)
        tapers = np.degrees(np.arctan(0.03))
        assert frame.heel.side_bevel_deg == pytest.approx(tapers, abs=0.15)
        for t, s in zip(frame.timbers, shapes, strict=True):
            assert t.side in "PS"  # a half frame has no floor across
            far = sided * (1 if t.layer == "a" else -1)
            for at, ring in ((0.0, s.joint_ring), (far, s.far_ring)):
                x, y, z = (frame.plane.origin(at) + ring[:, :1] * out + ring[:, 1:] * up).T
                # the two sides' halves meet at the centreline, and neither crosses it
                assert y.min() > -0.02, t.mark
                if len(t.heel_mm):
                    whole = sawn == "after assembly"
                    assert y.min() < 0.02, t.mark
                    inside = (y < half_at(x) + 1.9) & (z < top(x) + 1.9)
                    assert inside.any() == whole, (t.mark, ring[inside])


def test_a_floor_never_crosses_on_a_cant():
    """The two sides of a canted frame lie in two planes, so that no timber can be both."""
    framing = frame_hull(
        keeled(), settings(cants=((1, 17.0),), longest_mm=1500.0, floors="in frame")
    )
    crossing = [any(t.side == "C" for t in f.timbers) for f in framing.frames]
    assert crossing == [False, True, True, True]
