"""Bevels as the bench takes them, and the map that betrays bad lines."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from exact_surfaces import Cone, Ellipsoid, hull_of, settings

from futtock.framing.bevels import bevel_map, bevels, level_deg, runs, unfair, word
from futtock.framing.build import frame_hull

MARKS = (("A", 2600.0, -35.0), ("B", 2000.0, -35.0))


@pytest.fixture(scope="module")
def cone():
    stated = settings(cants="none", diagonals=MARKS, levels_mm=(2500.0,))
    return frame_hull(hull_of(Cone(half_angle_deg=15.0), u=(1000.0, 9000.0)), stated)


def test_level_bevel_of_a_cone_follows_the_edges_slope(cone):
    """tan(level) = tan(g) / sin(angle from straight down): closed form of the cone."""
    for frame in cone.frames:
        angle = np.arctan2(frame.joint.edge_mm[:, 0], 3000.0 - frame.joint.edge_mm[:, 1])
        want = np.degrees(np.arctan(np.tan(np.radians(15.0)) / np.sin(angle)))
        assert np.abs(level_deg(frame.joint) - want).max() < 1e-3
        assert (level_deg(frame.joint) >= frame.joint.lean_deg - 1e-9).all()


def test_bevels_are_given_at_every_sirmark_and_at_even_distances(cone):
    """Sirmarks by name, even distances between, heel to head, with one word for the joint up."""
    frame = cone.frames[0]
    got = bevels(frame, "f", 300.0)
    assert [b.girth_mm for b in got] == sorted(b.girth_mm for b in got)
    assert {b.name for b in got} == {"", "A", "B"}
    assert len(got) == 2 + len(np.arange(0.0, frame.joint.girth_mm[-1], 300.0))
    for b in got:
        assert b.lean_deg == pytest.approx(15.0, abs=1e-6)
        assert b.chord_deg == pytest.approx(15.0, abs=1e-4)
        assert b.word == "under"
    assert {b.word for b in bevels(frame, "a", 300.0)} == {"standing"}
    assert [b.name for b in bevels(frame, "f", 0.0)] == ["B", "A"]


def test_standing_and_under_are_the_two_faces_of_one_bevel():
    """Seen from forward a positive lean stands; from aft the same cut is under."""
    assert (word(10.0, "forward"), word(10.0, "aft")) == ("standing", "under")
    assert (word(-10.0, "forward"), word(-10.0, "aft")) == ("under", "standing")
    assert word(0.05, "forward") == "square"


def ellipsoid(count=15, cants="none"):
    stated = settings(
        cants=cants,
        first_mm=3600.0,
        room_and_space_mm=350.0,
        count=count,
        diagonals=MARKS,
        longest_mm=9000.0,
    )
    return frame_hull(hull_of(Ellipsoid(axes=(5200.0, 1900.0, 1600.0)), u=(-1.2, 1.2)), stated)


def test_fair_lines_have_fair_bevels():
    """An ellipsoid's map shows no jump, and no finding is made."""
    framing = ellipsoid()
    found = bevel_map(framing.frames)
    assert found.lean_deg.shape == (41, 15)
    assert np.abs(found.jump_deg).max() < 0.05
    assert unfair(framing.frames) == []


def test_a_bad_frame_shows_on_its_diagonals_and_nowhere_else():
    """Two degrees put on to one frame's leans are named at that frame, to a twentieth."""
    frames = list(ellipsoid().frames)
    bad = frames[7]
    frames[7] = replace(bad, joint=replace(bad.joint, lean_deg=bad.joint.lean_deg + 2.0))
    found = unfair(frames)
    assert {f.line for f in found} == {8}
    assert {f.column for f in found} == {"A", "B"}
    for run in runs(frames):
        assert run.jump_deg[run.numbers.index(8)] == pytest.approx(2.0, abs=0.05)
    assert np.unravel_index(np.abs(bevel_map(frames).jump_deg).argmax(), (41, 15))[1] == 7


FAN = tuple((n, a) for n, a in zip(range(1, 7), (16.0, 12.0, 14.0, 7.0, 9.0, 2.0), strict=True))


def test_a_fan_of_cants_on_fair_lines_is_fair():
    """Cants that change from frame to frame turn bevels by their own angle, which is no jump."""
    framing = ellipsoid(cants=FAN)
    turned = np.array([f.plane.cant_deg for f in framing.frames])
    assert len(set(turned[:6])) == 6
    assert np.abs(bevel_map(framing.frames).jump_deg).max() < 0.1
    for run in runs(framing.frames):
        assert np.abs(run.jump_deg).max() < 0.05
        assert np.abs(np.diff(run.lean_deg[:6])).max() > 2.0  # the bevels themselves do jump about
    assert unfair(framing.frames) == []


@pytest.mark.parametrize("bad", [3, 4, 5, 8])
def test_a_bad_frame_among_cants_is_named(bad):
    """Two degrees too much on one frame of a fan, or beside it, are found there and only there."""
    frames = list(ellipsoid(cants=FAN).frames)
    own = frames[bad - 1]
    frames[bad - 1] = replace(own, joint=replace(own.joint, lean_deg=own.joint.lean_deg + 2.0))
    found = unfair(frames)
    assert {f.line for f in found} == {bad}
    for run in runs(frames):
        assert run.jump_deg[run.numbers.index(bad)] == pytest.approx(2.0, abs=0.1)
