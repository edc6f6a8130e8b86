from __future__ import annotations

import cv2
import numpy as np
import pytest

from futtock.errors import Misused
from futtock.stock.photo.cards import CARD_MM, card_edges, find_cards, linear_light
from futtock.stock.photo.lens import Lens, lens_from_text, lens_of_shots, lens_text
from futtock.stock.photo.plane import adjust

TRUE = -0.09
SIZE = (1600, 1200)


def shot(tilt_deg: float, lens: float = TRUE, at=None) -> np.ndarray:
    """Twelve cards in a grid 1.5 m wide, seen aslant through a lens; or those at some places."""
    places = [(x, y) for x in range(-660, 661, 440) for y in (-400, 0, 400)] if at is None else at
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    sheet = np.full((1400, 2000), 150, np.uint8)
    for number, (x, y) in enumerate(places):
        left, top = int(1000 + x - CARD_MM / 2), int(700 - y - CARD_MM / 2)
        sheet[top : top + 120, left : left + 120] = 235
        marker = cv2.aruco.generateImageMarker(dictionary, number, 6) // 2 + 60
        at_once = cv2.resize(marker, (100, 100), interpolation=cv2.INTER_NEAREST)
        sheet[top + 10 : top + 110, left + 10 : left + 110] = at_once
    t = np.radians(tilt_deg)
    focal, far = 0.9 * SIZE[0], 1700.0
    gx, gy = np.meshgrid(np.arange(SIZE[0], dtype=float), np.arange(SIZE[1], dtype=float))
    dx, dy = (gx - (SIZE[0] - 1) / 2) / SIZE[0], (gy - (SIZE[1] - 1) / 2) / SIZE[0]
    ux, uy = dx.copy(), dy.copy()
    for _ in range(20):
        r = ux**2 + uy**2
        ux, uy = dx / (1 + lens * r), dy / (1 + lens * r)
    ray = np.stack([ux * SIZE[0], uy * SIZE[0], np.full(ux.shape, focal)])
    y = np.cos(t) * ray[1] - np.sin(t) * ray[2]
    z = np.sin(t) * ray[1] + np.cos(t) * ray[2]
    foot = far * np.tan(t)
    ground = np.stack([ray[0] / z * far + 1000, y / z * far + foot + 700]).astype(np.float32)
    seen = cv2.remap(sheet, ground[0] - 0.5, ground[1] - 0.5, cv2.INTER_LINEAR, borderValue=150)
    return cv2.cvtColor(cv2.GaussianBlur(seen, (0, 0), 0.7), cv2.COLOR_GRAY2BGR)


@pytest.fixture(scope="module")
def measured() -> Lens:
    return lens_of_shots([shot(tilt) for tilt in (4.0, 14.0, 22.0)])


def test_a_lens_comes_out_of_several_shots(measured):
    """The coefficient that was rendered, within 0.005, and its own spread says as much."""
    assert measured.shots == 3
    assert measured.coefficient == pytest.approx(TRUE, abs=0.005)
    assert abs(measured.coefficient - TRUE) < 3 * measured.spread
    assert lens_from_text(lens_text(measured)) == measured


def test_a_measured_lens_mends_where_the_cards_are_few(measured):
    """Two cards close to the middle tell nothing of the lens: with the measured one a place at the
    picture's edge is nearer to its truth than without, by more than half."""
    picture = shot(10.0, at=[(-150.0, 0.0), (150.0, 0.0)])
    light = linear_light(picture)
    cards = find_cards(picture)
    edges = [card_edges(light, card) for card in cards]
    whole = shot(10.0)
    corners = {c.number: c.corners_px.mean(0) for c in find_cards(whole)}
    far = np.array([corners[0], corners[11]])
    true = float(np.hypot(3 * 440, 800))
    off = []
    for known in ((0.0, 0.12), (measured.coefficient, measured.spread)):
        plane = adjust(cards, edges, SIZE, None, known).plane
        a, b = plane.millimetres(far)
        off.append(abs(float(np.hypot(*(a - b))) - true))
    assert off[1] < 0.5 * off[0]


def test_what_is_no_lens_is_refused():
    """Too few shots, too few cards, a file that is none; another camera's picture does not fit."""
    with pytest.raises(Misused, match="give 3"):
        lens_of_shots([shot(5.0)])
    with pytest.raises(Misused, match="shows 2 cards"):
        lens_of_shots([shot(5.0, at=[(-150.0, 0.0), (150.0, 0.0)])] * 3)
    for text in ("", "[]", '{"coefficient": 1}', lens_text(Lens(9.0, 0.1, 1.3, 3))):
        with pytest.raises(Misused, match="measure it again"):
            lens_from_text(text)
    assert Lens(0.0, 0.1, 4 / 3, 3).fits((3000, 4000))
    assert not Lens(0.0, 0.1, 4 / 3, 3).fits((4000, 2250))
