"""Butts chosen with the rack in view, on an exact sphere and racks made for one division alone."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from exact_surfaces import settings, sphere
from layout_cases import arc, crook

from futtock.framing.build import division_of, frame_hull, redivided
from futtock.layout.dividing import choices, divide_for, plain_mark, spread_out
from futtock.layout.lay import lay
from futtock.layout.part import part_of
from futtock.layout.problem import prepare
from futtock.layout.settings import LaySettings
from futtock.moulds.settings import MouldSettings
from futtock.vessel.smaller import Division as Stated

SHIFT, LONGEST = 250.0, 1400.0
STATED = settings(
    cants="none", first_mm=6000.0, count=2, room_and_space_mm=300.0, longest_mm=LONGEST,
    butt_shift_mm=SHIFT, shortest_mm=SHIFT, butt_aim="any",
)  # fmt: skip
FLAT = MouldSettings()
LAY = LaySettings(kerf_mm=6.0, grain_slope=8.0)


@pytest.fixture(scope="module")
def frames():
    return frame_hull(sphere(), STATED).frames


@pytest.fixture(scope="module")
def options(frames):
    return choices(frames[:1], STATED, FLAT)


def crooks(count, long):
    """Slabs bent as the frame amidships is, so many, and as long along their bend."""
    return [
        crook(f"K{k}", arc(2420.0, np.degrees(long / 2420.0)), 200, stack="K") for k in range(count)
    ]


def legal(frame):
    """The rules of a division, from the timbers' girths alone."""
    butts = {"f": [], "a": []}
    for layer in "fa":
        for side in "SP":
            run = sorted(t.girth_mm for t in frame.timbers if (t.layer, t.side) == (layer, side))
            assert all(a[1] == pytest.approx(b[0]) for a, b in pairwise(run))
            if side == "S":
                butts[layer] = [g[1] for g in run[:-1]]
    apart = min(abs(p - q) for p in butts["f"] for q in butts["a"])
    return apart >= SHIFT - 1e-6 and max(t.length_mm for t in frame.timbers) <= LONGEST + 0.5


def test_the_first_choice_is_the_frames_own(frames, options):
    """Every frame's first option is how it stands; the others differ from it and are legal."""
    ways = options.of[0]
    assert len(ways) > 3
    own = division_of(frames[0])
    assert (ways[0].division.forward, ways[0].division.aft) == (own.forward, own.aft)
    for way in ways:
        cut = redivided(frames[0], way.division, STATED)
        assert legal(cut)
        assert [plain_mark(options.moulds[j].mark) for j in way.moulds] == [
            t.mark for t in cut.timbers
        ]
        for j, t in zip(way.moulds, cut.timbers, strict=True):
            assert options.moulds[j].length_mm == pytest.approx(t.length_mm, abs=0.2)


def test_one_mould_for_one_timber(frames, options):
    """A timber between the same two places is one mould in every division that has it."""
    mould_of = {}
    for way in options.of[0]:
        cut = redivided(frames[0], way.division, STATED)
        for j, t in zip(way.moulds, cut.timbers, strict=True):
            place = (t.layer, t.side, *np.round(t.girth_mm, 1))
            assert mould_of.setdefault(place, j) == j
    assert len(set(mould_of.values())) == len(mould_of) == len(options.moulds)
    marks = [m.mark for m in options.moulds]
    assert len(set(marks)) == len(marks)
    assert options.marks([0]) == [marks[j] for j in options.of[0][0].moulds]


def test_held_and_stated_frames_keep_their_butts(frames):
    """A frame that is held, or whose butts the builder states, has its own division only."""
    held = choices(frames, STATED, FLAT, held=[frames[0].number])
    assert len(held.of[0]) == 1
    assert len(held.of[1]) > 1
    butts = tuple(float(b) for b in division_of(frames[1]).forward)
    row = Stated(frames[1].number, "f", "", butts, 2)
    stated = replace(STATED, divisions=(row,))
    assert [len(o) > 1 for o in choices(frames, stated, FLAT).of] == [True, False]


def test_the_ways_tried_differ(frames):
    """Of many ways the few tried are of every count of butts, none of them the frame's own."""
    from futtock.framing.divide import divisions

    own = division_of(frames[0])
    every = divisions(frames[0], STATED, most=24)
    tried = spread_out(every, own, 4)
    assert len(tried) == 4
    assert all((d.forward, d.aft) != (own.forward, own.aft) for d in tried)
    kinds = {(len(d.forward), len(d.aft)) for d in every}
    assert len({(len(d.forward), len(d.aft)) for d in tried}) == min(4, len(kinds))


@pytest.fixture(scope="module")
def short_rack(options):
    """Crooks too short for the frame's own long timbers, of a length for another division's."""
    own = max(options.moulds[j].length_mm for j in options.of[0][0].moulds)
    best = min(max(options.moulds[j].length_mm for j in way.moulds) for way in options.of[0])
    assert best + 60.0 < own  # else the case says nothing
    return crooks(20, best + 45.0)


def test_a_rack_of_short_crooks_is_met_by_other_butts(options, short_rack):
    """Where no long timber can be had, the division with shorter ones is chosen and all is laid."""
    problem = prepare(options.moulds, short_rack, LAY)
    number = {m.mark: j for j, m in enumerate(problem.moulds)}
    found = divide_for(problem, options, moves=120, seed=2)
    laid = [
        lay(part.moulds, part.slabs, LAY, rounds=12, problem=part)
        for part in (
            part_of(problem, [number[m] for m in options.marks(c)]) for c in ([0], found.chosen)
        )
    ]
    assert laid[0].unplaced
    assert found.chosen != (0,)
    assert found.changed == (options.frames[0].number,)
    assert found.divisions[0] == options.of[0][found.chosen[0]].division
    assert found.short_m2[1] == 0.0 < found.short_m2[0]
    assert laid[1].unplaced == ()


def test_the_choice_is_no_worse_and_the_same_again(options, short_rack):
    """Whatever the seed nothing is lost by choosing; one seed chooses the same every time."""
    problem = prepare(options.moulds, short_rack[:9], LAY)
    for seed in range(2):
        found = divide_for(problem, options, moves=25, seed=seed)
        assert found.short_m2[1] <= found.short_m2[0] + 1e-9
    again = [divide_for(problem, options, moves=25, seed=1).chosen for _ in range(2)]
    assert again[0] == again[1]


def test_a_rack_that_suits_is_left_alone(options):
    """On a pile that gives all the frame's own timbers with room to spare nothing is left over."""
    problem = prepare(options.moulds, crooks(16, 1500.0), LAY)
    found = divide_for(problem, options, moves=20)
    assert found.short_m2 == (0.0, 0.0)


def test_stopping_gives_the_best_so_far(options, short_rack):
    """Stopped at once the frames' own divisions are the answer."""
    problem = prepare(options.moulds, short_rack[:4], LAY)
    found = divide_for(problem, options, lambda _p: False, moves=50)
    assert found.chosen == (0,)
    assert found.changed == ()
