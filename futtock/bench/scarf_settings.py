"""What is asked of a scarf."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from futtock.errors import Misused

Member = Literal["keel", "stem", "shelf", "plank"]
Form = Literal["plain", "nibbed", "keyed"]


@dataclass(frozen=True)
class ScarfSettings:
    """What is asked for.

    Attributes
    ----------
    member, form
        Which member, and how the scarf is made.
    depth_mm, width_mm
        Section: depth in the plane of the scarf's slope, and across it.
    length_mm, ratio
        Length of the scarf, or its ratio to the depth; one of them.
    adds_mm
        What the new piece adds to the member's length.
    nib_mm
        Depth of each nib, square across the end of a lip; None: an eighth of the depth (common
        practice, no source), none for a plain scarf.
    key_mm
        Side of the key along the joint; its depth is the same, half in each piece. None: a quarter
        of the depth (common practice, no source).
    bolts, bolt_mm
        How many, and their diameter; None: as many as stand some six depths of lip apart, two at
        least (common practice, no source); diameter 1/16 of the depth, 10 mm at least.
    edge_diameters, end_diameters
        Least distance of a bolt from the sides and from a nib or the key, in its diameters.
    glued, metal
        Whether the scarf is glued; whether bolts pass through it.
    rabbet_mm
        Height of the rabbet's middle line above the underside; None where it does not cross.
    stopwater_mm
        Diameter of a stopwater.
    wood
        ``"hardwood"`` or ``"softwood"``, for the building rules.
    """

    member: Member
    form: Form
    depth_mm: float
    width_mm: float
    length_mm: float | None = None
    ratio: float | None = None
    adds_mm: float = 0.0
    nib_mm: float | None = None
    key_mm: float | None = None
    bolts: int | None = None
    bolt_mm: float | None = None
    edge_diameters: float = 3.0
    end_diameters: float = 4.0
    glued: bool = False
    rabbet_mm: float | None = None
    stopwater_mm: float = 12.7
    wood: Literal["hardwood", "softwood"] = "hardwood"

    def __post_init__(self) -> None:
        """Refuse what cannot be drawn, naming it."""
        if min(self.depth_mm, self.width_mm) <= 0:
            raise Misused("A scarf's section has a depth and a width greater than nothing.")
        if (self.length_mm is None) == (self.ratio is None):
            raise Misused("Give the scarf's length or its ratio to the depth, one of them.")
        if (self.length_mm or 0.0) < 0 or (self.ratio or 0.0) < 0 or self.long_mm <= 0:
            raise Misused("A scarf's length must be more than nothing.")
        if self.adds_mm < 0:
            raise Misused("A new piece adds nothing or more to the length.")
        if not 0 <= self.nib_deep_mm < self.depth_mm / 2:
            raise Misused("A nib is less than half the depth.")
        if self.bolts is not None and self.bolts < 0:
            raise Misused("The number of bolts is not negative.")
        if self.rabbet_mm is not None and not 0 <= self.rabbet_mm <= self.depth_mm:
            raise Misused("The rabbet's height lies between the underside and the top.")

    @property
    def long_mm(self) -> float:
        """Length of the scarf along the member."""
        if self.length_mm is not None:
            return self.length_mm
        return (self.ratio or 0.0) * self.depth_mm

    @property
    def nib_deep_mm(self) -> float:
        """Depth of the nibs."""
        if self.form == "plain":
            return 0.0
        return self.depth_mm / 8.0 if self.nib_mm is None else self.nib_mm

    @property
    def bolt_diameter_mm(self) -> float:
        """Diameter of the bolts."""
        return max(self.depth_mm / 16.0, 10.0) if self.bolt_mm is None else self.bolt_mm
