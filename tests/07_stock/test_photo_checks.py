"""Checks proposed on painted wood: in one piece, closed for a while, or under a card."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
import shapely

from futtock.stock.photo.blemish import propose_checks
from futtock.stock.photo.figure import seen_grain
from futtock.stock.photo.portrait import Portrait

LONG, WIDE = 1200, 300
CARD = slice(520, 660)


def board(lines, lean=0.06) -> tuple[Portrait, np.ndarray]:
    """A board of leaning grain, a millimetre a pixel, with lines along it: (from, to, at, dark)."""
    rng = np.random.default_rng(8)
    y, x = np.mgrid[0:WIDE, 0:LONG].astype(float)
    across = y + lean * x
    tone = 1 + 0.03 * np.sin(2 * np.pi * across / 11.0) + rng.normal(0, 0.02, across.shape)
    for first, last, at, dark in lines:
        crack = np.exp(-(((across - at) / 1.3) ** 4)) * (x > first) * (x < last)
        tone *= 1 - dark * crack
    light = cv2.GaussianBlur(np.clip(140 * tone, 0, 255), (0, 0), 0.9)
    picture = np.repeat(light.astype(np.uint8)[..., None], 3, axis=2)
    wood = np.ones((WIDE, LONG), bool)
    return Portrait(picture, (0.0, 0.0), 1.0, wood), wood


def found(portrait, wood):
    seen = seen_grain(portrait, wood)
    return [p for p in propose_checks(portrait, wood, seen) if p.confidence >= 0.5]


@pytest.mark.parametrize(
    ("pieces", "card"),
    [
        ([(200, 420)], False),
        ([(200, 250), (275, 320), (345, 400)], False),
        ([(470, 525), (640, 710)], True),
    ],
)
def test_a_check_is_proposed_once_over_all_of_it(pieces, card):
    """Whole, in three pieces none of which is long enough alone, or at both sides of a card that
    hides its middle: one proposal that covers what is seen of it, along the grain."""
    portrait, wood = board([(a, b, 170.0, 0.5) for a, b in pieces])
    if card:
        wood[:, CARD] = False
    (check,) = found(portrait, wood)
    assert check.kind == "check"
    ring = shapely.Polygon(check.outline_mm).buffer(4.0)
    for a, b in pieces:
        x = np.linspace(a + 5, b - 5, 20)
        at = portrait.millimetres(np.column_stack([x, 170.0 - 0.06 * x]))
        assert shapely.contains_xy(ring, *at.T).mean() > 0.9


def test_dark_rings_and_pieces_that_do_not_follow_are_no_check():
    """Rings a little darker than the rest, however long; short dark pieces beside each other."""
    rings = [(100, 1100, at, 0.1) for at in (120.0, 200.0, 280.0)]
    assert found(*board(rings)) == []
    apart = [(200, 240, 120.0, 0.5), (260, 300, 160.0, 0.5), (320, 360, 200.0, 0.5)]
    assert found(*board(apart)) == []
