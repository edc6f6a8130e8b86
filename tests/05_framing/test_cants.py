"""Cants proposed, and frames that cross."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from exact_surfaces import Cone, Ellipsoid, hull_of, settings, sphere

from futtock.framing.build import frame_hull
from futtock.framing.cants import cants_toml, plan_views
from futtock.framing.checks import gap_mm, heel_gap_mm


def end_frames(**changes):
    """Frames towards both ends of an ellipsoid, where square bevels are large."""
    stated = settings(
        **{
            "cants": "propose", "first_mm": 2600.0, "room_and_space_mm": 400.0, "count": 18,
            "largest_bevel_deg": 20.0, "longest_mm": 9000.0, **changes,
        }
    )  # fmt: skip
    body = Ellipsoid(axes=(4500.0, 2500.0, 2200.0))
    return hull_of(body, v=(0.7, 1.7), u=(-1.3, 1.3)), stated


def test_what_is_proposed_brings_every_bevel_within_bounds():
    """Each proposed cant, stood, has no face beyond the limit, and half a degree less would not."""
    hull, stated = end_frames()
    square = frame_hull(hull, stated)
    assert square.cants
    taken = replace(stated, cants=tuple((c.frame, c.angle_deg) for c in square.cants))
    canted = frame_hull(hull, taken)
    for c in square.cants:
        before, after = square.frame(c.frame), canted.frame(c.frame)
        worst = [
            max(np.abs(f.lean_deg).max() for f in (frame.forward, frame.joint, frame.aft))
            for frame in (before, after)
        ]
        assert worst[0] == pytest.approx(c.largest_deg)
        assert worst[0] > 20.0
        assert worst[1] == pytest.approx(c.canted_largest_deg, abs=0.05)
        assert c.kept == (worst[1] <= 20.05)
        assert (c.angle_deg > 0) == (c.frame < 9)


def test_turns_grow_towards_the_ends_and_amidships_stands_square():
    """A fan without a fold: angles do not fall off towards either end."""
    hull, stated = end_frames()
    cants = frame_hull(hull, stated).cants
    bow = [c.angle_deg for c in cants if c.angle_deg > 0]
    stern = [-c.angle_deg for c in cants if c.angle_deg < 0]
    assert bow == sorted(bow, reverse=True)
    assert stern == sorted(stern)
    assert len(bow) + len(stern) < 18


def test_a_fan_brings_no_heels_nearer_than_square_frames_have_them():
    """Turns that grow towards the ends leave every gap between heels at least what it was."""
    hull, stated = end_frames()
    square = frame_hull(hull, stated)
    canted = frame_hull(
        hull, replace(stated, cants=tuple((c.frame, c.angle_deg) for c in square.cants))
    )
    for k in range(17):
        before, after = (heel_gap_mm(f.frames[k], f.frames[k + 1]) for f in (square, canted))
        assert after >= before - 1e-6


def test_a_hull_within_bounds_is_left_square():
    """No proposal where no bevel is too large, or none is asked for."""
    assert frame_hull(sphere(), settings(cants="propose", largest_bevel_deg=60.0)).cants == ()
    hull, stated = end_frames(cants="none")
    assert frame_hull(hull, stated).cants == ()


def test_a_proposal_is_accepted_by_one_line():
    """The line names every frame and its angle as vessel.toml has them."""
    hull, stated = end_frames()
    cants = frame_hull(hull, stated).cants
    line = cants_toml(cants)
    assert line.startswith("cants = [{ frame = 1, angle_deg = ")
    assert line.count("frame =") == len(cants)


def test_plan_views_show_a_cant_turned_about_its_place():
    """Seen from above a cant's joint runs forward as it goes out, by its angle."""
    framing = frame_hull(hull_of(Cone(), u=(500.0, 9500.0)), settings(cants=((1, 20.0),)))
    view = plan_views(framing.frames)[0]
    run = view.joint[1] - view.joint[0]
    assert np.degrees(np.arctan2(-run[0], run[1])) == pytest.approx(20.0, abs=1e-9)
    assert view.corners.shape == (4, 2)
    assert view.heel_gap_mm == heel_gap_mm(framing.frames[0], framing.frames[1])


def test_frames_turned_into_each_other_are_found_to_cross():
    """A frame whose head swings aft through the next one is a misfit with its depth."""
    hull = hull_of(Cone(), u=(500.0, 9500.0))
    crossed = frame_hull(hull, settings(cants=((2, -25.0),), room_and_space_mm=400.0))
    found = [f for f in crossed.findings if f.code == "F013"]
    assert [f.line for f in found] == [3]
    assert gap_mm(crossed.frames[1], crossed.frames[2]) < 0
    clear = frame_hull(hull, settings(cants="none", room_and_space_mm=400.0))
    assert not [f for f in clear.findings if f.code == "F013"]
    assert gap_mm(clear.frames[0], clear.frames[1]) == pytest.approx(400.0 - 2 * 47.0)
