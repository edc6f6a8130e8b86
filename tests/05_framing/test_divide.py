"""Divisions keep their rules, whatever is stated; timbers follow them."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from exact_surfaces import keeled, settings, sphere
from hypothesis import given
from hypothesis import settings as given_settings
from hypothesis import strategies as st

from futtock.framing.build import division_of, frame_hull, redivided
from futtock.framing.checks import grain_slopes
from futtock.framing.divide import divide, division_rows, divisions
from futtock.framing.plan import frame_planes
from futtock.framing.stand import stand_frames
from futtock.framing.timbers import head_girths_mm
from futtock.vessel.smaller import Division as Stated


@pytest.fixture(scope="module")
def frames():
    hull = sphere()
    stated = settings(cants="none")
    return stand_frames(hull, frame_planes(hull, stated), stated).frames


def butts_of(timbers, layer, side):
    own = sorted(
        (t for t in timbers if t.layer == layer and t.side == side), key=lambda t: t.number
    )
    return [t.girth_mm[1] for t in own[:-1]]


@given_settings(max_examples=40)
@given(st.floats(900.0, 4000.0), st.floats(150.0, 420.0), st.sampled_from(["middle", "any"]))
def test_every_offered_division_is_legal(frames, longest, shift, aim):
    """Layers alternate, shift is kept, and no timber's girth exceeds what its length allows."""
    stated = settings(longest_mm=longest, butt_shift_mm=shift, shortest_mm=shift, butt_aim=aim)
    for frame in frames[:2]:
        offered = divisions(frame, stated)
        assert [d.cost for d in offered] == sorted(d.cost for d in offered)
        for d in offered:
            marks = sorted([(b, "f") for b in d.forward] + [(b, "a") for b in d.aft])
            for (a, layer_a), (b, layer_b) in pairwise(marks):
                assert layer_a != layer_b
                assert b - a >= shift - 1e-6
            head = float(head_girths_mm([frame], 0.0).max())
            for layer in (d.forward, d.aft):
                ends = [0.0, *layer, head]
                for p, q in pairwise(ends):
                    assert q - p >= shift - 1e-6
                    ends_at = [
                        np.stack([np.interp([p, q], frame.joint.girth_mm, c) for c in e.T])
                        for e in (frame.joint.edge_mm,)
                    ]
                    assert np.hypot(*(ends_at[0][:, 1] - ends_at[0][:, 0])) <= longest


def test_no_finished_timber_is_longer_than_the_longest():
    """Length over all, foot and both faces counted, keeps the stated longest on a keeled hull."""
    for floors in ("separate", "in frame"):
        framing = frame_hull(
            keeled(), settings(cants="none", longest_mm=1500.0, floors=floors, head_over_mm=76.0)
        )
        longest = max(t.length_mm for t in framing.timbers)
        assert longest <= 1500.0
        assert longest > 1000.0


def test_butts_lie_near_the_middle_of_the_other_layers_timber(frames):
    """With that aim a butt lies in the middle half of the other layer's timber."""
    made = divide(frames, settings(longest_mm=1400.0, cants="none"))
    for frame, d in zip(frames, made, strict=True):
        for own, other in ((d.forward, d.aft), (d.aft, d.forward)):
            ends = [0.0, *other, frame.joint.girth_mm[-1]]
            for b in own:
                p, q = next((p, q) for p, q in pairwise(ends) if p <= b <= q)
                assert abs(b - (p + q) / 2) < (q - p) / 4


def test_timbers_tile_each_layer_of_each_side_without_gap():
    """From heel to head each timber starts where the last one stopped, port as starboard."""
    framing = frame_hull(keeled(), settings(longest_mm=1300.0, floors="in frame", cants="none"))
    for frame in framing.frames:
        for layer in ("f", "a"):
            for side in ("S", "P"):
                own = [t for t in frame.timbers if t.layer == layer and t.side in (side, "C")]
                own.sort(key=lambda t: t.number)
                ends = [t.girth_mm for t in own]
                assert [e[1] for e in ends[:-1]] == [e[0] for e in ends[1:]]
                assert ends[-1][1] >= frame.joint.girth_mm[-1]
        floors = [t for t in frame.timbers if t.side == "C"]
        assert [t.layer for t in floors] == ["f"]
        assert floors[0].girth_mm[0] == -floors[0].girth_mm[1]
        assert len({t.mark for t in frame.timbers}) == len(frame.timbers)


def test_stated_butts_go_before_the_tools_own():
    """A row of futtocks.csv moves that layer's butts on the sides it names, and no others."""
    plain = frame_hull(sphere(), settings(longest_mm=1400.0, cants="none")).frames[1].timbers
    rows = (
        Stated(2, "f", "", (700.0, 1900.0, 3000.0), 2),
        Stated(2, "a", "P", (1300.0, 2500.0), 3),
    )
    frame = frame_hull(sphere(), settings(longest_mm=1400.0, cants="none", divisions=rows)).frames[
        1
    ]
    assert butts_of(frame.timbers, "f", "S") == [700.0, 1900.0, 3000.0]
    assert butts_of(frame.timbers, "f", "P") == [700.0, 1900.0, 3000.0]
    assert butts_of(frame.timbers, "a", "P") == [1300.0, 2500.0]
    assert butts_of(frame.timbers, "a", "S") == butts_of(plain, "a", "S")


def test_divisions_go_out_as_rows_and_say_none_where_there_is_none(frames):
    """One row a butt, with nan for a layer in one piece."""
    short = divide(frames[:1], settings(longest_mm=9000.0))
    assert [row[:3] for row in division_rows([(1, short[0])])] == [(1, "f", ""), (1, "a", "")]
    many = divide(frames[:1], settings(longest_mm=1400.0))
    rows = division_rows([(1, many[0])])
    assert sorted(r[3] for r in rows) == list(many[0].every)


def test_the_same_hull_is_divided_the_same_way_twice(frames):
    """Dividing is deterministic."""
    stated = settings(longest_mm=1200.0, cants="none")
    assert divide(frames, stated) == divide(frames, stated)


def test_another_division_changes_the_timbers_alone():
    """A frame cut by another legal division keeps its faces; cut by its own it is the same."""
    stated = settings(longest_mm=1400.0, cants="none")
    frame = frame_hull(sphere(), stated).frames[1]
    again = redivided(frame, division_of(frame), stated)
    assert [t.mark for t in again.timbers] == [t.mark for t in frame.timbers]
    assert [t.girth_mm for t in again.timbers] == [t.girth_mm for t in frame.timbers]
    other = divisions(frame, stated)[-1]
    assert other.every != division_of(frame).every
    changed = redivided(frame, other, stated)
    assert division_of(changed).every == other.every
    assert changed.joint is frame.joint


def test_the_slope_of_grain_is_kept_wherever_it_can_be():
    """With straight plank no timber's grain is steeper than stated, at the price of more butts."""
    hull = sphere()
    asked = settings(cants="none", longest_mm=1800.0, shortest_mm=200.0, butt_shift_mm=250.0)
    crooks = frame_hull(hull, asked)
    plank = frame_hull(hull, replace(asked, grain_slope=6.0))
    assert np.nanmax(grain_slopes(crooks.frames)) * 6.0 > 1.0
    assert np.nanmax(grain_slopes(plank.frames)) * 6.0 <= 1.0 + 1e-6
    assert len(plank.timbers) > len(crooks.timbers)
    assert not [f for f in plank.findings if f.code == "F009"]


def test_where_the_slope_cannot_be_kept_it_is_said():
    """A slope that no division can keep leaves the usual butts, and a finding with its count."""
    hull = sphere()
    asked = settings(cants="none", longest_mm=1800.0, butt_shift_mm=400.0)
    usual, steep = (frame_hull(hull, replace(asked, grain_slope=g)) for g in (0.0, 40.0))
    assert len(steep.timbers) == len(usual.timbers)
    (found,) = [f for f in steep.findings if f.code == "F009"]
    assert f"{len(steep.timbers)} of {len(steep.timbers)} timbers" in found.message
