"""Volume and wetted area straight from a cloud, against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from futtock.errors import Unsolvable
from futtock.lines.scattered import scattered_body


def ellipsoid(n: int, axes: tuple[float, float, float]) -> np.ndarray:
    """Points spread evenly over a sphere by the golden angle, drawn out to an ellipsoid."""
    k = np.arange(n) + 0.5
    polar, turn = np.arccos(1 - 2 * k / n), np.pi * (1 + 5**0.5) * k
    unit = np.stack([np.cos(turn) * np.sin(polar), np.sin(turn) * np.sin(polar), np.cos(polar)])
    return unit.T * np.array(axes)


def test_half_an_ellipsoid() -> None:
    """Volume, its centre and wetted area of an ellipsoid floating at her middle.

    Source: V = 2/3 pi abc; for a prolate spheroid of revolution about x the area is
    2 pi b^2 (1 + a/(b e) asin e), e^2 = 1 - b^2/a^2; half of it is wetted.
    """
    a, b = 3000.0, 800.0
    body = scattered_body(ellipsoid(2500, (a, b, b)), 0.0)
    e = np.sqrt(1 - (b / a) ** 2)
    area = np.pi * b**2 * (1 + a / (b * e) * np.arcsin(e))
    assert body.volume_m3 * 1e9 == pytest.approx(2 / 3 * np.pi * a * b * b, rel=0.008)
    assert body.wetted_m2 * 1e6 == pytest.approx(area, rel=0.008)
    assert body.lcb_mm == pytest.approx(0.0, abs=5.0)
    assert body.agreed > 0.9


def test_a_bulb_below_a_hull_counts_too() -> None:
    """Two bodies, one below the other, each a surface of its own, add up."""
    high = ellipsoid(1600, (3000.0, 700.0, 500.0))
    low = ellipsoid(900, (900.0, 250.0, 250.0)) - np.array([1500.0, 0.0, 1000.0])
    both = scattered_body(np.vstack([high, low]), 0.0)
    volume = 2 / 3 * np.pi * 3000 * 700 * 500 + 4 / 3 * np.pi * 900 * 250 * 250
    assert both.volume_m3 * 1e9 == pytest.approx(volume, rel=0.015)


def test_too_few_points_or_none_wet() -> None:
    """A handful of points, or none below the waterline, has no body."""
    with pytest.raises(Unsolvable):
        scattered_body(np.zeros((10, 3)), 100.0)
    with pytest.raises(Unsolvable):
        scattered_body(ellipsoid(400, (1.0, 1.0, 1.0)), -50.0)
