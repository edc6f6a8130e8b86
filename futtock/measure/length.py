"""Reading a length as the trade writes it, to an exact fraction of a millimetre.

Forms read, each with an optional leading minus: ``3-4-5`` (feet-inches-eighths; ``+`` after it a
sixteenth more, ``-`` a sixteenth less), ``3' 4 5/8"``, ``3 ft 4 5/8 in``, ``40 5/8 in``,
``1-1/4 in``, ``1/8 in``, ``1032 mm``, ``103.2 cm``, ``1.032 m``, or a bare number in a unit given
by the caller. The minus stands before the whole: ``-0-1-4+`` is one and nine sixteenths below.
"""

from __future__ import annotations

import re
from datetime import date, datetime
from fractions import Fraction
from typing import NoReturn

from futtock.errors import Misused, Unreadable
from futtock.findings import Kind
from futtock.measure import kinds

MM_PER: dict[str, Fraction] = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": Fraction(127, 5),
    "ft": Fraction(1524, 5),
}
"""Millimetres in each unit that a bare number may be declared in (1 in = 25.4 mm exactly)."""

_NAMES = {
    "mm": "mm", "millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "millimeters": "mm",
    "cm": "cm", "centimetre": "cm", "centimetres": "cm", "centimeter": "cm", "centimeters": "cm",
    "m": "m", "metre": "m", "metres": "m", "meter": "m", "meters": "m",
    "in": "in", "in.": "in", "ins": "in", "inch": "in", "inches": "in", '"': "in",
    "ft": "ft", "ft.": "ft", "foot": "ft", "feet": "ft", "'": "ft",
}  # fmt: skip

_LONGEST = 48
_EXPECTED = (
    "a length such as 3-4-5 (feet-inches-eighths), 3' 4 5/8\", 40 5/8 in, 1-1/4 in, 1032 mm "
    "or 1.032 m"
)

# Quotes, primes, dashes and blanks that word processors and typesetters put for the plain ones.
_PLAIN = str.maketrans(
    {
        **dict.fromkeys("\u2032\u2018\u2019\u02b9\u00b4`", "'"),
        **dict.fromkeys("\u2033\u201c\u201d\u02ba", '"'),
        **dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2212", "-"),
        **dict.fromkeys("\u00a0\u2007\u2009\u202f\u200a\t", " "),
        **dict.fromkeys("\u2044\u2215", "/"),
        **{
            mark: f" {n}/{d}"
            for mark, n, d in (
                ("\u00bd", 1, 2), ("\u2153", 1, 3), ("\u2154", 2, 3), ("\u00bc", 1, 4),
                ("\u00be", 3, 4), ("\u215b", 1, 8), ("\u215c", 3, 8), ("\u215d", 5, 8),
                ("\u215e", 7, 8),
            )
        },
    }
)  # fmt: skip
_RAISED = re.compile("([⁰¹²³⁴-⁹]+)\u2044([₀-₉]+)")
_RAISED_DIGITS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹₀₁₂₃₄₅₆₇₈₉", "01234567890123456789")

_NUMBER = r"[0-9]+(?:\.[0-9]*)?|\.[0-9]+"
_MIXED = rf"(?:(?P<whole>[0-9]+)(?:\s*-\s*|\s+))?(?P<num>[0-9]+)\s*/\s*(?P<den>[0-9]+)|{_NUMBER}"
_EIGHTHS = re.compile(r"([0-9]+)\s*-\s*([0-9]+)\s*-\s*([0-9]+)\s*([+-]?)")
_FEET = re.compile(
    rf"(?P<feet>{_NUMBER})\s*(?:'(?!')|ft\.?|foot|feet)\s*-?\s*(?P<rest>.*)", re.IGNORECASE
)
_ONE = re.compile(rf"(?P<figure>{_MIXED})\s*(?P<unit>[A-Za-z]+\.?|'|\"|)", re.IGNORECASE)
_COMMA = re.compile(r"[0-9]+,([0-9]+)(?![0-9,.])")

_MONTH = "jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec"
_DATES = (
    re.compile(r"(?P<y>[0-9]{4})[-/.](?P<m>[0-9]{1,2})[-/.](?P<d>[0-9]{1,2})(?:[T ][0-9:.]+Z?)?"),
    re.compile(r"[0-9]{1,2}([-/.])[0-9]{1,2}\1[0-9]{4}(?: [0-9:.]+)?"),
    re.compile(r"[0-9]{1,2}/[0-9]{1,2}/[0-9]{2}"),
    re.compile(r"[0-9]{1,2}\.[0-9]{1,2}\.[0-9]{2}"),
    re.compile(r"[0-9]{1,2}-[0-9]{1,2}-[0-9]{2}"),
    re.compile(
        rf"(?:[0-9]{{1,4}}[-/. ])?(?:{_MONTH})[a-z]*[-/. ,]+[0-9]{{1,4}}(?:, *[0-9]{{4}})?", re.I
    ),
    re.compile(rf"[0-9]{{1,2}}[-/. ]*(?:{_MONTH})[a-z]*(?:[-/. ,]+[0-9]{{2,4}})?", re.I),
)


def unit_name(unit: str) -> str:
    """The unit's short name (``mm``, ``cm``, ``m``, ``in``, ``ft``); Misused if there is none."""
    name = _NAMES.get(unit.strip().lower())
    if name is None:
        raise Misused(f"'{unit}' is not a unit of length; expected one of {', '.join(MM_PER)}.")
    return name


def is_bare(text: object) -> bool:
    """Whether this is a number alone, whose unit has to be stated elsewhere."""
    if isinstance(text, bool):
        return False
    if isinstance(text, (int, float, Fraction)):
        return True
    return re.fullmatch(rf"[-+]?\s*(?:{_NUMBER})", str(text).translate(_PLAIN).strip()) is not None


def read_length(text: object, unit: str = "mm") -> Fraction:
    r"""One length, exactly.

    Parameters
    ----------
    text
        What is written: text in one of the forms of this module, or a number or a date as a
        spreadsheet's cell holds it (a float counts as the shortest decimal that means it).
    unit
        Unit of a bare number.

    Returns
    -------
    Fraction
        Millimetres.

    Raises
    ------
    Unreadable
        With one finding (``M001`` to ``M005``) saying what was read and what was expected.
    Misused
        Where ``unit`` is none.

    Examples
    --------
    >>> read_length("3-4-5") == read_length("3' 4 5/8\"") == read_length("40 5/8 in")
    True
    >>> float(read_length("5-11-7+") / MM_PER["in"])
    71.9375
    >>> read_length("1.032 m"), read_length(12.5, "cm")
    (Fraction(1032, 1), Fraction(125, 1))
    """
    scale = MM_PER[unit if unit in MM_PER else unit_name(unit)]
    if isinstance(text, (date, datetime)):
        day = text.date() if isinstance(text, datetime) else text
        _fail_date(day.isoformat(), day)
    if isinstance(text, Fraction):
        return text * scale
    if isinstance(text, (int, float)) and not isinstance(text, bool):
        if text != text or text in (float("inf"), float("-inf")):
            _fail(kinds.NOT_A_LENGTH, str(text), "this is not a number")
        return Fraction(str(text)) * scale
    written = str(text)
    if len(written) > _LONGEST:
        _fail(kinds.NOT_A_LENGTH, written[:_LONGEST] + "...", "this is too long to be one length")
    plain = _plain(written)
    negative = plain.startswith("-")
    body = plain[1:].lstrip() if plain[:1] in ("-", "+") else plain
    return (-1 if negative else 1) * _magnitude(body, written, scale)


def _plain(written: str) -> str:
    """The same text with plain quotes, dashes, blanks and fractions."""
    if written.isascii():
        return written.strip().replace("''", '"')
    written = _RAISED.sub(
        lambda m: f" {m[1].translate(_RAISED_DIGITS)}/{m[2].translate(_RAISED_DIGITS)}", written
    )
    return written.translate(_PLAIN).strip().replace("''", '"')


def _magnitude(body: str, written: str, scale: Fraction) -> Fraction:
    if (found := _EIGHTHS.fullmatch(body)) and len(found[1]) < 4 and len(found[3]) < 2:
        return _eighths(found, written)
    for pattern in _DATES:
        if dated := pattern.fullmatch(body):
            parts = dated.groupdict()
            _fail_date(written, _day(parts) if parts else None)
    if "," in body:
        body = _decimal_comma(body, written)
    if found := _FEET.fullmatch(body):
        return _feet(found, written)
    if not (found := _ONE.fullmatch(body)):
        _fail(kinds.NOT_A_LENGTH, written, _why_not(body))
    name = found["unit"].lower()
    if name:
        if name not in _NAMES:
            _fail(kinds.UNKNOWN_UNIT, written, f"'{found['unit']}' is not a unit of length")
        scale = MM_PER[_NAMES[name]]
    elif found["num"] and scale not in (MM_PER["in"], MM_PER["ft"]):
        _fail(kinds.NO_UNIT, written, "a fraction needs its unit")
    return _figure(found, written) * scale


def _eighths(found: re.Match[str], written: str) -> Fraction:
    feet, whole, eighths = int(found[1]), int(found[2]), int(found[3])
    if whole > 11:
        _fail(kinds.PLACE_TOO_LARGE, written, f"inches run from 0 to 11, here {whole}")
    if eighths > 7:
        _fail(kinds.PLACE_TOO_LARGE, written, f"eighths run from 0 to 7, here {eighths}")
    sixteenths = 2 * eighths + {"": 0, "+": 1, "-": -1}[found[4]]
    return (12 * feet + whole + Fraction(sixteenths, 16)) * MM_PER["in"]


def _feet(found: re.Match[str], written: str) -> Fraction:
    feet, rest = Fraction(found["feet"]), found["rest"].strip()
    if not rest:
        return feet * MM_PER["ft"]
    part = _ONE.fullmatch(rest)
    if part is None or _NAMES.get(part["unit"].lower() or "in") != "in" or feet.denominator != 1:
        _fail(kinds.NOT_A_LENGTH, written, f"after the feet, inches are expected, not '{rest}'")
    over = _figure(part, written)
    if over >= 12:
        _fail(kinds.PLACE_TOO_LARGE, written, f"inches beside feet run to 11, here {rest}")
    return feet * MM_PER["ft"] + over * MM_PER["in"]


def _figure(found: re.Match[str], written: str) -> Fraction:
    """The number of a match of ``_ONE``: whole and fraction, or decimal."""
    if not found["num"]:
        return Fraction(found["figure"])
    if int(found["den"]) == 0:
        _fail(kinds.NOT_A_LENGTH, written, "a fraction over nought")
    part = Fraction(int(found["num"]), int(found["den"]))
    if found["whole"]:
        if part >= 1:
            _fail(kinds.PLACE_TOO_LARGE, written, "the fraction beside a whole number exceeds one")
        part += int(found["whole"])
    return part


def _decimal_comma(body: str, written: str) -> str:
    found = _COMMA.match(body)
    if not found or body.count(",") > 1 or len(found[1]) == 3:
        _fail(
            kinds.NOT_A_LENGTH,
            written,
            "a comma that could part thousands or decimals; write a point for decimals, and "
            "nothing between thousands",
        )
    return body.replace(",", ".")


def _why_not(body: str) -> str:
    if not body:
        return "there is nothing here"
    if re.fullmatch(r"[0-9]+-[0-9]+[+-]?", body):
        return "two places where feet-inches-eighths has three (write 0 for an empty place)"
    if re.fullmatch(r"[0-9]+(-[0-9]+){3,}[+-]?", body):
        return "more places than the three of feet-inches-eighths"
    if not re.search("[0-9]", body):
        return "there is no figure here"
    return "this is not a length"


def _day(parts: dict[str, str]) -> date | None:
    try:
        return date(int(parts["y"]), int(parts["m"]), int(parts["d"]))
    except ValueError:
        return None


def _fail_date(read: str, day: date | None) -> NoReturn:
    said = "this is a date, not a length"
    if day is not None:
        # Month first, day first and year first are all in use; so the figure cannot be got back.
        year = day.year % 100
        likely = [
            f"{a}-{b}-{c}"
            for a, b, c in (
                (day.month, day.day, year),
                (day.day, day.month, year),
                (year, day.month, day.day),
            )
            if b < 12 and c < 8
        ]
        if likely:
            said += "; a spreadsheet may have made it of " + " or ".join(dict.fromkeys(likely))
    _fail(kinds.DATE, read, said)


def _fail(kind: Kind, read: str, said: str) -> NoReturn:
    message = f"'{read}': {said}; expected {_EXPECTED}."
    finding = kind.found(f"'{read}': {said}.", read=read, expected=_EXPECTED)
    raise Unreadable(message, [finding])
