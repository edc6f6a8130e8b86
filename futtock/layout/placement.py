"""What layout gives: placements of moulds on slabs, what is left, and how good it is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.findings import Finding

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Placement:
    """A mould on a slab: a mould's point p lands at shift + R(turn) M p in the slab's top axes.

    M mirrors y where ``mirrored``, which means that the slab is turned over: the mould's up face
    then lies on the slab's bottom. Slopes are tangents of the angle between grain and timber.
    """

    mark: str
    slab: str
    turn_deg: float
    shift_mm: tuple[float, float]
    mirrored: bool
    slope_mean: float
    slope_worst: float
    locked: bool = False

    def lay(self, points_mm: Array) -> Array:
        """Points (..., 2) of the mould in the axes of the slab's top face."""
        p = np.asarray(points_mm, float) * np.array([1.0, -1.0 if self.mirrored else 1.0])
        t = np.radians(self.turn_deg)
        turn = np.array([[np.cos(t), -np.sin(t)], [np.sin(t), np.cos(t)]])
        laid: Array = p @ turn.T + np.asarray(self.shift_mm)
        return laid


@dataclass(frozen=True)
class Bound:
    """What no layout can beat: ``value`` against the ``reached``, of the quantity ``what``.

    ``gap`` = 1 - value / reached where the quantity is to be small.
    """

    what: str
    value: float
    reached: float

    @property
    def gap(self) -> float:
        """Share by which what was reached might still be bettered, at the very most."""
        return 1.0 - self.value / self.reached if self.reached > 0 else 0.0


@dataclass(frozen=True)
class Layout:
    """A whole layout: every delivered placement has passed the exact check."""

    placements: tuple[Placement, ...]
    unplaced: tuple[str, ...]
    slabs_used: int
    yield_: float
    bound: Bound
    seconds: float
    findings: tuple[Finding, ...] = ()
