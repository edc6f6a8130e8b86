"""Lengths, angles and bulk: the trade's notations in and out, exact in fractions.

Reading gives :class:`fractions.Fraction` millimetres (or degrees); showing takes millimetres
(``int``, ``float`` or ``Fraction``) and rounds only there. Nothing here imports numpy.
"""

from __future__ import annotations

from futtock.measure.angle import nearest_angle, read_angle, show_angle
from futtock.measure.bulk import (
    M3_PER_BOARD_FOOT,
    board_feet,
    cubic_metres,
    show_area,
    show_mass,
    show_volume,
)
from futtock.measure.length import MM_PER, is_bare, read_length, unit_name
from futtock.measure.shown import (
    Style,
    close,
    feet_inches,
    feet_inches_eighths,
    inches,
    metric,
    offset,
    show,
)

__all__ = [
    "M3_PER_BOARD_FOOT",
    "MM_PER",
    "Style",
    "board_feet",
    "close",
    "cubic_metres",
    "feet_inches",
    "feet_inches_eighths",
    "inches",
    "is_bare",
    "metric",
    "nearest_angle",
    "offset",
    "read_angle",
    "read_length",
    "show",
    "show_angle",
    "show_area",
    "show_mass",
    "show_volume",
    "unit_name",
]
