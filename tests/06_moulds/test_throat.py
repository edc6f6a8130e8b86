"""The grain line of a timber whose inner edge is cut off where both sides meet."""

from __future__ import annotations

import numpy as np

from futtock.moulds.flat import _past_the_throat


def test_the_middle_line_runs_straight_past_the_throat() -> None:
    """Where the inner edge lies on the centreline the middle line keeps its direction."""
    s = np.linspace(0.0, 300.0, 61)
    outer = np.stack([s, 0.2 * s], axis=1)
    inner = outer + np.array([-30.0, 120.0])
    inner[:, 0] = np.maximum(inner[:, 0], 0.0)
    middle = 0.5 * (outer + inner)
    line = _past_the_throat(middle, inner, np.array([-500.0, 0.0]))
    way = np.diff(line, axis=0)
    assert np.ptp(np.arctan2(way[:, 1], way[:, 0])) < 1e-9
    assert np.array_equal(line[30:], middle[30:])
    bent = np.diff(middle, axis=0)
    assert np.ptp(np.arctan2(bent[:, 1], bent[:, 0])) > 0.1


def test_the_middle_line_runs_straight_past_a_level_throat() -> None:
    """Where the inner edge turns level at its throat the middle line does not turn with it."""
    s = np.linspace(0.0, 300.0, 61)
    outer = np.stack([s, 0.7 * s], axis=1)
    inner = outer + np.array([10.0, 120.0])
    throat = inner[12].copy()
    inner[:12, 1] = throat[1]
    line = _past_the_throat(0.5 * (outer + inner), inner, throat)
    way = np.diff(line, axis=0)
    assert np.ptp(np.arctan2(way[:, 1], way[:, 0])) < 1e-9


def test_a_timber_away_from_the_centreline_is_left_alone() -> None:
    """No inner point on the centreline: the middle line is returned as it came."""
    s = np.linspace(0.0, 300.0, 61)
    middle = np.stack([s + 500.0, 0.2 * s], axis=1)
    assert _past_the_throat(middle, middle + 50.0, np.zeros(2)) is middle
