"""How an old hull has bent: hog, sideways bend and twist as beams do, put in or taken out.

A cross-section keeps its shape and stays square to the bent line of the beam (Euler and Bernoulli):
with hog w(x) and bend b(x) of the line at the neutral axis and twist phi(x) about it, a point
(x, y, z) of the sound hull stands in the worn one at

    y' = b + y cos phi - (z - n) sin phi
    z' = w + n + y sin phi + (z - n) cos phi
    x' = x - (z - n) w'(x) - y b'(x)

with n the height of the neutral axis. Undoing it is the same with the signs turned, the slopes
taken at the worn x and mended by two rounds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import BSpline

Array = NDArray[np.float64]
_DEGREE = 3


@dataclass(frozen=True)
class Sway:
    """A smooth function of x: a cubic B-spline of few coefficients over the hull's length."""

    low: float
    high: float
    coef: Array

    @classmethod
    def still(cls, low: float, high: float, size: int) -> Sway:
        """Nought everywhere."""
        return cls(low, high, np.zeros(size))

    def rows(self, x: Array, order: int = 0) -> Array:
        """Basis (n, size) at places, held at the ends."""
        size = len(self.coef)
        step = (self.high - self.low) / (size - _DEGREE)
        knots = self.low + step * np.arange(-_DEGREE, size + 1)
        inside = np.clip(x, self.low, self.high - 1e-9 * step)
        spline = BSpline(knots, np.eye(size), _DEGREE)
        return np.asarray(spline(inside, nu=order))

    def __call__(self, x: Array, order: int = 0) -> Array:
        """Value or derivative at places (n,)."""
        return np.asarray(self.rows(x, order) @ self.coef)


@dataclass(frozen=True)
class Wear:
    """What has happened to a hull.

    Attributes
    ----------
    hog, bend
        Rise (mm) and sideways shift (mm, to starboard) of the beam's line over x.
    twist
        Radians over x; positive where starboard has risen.
    neutral_mm
        Height of the neutral axis.
    """

    hog: Sway
    bend: Sway
    twist: Sway
    neutral_mm: float

    def put_in(self, points: Array) -> Array:
        """Points (n, 3) of the sound hull as they stand in the worn one."""
        x, y, z = np.asarray(points, float).T
        n = self.neutral_mm
        c, s = np.cos(self.twist(x)), np.sin(self.twist(x))
        return np.stack(
            [
                x - (z - n) * self.hog(x, 1) - y * self.bend(x, 1),
                self.bend(x) + y * c - (z - n) * s,
                self.hog(x) + n + y * s + (z - n) * c,
            ],
            axis=-1,
        )

    def take_out(self, points: Array) -> Array:
        """Points (n, 3) of the worn hull as they stood in the sound one."""
        worn, y1, z1 = np.asarray(points, float).T
        n = self.neutral_mm
        x = worn
        y, z = y1, z1
        for _ in range(3):
            c, s = np.cos(self.twist(x)), np.sin(self.twist(x))
            dy, dz = y1 - self.bend(x), z1 - self.hog(x) - n
            y, z = dy * c + dz * s, n - dy * s + dz * c
            x = worn + (z - n) * self.hog(x, 1) + y * self.bend(x, 1)
        return np.stack([x, y, z], axis=-1)
