"""What a saw sheet holds: cuts with their marks, as frozen values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock.bench.saw import Feed, Hand
from futtock.findings import Finding

Array = NDArray[np.float64]


@dataclass(frozen=True)
class CutMark:
    """One mark of a cut.

    ``at_mm`` along the edge on the face that is up, from the heel. ``deg`` is the angle to set, a
    magnitude to the settings' step, ``head`` the hand to which the top of the head leans;
    ``left_deg`` the exact angle, positive to the left. ``scale_deg`` is what the saw's own scale
    must read (signed, left positive) when its error is known, cranked in the order of feeding.
    """

    at_mm: float
    deg: float
    head: Hand
    left_deg: float
    scale_deg: float

    @property
    def set_left_deg(self) -> float:
        """The angle to set, signed: positive where the head leans left."""
        return self.deg if self.head == "left" else -self.deg


@dataclass(frozen=True)
class Turn:
    """The crank between two marks, in the order of feeding.

    ``deg`` the change of the angles as written, ``turns`` of the crank for it (None where the
    saw's gear is not known), ``way`` the hand the head's top moves towards (``"square"``: it stands
    still), ``deg_ft`` degrees in a foot of edge.
    """

    from_mm: float
    to_mm: float
    deg: float
    turns: float | None
    way: Hand
    deg_ft: float


@dataclass(frozen=True)
class Beyond:
    """A stretch where the angle is past the head's range.

    ``hew_mm`` is what stands proud on the far face when the head stays at its limit, to be taken
    off by hand; ``other_feed`` is True where feeding the other end first brings it into range.
    """

    from_mm: float
    to_mm: float
    worst_deg: float
    limit_deg: float
    hew_mm: float
    other_feed: bool


@dataclass(frozen=True)
class Cut:
    """One cut: a sawn edge of a timber, or a part of one between corners.

    ``kept`` is the hand of the wood that is kept, ``head`` that of the largest angle; both are the
    feeder's, facing the teeth. ``marks`` run from heel to head, ``turns`` in the order of feeding.
    A timber across the keel has its port head for its heel.
    ``still`` lists the stretches (from, to) where the head stands still. ``radius_mm`` is the
    tightest turn of the edge, ``blade_radius_mm`` what the blade follows. ``deg_ft`` is the fastest
    change, ``twist_limit_deg_ft`` where a blade this wide binds. ``feed_mm_min`` and
    ``turns_a_minute`` go together: the feed is held back where the crank could not follow; the
    second is None where the saw's gear is not known.
    """

    mark: str
    edge: Literal["outer", "inner"]
    feed: Feed
    kept: Literal["left", "right"]
    head: Hand
    marks: tuple[CutMark, ...]
    turns: tuple[Turn, ...]
    still: tuple[tuple[float, float], ...]
    length_mm: float
    radius_mm: float
    blade_radius_mm: float
    deg_ft: float
    twist_limit_deg_ft: float
    feed_mm_min: float
    turns_a_minute: float | None
    beyond: tuple[Beyond, ...] = ()

    @property
    def blade_ok(self) -> bool:
        """True where the blade follows the tightest turn."""
        return self.radius_mm >= self.blade_radius_mm

    @property
    def twist_ok(self) -> bool:
        """True where the blade does not bind in the twist."""
        return self.deg_ft <= self.twist_limit_deg_ft

    @property
    def largest_deg(self) -> float:
        """The largest angle that is set."""
        return max(m.deg for m in self.marks)

    def in_feeding_order(self) -> tuple[CutMark, ...]:
        """The marks as they reach the teeth."""
        return self.marks if self.feed == "heel first" else self.marks[::-1]


@dataclass(frozen=True)
class SawSheet:
    """One timber's sheet: which face lies up and the cuts, outer then inner."""

    mark: str
    face_up: Literal["forward", "aft"]
    sided_mm: float
    cuts: tuple[Cut, ...]
    findings: tuple[Finding, ...] = ()
