"""Faired lines: in space by the length along them, or a height or breadth over x."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.lines.batten import Batten

Array = NDArray[np.float64]


@dataclass(frozen=True)
class SpaceLine:
    """A faired line in space by the length along it.

    Attributes
    ----------
    x, y, z
        Battens over the length.
    figures
        Figure indices of its readings, -1 where a reading is not a figure.
    at : (n,)
        Length along the line at each reading.
    """

    x: Batten
    y: Batten
    z: Batten
    figures: NDArray[np.intp]
    at: Array

    def points(self, s: Array) -> Array:
        """Points (..., 3) at lengths s (...)."""
        return np.stack([self.x(s), self.y(s), self.z(s)], axis=-1)

    def at_x(self, x: float, near: float) -> tuple[float, Array]:
        """Length and point where the line reaches x, from a length near it."""
        s = near
        for _ in range(20):
            slope = float(self.x(np.array(s), 1))
            slope = float(np.copysign(max(abs(slope), 0.02), slope))
            step = float(np.clip((float(self.x(np.array(s))) - x) / slope, -30, 30))
            s = float(np.clip(s - step, *self.x.span))
            if abs(step) < 1e-9:
                break
        return s, self.points(np.array(s))

    def sample(self, step_mm: float) -> Array:
        """Points (n, 3) along the whole line, no further apart than the step."""
        low, high = self.x.span
        n = int(np.clip(np.ceil((high - low) / step_mm), 64, 20000))
        return self.points(np.linspace(low, high, n + 1))


@dataclass(frozen=True)
class LineOverX:
    """A batten over x with the reach of its readings; a :class:`futtock.lines.surface.Profile`."""

    batten: Batten
    low: float
    high: float
    figures: NDArray[np.intp]

    def __call__(self, x: Array) -> Array:
        """Value at x; nan where the line does not reach."""
        x = np.asarray(x, float)
        reach = (x >= self.low - 1e-6) & (x <= self.high + 1e-6)
        return np.where(reach, self.batten(x), np.nan)

    def carried(self, x: Array) -> Array:
        """Value at x, carried straight on past the ends."""
        return self.batten(np.asarray(x, float))
