"""Planking of more than one thickness: garboards, wales and what lies between.

A strake is a band of girth along the outside of planking, up from the rabbet or down from the
sheer. At its seam the inside of planking steps by the difference of thicknesses, square to the
planking, and so does the frame's edge. The step is drawn over half a millimetre of girth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused

Array = NDArray[np.float64]

_STEP_MM = 0.25  # half the girth over which a step is drawn


@dataclass(frozen=True, slots=True)
class Strake:
    """Planking ``thickness_mm`` thick between two girths from the rabbet or from the sheer down."""

    thickness_mm: float
    from_mm: float
    to_mm: float
    of: Literal["rabbet", "sheer"] = "rabbet"

    def __post_init__(self) -> None:
        if not self.thickness_mm > 0:
            raise Misused(f"A strake's thickness must be more than 0, {self.thickness_mm:g} came.")
        if not self.to_mm > self.from_mm >= 0:
            raise Misused(f"A strake runs from {self.from_mm:g} to {self.to_mm:g} mm: nothing.")


@dataclass(frozen=True, slots=True)
class Bands:
    """Where strakes lie in M faces: parameters v (M, strakes) of their lower and upper seams."""

    low: Array
    high: Array
    thickness: Array
    common: float

    def thickness_at(self, v: Array) -> Array:
        """Thickness at parameters (M, k); a later strake goes over an earlier one."""
        tau = np.full(v.shape, self.common)
        for k, t in enumerate(self.thickness):
            tau[(v >= self.low[:, k : k + 1]) & (v < self.high[:, k : k + 1])] = t
        return tau


def bands(
    v: Array, outside: Array, normals: Array, strakes: Sequence[Strake], common: float
) -> Bands:
    """Seams of strakes as parameters.

    Parameters
    ----------
    v
        (M, R) parameters of rows from rabbet to sheer.
    outside, normals
        (3, M, R) points of the outside of planking there and its unit normals.
    strakes
        The strakes that differ.
    common
        Thickness of all other planking.
    """
    step = np.diff(outside, axis=2)
    cos = np.clip((normals[:, :, 1:] * normals[:, :, :-1]).sum(axis=0), -1, 1)
    arc = np.sqrt((step**2).sum(axis=0)) * (1 + np.arccos(cos) ** 2 / 24)
    girth = np.concatenate([np.zeros((len(v), 1)), np.cumsum(arc, axis=1)], axis=1)
    low = np.empty((len(v), len(strakes)))
    high = np.empty_like(low)
    for k, s in enumerate(strakes):
        for m in range(len(v)):
            ends = (s.from_mm, s.to_mm)
            if s.of == "sheer":
                ends = (girth[m, -1] - s.to_mm, girth[m, -1] - s.from_mm)
            low[m, k], high[m, k] = np.interp(ends, girth[m], v[m])
            # a strake that reaches the rabbet or the sheer goes on past it
            if ends[0] <= 0:
                low[m, k] = -np.inf
            if ends[1] >= girth[m, -1]:
                high[m, k] = np.inf
    return Bands(low, high, np.array([s.thickness_mm for s in strakes]), common)


def stepped(v: Array, speed: Array, found: Bands) -> tuple[Array, Array]:
    """Parameters (M, n) with two points at every seam between heel and head, and thickness there.

    Parameters
    ----------
    v
        (M, n) parameters, nearly even, heel to head.
    speed
        (M,) millimetres of girth to one of v, about.
    found
        The strakes' bands.
    """
    v = v.copy()
    n = v.shape[1]
    for m in range(len(v)):
        seams = np.unique(np.concatenate([found.low[m], found.high[m]]))
        taken = 0
        for seam in seams[np.isfinite(seams)]:
            k = int(np.searchsorted(v[m], seam)) - 1
            if not max(taken, 1) <= k <= n - 3:
                continue
            half = _STEP_MM / speed[m]
            below, above = _either_side(found, m, seam, half)
            if below == above:
                continue
            v[m, k], v[m, k + 1] = seam - half, seam + half
            taken = k + 2
    return v, found.thickness_at(v)


def _either_side(found: Bands, m: int, seam: float, half: float) -> tuple[float, float]:
    """Thickness just below and just above a seam of face m."""
    one = Bands(found.low[m : m + 1], found.high[m : m + 1], found.thickness, found.common)
    below, above = one.thickness_at(np.array([[seam - half, seam + half]]))[0]
    return float(below), float(above)
