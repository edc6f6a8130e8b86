"""Fastening of a frame's two layers: what the yard states, what has been published, and the holes.

The rules for the two layers of a frame are the yard's own; no published rule for them was found.
Published values for planks on frames and for pegged joints of buildings are offered beside their
source, and kept apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock import reference
from futtock.errors import Misused
from futtock.findings import Finding

Array = NDArray[np.float64]


@dataclass(frozen=True)
class FasteningSettings:
    """How the layers are fastened.

    Attributes
    ----------
    diameter_mm, drift_mm
        Treenail, and how much smaller the hole is.
    spacing_mm, edge_mm, end_mm
        Aim for the distance of holes along the girth; least distance from a hole's centre to an
        edge on any face of either layer; to a butt, heel or head. None: 12, 2 and 4 diameters.
    rows
        ``"staggered"``: two rows, hole by hole in turn, wherever the depth allows, else one in the
        middle; ``"two"``: pairs side by side wherever the depth allows; ``"one"``.
    least
        Fewest holes between one butt and the next of either layer (so on each side of every butt).
    proud_mm
        Left standing at each end until the wedges are in.
    length_step_mm
        Treenails are cut to lengths of this step.
    sirmark_clear_mm
        Kept clear on either side of a sirmark, so that the mark stays; 0 for none.
    clear
        Stretches (from, to) of the girth kept for planking fastenings and bolts.
    plank_fastening_mm, plank_zones
        Depth from the outer edge that planking fastenings take, all along; and stretches of other
        depth as (from, to, depth): garboard, bilge, wale. Holes stay inboard of it.
    heel_mm, head_mm
        Further distance kept at heel and head beyond ``end_mm``.
    wedges
        Wedges a treenail.
    spoil_percent
        Treenails made beyond those needed, to cover spoilt ones.
    square_allowance_mm
        A treenail is turned from a square this much larger than it.
    moisture_percent, frame_moisture_percent
        Of the treenails and of the frame, when driven; None where not known.
    species
        Of the treenails.
    """

    diameter_mm: float = 19.05
    drift_mm: float = 0.79375
    spacing_mm: float | None = None
    edge_mm: float | None = None
    end_mm: float | None = None
    rows: Literal["one", "two", "staggered"] = "staggered"
    least: int = 2
    proud_mm: float = 25.4
    length_step_mm: float = 12.7
    sirmark_clear_mm: float = 0.0
    clear: tuple[tuple[float, float], ...] = ()
    plank_fastening_mm: float = 0.0
    plank_zones: tuple[tuple[float, float, float], ...] = ()
    heel_mm: float = 0.0
    head_mm: float = 0.0
    wedges: int = 2
    spoil_percent: float = 10.0
    square_allowance_mm: float = 6.35
    moisture_percent: float | None = None
    frame_moisture_percent: float | None = None
    species: str = "osage orange"

    def __post_init__(self) -> None:
        """Refuse figures that mean nothing, naming them."""
        if not self.diameter_mm > 0:
            raise Misused(f"A treenail's diameter must be more than 0, not {self.diameter_mm:g}.")
        for name in ("spacing_mm", "length_step_mm"):
            value = getattr(self, name)
            if value is not None and not value > 0:
                raise Misused(f"{name} must be more than 0, not {value:g}.")
        for name in ("edge_mm", "end_mm", "proud_mm", "spoil_percent", "wedges", "least"):
            value = getattr(self, name)
            if value is not None and value < 0:
                raise Misused(f"{name} must not be negative, not {value:g}.")

    @property
    def spacing(self) -> float:
        """Aim along the girth, mm."""
        return 12.0 * self.diameter_mm if self.spacing_mm is None else self.spacing_mm

    @property
    def edge(self) -> float:
        """Least edge distance to the centre, mm."""
        return 2.0 * self.diameter_mm if self.edge_mm is None else self.edge_mm

    @property
    def end(self) -> float:
        """Least end distance to the centre, mm."""
        return 4.0 * self.diameter_mm if self.end_mm is None else self.end_mm

    def plank_depth_mm(self, girth_mm: float) -> float:
        """What planking fastenings take at a girth; the deepest where zones overlap."""
        own = [depth for a, b, depth in self.plank_zones if a <= girth_mm <= b]
        return max(own) if own else self.plank_fastening_mm

    @property
    def bore_mm(self) -> float:
        """Diameter of the hole."""
        return self.diameter_mm - self.drift_mm


@dataclass(frozen=True)
class Hole:
    """One hole through both layers, bored square to the joint face.

    ``girth_mm`` along the joint face from the heel, ``in_mm`` from its outer edge; ``at_mm`` (out,
    up), starboard. ``row`` 0 is the outer, 1 the inner, -1 the middle. ``through`` are the piece
    marks' layers and numbers, as ("f2", "a1"). ``edge_mm`` is the least distance to an edge over
    all faces, ``end_mm`` to a butt or end. ``grain_deg`` is the timbers' direction in (out, up);
    wedges are set across it.
    """

    number: int
    girth_mm: float
    in_mm: float
    at_mm: tuple[float, float]
    row: Literal[-1, 0, 1]
    through: tuple[str, str]
    grip_mm: float
    edge_mm: float
    end_mm: float
    grain_deg: float

    @property
    def wedge_deg(self) -> float:
        """Direction of the wedge's width in (out, up): across the grain it bears on (T05, T21)."""
        return self.grain_deg + 90.0


@dataclass(frozen=True)
class FrameHoles:
    """The holes of one frame: those of the starboard half; port has the same, mirrored.

    ``at_butts`` gives for each butt (layer, girth) the holes between it and the next butt or end
    below and above.
    """

    frame: int
    holes: tuple[Hole, ...]
    at_butts: tuple[tuple[str, float, int, int], ...]
    sided_mm: float
    girth_mm: float
    findings: tuple[Finding, ...] = ()

    @property
    def count(self) -> int:
        """Holes of the whole frame, both sides."""
        return 2 * len(self.holes)


@dataclass(frozen=True)
class Published:
    """A published fastening value offered beside its source, in diameters or as printed."""

    code: str
    joint: str
    what: str
    value: str
    unit: str
    source: str
    how: str


def published(joint: str | None = None) -> tuple[Published, ...]:
    """Published values from ``treenail_rules.csv``.

    Parameters
    ----------
    joint
        ``"plank to frame"``, ``"frame of buildings (mortise and tenon)"`` or ``"pin alone"``;
        None for all. None of them speaks of a frame's own two layers.
    """
    return tuple(
        Published(r["id"], r["joint"], r["what"], r["value"], r["unit"], r["source"], r["how"])
        for r in reference.rows("treenail_rules")
        if joint is None or r["joint"] == joint
    )
