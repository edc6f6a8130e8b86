"""Faired lines: in space by the length along them, or a height or breadth over x."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from futtock.lines.batten import Batten, lay_batten

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

    def at_x(self, x: Array, near: Array) -> tuple[Array, Array]:
        """Lengths (n,) and points (n, 3) where the line reaches x (n,), from lengths near them."""
        s = np.array(near, float)
        most = (self.x.span[1] - self.x.span[0]) / 250
        for _ in range(20):
            slope = self.x(s, 1)
            slope = np.copysign(np.maximum(np.abs(slope), 0.02), slope)
            step = np.clip((self.x(s) - x) / slope, -most, most)
            s = np.clip(s - step, *self.x.span)
            if np.abs(step).max(initial=0.0) < 1e-9:
                break
        return s, self.points(s)

    def sample(self, step_mm: float) -> Array:
        """Points (n, 3) along the whole line, no further apart than the step."""
        low, high = self.x.span
        n = int(np.clip(np.ceil((high - low) / step_mm), 64, 20000))
        return self.points(np.linspace(low, high, n + 1))


@dataclass(frozen=True)
class Scale:
    """A stretched x: stations that stand closer, where a line turns quicker, count for more.

    Between stations the stretched length grows with the root of their distance.
    """

    at: PchipInterpolator | None
    slopes: tuple[float, float]
    ends: tuple[float, float]

    @classmethod
    def of(cls, x: Array) -> Scale:
        """The scale of these stations (any order, repeats allowed)."""
        places = np.unique(np.asarray(x, float))
        if len(places) < 4:
            return cls(None, (1.0, 1.0), (float(places[0]), float(places[-1])))
        gap = np.diff(places)
        length = np.sqrt(gap * gap.mean())
        at = PchipInterpolator(places, np.r_[0.0, np.cumsum(length)] + places[0])
        slope = at.derivative()
        ends = float(places[0]), float(places[-1])
        return cls(at, (float(slope(ends[0])), float(slope(ends[1]))), ends)

    def __call__(self, x: Array) -> Array:
        """Stretched x; straight on past the ends."""
        x = np.asarray(x, float)
        if self.at is None:
            return x
        inside = np.clip(x, *self.ends)
        slope = np.where(x < self.ends[0], *self.slopes)
        return np.asarray(self.at(inside) + slope * (x - inside))


@dataclass(frozen=True)
class LineOverX:
    """A batten over x with the reach of its readings; a :class:`futtock.lines.surface.Profile`."""

    batten: Batten
    low: float
    high: float
    figures: NDArray[np.intp]
    scale: Scale
    through: PchipInterpolator | None = None
    """Where set, the line runs through its readings without overshoot, corners and all."""

    def __call__(self, x: Array) -> Array:
        """Value at x; nan where the line does not reach."""
        x = np.asarray(x, float)
        reach = (x >= self.low - 1e-6) & (x <= self.high + 1e-6)
        return np.where(reach, self.carried(x), np.nan)

    def carried(self, x: Array) -> Array:
        """Value at x, carried straight on past the ends."""
        if self.through is not None:
            inside = np.clip(x, self.low, self.high)
            slope = self.through.derivative()(inside)
            return np.asarray(self.through(inside) + slope * (np.asarray(x, float) - inside))
        return self.batten(self.scale(x))


def line_over_x(
    x: Array, value: Array, sigma: float, figures: NDArray[np.intp], *, corners: bool = False
) -> LineOverX:
    """A batten laid over x to values with one standard error.

    ``corners`` is for lines that are not faired (the top of keel and deadwood): they run through
    their readings as they are.
    """
    scale = Scale.of(x)
    line = lay_batten(scale(x), value, np.full(len(x), sigma))
    through = None
    if corners and len(np.unique(x)) > 2:
        places, first = np.unique(x, return_index=True)
        through = PchipInterpolator(places, value[first])
    return LineOverX(line, float(x.min()), float(x.max()), figures, scale, through)
