"""Faces, leans and rulings against closed forms (elementary geometry; the exact surface given)."""

from __future__ import annotations

import numpy as np
import pytest
from exact_surfaces import (
    TAU,
    Cone,
    Ellipsoid,
    TiltedCylinder,
    faces_of,
    hull_of,
    in_space,
    keeled,
    settings,
    sphere,
)
from hypothesis import given
from hypothesis import settings as given_settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from futtock.framing.build import frame_hull

NEAR_MM, NEAR_DEG = 1e-4, 1e-5


def test_sphere_at_any_cant_gives_circles_of_the_inner_radius():
    """A plane d aft of the centre cuts radius sqrt((R-tau)^2 - d^2), lean -asin(d/(R-tau))."""
    radius, centre = 2500.0, np.array([6000.0, 0.0, 3000.0])
    framing = frame_hull(sphere(radius), settings())
    for frame, name in faces_of(framing):
        points, a, lean = in_space(frame, name)
        d = a @ (frame.plane.origin({"forward": -1, "joint": 0, "aft": 1}[name] * 47.0) - centre)
        off = np.linalg.norm(points - centre, axis=1) - (radius - TAU)
        assert np.abs(off).max() < NEAR_MM
        assert np.abs((points - centre) @ a - d).max() < NEAR_MM
        assert np.abs(lean + np.degrees(np.arcsin(d / (radius - TAU)))).max() < NEAR_DEG


def test_rulings_of_a_sphere_are_chords_of_its_circle():
    """Square to the edge the sphere shows a great circle: chord and departure have closed forms."""
    radius = 2500.0 - TAU
    framing = frame_hull(sphere(), settings())
    for frame in framing.frames:
        a = frame.plane.axes()[0]
        d0 = a @ (frame.plane.origin(0.0) - np.array([6000.0, 0.0, 3000.0]))
        r0 = np.sqrt(radius**2 - d0**2)
        for layer, s in zip(frame.layers, (-47.0, 47.0), strict=True):
            r1 = np.sqrt(radius**2 - (d0 + s) ** 2)
            # matched points lie on the common radius from the axis; nearly all have one
            good = slice(4, -4)
            want = np.degrees(np.arctan((r1 - r0) / s))
            assert np.abs(layer.chord_deg[good] - want).max() < 1e-4
            middle = np.hypot((r0 + r1) / 2, d0 + s / 2) - radius
            assert np.abs(layer.departure_mm[good] - middle).max() < 1e-4


@given_settings(max_examples=30)
@given(
    st.floats(-20.0, 20.0), st.floats(5400.0, 6300.0), st.floats(0.0, 80.0), st.floats(-0.06, 0.06)
)
def test_sphere_holds_at_random_cants_rakes_places_and_thicknesses(cant, x, tau, drag):
    """Whatever the plane and the plank, every edge point and lean is the inner sphere's."""
    hull = sphere(keel=lambda x: 900.0 - drag * x)
    stated = settings(
        first_mm=x, count=1, cants=((1, cant),), planking_mm=tau, stand="keel", longest_mm=9000.0,
        added_mm=(x + 300.0,),
    )  # fmt: skip
    framing = frame_hull(hull, stated)
    centre = np.array([6000.0, 0.0, 3000.0])
    for frame, name in faces_of(framing):
        points, a, lean = in_space(frame, name)
        d = a @ (points[0] - centre)
        assert np.abs(np.linalg.norm(points - centre, axis=1) - (2500.0 - tau)).max() < NEAR_MM
        assert np.abs(lean + np.degrees(np.arcsin(d / (2500.0 - tau)))).max() < NEAR_DEG


@pytest.mark.parametrize("half_angle", [3.0, 12.0, 28.0])
def test_cone_has_its_own_angle_everywhere_and_no_ruled_error(half_angle):
    """Square frames of a cone: r = x tan g - tau / cos g, lean and chord g, departure nought."""
    cone = Cone(half_angle_deg=half_angle)
    g = np.radians(half_angle)
    framing = frame_hull(hull_of(cone, u=(1000.0, 9000.0)), settings(cants="none"))
    for frame, name in faces_of(framing):
        points, _, lean = in_space(frame, name)
        r = np.hypot(points[:, 1], points[:, 2] - cone.z_c)
        want = (points[:, 0] - cone.apex_x) * np.tan(g) - TAU / np.cos(g)
        assert np.abs(r - want).max() < NEAR_MM
        assert np.abs(lean - half_angle).max() < NEAR_DEG
    for frame in framing.frames:
        for layer in frame.layers:
            assert np.abs(layer.chord_deg - half_angle).max() < 1e-4
            assert np.abs(layer.departure_mm).max() < 1e-4


def test_canted_planes_on_a_cone_stay_on_the_inner_cone():
    """Every point of a canted face lies on the cone moved in square to itself by the plank."""
    cone = Cone(half_angle_deg=14.0)
    g = np.radians(14.0)
    framing = frame_hull(hull_of(cone, u=(500.0, 9500.0)), settings())
    for frame, name in faces_of(framing):
        points, a, lean = in_space(frame, name)
        y, z = points[:, 1], points[:, 2] - cone.z_c
        r = np.hypot(y, z)
        assert (
            np.abs(r * np.cos(g) - (points[:, 0] - cone.apex_x) * np.sin(g) + TAU).max() < NEAR_MM
        )
        normal = np.stack([np.full_like(r, -np.sin(g)), y / r * np.cos(g), z / r * np.cos(g)])
        assert np.abs(lean - np.degrees(np.arcsin(-(a @ normal)))).max() < NEAR_DEG


@pytest.mark.parametrize(("yaw", "pitch"), [(6.0, 4.0), (-9.0, 0.0), (0.0, 11.0)])
def test_tilted_cylinder_keeps_its_radius_less_the_plank(yaw, pitch):
    """Distance from the axis is r - tau at every point, the lean that of the radius there."""
    body = TiltedCylinder(yaw_deg=yaw, pitch_deg=pitch)
    axis = body.frame()[0]
    framing = frame_hull(hull_of(body, u=(-4000.0, 4000.0)), settings())
    for frame, name in faces_of(framing):
        points, a, lean = in_space(frame, name)
        from_axis = points - np.array([6000.0, 0.0, body.z_c])
        from_axis = from_axis - (from_axis @ axis)[:, None] * axis
        r = np.linalg.norm(from_axis, axis=1)
        assert np.abs(r - (body.radius - TAU)).max() < NEAR_MM
        assert np.abs(lean - np.degrees(np.arcsin(-(from_axis @ a) / r))).max() < NEAR_DEG


def nearest_on_ellipsoid(p, axes):
    """Nearest point of an ellipsoid to p within it: Lagrange's equation (Eberly 2013)."""
    axes = np.asarray(axes)

    def off(t):
        return ((axes * p / (axes**2 + t)) ** 2).sum() - 1

    t = brentq(off, -(axes.min() ** 2) * 0.9, 0.0, xtol=1e-9, rtol=1e-15, maxiter=300)
    return axes**2 * p / (axes**2 + t)


def test_ellipsoid_points_are_one_plank_from_their_nearest_outside_point():
    """The nearest point of the outside is tau away, and its normal gives the lean."""
    axes = (5200.0, 1900.0, 1500.0)
    body = Ellipsoid(axes=axes)
    framing = frame_hull(hull_of(body, u=(-1.2, 1.2)), settings())
    for frame, name in faces_of(framing):
        points, a, lean = in_space(frame, name)
        for p, angle in zip(points[::9], lean[::9], strict=True):
            p = p - np.array([6000.0, 0.0, 3000.0])
            foot = nearest_on_ellipsoid(p, axes)
            away = foot - p
            assert abs(np.linalg.norm(away) - TAU) < NEAR_MM
            n = foot / np.square(axes)
            n /= np.linalg.norm(n)
            assert abs(angle - np.degrees(np.arcsin(-(n @ a)))) < NEAR_DEG


def test_square_and_level_bevels_are_tied_by_the_slope_of_the_edge():
    """tan(square) = tan(level) cos(psi), psi the angle of the in-plane normal from the level."""
    body = Ellipsoid(axes=(5200.0, 1900.0, 1500.0))
    framing = frame_hull(hull_of(body, u=(-1.2, 1.2)), settings(cants="none", count=3))
    for frame in framing.frames:
        face = frame.joint
        u, v = face.uv.T
        d = body.derivatives(u, v)
        n = np.cross(d[:, 2], d[:, 1])
        n /= np.linalg.norm(n, axis=1)[:, None]
        # along a level line of the inside, dy/dx at constant z
        level = np.degrees(np.arctan(-n[:, 0] / n[:, 1]))
        psi = np.arctan2(n[:, 2], n[:, 1])
        square = np.degrees(np.arctan(np.tan(np.radians(level)) * np.cos(psi)))
        assert np.abs(face.lean_deg - square).max() < NEAR_DEG


def test_edges_run_from_heel_to_head_with_every_point_in_its_plane():
    """A heel stands at the keel top's height, a head at the sheer's, whatever the face."""

    hull = keeled()
    keel_top, sheer = hull.profiles["keel top"], hull.profiles["sheer"]
    framing = frame_hull(hull, settings())
    for frame, name in faces_of(framing):
        points, _, _ = in_space(frame, name)
        assert abs(points[0, 2] - keel_top(points[0, 0])) < NEAR_MM
        assert abs(points[-1, 2] - sheer(points[-1, 0])) < NEAR_MM
        assert len(points) >= 100


def test_shifting_a_section_by_the_plank_would_be_wrong_by_millimetres():
    """At a 28 degree lean the in-plane shift errs by some 4 mm; the exact deduction does not."""
    cone = Cone(half_angle_deg=28.0)
    framing = frame_hull(hull_of(cone, u=(1000.0, 9000.0)), settings(cants="none", count=1))
    points, _, _ = in_space(framing.frames[0], "joint")
    r = np.hypot(points[:, 1], points[:, 2] - cone.z_c)
    shifted = (points[:, 0] - cone.apex_x) * np.tan(np.radians(28.0)) - TAU
    assert np.allclose(shifted - r, TAU / np.cos(np.radians(28.0)) - TAU, atol=NEAR_MM)
    assert (shifted - r).min() > 4.0


def test_rulings_end_on_the_true_surface_and_leave_it_by_the_stated_departure():
    """On an ellipsoid, square and canted: far ends lie on it, middles as far off as is said."""
    axes = (5200.0, 1900.0, 1500.0)
    body = Ellipsoid(axes=axes)
    framing = frame_hull(hull_of(body, u=(-1.2, 1.2)), settings(sided_mm=80.0))
    for frame in framing.frames:
        a, out, up = frame.plane.axes()
        for layer, s in zip(frame.layers, (-80.0, 80.0), strict=True):
            for k in range(8, 150, 20):
                near = frame.plane.origin(0.0) + frame.joint.edge_mm[k] @ np.stack([out, up])
                far = frame.plane.origin(s) + layer.far_edge_mm[k] @ np.stack([out, up])
                for point, want in ((far, 0.0), ((near + far) / 2, layer.departure_mm[k])):
                    p = point - np.array([6000.0, 0.0, 3000.0])
                    foot = nearest_on_ellipsoid(p, axes)
                    proud = TAU - np.linalg.norm(foot - p)
                    assert proud == pytest.approx(want, abs=2e-4)
                # the ruling is square to the joint edge, so its angle is the chord bevel
                run = frame.joint.edge_mm[k + 1] - frame.joint.edge_mm[k - 1]
                away = layer.far_edge_mm[k] - frame.joint.edge_mm[k]
                assert abs(away @ run) / np.hypot(*run) < 0.02
                widens = away[0] * run[1] - away[1] * run[0]
                chord = np.degrees(np.arctan(widens / np.hypot(*run) / s))
                assert layer.chord_deg[k] == pytest.approx(chord, abs=1e-3)
        assert abs(a @ out) < 1e-12
