"""What the builder may set about a layout, in plain words. Lengths in mm, slopes as 1 in N."""

from __future__ import annotations

from dataclasses import dataclass, field

from futtock.errors import Misused
from futtock.measure import Style
from futtock.stock.sound import STRICT, FlawRules


@dataclass(frozen=True, slots=True)
class Weights:
    """What matters, in plain words: each is 'not at all' (0) to 'very much' (3).

    Placing every timber always comes first. ``little_timber``: begin as little slab as can be
    (by price where every slab has one, else by area). ``straight_grain``: lay timbers where the
    grain runs truest even at some cost of wood. ``save_crooks``: leave long and crooked slabs,
    which can give what others cannot. ``few_slabs``: handle few slabs rather than little area;
    every slab begun is more saw cuts and more lifting.
    """

    little_timber: float = 1.0
    straight_grain: float = 1.0
    save_crooks: float = 0.0
    few_slabs: float = 0.0

    def __post_init__(self) -> None:
        for name in ("little_timber", "straight_grain", "save_crooks", "few_slabs"):
            if not 0.0 <= getattr(self, name) <= 3.0:
                raise Misused(f"weight {name} is {getattr(self, name)}: give 0 to 3.")
        if self.little_timber + self.few_slabs <= 0.0:
            raise Misused("little_timber and few_slabs are both 0: one of them must count.")


@dataclass(frozen=True, slots=True)
class LaySettings:
    """How timbers are laid on slabs.

    Parameters
    ----------
    kerf_mm
        Width of the saw's cut between neighbours.
    rough_allowance_mm
        Wood left round each blank when roughing out, on both sides of a kerf. It may be wane or
        flawed wood, since it comes off again; ``allowance_sound`` asks it to be sound.
    grain_slope
        Steepest grain allowed through a timber: 1 in this many.
    grain_slope_butts
        The same within ``butt_zone_mm`` of either end; None: as ``grain_slope``.
    thickness_mm
        Thickness a slab must have for any timber; None: the timber's sided size.
    thickness_of
        Thickness needed for single timbers, by mark.
    thickness_over_mm
        Added to the sided size where nothing else is stated.
    guard_mm
        Kept clear in the search beyond what the exact check asks, against the search's raster.
    wane_mm
        Wane allowed on the inner corner away from the joint face, measured in from the edge
        (:mod:`futtock.layout.corner`).
    rules
        Which flaws bar a timber (:class:`futtock.stock.sound.FlawRules`). The search keeps clear of
        every knot; over those allowed only timbers are laid that would go without.
    keep_for_later, forbid
        Slabs kept back, and slabs not to be used at all; both by name. Slabs kept back are begun
        only where timbers would otherwise go without.
    forbid_pairs
        (mark, slab) pairs not to be used.
    prefer_stacks
        Stacks to begin first: their slabs count a tenth less.
    show
        How lengths and areas are written in what is told.
    """

    kerf_mm: float = 6.35
    rough_allowance_mm: float = 0.0
    allowance_sound: bool = False
    grain_slope: float = 10.0
    grain_slope_butts: float | None = None
    butt_zone_mm: float = 150.0
    thickness_mm: float | None = None
    thickness_of: dict[str, float] = field(default_factory=dict)
    thickness_over_mm: float = 0.0
    guard_mm: float = 1.0
    wane_mm: float = 0.0
    rules: FlawRules = STRICT
    keep_for_later: frozenset[str] = frozenset()
    forbid: frozenset[str] = frozenset()
    forbid_pairs: frozenset[tuple[str, str]] = frozenset()
    prefer_stacks: frozenset[str] = frozenset()
    weights: Weights = Weights()
    show: Style = "metric"

    def __post_init__(self) -> None:
        for name in (
            "kerf_mm",
            "rough_allowance_mm",
            "guard_mm",
            "wane_mm",
            "butt_zone_mm",
            "thickness_over_mm",
        ):
            if not 0.0 <= getattr(self, name) < 1000.0:
                raise Misused(f"{name} is {getattr(self, name)}: give 0 to 1000 mm.")
        for name in ("grain_slope", "grain_slope_butts"):
            value = getattr(self, name)
            if value is not None and not 1.0 <= value <= 1000.0:
                raise Misused(f"{name} is 1 in {value}: give 1 to 1000.")

    @property
    def gap_mm(self) -> float:
        """Least distance between two finished outlines on one slab."""
        return self.kerf_mm + 2.0 * self.rough_allowance_mm
