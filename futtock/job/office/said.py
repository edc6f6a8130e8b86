"""Figures as pages letter them: fractions written as one sign."""

from __future__ import annotations

from futtock import measure
from futtock.measure import Style


def _one_sign(text: str) -> str:
    from futtock.drawing.figures import lettered

    return lettered(text)


def show(mm: float, style: Style) -> str:
    """A length with its unit."""
    return _one_sign(measure.show(float(mm), style, places=0))


def show_angle(deg: float) -> str:
    """An angle to the quarter degree."""
    return _one_sign(measure.show_angle(float(deg)))


def show_area(m2: float, style: Style) -> str:
    """An area with its unit."""
    return measure.show_area(float(m2), style)


def show_square(mm2: float, style: Style) -> str:
    """A small area with its unit."""
    return f"{mm2 / 645.16:.1f} sq in" if style == "imperial" else f"{mm2 / 100.0:.1f} cm²"


def show_mass(kg: float, style: Style) -> str:
    """A mass with its unit."""
    return measure.show_mass(float(kg), style)


def slope(tangent: float) -> str:
    """A slope of grain: ``1 in 12``; ``true`` where it is steeper than nothing by a hair."""
    return f"1 in {1 / tangent:.0f}" if tangent > 0.002 else "true"
