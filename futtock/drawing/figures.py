"""Figures as they are lettered on drawings: whole fractions, degrees to the quarter, units."""

from __future__ import annotations

import re
from typing import Literal

from futtock.measure import Style, feet_inches_eighths, metric, show, show_angle, show_mass

_FRACTIONS = {
    "1/2": "½", "1/4": "¼", "3/4": "¾", "1/8": "⅛", "3/8": "⅜", "5/8": "⅝", "7/8": "⅞",
}  # fmt: skip
_RAISED = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")
_LOWERED = str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉")
_FRACTION = re.compile(r"(?P<gap> ?)(?P<n>\d+)/(?P<d>\d+)")


def lettered(text: str) -> str:
    """Fractions written as one sign each: ``4 5/8`` as ``4⅝``, ``5/16`` as ``⁵⁄₁₆``.

    >>> lettered("3' 4 5/8 in"), lettered("12 1/4°")
    ("3' 4⅝ in", '12¼°')
    """

    def sign(found: re.Match[str]) -> str:
        n, d = found["n"], found["d"]
        one = _FRACTIONS.get(f"{n}/{d}") or f"{n.translate(_RAISED)}⁄{d.translate(_LOWERED)}"
        before = text[: found.start()]
        # a blank goes only where a whole number stands before it
        return one if found["gap"] and before[-1:].isdigit() else found["gap"] + one

    return _FRACTION.sub(sign, text)


def degrees(deg: float) -> str:
    """An angle to the quarter degree, without sign: ``7¼°``."""
    return lettered(show_angle(abs(float(deg))))


def length(mm: float, style: Style) -> str:
    """A length with its unit: ``7½ in``, ``3' 4⅝"``, ``1032 mm``."""
    return lettered(show(float(mm), style, places=0))


def close_length(mm: float, style: Style) -> str:
    """A length to a sixteenth of an inch or a tenth of a millimetre, with its unit."""
    return lettered(show(float(mm), style, places=1))


def offset(mm: float, style: Style) -> str:
    """A height or half-breadth as the table of offsets has it: ``2-6-4``, or ``775 mm``."""
    return feet_inches_eighths(float(mm)) if style == "imperial" else metric(float(mm), 0)


def level_name(name: str, style: Style) -> str:
    """``level 1524`` as the yard writes it: ``level 5-0-0 above base``; other names as they are."""
    words, _, figure = name.partition(" ")
    try:
        mm = float(figure)
    except ValueError:
        return name
    return f"{words} {offset(mm, style)} above base" if words == "level" else name


def mass(kg: float, style: Style) -> str:
    """A mass as the vessel's papers show it: ``4.3 lb``, ``82 lb``, ``37 kg``."""
    if style == "metric":
        return f"{kg:.1f} kg" if kg < 10 else f"{kg:.0f} kg"
    return show_mass(kg, style)


def side_name(side: str | None) -> str:
    """``port`` for ``P``, ``starboard`` for ``S``, ``across the keel`` for ``C``."""
    return {"P": "port", "S": "starboard", "C": "across the keel"}.get(side or "", "")


def layer_name(layer: str | None) -> str:
    """``forward layer`` or ``after layer``."""
    return {"f": "forward layer", "a": "after layer"}.get(layer or "", "")


def standing(up: str, edge: str, lean_deg: float) -> Literal["standing", "under", "square"]:
    """Which bevel a lean is, seen from the face that is up.

    Standing: the far face lies outside the line drawn, the inside angle is over 90 degrees. Under:
    it lies inside. From the forward face a positive lean stands at the outer edge; the inner edge,
    and the other face, are the other way about.
    """
    if abs(lean_deg) < 0.125:
        return "square"
    stands = (lean_deg > 0) == (up == "forward")
    if edge == "inner":
        stands = not stands
    return "standing" if stands else "under"
