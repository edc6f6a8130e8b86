from __future__ import annotations

import cv2
import numpy as np
import pytest
import shapely
from photo_cases import off, taped
from photo_scene import Hardness, render

from futtock.errors import Misused
from futtock.stock.photo.cards import (
    bits,
    card_edges,
    find_cards,
    homography,
    linear_light,
    project,
)
from futtock.stock.photo.lying import cards_beside, where_they_lie
from futtock.stock.photo.photograph import (
    PhotoSettings,
    camera_over,
    photographed,
)
from futtock.stock.photo.plane import Plane, adjust, plane_from_points


def test_all_cards_are_found_and_their_number_read(scene):
    """Each card painted on the slab is found once, whatever way it is turned."""
    assert [c.number for c in find_cards(scene.image)] == sorted(scene.cards)


def test_every_card_differs_from_every_other_however_turned():
    """No two of the fifty markers are alike in any of four turns (the dictionary's own promise)."""
    seen = set()
    for number in range(50):
        turns = {np.rot90(bits(number), k).tobytes() for k in range(4)}
        assert len(turns) == 4
        assert not turns & seen
        seen |= turns


def test_perspective_and_lens_come_out_in_millimetres(scene, got):
    """Painted points are mapped back to their true mutual distances within a millimetre."""
    mapped = got.plane.millimetres(scene.pixels(scene.face_mm))
    true = scene.face_mm
    a = np.hypot(*(mapped[:, None] - mapped[None]).reshape(-1, 2).T)
    b = np.hypot(*(true[:, None] - true[None]).reshape(-1, 2).T)
    assert np.abs(a - b).max() < 1.5
    assert np.percentile(np.abs(a - b), 95) < 1.0


def test_blur_in_the_cameras_own_curve_does_not_change_the_scale(scene):
    """Blur under a curve that is not the one assumed shifts every dark edge by half a pixel and
    more, which is 1 % of a card; lengths stay right within 0.2 %."""
    soft = scene.image
    for gamma in (0.55, 1.8):
        curve = (255 * (np.arange(256) / 255) ** gamma).astype(np.uint8)
        bent = cv2.LUT(cv2.GaussianBlur(soft, (0, 0), 1.2), curve)
        cards = find_cards(bent)
        light = linear_light(bent)
        edges = [card_edges(light, card) for card in cards]
        fit = adjust(cards, edges, bent.shape[1::-1])
        own = np.hypot(*(fit.centres_mm[0] - fit.centres_mm[4]))
        true = np.hypot(*(scene.cards[0].mean(0) - scene.cards[4].mean(0)))
        assert abs(own / true - 1) < 0.002
        assert abs(fit.bias_px) > 0.3  # there was something to take off


def test_a_taped_distance_overrides_a_printer_that_shrinks(scene):
    """Cards printed 2 % small: the tape puts the scale right, and the difference is said."""
    long = taped(scene, 0, 4) * 1.02
    fit = photographed(
        scene.image, PhotoSettings(taped={(0, 4): long}, lie="face", portrait_mm=3.0)
    )
    own = np.hypot(*(fit.adjusted.centres_mm[0] - fit.adjusted.centres_mm[4]))
    assert own == pytest.approx(long, rel=2e-4)
    assert "S727" in [f.code for f in fit.findings]
    with pytest.raises(Misused, match="no card 0 and 40"):
        photographed(scene.image, PhotoSettings(taped={(0, 40): 900.0}))


def test_four_points_of_known_place_carry_a_plane():
    """A homography from four points takes a fifth where it belongs (exact)."""
    form = np.array([[0.4, 0.05, 200], [-0.03, -0.38, 900], [2e-5, 3e-5, 1]])
    ground = np.array([[0, 0], [2000, 0], [2000, 900], [0, 900], [700, 300]], float)
    plane = plane_from_points(project(form, ground[:4]), ground[:4], (1600, 1200))
    np.testing.assert_allclose(plane.pixels(ground[4:]), project(form, ground[4:]), atol=1e-6)
    np.testing.assert_allclose(plane.millimetres(project(form, ground)), ground, atol=1e-6)
    with pytest.raises(Misused, match="give 4"):
        plane_from_points(ground[:3], ground[:3], (10, 10))


def test_the_lens_is_undone():
    """pixels and millimetres undo each other under a strong lens."""
    plane = Plane(
        np.array([[0.5, 0, 300], [0, -0.5, 800], [0, 1e-5, 1.0]]), (1000, 750), 2000.0, -0.2
    )
    ground = np.random.default_rng(0).uniform(0, 1500, (50, 2))
    np.testing.assert_allclose(plane.millimetres(plane.pixels(ground)), ground, atol=1e-6)


def test_the_height_of_the_camera_follows_from_the_perspective():
    """A camera 2.4 m up, tilted 20 degrees: height and foot come out of the homography alone."""
    f, tilt, eye = 1500.0, np.radians(20), np.array([700.0, -400.0, 2400.0])
    look = np.array([0, np.sin(tilt), -np.cos(tilt)])
    right = np.array([1.0, 0, 0])
    rows = np.array([right, np.cross(look, right), look])
    k = np.array([[f, 0, 999.5], [0, f, 749.5], [0, 0, 1]])
    form = k @ np.c_[rows[:, 0], rows[:, 1], -rows @ eye]
    height, foot = camera_over(Plane(form / form[2, 2], (999.5, 749.5), 2000.0), (2000, 1500))
    assert height == pytest.approx(2400, rel=1e-6)
    np.testing.assert_allclose(foot, eye[:2], atol=1e-3)


@pytest.fixture(scope="module")
def floored():
    """A slab with five cards on the floor on both sides of it."""
    hard = Hardness(shadow=0.5, bark=0.7, sap=1.0, tilt=0.6, lens=0.5, knots=3.0)
    return render(
        8,
        hard,
        length=1500.0,
        width=300.0,
        pixels=(1800, 1350),
        cards=5,
        bend=0.1,
        card_place="beside",
    )


def test_cards_on_the_floor_are_asked_about_and_counted_with(floored):
    """Unsaid, cards beside the slab are told from those on it and asked about; said, the slab is
    smaller by thickness over height (closed form)."""
    asked = photographed(floored.image, PhotoSettings(portrait_mm=2.0))
    assert asked.beside == (0, 1, 2, 3, 4)
    question = [f for f in asked.findings if f.code == "S725"]
    assert [f.read for f in question] == ["card 0, 1, 2, 3, 4 beside"]
    settings = PhotoSettings(lie="floor", thickness_mm=70.0, height_mm=2000.0, portrait_mm=2.0)
    lower = photographed(floored.image, settings)
    assert lower.beside == asked.beside
    assert not {"S725", "S728"} & {f.code for f in lower.findings}
    a = np.sqrt(shapely.Polygon(asked.face.whole_mm).area)
    b = np.sqrt(shapely.Polygon(lower.face.whole_mm).area)
    assert b / a == pytest.approx(1 - 70 / 2000, abs=0.002)
    assert off(asked.face.whole_mm, asked.plane.millimetres(floored.pixels(floored.face_mm))) < 8


def test_cards_on_the_face_are_asked_about_and_not_told_from_the_slab(scene):
    """On the face nothing shows how high they lie: asked, none said to be beside."""
    asked = photographed(scene.image, PhotoSettings(portrait_mm=2.0))
    assert asked.beside == ()
    assert [f.read for f in asked.findings if f.code == "S725"] == [None]


def test_cards_are_told_by_what_they_lie_on():
    """Off the ring: beside; across its edge: neither; what was said wrongly is named."""
    face = np.array([[0, 0], [1000, 0], [1000, 300], [0, 300]], float)
    card = np.array([[-60, 60], [60, 60], [60, -60], [-60, -60]], float)
    places = {3: (200, 150), 5: (600, 400), 7: (800, 300)}
    cards = {n: card + np.array(at) for n, at in places.items()}
    beside, across = cards_beside(face, cards)
    assert (beside, across) == ((5,), (7,))
    said = where_they_lie(beside, across, 3, "face", "a.jpg")
    assert [(f.code, f.read) for f in said] == [("S728", "card 5 beside")]
    said = where_they_lie(beside, across, 3, "floor", "a.jpg")
    assert [(f.code, f.read) for f in said] == [("S728", "1 on the face")]
    assert where_they_lie((), (), 3, "face", "a.jpg") == []
    assert [f.code for f in where_they_lie((), (), 3, None, "a.jpg")] == ["S725"]


def test_homography_is_exact_on_exact_points():
    """Eight points through a known map give the map back."""
    form = np.array([[1.2, 0.1, 30], [-0.2, 0.9, 10], [1e-4, -2e-4, 1]])
    points = np.random.default_rng(1).uniform(0, 1000, (8, 2))
    np.testing.assert_allclose(homography(points, project(form, points)), form, atol=1e-7)
