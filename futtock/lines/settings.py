"""What the builder states about the lines, in millimetres."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from futtock.measure import Style


@dataclass(frozen=True, slots=True)
class FairSettings:
    """How a table is to be faired.

    Attributes
    ----------
    tolerance_mm
        Standard error of one figure, rounding included.
    surface
        What was measured: ``"outside"`` or ``"inside"`` of planking.
    waterline_mm
        Height of the waterline for hydrostatics; None for none.
    cut
        Studentised residual beyond which a figure is doubtful.
    angle_deg
        Angle of the diagonal the height field stands on.
    plan_deg
        Turn in plan for bluff ends; None lets the table decide.
    quick
        True: the usual batten only, without trying stiffer and freer ones.
    show
        How lengths are written in what is told.
    """

    tolerance_mm: float
    surface: Literal["outside", "inside"] = "outside"
    waterline_mm: float | None = None
    cut: float = 4.5
    angle_deg: float = 45.0
    plan_deg: float | None = None
    quick: bool = False
    show: Style = "metric"

    def least_slip_mm(self, length_mm: float) -> float:
        """See :func:`least_slip_mm`."""
        return least_slip_mm(self.tolerance_mm, length_mm)


def least_slip_mm(tolerance_mm: float, length_mm: float) -> float:
    """No slip of the pen is smaller: a departure below it is the batten's, not the pen's."""
    return max(2.5 * tolerance_mm, min(length_mm / 2500, 5.0))
