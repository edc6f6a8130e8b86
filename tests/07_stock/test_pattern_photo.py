"""A pattern photographed with cards beside it gives its outline."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from pattern_scene import photograph_of
from readback import curve
from scipy.spatial import KDTree

from futtock.errors import Unreadable
from futtock.stock.photo.pattern import pattern_outline


def _laid_on(points: np.ndarray, truth: np.ndarray) -> np.ndarray:
    """How far dense points of an outline are off the truth, turned and shifted onto it."""
    tree = KDTree(truth)
    best = np.full(len(points), np.inf)
    for turn in np.radians(np.arange(0.0, 360.0, 15.0)):
        c, s = np.cos(turn), np.sin(turn)
        q = (points - points.mean(axis=0)) @ np.array([[c, s], [-s, c]]) + truth.mean(axis=0)
        for _ in range(40):
            near = truth[tree.query(q)[1]]
            a, b = q.mean(axis=0), near.mean(axis=0)
            u, _, v = np.linalg.svd((q - a).T @ (near - b))
            q = (q - a) @ (u @ np.diag([1.0, np.sign(np.linalg.det(u @ v))]) @ v) + b
        off = tree.query(q)[0]
        best = off if off.max() < best.max() else best
    return best


def _dense(ring: np.ndarray) -> np.ndarray:
    return shapely.get_coordinates(shapely.segmentize(shapely.LinearRing(ring), 2.0))[:-1]


@pytest.mark.parametrize(("length", "sweep"), [(1100.0, 150.0), (700.0, 0.0)])
def test_the_outline_is_that_of_the_pattern(length: float, sweep: float) -> None:
    """Curved and straight, seen aslant: within 2.5 mm everywhere, 1.5 mm over 95 % of it."""
    truth = curve(80, length, sweep)
    ring, findings = pattern_outline(photograph_of(truth))
    off = _laid_on(_dense(ring), _dense(truth))
    assert off.max() < 2.5
    assert np.percentile(off, 95) < 1.5
    assert shapely.Polygon(ring).area == pytest.approx(shapely.Polygon(truth).area, rel=0.015)
    assert {f.severity for f in findings} <= {"note", "doubt"}


def test_a_picture_without_cards_or_pattern_is_refused() -> None:
    """Without cards, without a pattern among them, or with bytes that are no picture: findings."""
    speck = np.array([(0.0, 0.0), (60.0, 0.0), (60.0, 30.0), (0.0, 30.0)])
    for data in (photograph_of(speck), b"no picture"):
        with pytest.raises(Unreadable) as refused:
            pattern_outline(data, "12-P-f2.jpg")
        assert refused.value.findings
        assert refused.value.findings[-1].file == "12-P-f2.jpg"
