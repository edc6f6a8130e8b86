"""Showing a length in the trade's notations. Rounding happens here and nowhere else."""

from __future__ import annotations

from fractions import Fraction
from math import isfinite
from typing import Literal

from futtock.errors import Misused

Style = Literal["imperial", "metric"]
Number = int | float | Fraction

MISSING = "–"
"""What is shown where there is no figure (nan)."""

_MM_PER_INCH = Fraction(127, 5)


def feet_inches_eighths(mm: Number, sixteenths: bool = True) -> str:
    """``3-4-5``, with ``+`` for a sixteenth more, ``-`` before the whole where it is negative.

    Rounded to the nearest sixteenth, or with ``sixteenths`` false to the nearest eighth; halves go
    to the even one.

    >>> feet_inches_eighths(1031.875), feet_inches_eighths(-38.1), feet_inches_eighths(1827.2125)
    ('3-4-5', '-0-1-4', '5-11-7+')
    """
    if _missing(mm):
        return MISSING
    steps = _steps(mm, 16) if sixteenths else 2 * _steps(mm, 8)
    eighths, odd = divmod(abs(steps), 2)
    whole, eighth = divmod(eighths, 8)
    feet, inch = divmod(whole, 12)
    return f"{'-' if steps < 0 else ''}{feet}-{inch}-{eighth}{'+' if odd else ''}"


def feet_inches(mm: Number, nearest: int = 16) -> str:
    r"""``3' 4 5/8"``, rounded to one in ``nearest`` of an inch.

    >>> feet_inches(1031.875), feet_inches(914.4), feet_inches(-15.875)
    ('3\' 4 5/8"', '3\' 0"', '-0\' 0 5/8"')
    """
    if _missing(mm):
        return MISSING
    steps = _steps(mm, nearest)
    feet, rest = divmod(abs(steps), 12 * nearest)
    whole, part = divmod(rest, nearest)
    fraction = f" {Fraction(part, nearest)}" if part else ""
    return f"{'-' if steps < 0 else ''}{feet}' {whole}{fraction}\""


def inches(mm: Number, nearest: int = 16) -> str:
    """``40 5/8 in``, rounded to one in ``nearest`` of an inch.

    >>> inches(1031.875), inches(3.175), inches(0), inches(-31.75)
    ('40 5/8 in', '1/8 in', '0 in', '-1 1/4 in')
    """
    if _missing(mm):
        return MISSING
    steps = _steps(mm, nearest)
    whole, part = divmod(abs(steps), nearest)
    words = [str(whole)] if whole or not part else []
    if part:
        words.append(str(Fraction(part, nearest)))
    return f"{'-' if steps < 0 else ''}{' '.join(words)} in"


def metric(mm: Number, places: int = 1, unit: Literal["mm", "cm", "m"] = "mm") -> str:
    """``1032 mm`` or ``1.032 m``, rounded to ``places`` decimals; no zeros after the last figure.

    >>> metric(1031.875), metric(1032), metric(1031.875, 3, "m"), metric(-0.01)
    ('1031.9 mm', '1032 mm', '1.032 m', '0 mm')
    """
    if _missing(mm):
        return MISSING
    value = round(Fraction(mm) / {"mm": 1, "cm": 10, "m": 1000}[unit], places)
    text = f"{abs(value.numerator * 10**places // value.denominator):0{places + 1}d}"
    if places:
        text = f"{text[:-places]}.{text[-places:]}".rstrip("0").rstrip(".")
    return f"{'-' if value < 0 else ''}{text} {unit}"


def show(mm: Number, style: Style = "imperial", *, nearest: int = 16, places: int = 1) -> str:
    r"""A length as a person of the yard reads it, with its unit.

    Imperial: inches under two feet (``7 1/2 in``), feet and inches from there; metric:
    millimetres.

    >>> show(190.5), show(1031.875), show(1031.875, "metric")
    ('7 1/2 in', '3\' 4 5/8"', '1031.9 mm')
    """
    if style == "metric":
        return metric(mm, places)
    if style != "imperial":
        raise Misused(f"'{style}' is no way to show a length; expected imperial or metric.")
    if _missing(mm):
        return MISSING
    return (
        inches(mm, nearest) if abs(_steps(mm, nearest)) < 24 * nearest else feet_inches(mm, nearest)
    )


def close(mm: Number, style: Style = "imperial") -> str:
    """A length of which little matters: a bevel's departure, a gap, a standard error.

    Imperial: to the nearest 16th from half an inch, to the 32nd from an eighth, below that to the
    64th (nothing but a true nought is shown as none); metric: whole millimetres from 10, else
    tenths.

    >>> close(0.5), close(4.4), close(44.0), close(0.1), close(4.4, "metric"), close(44, "metric")
    ('1/64 in', '3/16 in', '1 3/4 in', 'under 1/64 in', '4.4 mm', '44 mm')
    """
    size = abs(float(mm))
    if style == "metric" or _missing(mm):
        return show(mm, style, places=0 if size >= 10 else 1)
    if 0 < abs(_steps(mm, 6400)) < 50:
        return "under 1/64 in"
    nearest = 16 if size >= 12.7 else 32 if size >= 3.175 else 64
    return show(mm, style, nearest=nearest)


def offset(mm: Number, style: Style = "imperial") -> str:
    """A height or half-breadth as a table of offsets has it: ``2-6-4``, or ``775 mm``."""
    return feet_inches_eighths(mm) if style == "imperial" else metric(mm)


def _missing(mm: Number) -> bool:
    return isinstance(mm, float) and not isfinite(mm)


def _steps(mm: Number, per_inch: int) -> int:
    """Nearest whole number of one ``per_inch``-th of an inch."""
    return round(Fraction(mm) * per_inch / _MM_PER_INCH)
