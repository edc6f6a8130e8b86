"""Timber outlines: planar butts, level heels, whole rings, figures that the shapes bear out."""

from __future__ import annotations

import numpy as np
import pytest
from exact_surfaces import Cone, hull_of, keeled, settings, sphere
from shapely import Polygon

from futtock.framing.build import frame_hull
from futtock.framing.outline import outlines, timber_outline


@pytest.fixture(scope="module")
def framing():
    return frame_hull(keeled(), settings(longest_mm=1400.0, head_over_mm=76.0, floors="in frame"))


def shapes(framing):
    for frame, group in zip(framing.frames, outlines(framing.frames), strict=True):
        yield from ((frame, t, s) for t, s in zip(frame.timbers, group, strict=True))


def test_both_faces_are_whole_rings(framing):
    """Every outline is a valid ring with area, and the two faces differ by their bevel alone."""
    for _, t, s in shapes(framing):
        joint, far = Polygon(s.joint_ring), Polygon(s.far_ring)
        assert joint.is_valid, t.mark
        assert far.is_valid, t.mark
        assert abs(joint.area - far.area) < 0.08 * joint.area


def test_a_butt_is_one_plane_square_to_the_joints_outer_edge(framing):
    """All four corners of an end lie on one line of (out, up), square to the edge there."""
    for frame, t, s in shapes(framing):
        for end, square in ((-1, True), (0, not len(t.heel_mm))):
            if not square or t.side == "C":
                continue
            corners = np.stack(
                [s.joint_outer[end], s.joint_inner[end], s.far_outer[end], s.far_inner[end]]
            )
            across = corners[1] - corners[0]
            across /= np.hypot(*across)
            off = (corners - corners[0]) @ np.array([-across[1], across[0]])
            assert np.abs(off).max() < 1e-4, t.mark
            g = t.girth_mm[1] if end else t.girth_mm[0]
            if 100.0 < g < frame.joint.girth_mm[-1] - 100.0:
                near = (
                    [
                        np.interp(g + d, frame.joint.girth_mm, frame.joint.edge_mm[:, 0])
                        for d in (-30, 30)
                    ],
                    [
                        np.interp(g + d, frame.joint.girth_mm, frame.joint.edge_mm[:, 1])
                        for d in (-30, 30)
                    ],
                )
                run = np.array([near[0][1] - near[0][0], near[1][1] - near[1][0]])
                assert abs(run @ across) / np.hypot(*run) < 2e-3


def test_heels_stand_on_the_keels_top_at_each_face(framing):
    """Both faces' feet lie on the keel's top under them, from the toe to the centreline: level on
    square frames, and along the slope that a cant crosses it by.
    """
    top = keeled().profiles["keel top"]
    sloped = 0
    for frame, t, s in shapes(framing):
        if not len(t.heel_mm) or t.side == "C":
            continue
        far = frame.forward if t.layer == "f" else frame.aft
        assert s.joint_outer[0, 1] == pytest.approx(frame.joint.edge_mm[0, 1], abs=1e-6)
        # a far edge is a curve through points of its own: on a sloping heel it is met 3e-3 mm out
        assert s.far_outer[0, 1] == pytest.approx(far.edge_mm[0, 1], abs=1e-4)
        sign = -1.0 if t.layer == "f" else 1.0
        _, out, up = frame.plane.axes()
        for at, feet in (
            (0.0, [*s.heel[-1:], s.joint_outer[0]]),
            (sign * frame.plane.sided_mm, [*s.heel_far[-1:], s.far_outer[0]]),
        ):
            for o, u in feet:
                x, _, z = frame.plane.origin(at) + o * out + u * up
                # the line is straight, and the keel's top bends by 2.2e-5 a millimetre twice over
                assert z == pytest.approx(top(x), abs=0.05)
        sloped += abs(s.heel[-1, 1] - s.joint_outer[0, 1]) > 0.5 if len(s.heel) else 0
        if frame.plane.cant_deg == 0:
            foot = np.concatenate([s.joint_inner[:1], s.heel, s.joint_outer[:1]])
            assert np.allclose(foot[-2:, 1], frame.joint.edge_mm[0, 1], atol=1e-6)
            assert np.allclose(foot, t.heel_mm, atol=0.2)
    assert sloped


def test_a_floor_is_its_own_mirror(framing):
    """A timber that crosses the keel is symmetrical, foot flat on the keel top."""
    floors = [(f, t, s) for f, t, s in shapes(framing) if t.side == "C"]
    assert floors
    for frame, _, s in floors:
        for edge in (s.joint_outer, s.joint_inner, s.far_outer, s.far_inner):
            assert np.allclose(edge[::-1] * [-1.0, 1.0], edge, atol=1e-9)
        middle = len(s.joint_outer) // 2
        assert s.joint_outer[middle, 1] == pytest.approx(frame.joint.edge_mm[0, 1], abs=1e-6)
        assert (np.diff(s.girth_mm) >= 0).all()


def test_figures_agree_with_the_outlines(framing):
    """Length and width hold both faces' rings; sweep is the middle line's, to 0.3 mm."""
    for _, t, s in shapes(framing):
        middle = s.middle
        along = middle[-1] - middle[0]
        along /= np.hypot(*along)
        rings = np.concatenate([s.joint_ring, s.far_ring])
        assert np.ptp(rings @ along) == pytest.approx(t.length_mm, abs=0.6)
        assert np.ptp(rings @ np.array([-along[1], along[0]])) == pytest.approx(t.wide_mm, abs=0.6)
        bow = (middle - middle[0]) @ np.array([-along[1], along[0]])
        assert np.abs(bow).max() == pytest.approx(t.sweep_mm, abs=0.3)


def test_one_timber_alone_is_the_same_as_among_all(framing):
    """Asking for one outline gives what asking for all gives."""
    frame = framing.frames[1]
    for t, s in zip(frame.timbers, outlines([frame])[0], strict=True):
        one = timber_outline(frame, t)
        assert np.allclose(one.joint_outer, s.joint_outer, atol=1e-6)
        assert np.allclose(one.far_inner, s.far_inner, atol=1e-6)


def test_rulings_of_a_cone_run_up_its_own_lines():
    """Joint and far points of a cone lie on one straight line through its apex."""
    cone = Cone(half_angle_deg=20.0)
    stated = settings(cants="none", count=1, longest_mm=1500.0)
    framing = frame_hull(hull_of(cone, u=(1000.0, 9000.0)), stated)
    for frame, t, s in shapes(framing):
        side = -1.0 if t.layer == "f" else 1.0
        x = np.array([frame.plane.x_mm, frame.plane.x_mm + side * frame.plane.sided_mm])
        apex = cone.apex_x + 31.75 / np.sin(np.radians(20.0))
        ratio = (x[1] - apex) / (x[0] - apex)
        centre = np.array([0.0, cone.z_c])
        inner = slice(2, -2)
        want = centre + (s.joint_outer - centre) * ratio
        assert np.abs(want - s.far_outer)[inner].max() < 1e-3


def test_dubbing_is_left_outside_the_edge_on_both_faces():
    """Sawn full by 3 mm, the outline's outer edge stands 3 mm outside the inside of planking."""
    stated = settings(cants="none", count=1, longest_mm=9000.0)
    plain = frame_hull(sphere(), stated)
    full = frame_hull(sphere(), settings(cants="none", count=1, longest_mm=9000.0, full_mm=3.0))
    assert np.array_equal(plain.frames[0].joint.edge_mm, full.frames[0].joint.edge_mm)
    centre = np.array([0.0, 3000.0])
    for (_, _, a), (_, _, b) in zip(shapes(plain), shapes(full), strict=True):
        for face in ("joint_outer", "far_outer"):
            grown = np.hypot(*(getattr(b, face) - centre).T) - np.hypot(
                *(getattr(a, face) - centre).T
            )
            assert np.abs(grown - 3.0).max() < 1e-3


def test_halves_of_a_narrow_hull_meet_at_the_centreline_and_do_not_cross_it():
    """Where the moulded size is more than the half-breadth both sides stop at the middle."""
    narrow = hull_of(Cone(apex_x=3900.0, half_angle_deg=12.0), v=(0.1, 1.9), u=(4300.0, 9000.0))
    stated = settings(cants="none", first_mm=4600.0, room_and_space_mm=150.0, longest_mm=9000.0)
    for _, _, s in shapes(frame_hull(narrow, stated)):
        for edge in (s.joint_outer, s.joint_inner, s.far_outer, s.far_inner):
            assert edge[:, 0].min() > -0.01


def test_a_heel_left_long_goes_on_below_the_rabbet():
    """Without a keel top heel_over lengthens the first timber along its edge, still square."""
    stated = settings(cants="none", count=1, longest_mm=9000.0, heel_over_mm=60.0)
    framing = frame_hull(sphere(), stated)
    for _, t, s in shapes(framing):
        assert t.girth_mm[0] == -60.0
        assert Polygon(s.joint_ring).is_valid
        gone = np.arctan2(s.joint_outer[0, 0], 3000.0 - s.joint_outer[0, 1])
        radius = np.sqrt((2500.0 - 31.75) ** 2 - 1200.0**2)
        assert (0.25 - gone) * radius == pytest.approx(60.0, abs=0.1)
