"""Plane cuts: on the plane, on the hull, within her bounds."""

from __future__ import annotations

import numpy as np
import pytest
from line_tables import marram, wigley

from futtock.lines import buttock, diagonal, plane_cut, section, waterline
from futtock.lines.curves_on_hull import trace
from futtock.lines.fair import FairSettings, fair
from futtock.lines.surface import Hull
from futtock.vessel.table import Diagonal


@pytest.fixture(scope="module")
def hull() -> Hull:
    return fair(marram(), FairSettings(25.4 / 16, quick=True)).hull


@pytest.mark.parametrize("height", [700.0, 1100.0, 1524.0, 2000.0, 2300.0])
def test_waterline_is_level_and_whole(hull: Hull, height: float) -> None:
    """A waterline keeps its height to a hundredth and runs aft without breaking off."""
    lines = waterline(hull, height)
    assert lines
    for line in lines:
        inside = line
        assert np.abs(inside[:, 2] - height).max() < 0.01
        assert np.linalg.norm(np.diff(line, axis=0), axis=1).max() < 250.0
    assert sum(np.ptp(k[:, 0]) for k in lines) > 2000.0


def test_buttocks_and_diagonals_lie_in_their_planes(hull: Hull) -> None:
    """Each vertex lies in the cutting plane."""
    for y in (304.8, 609.6, 1371.6):
        for line in buttock(hull, y):
            assert np.abs(line[:, 1] - y).max() < 0.01
    plane = Diagonal("A", 6.5 * 304.8, -35.0)
    lines = diagonal(hull, plane)
    assert lines
    s = np.radians(-35.0)
    for line in lines:
        off = (line[:, 2] - plane.height_mm) * np.cos(s) - line[:, 1] * np.sin(s)
        assert np.abs(off).max() < 0.01


def test_section_runs_from_rabbet_to_sheer(hull: Hull) -> None:
    """A section starts on the rabbet and ends at the sheer, upwards."""
    (line,) = section(hull, 5486.4)
    at = np.array([5486.4])
    ends = [f(at)[0] for f in (hull.trim.low, hull.trim.high)]
    p = hull.surface.derivatives(np.full(2, 5486.4), np.array(ends))[:, 0, :]
    np.testing.assert_allclose(line[[0, -1]], p, atol=1e-6)


def test_wigley_waterline_is_the_parabola() -> None:
    """Half-breadths on a waterline of Wigley's hull are the parabola's within the rounding."""
    length, beam, draught = 12192.0, 2438.4, 1524.0
    hull = fair(wigley(), FairSettings(1.0)).hull
    (line,) = waterline(hull, 1000.0)
    s = 2 * line[:, 0] / length - 1
    exact = beam / 2 * (1 - s**2) * (1 - ((draught - 1000.0) / draught) ** 2)
    inner = (line[:, 0] > 200) & (line[:, 0] < length - 200)
    assert np.abs(line[inner, 1] - exact[inner]).max() < 1.6


def test_a_plane_that_misses_gives_nothing(hull: Hull) -> None:
    """No polyline where the plane misses the hull."""
    assert waterline(hull, 9000.0) == []
    assert section(hull, -5000.0) == []
    assert plane_cut(hull, np.array([0.0, 1.0, 0.0]), 9000.0) == []


def test_trace_closes_a_ring() -> None:
    """The zero line of a cone is one closed ring of the right size."""
    i, j = np.meshgrid(np.arange(41.0), np.arange(41.0), indexing="ij")
    (ring,) = trace(np.hypot(i - 20, j - 20) - 12.3)
    np.testing.assert_allclose(ring[0], ring[-1])
    np.testing.assert_allclose(np.hypot(ring[:, 0] - 20, ring[:, 1] - 20), 12.3, atol=0.02)
