from __future__ import annotations

import numpy as np
import pytest
from layout_cases import arc, crook, plank, strip

from futtock.layout.lay import lay
from futtock.layout.part import part_of
from futtock.layout.problem import prepare
from futtock.layout.settings import LaySettings

SETTINGS = LaySettings(kerf_mm=6.0, grain_slope=8.0)
WHICH = [4, 1, 3]
SLABS = [2, 0]


def timbers():
    long = (500, 640, 500, 720, 560)
    moulds = [
        strip(f"{k}-P-f1", np.c_[np.linspace(0, n, 31), np.zeros(31)], 70)
        for k, n in enumerate(long)
    ]
    return [*moulds, strip("9-P-f1", arc(1500.0, 25.0), 80)]


def rack():
    return [
        plank("A", 1500, 110),
        plank("B", 560, 110),
        crook("C", arc(1500.0, 34.0), 190),
        plank("D", 800, 180, thick=50.0),
    ]


@pytest.fixture(scope="module")
def whole():
    return prepare(timbers(), rack(), SETTINGS)


def test_a_part_is_what_would_have_been_prepared(whole):
    """A part has the very poses, ground and patterns that its own preparing gives."""
    part = part_of(whole, WHICH, SLABS)
    moulds, slabs = timbers(), rack()
    own = prepare([moulds[j] for j in WHICH], [slabs[k] for k in SLABS], SETTINGS)
    assert [m.mark for m in part.moulds] == [m.mark for m in own.moulds]
    assert [s.name for s in part.slabs] == [s.name for s in own.slabs]
    assert (
        part.may[[m.pattern for m in part.member]] == own.may[[m.pattern for m in own.member]]
    ).all()
    assert part.sound_m2 == pytest.approx(own.sound_m2)
    for a, b in zip(part.member, own.member, strict=True):
        assert part.patterns.area[a.pattern] == own.patterns.area[b.pattern]
        for k in range(len(SLABS)):
            assert poses(part, k, a.pattern) == poses(own, k, b.pattern)
    for name in ("top", "bottom", "grain", "off", "rows", "columns"):
        assert (getattr(part.ground, name) == getattr(own.ground, name)).all()


def poses(problem, k, i):
    """The kept poses of one pair, as a set."""
    a, b = problem.poses.start[k, i], problem.poses.start[k, i + 1]
    return {tuple(row) for row in problem.poses.row[a:b].tolist()}


def test_a_part_of_all_is_the_whole(whole):
    """With nothing left out the same seed lays the same."""
    part = part_of(whole)
    one, two = (
        lay(p.moulds, p.slabs, SETTINGS, rounds=12, seed=3, problem=p) for p in (whole, part)
    )
    assert one.placements == two.placements
    assert one.unplaced == two.unplaced


def test_a_part_of_nothing_lays_nothing(whole):
    """No timbers, or no slabs, is a part too: nothing is placed and all are left over."""
    bare = part_of(whole, [0, 1], [])
    laid = lay(bare.moulds, bare.slabs, SETTINGS, rounds=2, problem=bare)
    assert laid.placements == ()
    assert laid.unplaced == ("0-P-f1", "1-P-f1")
    none = part_of(whole, [], [0])
    assert lay(none.moulds, none.slabs, SETTINGS, rounds=2, problem=none).unplaced == ()
    assert len(none.patterns.area) == 0


def test_a_part_leaves_the_whole_alone(whole):
    """Nothing of the whole problem is changed by laying a part of it."""
    before = (whole.ground.top.copy(), whole.poses.row.copy())
    part = part_of(whole, WHICH, SLABS)
    lay(part.moulds, part.slabs, SETTINGS, rounds=5, problem=part)
    assert (whole.ground.top == before[0]).all()
    assert (whole.poses.row == before[1]).all()
