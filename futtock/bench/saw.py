"""The band saw with a tilting head: what it can do, and what its scale really means.

Head angles are signed in public names: ``left_deg`` is positive where the top of the head leans to
the feeder's left, facing the teeth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock import reference
from futtock.errors import Misused

Array = NDArray[np.float64]
Hand = Literal["left", "right", "square"]
Feed = Literal["heel first", "head first"]
FEEDS: tuple[Feed, Feed] = ("heel first", "head first")
IN_MM = 25.4
FT_MM = 304.8


@dataclass(frozen=True)
class HeadError:
    """How the head's scale departs from the truth.

    True = zero + scale * read, less half the backlash where the head was last moved to the left,
    more by half where to the right: it lags behind the crank (left is positive).
    ``spread_deg`` is the standard deviation of the readings about this line.
    """

    zero_deg: float = 0.0
    scale: float = 1.0
    backlash_deg: float = 0.0
    spread_deg: float = 0.0

    def reading(self, left_deg: float, going: Literal["left", "right"]) -> float:
        """What the scale must read (signed, left positive) for a true angle, cranked that way."""
        slack = 0.5 * self.backlash_deg * (1.0 if going == "left" else -1.0)
        return (left_deg - self.zero_deg + slack) / self.scale


@dataclass(frozen=True)
class SawSettings:
    """What the yard states about its saw and how its sheets are to be written.

    Attributes
    ----------
    feed
        ``"heel first"`` or ``"head first"`` for every cut; ``"one hand"`` turns each cut so that
        the head leans to ``hand``.
    hand
        Preferred hand of the head where ``feed`` is ``"one hand"``.
    marks_every_mm, step_deg, between_deg
        Marks at even distances along the edge from the heel; angles to this step; a mark is added
        wherever a straight line between marks would err by more than ``between_deg``.
    left_deg, right_deg
        How far the head tilts to either hand.
    turns_per_deg
        Turns of the crank for a degree of the head; None where not known.
    turns_a_minute
        Fastest the crank can be turned steadily.
    feed_mm_min
        Feed of the wood where the crank does not hold it back.
    blade_width_mm, blade_set_mm
        Blade from teeth to back; set of the teeth beyond the blade's body on each side, which is
        half of what the kerf is wider than the body.
    tilt_axis_mm
        How far below the table's top the head's tilting axis lies; negative above it.
    head
        See :class:`HeadError`.
    crank_from
        Where the person at the crank stands: ``"feed"`` (behind the feeder, facing the teeth),
        ``"out"`` (beyond the blade, facing him), or at the feeder's ``"left"`` or ``"right"``.
    """

    feed: Literal["heel first", "head first", "one hand"] = "heel first"
    hand: Literal["left", "right"] = "left"
    marks_every_mm: float = 152.4
    step_deg: float = 0.25
    between_deg: float = 0.5
    left_deg: float = 45.0
    right_deg: float = 45.0
    turns_per_deg: float | None = None
    turns_a_minute: float = 40.0
    feed_mm_min: float = 1200.0
    blade_width_mm: float = 25.4
    blade_set_mm: float = 0.5
    tilt_axis_mm: float = 0.0
    head: HeadError = field(default_factory=HeadError)
    crank_from: Literal["feed", "out", "left", "right"] = "out"

    def __post_init__(self) -> None:
        """Refuse figures that mean nothing, naming them."""
        for name in (
            "marks_every_mm",
            "step_deg",
            "between_deg",
            "turns_a_minute",
            "feed_mm_min",
            "blade_width_mm",
            "blade_set_mm",
        ):
            if not getattr(self, name) > 0:
                raise Misused(f"{name} must be more than nothing, not {getattr(self, name)!r}.")
        if self.turns_per_deg is not None and not self.turns_per_deg > 0:
            raise Misused(f"turns_per_deg must be more than nothing, not {self.turns_per_deg!r}.")
        if self.step_deg > self.between_deg:
            raise Misused("Angles cannot be written coarser than the error allowed between marks.")
        if self.left_deg < 0 or self.right_deg < 0:
            raise Misused("The head's range is not negative.")


@dataclass(frozen=True)
class BladeRadius:
    """Smallest radius a blade follows and where the figure comes from."""

    width_mm: float
    radius_mm: float
    source: str


def blade_radius(width_mm: float, set_mm: float = 0.5) -> BladeRadius:
    """The smallest in-plane radius a band of this width may be asked to follow.

    Within the charts (``bandsaw.csv``, up to 1-1/4 in) the most cautious of them, straight between
    its widths. For wider blades there is no chart, and an own formula is used, never below the
    chart's last value: teeth and back stand in the middle of a kerf that is wider than the blade's
    body by the set s on each side, so the body is a chord of length w in a curved slot; halfway
    along, the chord lies w^2 / (8 R) inside the arc, and touches the slot's wall when that is s.
    Hence R = w^2 / (8 s). At 1-1/4 in and 0.02 in of set this gives 9.8 in; the chart says 9.9.

    Parameters
    ----------
    width_mm
        Teeth to back.
    set_mm
        Set of the teeth on each side, beyond the body.
    """
    if width_mm <= 0 or set_mm <= 0:
        raise Misused("A blade's width and set must be more than nothing.")
    table = reference.rows("bandsaw")
    widths = np.array([float(r["blade_width_in"]) for r in table]) * IN_MM
    safe = np.array([float(r["safe_radius_in"]) for r in table]) * IN_MM
    if width_mm <= widths[-1]:
        return BladeRadius(
            width_mm,
            float(np.interp(width_mm, widths, safe)),
            "largest of three workshop charts; common practice, no source",
        )
    return BladeRadius(
        width_mm,
        max(width_mm**2 / (8.0 * set_mm), float(safe[-1])),
        "own formula w^2/(8 set); beyond the published charts, try it on waste",
    )


def widest_blade_mm(radius_mm: float, blades_mm: Sequence[float], set_mm: float = 0.5) -> float:
    """The widest of the blades that follows a radius, or the narrowest where none does."""
    if not blades_mm:
        raise Misused("No blades to choose from.")
    fit = [b for b in blades_mm if blade_radius(b, set_mm).radius_mm <= radius_mm]
    return max(fit) if fit else min(blades_mm)


def twist_limit_deg_ft(settings: SawSettings, sided_mm: float) -> float:
    """The rate, degrees in a foot of edge, beyond which a wide blade binds as the head turns.

    While the head turns at q radians a millimetre, the back of the blade runs in a kerf cut at an
    angle older by q w; at height h above the tilting axis that is q w h sideways, and it binds
    when this reaches the clearance c = set. So q = c / (w h), h at the top of the timber (or at its
    foot where the axis lies nearer to the top). For
    0.025 in, 1-1/4 in and 2 in this is 6.9 degrees a foot (the usual saying, some 7, from memory).
    """
    below = settings.tilt_axis_mm
    height = max(abs(sided_mm + below), abs(below))
    q = settings.blade_set_mm / (settings.blade_width_mm * height)
    return float(np.degrees(q) * FT_MM)
