"""Angles to the quarter degree; volumes, areas and masses in both measures."""

from __future__ import annotations

import contextlib
import subprocess
import sys
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from futtock.errors import Misused, Unreadable
from futtock.measure import (
    board_feet,
    cubic_metres,
    nearest_angle,
    read_angle,
    show_angle,
    show_area,
    show_mass,
    show_volume,
)


@pytest.mark.parametrize(
    ("text", "deg"),
    [
        ("12", "12"),
        ("-12.5", "-12.5"),
        ("12 1/4", "12.25"),
        ("12-1/4", "12.25"),
        ("1/2°", "0.5"),
        ("12°", "12"),
        ("12° 15'", "12.25"),
        ("-0° 30′", "-0.5"),
        ("7½ deg", "7.5"),
        (7.5, "7.5"),
    ],
)
def test_forms(text, deg):
    """Each form of an angle is read exactly."""
    assert read_angle(text) == Fraction(deg)


@pytest.mark.parametrize(
    "text", ["", "steep", "12 5/4", "1/0", "12° 75'", "12 15'", True, float("nan")]
)
def test_what_is_no_angle(text):
    """What is no angle is Unreadable, with a finding that says what was expected."""
    with pytest.raises(Unreadable, match="expected degrees") as caught:
        read_angle(text)
    assert caught.value.findings[0].code == "M006"


@given(st.integers(-720, 720))
def test_quarter_degrees_round_trip(n):
    """Any whole number of quarter degrees is shown and read back exactly."""
    assert read_angle(show_angle(Fraction(n, 4))) == Fraction(n, 4)


@given(st.floats(-90, 90), st.sampled_from([Fraction(1, 4), Fraction(1, 2)]))
def test_nearest(deg, step):
    """The nearest angle is a multiple of the step and no further than half of it."""
    near = nearest_angle(deg, step)
    assert near % step == 0
    assert abs(near - Fraction(deg)) <= step / 2


@given(st.text(max_size=40))
def test_any_text_is_read_or_refused(text):
    """No text makes the reader fail in any other way than Unreadable."""
    with contextlib.suppress(Unreadable):
        read_angle(text)


def test_board_foot():
    """A board foot is 144 cubic inches: a board 12 in x 12 in x 1 in; 423.776 of them fill 1 m³."""
    assert board_feet(0.3048 * 0.3048 * 0.0254) == pytest.approx(1.0, rel=1e-15)
    assert board_feet(1.0) == pytest.approx(1 / (144 * 25.4**3 * 1e-9), rel=1e-14)
    assert cubic_metres(board_feet(0.7)) == pytest.approx(0.7, rel=1e-15)


def test_shown_with_units():
    """Each figure carries its unit, in either style, and nothing stands where there is none."""
    assert show_volume(0.123) == "52.1 board ft"
    assert show_volume(0.123, "metric") == "0.123 m³"
    assert show_area(1.0) == "10.8 sq ft"
    assert show_mass(1000.0) == "2205 lb"
    assert show_mass(0.0, "metric") == "0 kg"
    assert show_mass(float("nan")) == "–"
    with pytest.raises(Misused):
        show_mass(1.0, "stone")


def test_import_is_light():
    """Importing the room brings in neither numpy nor pydantic."""
    code = (
        "import sys, futtock.measure; print([m for m in ('numpy', 'pydantic') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
