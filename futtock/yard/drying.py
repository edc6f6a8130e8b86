"""When a slab will be dry enough, from its moisture readings.

Moisture above the equilibrium is taken to fall by the same share each day (first-order drying, any
textbook of wood drying; a rough model, for planning only). With two readings or more the rate is
theirs; with one it is that of an inch a year, common practice, no source: a slab of thickness T
inches loses nineteen parts in twenty of what it has above the equilibrium in T years.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from math import ceil, log

_INCH_MM = 25.4
_DAYS_OF_AN_INCH = 365.0
_LONGEST_DAYS = 36_500


def dry_on(
    readings: Sequence[tuple[date, float]],
    target_percent: float,
    equilibrium_percent: float,
    thickness_mm: float,
) -> date | None:
    """The day from which a slab is expected to be at its target.

    Parameters
    ----------
    readings
        (day, moisture in percent), in any order.
    target_percent
        Dry enough.
    equilibrium_percent
        Where the moisture ends if it dries for ever; below the target.
    thickness_mm
        The slab's thickness.

    Returns
    -------
    date or None
        The day of the reading where one is at the target already; None where nothing was read, or
        where it does not get there (a target at or below the equilibrium, a slab that gets wetter).
    """
    if not readings:
        return None
    known = sorted(readings)
    day, moisture = known[-1]
    if moisture <= target_percent:
        return next(d for d, m in known if m <= target_percent)
    if target_percent <= equilibrium_percent:
        return None
    rate = _rate(known, equilibrium_percent, thickness_mm)
    if rate <= 0:
        return None
    days = log((moisture - equilibrium_percent) / (target_percent - equilibrium_percent)) / rate
    return day + timedelta(days=ceil(days)) if days <= _LONGEST_DAYS else None


def _rate(known: Sequence[tuple[date, float]], equilibrium: float, thickness_mm: float) -> float:
    """Share of the moisture above the equilibrium that is lost a day (of its logarithm)."""
    points = [(d.toordinal(), log(m - equilibrium)) for d, m in known if m > equilibrium]
    days = [d for d, _ in points]
    if len(set(days)) < 2:
        return log(20.0) / (_DAYS_OF_AN_INCH * max(thickness_mm, 1.0) / _INCH_MM)
    middle = sum(days) / len(days)
    return -sum((d - middle) * y for d, y in points) / sum((d - middle) ** 2 for d in days)
