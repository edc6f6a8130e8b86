from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from photo_cases import cards_at_the_edges, off, turned_over

from futtock.errors import Misused
from futtock.stock.photo.correction import Marks
from futtock.stock.photo.faces import both_faces, tie_by_cards, tie_by_corners, tie_by_outline
from futtock.stock.photo.photograph import PhotoSettings, photographed
from futtock.stock.slab import Flaw


def test_the_second_face_is_tied_by_its_outline_or_its_corners():
    """Turned over about either axis, wider by its wane, it lies back on the first within 2 mm."""
    x = np.linspace(0, 2000, 60)
    bend = 120 * (x / 2000) ** 2
    top = np.vstack([np.c_[x, bend - 140], np.c_[x, bend + 120 + 20 * (x / 2000)][::-1]])
    bottom = np.vstack([np.c_[x, bend - 155], np.c_[x, bend + 138 + 20 * (x / 2000)][::-1]])
    for way_deg in (12.0, 190.0):
        t = np.radians(way_deg)
        turn = np.array([[np.cos(t), -np.sin(t)], [np.sin(t), np.cos(t)]])
        seen = ((bottom - [300, -80]) @ turn) * [1, -1]  # as the second portrait shows it
        tie, findings = tie_by_outline(seen, top)
        assert findings == ()
        assert np.abs(tie.lay(seen) - bottom).max() < 3.0
        corners = tie_by_corners(seen[[0, 59, 60, 119]], bottom[[0, 59, 60, 119]])
        np.testing.assert_allclose(corners.lay(seen), bottom, atol=1e-6)
        knot = Flaw("knot", np.array([[500, 0], [540, 0], [520, 30]], float), "top")
        under = Flaw("knot", ((knot.outline_mm - [300, -80]) @ turn) * [1, -1], "top")
        sound, whole, flaws = both_faces(
            Marks(top, top, (knot,), (), ()), Marks(seen, seen, (under,), (), ()), tie
        )
        assert [f.face for f in flaws] == ["both", "both"]
        assert shapely.Polygon(whole).area > shapely.Polygon(top).area
        assert off(sound, bottom) < 3


def test_another_slab_does_not_tie():
    """A face of another length is a finding, with what to do instead."""
    ring = np.array([[0, 0], [2000, 0], [2000, 300], [0, 300]], float)
    _, findings = tie_by_outline(ring * [0.7, 1.3], ring)
    assert [f.code for f in findings] == ["S737"]
    assert "wane" in findings[0].remedy
    with pytest.raises(Misused, match="two or more"):
        tie_by_corners(ring[:1], ring[:1])


@pytest.fixture(scope="module")
def both():
    scene = cards_at_the_edges()
    return scene, turned_over(scene)


def test_cards_seen_on_both_faces_tie_them(both):
    """Through both photographs: each card lies on itself within 3 mm, and the outlines within 8."""
    scene, behind = both
    top = photographed(scene.image, PhotoSettings(lie="floor", height_mm=1e6))
    below = photographed(behind, PhotoSettings(lie="floor", height_mm=1e6))
    tie, cards, findings = tie_by_cards(
        below.cards_mm, top.cards_mm, below.face.whole_mm, top.face.whole_mm
    )
    assert cards == (0, 1, 2, 3, 4)
    assert findings == ()
    for number in cards:
        np.testing.assert_allclose(
            tie.lay(below.cards_mm[number][None])[0], top.cards_mm[number], atol=3.0
        )
    assert off(tie.lay(below.face.whole_mm), top.face.whole_mm) < 8


def test_cards_taken_up_between_the_faces_tie_nothing(both):
    """One of five cards 60 mm elsewhere: it is said, and the outlines tie the faces."""
    scene, _ = both
    top = photographed(scene.image, PhotoSettings(lie="floor", height_mm=1e6, portrait_mm=2.0))
    below = photographed(
        turned_over(scene, (60.0, 0.0)), PhotoSettings(lie="floor", height_mm=1e6, portrait_mm=2.0)
    )
    tie, cards, findings = tie_by_cards(
        below.cards_mm, top.cards_mm, below.face.whole_mm, top.face.whole_mm
    )
    assert cards == ()
    assert [f.code for f in findings] == ["S738"]
    assert tie == tie_by_outline(below.face.whole_mm, top.face.whole_mm)[0]


@settings(max_examples=25, deadline=None)
@given(
    turn=st.floats(-180, 180), x=st.floats(-900, 900), y=st.floats(-900, 900), moved=st.booleans()
)
def test_cards_tie_however_the_slab_was_turned(turn, x, y, moved):
    """Any turn and shift comes back exactly from three cards; two laid anew at the same distance
    apart, which agree with each other, are found out by the outlines."""
    ring = np.array([[0, 0], [1400, 40], [1380, 330], [20, 290]], float)
    first = {2: np.array([-90.0, 100]), 5: np.array([700.0, 420]), 9: np.array([1500.0, 200])}
    t = np.radians(turn)
    form = np.array([[np.cos(t), -np.sin(t)], [np.sin(t), np.cos(t)]])

    def behind(points):
        return ((points - [x, y]) @ form) * [1, -1]

    second = {n: behind(at) for n, at in first.items()}
    if moved:
        swapped = {2: behind(first[2] + [0, 200]), 5: behind(first[5] + [0, 200])}
        _, cards, findings = tie_by_cards(swapped, first, behind(ring), ring)
        assert cards == ()
        assert findings[0].code == "S738"
        return
    tie, cards, findings = tie_by_cards(second, first, behind(ring), ring)
    assert (cards, findings) == ((2, 5, 9), ())
    np.testing.assert_allclose(tie.lay(behind(ring)), ring, atol=1e-6)


def test_no_card_in_common_leaves_it_to_the_outlines():
    """One card on both, or none, says nothing of how the slab was turned."""
    ring = np.array([[0, 0], [1400, 40], [1380, 330], [20, 290]], float)
    for second in ({}, {1: np.array([5.0, 5.0])}):
        tie, cards, _ = tie_by_cards(second, {1: np.array([9.0, 9.0])}, ring * [1, -1], ring)
        assert cards == ()
        assert tie == tie_by_outline(ring * [1, -1], ring)[0]
