"""What slip of the pen would explain a doubtful figure.

Each slip proposes what the cell ought to read; it explains the figure if that value agrees with
what the neighbours say within their own uncertainty. Where two slips explain it nothing is named:
a wrong mend is worse than none. The slips are those of copying a table by hand (common practice,
no source): an inch or a foot too much or too little, inches and eighths exchanged, digits
exchanged, a digit lost, eighths run into the inches, a figure read from the neighbouring row.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from futtock.lines.figures import Figure
from futtock.measure import feet_inches_eighths, metric
from futtock.vessel.table import OffsetTable

INCH = 25.4
FOOT = 304.8
_EIGHTHS = re.compile(r"^\s*(-?)(\d+)-(\d+)-(\d+)([+-]?)\s*$")
_METRIC = re.compile(r"^\s*(-?)(\d+(?:\.\d+)?)\s*(mm)?\s*$")


@dataclass(frozen=True, slots=True)
class Slip:
    """A slip that explains a figure.

    Attributes
    ----------
    words
        The slip and what the neighbours give, for a person.
    value_mm
        What the cell should read; None where the slip does not say (a neighbour's figure copied).
    """

    words: str
    value_mm: float | None


def likely_slip(
    table: OffsetTable, figure: Figure, expected_mm: float, spread_mm: float, sigma: float
) -> Slip | None:
    """The one slip that explains a doubtful figure, or None.

    Parameters
    ----------
    table
        The whole table: neighbouring rows are looked at.
    figure
        The doubtful figure.
    expected_mm, spread_mm
        What the others say it should be, and the standard error of that.
    sigma
        Standard error of one figure.
    """
    near = min(2.5 * float(np.hypot(spread_mm, sigma)), 0.35 * INCH)
    given = figure.given_mm
    proposals: dict[float, tuple[float, str, bool]] = {}
    for value, words in _proposals(figure.text, given):
        key = round(value, 3)
        if abs(value - given) > 0.3 and (figure.coordinate == "z" or value > -0.5):
            proposals.setdefault(key, (value, words, "written for" in words))
    ranked = sorted((abs(v - expected_mm), v, w, rare) for v, w, rare in proposals.values())
    fits = [r for r in ranked if r[0] <= near]
    if any(not r[3] and r[0] <= near / 2 for r in fits):
        fits = [
            r for r in fits if not r[3]
        ]  # a misread digit is not thought of where a slip serves
    clear = len(fits) == 1 or (len(fits) > 1 and fits[1][0] > 3 * fits[0][0] + 2 * sigma)
    if fits and spread_mm > 0.25 * INCH and abs(fits[0][1] - given) < 0.9 * FOOT:
        return None  # the neighbours know too little to tell one slip from another
    if fits and clear:
        _, value, words, _ = fits[0]
        return Slip(f"{words}: the neighbours give {_written(figure.text, value)}", value)
    if fits:
        return None
    copied = _copied(table, figure, expected_mm, sigma)
    if copied is not None:
        return Slip(
            f"{copied}: the neighbours give about {_written(figure.text, expected_mm)}", None
        )
    return None


def _written(text: str, mm: float) -> str:
    return feet_inches_eighths(mm) if _is_imperial(text) else metric(mm, 0)


def _is_imperial(text: str) -> bool:
    return bool(_EIGHTHS.match(text)) or any(c in text for c in "'\"") or " in" in text


def _proposals(text: str, given: float) -> Iterator[tuple[float, str]]:
    found = _EIGHTHS.match(text)
    if found:
        yield from _in_eighths(found)
    else:
        for step, name in ((INCH, "an inch"), (FOOT, "a foot")):
            yield given - step, f"{name} too much"
            yield given + step, f"{name} too little"
        plain = _METRIC.match(text)
        if plain:
            yield from _in_digits(plain.group(2), given)


def _in_eighths(found: re.Match[str]) -> Iterator[tuple[float, str]]:
    sign = -1 if found.group(1) else 1
    feet, inches, eighths = (int(found.group(k)) for k in (2, 3, 4))
    rest = {"": 0.0, "+": 0.5, "-": -0.5}[found.group(5)]

    def mm(f: float, i: float, e: float) -> float:
        return sign * (f * FOOT + i * INCH + (e + rest) * INCH / 8)

    for step, name in ((1, "an inch"), (2, "two inches")):
        yield mm(feet, inches - step, eighths), f"{name} too much"
        yield mm(feet, inches + step, eighths), f"{name} too little"
    yield mm(feet - 1, inches, eighths), "a foot too much"
    yield mm(feet + 1, inches, eighths), "a foot too little"
    if eighths < 12 and inches < 8:
        yield mm(feet, eighths, inches), "inches and eighths exchanged"
    if feet < 12:
        yield mm(inches, feet, eighths), "feet and inches exchanged"
    if inches == 0 and eighths:
        yield mm(feet, eighths, 0), "inches written among the eighths"
        yield mm(feet, eighths, eighths), "the inches lost"
    if eighths == 0 and inches < 8:
        yield mm(feet, 0, inches), "eighths written among the inches"
    if inches in (10, 11) and eighths == 0:
        yield mm(feet, inches // 10, inches % 10), "eighths run into the inches"
    if inches == 1 and eighths < 2:
        yield mm(feet, 10 + eighths, 0), "inches split into inches and eighths"
    if inches > 9:
        yield mm(feet, inches % 10, eighths), "a digit too many in the inches"
    elif inches < 2:
        yield mm(feet, 10 + inches, eighths), "a digit lost from the inches"
    for e in {6: (0,), 0: (6,), 1: (7,), 7: (1,), 3: (5,), 5: (3,)}.get(eighths, ()):
        yield mm(feet, inches, e), f"{eighths} written for {e} in the eighths"
    for i in {6: (0,), 1: (7,), 7: (1,), 3: (8, 5), 5: (3,), 8: (3,)}.get(inches, ()):
        yield mm(feet, i, eighths), f"{inches} written for {i} in the inches"


def _in_digits(digits: str, given: float) -> Iterator[tuple[float, str]]:
    sign = -1.0 if given < 0 else 1.0
    scale = abs(given) / float(digits) if float(digits) else 1.0
    places = list(digits)
    for k in range(len(places) - 1):
        if places[k] != places[k + 1] and "." not in places[k : k + 2]:
            turned = places.copy()
            turned[k], turned[k + 1] = turned[k + 1], turned[k]
            value = float("".join(turned))
            yield sign * scale * value, "two digits exchanged"
    for step in (100.0, 1000.0):
        yield given - step, f"{step:.0f} mm too much"
        yield given + step, f"{step:.0f} mm too little"


def _copied(table: OffsetTable, figure: Figure, expected_mm: float, sigma: float) -> str | None:
    """Whether the figure is that of the row above or below, or of the next station."""
    if figure.row < 0:
        return None
    row = table.rows[figure.row]
    for step, where in ((-1, "above"), (1, "below")):
        k = figure.row + step
        if 0 <= k < len(table.rows) and table.rows[k].line == row.line:
            other = float(table.rows[k].values_mm[figure.column])
            if abs(other - figure.given_mm) < 0.1 and abs(other - expected_mm) > 4 * sigma:
                return f"the figure of the row {where} ({table.rows[k].at})"
    for step, where in ((-1, "before"), (1, "after")):
        k = figure.column + step
        if 0 <= k < len(row.values_mm):
            other = float(row.values_mm[k])
            if abs(other - figure.given_mm) < 0.1 and abs(other - expected_mm) > 4 * sigma:
                return f"the figure of the station {where} ({table.stations[k]})"
    return None
