"""Volumes, areas and masses in metric and in the timber merchant's measure."""

from __future__ import annotations

from math import isfinite

from futtock.errors import Misused
from futtock.measure.shown import MISSING, Style

M3_PER_BOARD_FOOT = 144 * 0.0254**3
"""A board foot is 144 cubic inches."""

_M2_PER_SQUARE_FOOT = 0.3048**2
_KG_PER_POUND = 0.45359237


def board_feet(m3: float) -> float:
    """Board feet in so many cubic metres.

    >>> round(board_feet(1.0), 3)
    423.776
    """
    return m3 / M3_PER_BOARD_FOOT


def cubic_metres(feet: float) -> float:
    """Cubic metres in so many board feet."""
    return feet * M3_PER_BOARD_FOOT


def show_volume(m3: float, style: Style = "imperial") -> str:
    """A volume of timber: ``52.1 board ft`` or ``0.123 m³``.

    >>> show_volume(0.123), show_volume(0.123, "metric")
    ('52.1 board ft', '0.123 m³')
    """
    return _shown(m3, style, (1 / M3_PER_BOARD_FOOT, "board ft"), (1.0, "m³"))


def show_area(m2: float, style: Style = "imperial") -> str:
    """An area: ``32.3 sq ft`` or ``3 m²``.

    >>> show_area(3.0), show_area(3.0, "metric")
    ('32.3 sq ft', '3 m²')
    """
    return _shown(m2, style, (1 / _M2_PER_SQUARE_FOOT, "sq ft"), (1.0, "m²"))


def show_mass(kg: float, style: Style = "imperial") -> str:
    """A mass: ``90.4 lb`` or ``41 kg``.

    >>> show_mass(41.0), show_mass(41.0, "metric")
    ('90.4 lb', '41 kg')
    """
    return _shown(kg, style, (1 / _KG_PER_POUND, "lb"), (1.0, "kg"))


def _shown(
    value: float, style: Style, imperial: tuple[float, str], other: tuple[float, str]
) -> str:
    """Three figures, more only for whole numbers of a thousand and over."""
    if style not in ("imperial", "metric"):
        raise Misused(f"'{style}' is no way to show a figure; expected imperial or metric.")
    if not isfinite(value):
        return MISSING
    scale, unit = imperial if style == "imperial" else other
    figure = value * scale
    text = f"{figure:.0f}" if abs(figure) >= 100 else f"{figure:.3g}"
    return f"{text} {unit}"
