"""What strength is left where the grain slopes to the timber: published figures, side by side.

Three sources, three meanings: they are never averaged, and each says what it is a percentage of.
For discussion with a surveyor, class society or naval architect; not a design.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from futtock import reference
from futtock.errors import Misused

CAUTION = (
    "For discussion with a surveyor, class society or naval architect; not a design. Clear, "
    "straight-grained specimens: knots, checks, moisture and long loading take more."
)

_SOURCES = {
    "A18": (
        "ANC-18 (1944) Table 2-4",
        "percent of the design value, which already allows for slopes to 1 in 15",
        False,
    ),
    "WH": (
        "Wood Handbook FPL-GTR-190 (2010) Table 5-12",
        "percent of the strength of straight-grained wood in tests",
        True,
    ),
    "D245": (
        "ASTM D245",
        "strength ratio, percent of clear straight-grained wood, for grading",
        True,
    ),
}


@dataclass(frozen=True, slots=True)
class StrengthLeft:
    """One source's figure for one property at one slope.

    ``percent`` is None where the slope is steeper than the source goes (then ``beyond`` is True:
    count on less than its last figure).
    """

    what: str
    percent: float | None
    of: str
    source: str
    remembered: bool
    beyond: bool = False


def strength_left(slope: float) -> tuple[StrengthLeft, ...]:
    """What is left at a slope of grain (its tangent: 0.1 is 1 in 10), by source and property.

    Between printed slopes the tangent is interpolated straight; flatter than the flattest printed
    one the figure runs straight up to 100 percent at no slope, or stays at 100 where it is printed.
    """
    if slope < 0:
        raise Misused(f"slope of {slope:g}: expected 0 or more")
    found = []
    for (source, what), points in _curves().items():
        label, of, remembered = _SOURCES[source]
        steepest = points[-1]
        if slope > steepest[0] + 1e-9:
            found.append(StrengthLeft(what, None, of, label, remembered, beyond=True))
            continue
        low = max((p for p in points if p[0] <= slope + 1e-12), key=lambda p: p[0])
        high = min((p for p in points if p[0] >= slope - 1e-12), key=lambda p: p[0])
        share = 0.0 if high[0] == low[0] else (slope - low[0]) / (high[0] - low[0])
        percent = low[1] + share * (high[1] - low[1])
        found.append(StrengthLeft(what, percent, of, label, remembered))
    return tuple(found)


@cache
def _curves() -> dict[tuple[str, str], tuple[tuple[float, float], ...]]:
    """(source, property) -> (slope, percent) from no slope to the steepest printed."""
    curves: dict[tuple[str, str], list[tuple[float, float]]] = {}
    for row in reference.rows("grain_slope"):
        key = row["source"], row["property"]
        curves.setdefault(key, [(0.0, 100.0)]).append(
            (1.0 / float(row["slope_1_in"]), float(row["percent"]))
        )
    return {key: tuple(sorted(points)) for key, points in curves.items()}
