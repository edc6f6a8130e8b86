from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from futtock.stock.grid import Grid, slab_grid
from futtock.stock.invent import invent_rack
from futtock.stock.slab import Flaw, Slab
from futtock.stock.sound import (
    NEVER,
    FlawRules,
    face_ring,
    flaws_of,
    forbids,
    knot_allowed,
    knot_width_mm,
    sound_raster,
)

SLABS = invent_rack(16, seed=5)
SQUARE = np.array([[0, 0], [400, 0], [400, 200], [0, 200]], float)


def box(x0, y0, x1, y1):
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], float)


def slab(*flaws: Flaw, **more) -> Slab:
    return Slab("T", "white oak", 70.0, None, SQUARE, SQUARE, (), flaws, **more)


def test_distance_is_that_of_an_independent_library_at_every_node():
    """GEOS gives the same distance to edge and flaws at each sound node, to a nanometre."""
    for one in SLABS:
        for face in ("top", "bottom"):
            raster = sound_raster(one, face, slab_grid(one, 25.0))
            ring = face_ring(one, face)
            unsound = [shapely.LinearRing(ring)] + [
                shapely.Polygon(f.outline_mm) for f in flaws_of(one, face)
            ]
            nodes = raster.grid.nodes_mm().reshape(-1, 2)
            got = raster.distance_mm.ravel()
            points = shapely.points(nodes)
            within = shapely.contains_xy(shapely.Polygon(ring), nodes[:, 0], nodes[:, 1])
            off = np.min([shapely.distance(points, u) for u in unsound], axis=0)
            sound = within & (off > 1e-9)
            assert (got[sound] > 0).all()
            assert (got[~sound] <= 0).all()
            np.testing.assert_allclose(got[sound], np.minimum(off[sound], 250), atol=1e-6)


def test_distance_never_changes_by_more_than_the_way_moved():
    """1-Lipschitz, flaws and reach included: certificates that nothing fits rest on it."""
    for one in SLABS[:6]:
        d = sound_raster(one, "top", slab_grid(one, 10.0), reach_mm=60.0).distance_mm
        assert np.abs(np.diff(d, axis=0)).max() <= 10 + 1e-9
        assert np.abs(np.diff(d, axis=1)).max() <= 10 + 1e-9
        assert d.max() <= 60
        assert d.min() >= -60


def test_signs_on_a_square_with_a_hole():
    """Inside 50 mm from an edge is +50; outside by 20 is -20; in a flaw, minus the way out."""
    rot = Flaw("rot", box(180, 80, 220, 120), "both")
    grid = Grid((-50.0, -50.0), 10.0, 31, 51)
    d = sound_raster(slab(rot), "top", grid).distance_mm

    def at(x, y):
        return d[int((y + 50) / 10), int((x + 50) / 10)]

    assert at(50, 100) == pytest.approx(50)
    assert at(-20, 100) == pytest.approx(-20)
    assert at(200, 100) == pytest.approx(-20)
    assert at(170, 100) == pytest.approx(10)
    assert at(-30, -40) == pytest.approx(-50)


def test_a_flaw_of_one_face_holds_on_both_unless_told_otherwise():
    """Most flaws run in some way, so they are kept clear of on either face by default."""
    one = slab(Flaw("rot", box(180, 80, 220, 120), "top"))
    assert len(flaws_of(one, "bottom")) == 1
    own = FlawRules(through=False)
    assert len(flaws_of(one, "bottom", own)) == 0
    assert len(flaws_of(one, "top", own)) == 1


@pytest.mark.parametrize("kind", NEVER)
def test_rot_and_cracks_are_never_built_over(kind):
    """No setting lets a timber lie on rot, a check, a shake, a split, bark, a hole or worm."""
    loose = FlawRules(knot_mm=1000, knot_depth_share=9, sapwood=("white oak",))
    assert forbids(Flaw(kind, box(0, 0, 5, 5), "both"), loose, "white oak")


def test_knots_by_size_and_place_are_a_setting():
    """A sound knot no wider than the setting may stay near the middle line, and only there."""
    rules = FlawRules(knot_mm=25.0, knot_depth_share=0.25)
    small, large = Flaw("knot", box(0, -8, 40, 8), "both"), Flaw("knot", box(0, 0, 40, 40), "both")
    assert knot_width_mm(small) == pytest.approx(16)
    assert knot_width_mm(large) == pytest.approx(40)
    assert forbids(small)
    assert not forbids(small, rules)
    assert forbids(large, rules)
    line = np.array([[-200.0, 0], [200, 0]])
    assert knot_allowed(small, line, 80.0, rules)
    assert not knot_allowed(small, line + np.array([0.0, 20.0]), 80.0, rules)
    assert not knot_allowed(small, line, 80.0)
    assert not knot_allowed(replace(small, kind="rot"), line, 80.0, rules)


def test_sapwood_is_sound_only_where_the_setting_says_so():
    """With sapwood allowed the whole face within the bark stands for the sound outline."""
    whole = box(-20, -20, 420, 220)
    one = slab(Flaw("sapwood", box(0, 0, 400, 10), "both"), face_top_mm=whole)
    assert face_ring(one, "top") is SQUARE
    assert face_ring(one, "top", FlawRules(sapwood=("white oak",))) is whole
    assert len(flaws_of(one, "top")) == 1
    assert flaws_of(one, "top", FlawRules(sapwood=("white oak",))) == ()


def test_a_flaw_drawn_crossing_itself_keeps_all_its_ground_clear():
    """A bow tie counts as its hull, and two points as the line between, so that none is missed."""
    bow = Flaw("rot", np.array([[180, 80], [220, 120], [220, 80], [180, 120]], float), "both")
    grid = Grid((0.0, 0.0), 10.0, 21, 41)
    d = sound_raster(slab(bow), "top", grid).distance_mm
    assert d[10, 19] < 0
    assert d[10, 20] < 0
    assert d[8, 20] < 0
    line = Flaw("check", np.array([[100, 100], [200, 100]], float), "both")
    assert sound_raster(slab(line), "top", grid).distance_mm[10, 15] < 0
