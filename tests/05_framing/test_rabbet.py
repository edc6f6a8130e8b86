"""Rabbet, apex and bearding lines against the closed form of a plank on a flat keel side."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from exact_surfaces import Floor, hull_of, keeled
from hypothesis import given
from hypothesis import strategies as st

from futtock.errors import Misused
from futtock.framing.rabbet import HEADER, rabbet_lines
from futtock.framing.strakes import Strake


@given(st.floats(3.0, 70.0), st.floats(8.0, 90.0))
def test_lines_of_a_flat_floor_have_closed_forms(deadrise, thick):
    """Apex t sin b in and t cos b up; bearding line t / cos b up (elementary geometry)."""
    b = np.radians(deadrise)
    hull = hull_of(Floor(deadrise), v=(0.0, 1500.0), u=(0.0, 10000.0))
    got = rabbet_lines(hull, np.array([2000.0, 5000.0]), thick)
    assert np.abs(got.rabbet_up_mm - 500.0).max() < 1e-6
    assert np.abs(got.apex_out_mm - (100.0 - thick * np.sin(b))).max() < 1e-6
    assert np.abs(got.apex_up_mm - (500.0 + thick * np.cos(b))).max() < 1e-6
    assert np.abs(got.bearding_up_mm - (500.0 + thick / np.cos(b))).max() < 1e-6
    assert np.abs(got.bevel_deg - (90.0 - deadrise)).max() < 1e-6


def test_the_garboard_goes_before_the_other_planking():
    """A strake that starts at the rabbet gives the rabbet its depth."""
    hull = hull_of(Floor(30.0), v=(0.0, 1500.0), u=(0.0, 10000.0))
    got = rabbet_lines(hull, np.array([4000.0]), 30.0, [Strake(45.0, 0.0, 300.0)])
    assert got.bearding_up_mm[0] == pytest.approx(500.0 + 45.0 / np.cos(np.radians(30.0)))


def test_a_curved_hull_keeps_the_apex_one_plank_square_from_the_rabbet():
    """On any hull the apex is tau from the outside surface, so its section lies within tau."""
    got = rabbet_lines(keeled(), np.linspace(4500.0, 7500.0, 7), 32.0)
    away = np.hypot(got.apex_out_mm - got.half_siding_mm, got.apex_up_mm - got.rabbet_up_mm)
    assert (away >= 32.0 - 1e-9).all()
    assert (away < 33.5).all()
    assert len(got.rows()) == 7
    assert len(got.rows()[0]) == len(HEADER)


def test_no_rabbet_is_cut_for_nothing():
    """A thickness of nought, or a hull measured inside with no keel's side, is refused."""
    with pytest.raises(Misused, match="more than 0"):
        rabbet_lines(keeled(), np.array([5000.0]), 0.0)
    with pytest.raises(Misused, match="half-breadth"):
        rabbet_lines(replace(keeled(), inside=True, profiles={}), np.array([5000.0]), 32.0)


@given(st.floats(3.0, 70.0), st.floats(8.0, 90.0))
def test_a_hull_measured_inside_has_the_same_lines(deadrise, thick):
    """Measured inside, the bearding line is the surface's own; rabbet and apex lie outside it.

    Elementary geometry of a flat plank: the outside meets the keel's side t / cos b below.
    """
    b = np.radians(deadrise)
    side = {"rabbet breadth": lambda x: np.full_like(x, 100.0)}
    hull = hull_of(Floor(deadrise), v=(0.0, 1500.0), u=(0.0, 10000.0), **side)
    got = rabbet_lines(replace(hull, inside=True), np.array([2000.0, 5000.0]), thick)
    low = 500.0 - thick / np.cos(b)
    assert np.abs(got.bearding_up_mm - 500.0).max() < 1e-6
    assert np.abs(got.rabbet_up_mm - low).max() < 1e-6
    assert np.abs(got.apex_out_mm - (100.0 - thick * np.sin(b))).max() < 1e-6
    assert np.abs(got.apex_up_mm - (low + thick * np.cos(b))).max() < 1e-6
    assert np.abs(got.bevel_deg - (90.0 - deadrise)).max() < 1e-6
