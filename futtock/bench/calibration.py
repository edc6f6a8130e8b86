"""The saw's own test piece: cut, measured, and turned into the head's zero, scale and backlash.

A straight board is cut across at stated scale readings, going up from right to left and back down
again; each cut's true angle from square is measured with a protractor, or by how much the cut
leans over its thickness.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock.bench import kinds
from futtock.bench.saw import HeadError
from futtock.errors import Misused
from futtock.findings import Finding

Array = NDArray[np.float64]


@dataclass(frozen=True)
class TrialCut:
    """One cut of the test piece: scale reading and true angle (left positive), way of cranking."""

    read_deg: float
    true_deg: float
    going: Literal["left", "right"]


@dataclass(frozen=True)
class TrialPiece:
    """What to print and cut: readings in order with the way of cranking, and where on the board.

    ``cuts`` are (reading, way, distance from the board's end); ``board_mm`` long.
    """

    cuts: tuple[tuple[float, Literal["left", "right"], float], ...]
    board_mm: float
    thickness_mm: float


def trial_piece(
    left_deg: float = 30.0,
    right_deg: float = 30.0,
    step_deg: float = 15.0,
    apart_mm: float = 80.0,
    thickness_mm: float = 50.0,
) -> TrialPiece:
    """The test piece for a head that tilts so far to each hand: up to the left, then back."""
    if step_deg <= 0 or apart_mm <= 0 or left_deg < 0 or right_deg < 0:
        raise Misused("A test piece wants a step and a distance more than nothing.")
    up = np.arange(-np.floor(right_deg / step_deg), np.floor(left_deg / step_deg) + 1) * step_deg
    cuts: list[tuple[float, Literal["left", "right"], float]] = []
    ways: tuple[tuple[Array, Literal["left", "right"]], ...] = ((up, "left"), (up[::-1], "right"))
    for angles, way in ways:
        for angle in angles:
            cuts.append((float(angle), way, apart_mm * (len(cuts) + 1)))
    return TrialPiece(tuple(cuts), apart_mm * (len(cuts) + 1), thickness_mm)


def true_deg(offset_mm: float, thickness_mm: float) -> float:
    """A cut's angle from how far its top stands over its bottom (left positive) on a thickness."""
    if thickness_mm <= 0:
        raise Misused("A test piece's thickness must be more than nothing.")
    return float(np.degrees(np.arctan2(offset_mm, thickness_mm)))


def head_error(
    cuts: Sequence[TrialCut], doubt_deg: float = 0.5
) -> tuple[HeadError, tuple[Finding, ...]]:
    """Zero, scale and backlash by least squares from a sawn test piece.

    true = zero + scale * read - way * backlash / 2, way +1 going left, -1 going right.

    Parameters
    ----------
    cuts
        At least two different readings, and cuts made in both ways where backlash is wanted (else
        it is taken as none).
    doubt_deg
        A spread about the fit beyond this is a finding.

    Raises
    ------
    Misused
        For fewer than two different readings.
    """
    if len({round(c.read_deg, 6) for c in cuts}) < 2:
        raise Misused("Two different readings at least are wanted to know the scale.")
    read = np.array([c.read_deg for c in cuts])
    true = np.array([c.true_deg for c in cuts])
    way = np.array([1.0 if c.going == "left" else -1.0 for c in cuts])
    columns = [np.ones(len(cuts)), read]
    both = bool(np.ptp(way))
    if both:
        columns.append(-0.5 * way)
    design = np.stack(columns, axis=1)
    found, *_ = np.linalg.lstsq(design, true, rcond=None)
    rest = true - design @ found
    free = len(cuts) - len(found)
    spread = float(np.sqrt(np.sum(rest**2) / free)) if free > 0 else 0.0
    backlash = float(found[2]) if both else 0.0
    error = HeadError(float(found[0]), float(found[1]), backlash, spread)
    if spread <= doubt_deg:
        return error, ()
    worst = int(np.abs(rest).argmax())
    doubt = kinds.SAW_SPREAD.found(
        f"The test cuts stand {spread:.2f} degrees about their line; the cut at"
        f" {cuts[worst].read_deg:g} going {cuts[worst].going} is {rest[worst]:+.2f} off it.",
        read=f"{cuts[worst].true_deg:g}",
    )
    return error, (doubt,)
