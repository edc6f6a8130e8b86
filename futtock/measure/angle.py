"""Angles in degrees, to the quarter degree that a saw's head can be set to."""

from __future__ import annotations

import re
from fractions import Fraction
from math import isfinite

from futtock.errors import Unreadable
from futtock.measure import kinds
from futtock.measure.length import _plain
from futtock.measure.shown import MISSING, Number

QUARTER = Fraction(1, 4)

_EXPECTED = "degrees, such as 12.5, 12 1/4 or 12° 15'"
_ANGLE = re.compile(
    r"(?P<sign>[-+]?)\s*(?:(?P<whole>[0-9]{1,3})(?:\s*-\s*|\s+)(?P<num>[0-9]{1,3})\s*/\s*"
    r"(?P<den>[0-9]{1,3})|(?P<n>[0-9]{1,3})\s*/\s*(?P<d>[0-9]{1,3})"
    r"|(?P<decimal>[0-9]{1,3}(?:\.[0-9]{0,12})?|\.[0-9]{1,12}))\s*(?P<unit>°|deg\.?|degrees?)?"
    r"(?:\s*(?P<minutes>[0-9]{1,2})\s*')?",
    re.IGNORECASE,
)


def read_angle(text: object) -> Fraction:
    """One angle in degrees, exactly.

    Parameters
    ----------
    text
        ``12``, ``12.5``, ``12 1/4``, ``12-1/4``, ``12°``, ``12° 15'``, ``12 deg``, with an
        optional minus; or a number.

    Raises
    ------
    Unreadable
        With a finding ``M006``.

    >>> read_angle("12 1/4"), read_angle("-3° 30'"), read_angle(7.5)
    (Fraction(49, 4), Fraction(-7, 2), Fraction(15, 2))
    """
    if isinstance(text, (int, float)) and not isinstance(text, bool) and isfinite(text):
        return Fraction(str(text))
    written = str(text)
    found = _ANGLE.fullmatch(_plain(written)) if len(written) <= 32 else None
    if found is None or (
        found["minutes"] and (found["unit"] is None or int(found["minutes"]) > 59)
    ):
        raise _not_an_angle(written)
    num, den = found["num"] or found["n"], found["den"] or found["d"]
    if den is not None and (int(den) == 0 or (found["whole"] and int(num) >= int(den))):
        raise _not_an_angle(written)
    value = Fraction(found["whole"] or found["decimal"] or 0)
    if den is not None:
        value += Fraction(int(num), int(den))
    if found["minutes"]:
        value += Fraction(int(found["minutes"]), 60)
    return -value if found["sign"] == "-" else value


def nearest_angle(deg: Number, step: Fraction = QUARTER) -> Fraction:
    """The nearest multiple of ``step`` degrees; halves go to the even one.

    >>> nearest_angle(12.3), nearest_angle(-0.1)
    (Fraction(49, 4), Fraction(0, 1))
    """
    return round(Fraction(deg) / step) * step


def show_angle(deg: Number, step: Fraction = QUARTER) -> str:
    """``12 1/4°``, rounded to ``step`` degrees.

    >>> show_angle(12.3), show_angle(-0.5), show_angle(0.1), show_angle(3.2, Fraction(1, 2))
    ('12 1/4°', '-1/2°', '0°', '3°')
    """
    if isinstance(deg, float) and not isfinite(deg):
        return MISSING
    value = nearest_angle(deg, step)
    whole, part = divmod(abs(value), 1)
    words = [str(whole)] if whole or not part else []
    if part:
        words.append(str(part))
    return f"{'-' if value < 0 else ''}{' '.join(words)}°"


def _not_an_angle(written: str) -> Unreadable:
    said = f"'{written[:32]}': this is not an angle"
    finding = kinds.NOT_AN_ANGLE.found(f"{said}.", read=written, expected=_EXPECTED)
    return Unreadable(f"{said}; expected {_EXPECTED}.", [finding])
