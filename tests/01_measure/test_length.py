"""Lengths are read exactly from every notation, and what is no length is said to be none."""

from __future__ import annotations

import tomllib
from datetime import UTC, date, datetime
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from futtock.errors import Misused, Unreadable
from futtock.measure import (
    MM_PER,
    feet_inches,
    feet_inches_eighths,
    inches,
    is_bare,
    metric,
    read_length,
    show,
)

REFERENCE = Path(__file__).parents[1] / "data" / "reference" / "offset_notation.toml"
INCH = Fraction(127, 5)
"""The international inch, 25.4 mm (1959 agreement)."""

CASES = tomllib.loads(REFERENCE.read_text("utf-8"))["case"]


@pytest.mark.parametrize("case", CASES, ids=[c["text"] for c in CASES])
def test_printed_cases(case):
    """Each case of the reference file (HABS/HAER guidelines and others) is read to its inches."""
    assert read_length(case["text"]) == Fraction(str(case["inches"])) * INCH


@pytest.mark.parametrize(
    ("text", "sixteenths"),
    [
        ("3-4-5", 650),
        ("3-4-5+", 651),
        ("3-4-5-", 649),
        ("3 - 4 - 5 +", 651),
        ("-0-1-4", -24),
        ("-3-4-5-", -649),
        ("3' 4 5/8\"", 650),
        ("3'-4 5/8\"", 650),
        ("3' 4-5/8 in", 650),
        ("3'4\"", 640),
        ("3' 4''", 640),
        ("3 ft 4 5/8 in", 650),
        ("3 feet 4.625 inches", 650),
        ("3' 5/8\"", 586),
        ("3'", 576),
        ("3.5 ft", 672),
        ("\u2212 3\u2032 4\u215d\u2033", -650),
        ("3\u2019 4 \u2075\u2044\u2088\u201d", 650),
        ("40 5/8 in", 650),
        ('40 5/8"', 650),
        ("40.625 in", 650),
        ("40\u215d in", 650),
        ("1-1/4 in", 20),
        ("-1-1/4 in", -20),
        ("1/8 in", 2),
        ("1/16 in.", 1),
        ("9/8 in", 18),
    ],
)
def test_imperial_forms(text, sixteenths):
    """Every imperial form gives its exact number of sixteenths of an inch."""
    assert read_length(text) == sixteenths * INCH / 16


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("1032 mm", "1032"),
        ("1032mm", "1032"),
        ("1.032 m", "1032"),
        ("103.2 cm", "1032"),
        ("103,2 cm", "1032"),
        ("-0.5 mm", "-0.5"),
        (".5 m", "500"),
        ("12 Millimetres", "12"),
    ],
)
def test_metric_forms(text, mm):
    """Every metric form gives its exact millimetres, a decimal comma included."""
    assert read_length(text, "in") == Fraction(mm)


@pytest.mark.parametrize("unit", list(MM_PER))
def test_bare_number_takes_the_declared_unit(unit):
    """A number alone is in the unit that the caller declares, as text or as a number."""
    assert (
        read_length("-12.5", unit) == read_length(-12.5, unit) == Fraction("-12.5") * MM_PER[unit]
    )
    assert read_length(0.1, unit) == MM_PER[unit] / 10


def test_fraction_takes_the_declared_unit_only_where_it_is_imperial():
    """1-1/4 means inches where bare numbers are inches; among millimetres it needs its unit."""
    assert read_length("1-1/4", "in") == 5 * INCH / 4
    with pytest.raises(Unreadable, match="a fraction needs its unit"):
        read_length("1-1/4", "mm")


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        ("3-12-0", "M003", "inches run from 0 to 11, here 12"),
        ("3-4-8", "M003", "eighths run from 0 to 7, here 8"),
        ("3' 14\"", "M003", "inches beside feet run to 11"),
        ("4 9/8 in", "M003", "exceeds one"),
        ("0-102", "M001", "two places"),
        ("1-2-3-4", "M001", "more places"),
        ("1/0 in", "M001", "over nought"),
        ("1,032 mm", "M001", "thousands or decimals"),
        ("about six", "M001", "no figure"),
        ("", "M001", "nothing here"),
        ("nan", "M001", "no figure"),
        ("\u0663-\u0664-\u0665", "M001", "no figure"),
        ("3.5' 4\"", "M001", "after the feet"),
        ("3-4-5 ft", "M001", "not a length"),
        ("9" * 60, "M001", "too long"),
        ("1e3", "M001", "not a length"),
        (True, "M001", "no figure"),
        (float("nan"), "M001", "not a number"),
        (float("inf"), "M001", "not a number"),
        ("3/4", "M004", "needs its unit"),
        ("10 fathoms", "M005", "'fathoms' is not a unit"),
    ],
)
def test_what_is_no_length(text, code, words):
    """What is no length is Unreadable, with one finding that says what was read and expected."""
    with pytest.raises(Unreadable) as caught:
        read_length(text)
    (finding,) = caught.value.findings
    assert finding.code == code
    assert words in finding.message
    assert finding.expected
    assert "3-4-5" in finding.expected
    assert finding.remedy
    assert finding.read is not None
    assert "expected" in str(caught.value)


@pytest.mark.parametrize(
    "text",
    [
        "3/4/2005",
        "03/04/05",
        "3.4.2005",
        "2005-04-03",
        "2005-04-03 00:00:00",
        "2005-04-03T00:00:00",
        "2005/4/3",
        "3-4-2005",
        "3-4-05",
        "3-Apr-05",
        "3-Apr",
        "Apr-05",
        "5 March 2005",
        "March 4, 2005",
        date(2005, 4, 3),
        datetime(2005, 4, 3, tzinfo=UTC),
    ],
)
def test_dates_are_said_to_be_dates(text):
    """What a spreadsheet makes of 3-4-5 is said to be a date, never read as a length."""
    with pytest.raises(Unreadable, match="this is a date") as caught:
        read_length(text)
    assert caught.value.findings[0].code == "M002"


def test_date_names_what_it_may_have_been():
    """A whole date names the figures it can have been made of, in every order of day and month."""
    with pytest.raises(Unreadable) as caught:
        read_length(datetime(2005, 3, 4, tzinfo=UTC))
    message = caught.value.findings[0].message
    assert "3-4-5" in message
    assert "4-3-5" in message
    assert "5-3-4" in message


def test_unknown_unit_is_misuse():
    """A unit that is none is the caller's mistake, not the table's."""
    with pytest.raises(Misused, match="fathom"):
        read_length("3", "fathom")


@pytest.mark.parametrize(
    ("text", "bare"),
    [
        ("12", True),
        ("-1.5", True),
        (3.0, True),
        (True, False),
        ("3-4-5", False),
        ("12 mm", False),
        ("", False),
    ],
)
def test_is_bare(text, bare):
    """Only a number alone is bare."""
    assert is_bare(text) is bare


sixteenths = st.integers(-16 * 12 * 999, 16 * 12 * 999)


@given(sixteenths)
def test_imperial_round_trip(n):
    """Any whole number of sixteenths comes back exactly from each imperial notation."""
    mm = n * INCH / 16
    assert read_length(feet_inches_eighths(mm)) == mm
    assert read_length(feet_inches(mm)) == mm
    assert read_length(inches(mm)) == mm
    assert read_length(show(mm)) == mm


@given(st.integers(-(10**7), 10**7), st.integers(0, 4))
def test_metric_round_trip(n, places):
    """Any decimal comes back exactly from millimetres, and from metres with three places more."""
    mm = Fraction(n, 10**places)
    assert read_length(metric(mm, places)) == mm
    assert read_length(metric(mm, places + 3, "m")) == mm


@given(st.floats(-1e5, 1e5))
def test_rounding_is_within_half_a_step(mm):
    """A shown length is never further from the true one than half of its last place."""
    exact = Fraction(mm)
    assert abs(read_length(feet_inches_eighths(mm)) - exact) <= INCH / 32
    assert abs(read_length(feet_inches_eighths(mm, sixteenths=False)) - exact) <= INCH / 16
    assert abs(read_length(inches(mm, 32)) - exact) <= INCH / 64
    assert abs(read_length(show(mm, "metric")) - exact) <= Fraction(1, 20)


def _read_or_refusal(text):
    try:
        return read_length(text)
    except Unreadable as refused:
        return refused


@given(st.text(max_size=30) | st.floats() | st.integers() | st.none() | st.dates())
def test_anything_is_read_or_refused_in_words(text):
    """Nothing that a cell can hold makes the reader fail in any other way than Unreadable."""
    got = _read_or_refusal(text)
    assert isinstance(got, Fraction) or len(got.findings) == 1


NEARLY = r"[-+]?[0-9]{1,4}[-/. '][0-9]{1,3}[-/. ']?[0-9]{0,4}[-+\" a-z]{0,4}"


@given(st.from_regex(NEARLY, fullmatch=True))
def test_near_misses_are_read_or_refused_in_words(text):
    """Text that is nearly a length is read or refused, and never fails otherwise."""
    got = _read_or_refusal(text)
    assert isinstance(got, Fraction) or got.findings[0].read == text


def test_show_styles():
    """Under two feet inches, then feet and inches; metric in millimetres; a dash for none."""
    assert show(23 * 25.4) == "23 in"
    assert show(24 * 25.4) == "2' 0\""
    assert show(609.4, "metric") == "609.4 mm"
    assert show(float("nan")) == show(float("nan"), "metric") == "–"
    assert feet_inches_eighths(float("nan")) == inches(float("nan")) == "–"
    with pytest.raises(Misused, match="cubits"):
        show(1.0, "cubits")
