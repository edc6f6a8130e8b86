"""How figures are shown, to the letter, and what a refusal says."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest

from futtock.errors import Misused, Unreadable
from futtock.measure import metric, read_angle, read_length, show_area, show_mass, show_volume


@pytest.mark.parametrize(
    ("mm", "places", "unit", "said"),
    [
        (1031.875, 1, "mm", "1031.9 mm"),
        (1031.875, 3, "m", "1.032 m"),
        (1031.875, 2, "cm", "103.19 cm"),
        (100, 0, "mm", "100 mm"),
        (100, 1, "mm", "100 mm"),
        (0.5, 1, "mm", "0.5 mm"),
        (5, 3, "m", "0.005 m"),
        (0, 1, "mm", "0 mm"),
        (-0.01, 1, "mm", "0 mm"),
        (-2.25, 2, "mm", "-2.25 mm"),
        (Fraction(1, 3), 2, "mm", "0.33 mm"),
    ],
)
def test_metric_to_the_letter(mm, places, unit, said):
    """Rounded, with no zeros after the last figure and none lost before the point."""
    assert metric(mm, places, unit) == said


def test_metric_shows_a_tenth_of_a_millimetre():
    """Where nothing is said of places there is one."""
    assert metric(1.26) == "1.3 mm"


@pytest.mark.parametrize(
    ("show", "value", "imperial", "other"),
    [
        # a square foot is 0.09290304 m2, a pound 0.45359237 kg, a board foot 144 cubic inches,
        # all exact (NIST SP 811, appendix B.8)
        (show_area, 0.09290304, "1 sq ft", "0.0929 m²"),
        (show_area, 9.290304, "100 sq ft", "9.29 m²"),
        (show_area, 123.4, "1328 sq ft", "123 m²"),
        (show_area, 100.4, "1081 sq ft", "100 m²"),
        (show_area, 99.94, "1076 sq ft", "99.9 m²"),
        (show_mass, 0.45359237, "1 lb", "0.454 kg"),
        (show_mass, 1234.0, "2721 lb", "1234 kg"),
        (show_volume, 0.002359737216, "1 board ft", "0.00236 m³"),
    ],
)
def test_bulk_to_the_letter(show, value, imperial, other):
    """Three figures, and whole numbers from a hundred on, in both systems."""
    assert show(value) == imperial
    assert show(value, "metric") == other


def test_a_style_that_is_none_is_named():
    """The refusal names what was asked and what there is."""
    with pytest.raises(Misused, match="'roman' is no way to show a figure; expected imperial"):
        show_mass(1.0, "roman")


def test_a_bad_angle_is_told_whole():
    """Message and finding say what was read and what was expected, both in the same words."""
    with pytest.raises(Unreadable) as caught:
        read_angle("twelve and a bit")
    (finding,) = caught.value.findings
    assert str(caught.value).startswith("'twelve and a bit': this is not an angle; expected ")
    assert finding.message == "'twelve and a bit': this is not an angle."
    assert finding.read == "twelve and a bit"
    assert finding.expected
    assert finding.expected in str(caught.value)


def test_only_the_head_of_a_long_cell_is_repeated():
    """A cell of hundreds of letters is cut to 32 in the message."""
    with pytest.raises(Unreadable, match=r"^'x{32}': this is not an angle"):
        read_angle("x" * 400)


@pytest.mark.parametrize(
    ("day", "made_of"),
    [
        # month, day, year; day, month, year; year, month, day: inches under 12, eighths under 8
        (date(2005, 3, 4), "3-4-5 or 4-3-5 or 5-3-4"),
        (date(2007, 3, 3), "3-3-7 or 7-3-3"),
        (date(2008, 3, 4), "8-3-4"),
        (date(2012, 11, 7), "12-11-7"),
        (date(2003, 12, 5), "12-5-3"),
        (date(2011, 7, 8), ""),
    ],
)
def test_what_a_date_may_have_been(day, made_of):
    """Only figures of feet, inches and eighths that can be are offered, each once."""
    with pytest.raises(Unreadable) as caught:
        read_length(day)
    (finding,) = caught.value.findings
    may = f"; a spreadsheet may have made it of {made_of}" if made_of else ""
    assert finding.message == f"'{day.isoformat()}': this is a date, not a length{may}."
    assert finding.read == day.isoformat()


@pytest.mark.parametrize("text", ["1,234", "1,2,3", "12,345,678 mm", ",5,5"])
def test_a_comma_that_could_be_either_is_refused(text):
    """A comma before three figures, and more than one comma, are not guessed at."""
    with pytest.raises(Unreadable) as caught:
        read_length(text)
    if text[0] != ",":
        assert "a comma that could part thousands or decimals" in caught.value.findings[0].message
