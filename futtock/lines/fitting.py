"""From readings to a height field: the spline's cells, its stiffness, its doubts, its spread."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_triangular

from futtock.lines.bspline import Axis
from futtock.lines.figures import Readings
from futtock.lines.heightfield import HeightField, Turn
from futtock.lines.prior import Prior
from futtock.lines.robust import Settled, settle

Array = NDArray[np.float64]
# Cells and stiffness lengths in parts of the length along and of the diagonal's height across.
# They were settled on invented 12 m hulls (450 x 130 mm cells, 1700 and 700 mm).
_CELL_U, _CELL_T = 0.0375, 0.045
_STIFF_U, _STIFF_T = 0.14, 0.23
_OVER_U, _OVER_T = 0.035, 0.08


@dataclass(frozen=True, slots=True)
class Stiffness:
    """Shape of the batten: stiffness along in parts of the usual, and end freedom."""

    along: float = 1.0
    warp: float = 0.4


CANDIDATES = (
    Stiffness(1.0, 0.4),
    Stiffness(1.8, 0.4),
    Stiffness(1.8, 0.0),
    Stiffness(0.6, 0.4),
)


@dataclass(frozen=True)
class Fit:
    """A height field with everything that is known about how it came to be.

    Attributes
    ----------
    field
        The surface.
    readings
        What it was fitted to.
    settled
        Residuals, doubts, posterior.
    gradient : (n, 3)
        Of the height misfit at each reading, in x, y, z.
    stiffness
        The batten chosen.
    """

    field: HeightField
    readings: Readings
    settled: Settled
    gradient: Array
    stiffness: Stiffness
    prior: Prior
    half: Array

    @property
    def sensed(self) -> Array:
        """Share of a figure's error seen along the height, (n,)."""
        return self.readings.sensed(self.gradient)

    def spread(self, u: Array, v: Array) -> tuple[Array, Array]:
        """Posterior standard deviations at parameters (n,).

        Returns
        -------
        normal_mm : (n,)
            Of the surface's place along its normal.
        slope : (n, 2)
            Of h's slopes along u and v.
        """
        xi, d1 = _warped(self.field, u)
        p = self.settled.posterior
        factor = p.factor()
        out = []
        i, a0 = self.prior.along.rows(xi)
        _, b0 = self.prior.across.rows(v)
        a1, b1 = self.prior.along.rows(xi, 1)[1] * d1[:, None], self.prior.across.rows(v, 1)[1]
        index, _ = self.prior.rows(xi, v)
        for a, b in ((a0, b0), (a1, b0), (a0, b1)):
            value = (a[:, :, None] * b[:, None, :]).reshape(len(i), -1)
            w = self.prior.half(index, value)
            cross = w.T @ self.half
            own = (w * w).sum(axis=0)
            seen = (solve_triangular(factor, cross.T, lower=True, check_finite=False) ** 2).sum(0)
            out.append(np.sqrt(np.maximum(p.scale * own - p.scale**2 * seen, 0.0)))
        h = self.field.heights(u, v)
        steep = np.sqrt(1 + h[:, 1] ** 2 + h[:, 2] ** 2)
        return out[0] / steep, np.stack(out[1:], axis=-1)


def _warped(field: HeightField, u: Array) -> tuple[Array, Array]:
    k = 2 * np.pi / field.length
    phase = k * (np.asarray(u, float) - field.origin)
    return u + field.warp / k * np.sin(phase), 1 + field.warp * np.cos(phase)


def _trend(u: Array, t: Array, centre: Array, size: Array) -> Array:
    a, b = (u - centre[0]) / size[0], (t - centre[1]) / size[1]
    return np.stack([np.ones_like(a), a, b, a * a, a * b, b * b], axis=-1)


def _least_sums(basis: Array, y: Array, small: float) -> Array:
    """Least absolute sums by re-weighted least squares: blunders do not tilt the trend."""
    w = np.ones(len(y))
    for _ in range(6):
        root = np.sqrt(w)
        b = np.linalg.lstsq(basis * root[:, None], y * root, rcond=None)[0]
        w = 1 / np.maximum(np.abs(y - basis @ b), small)
    return np.asarray(b)


def _trend_coef(prior: Prior, b: Array, centre: Array, size: Array) -> Array:
    """Spline coefficients of the quadratic trend: exact, for it lies in the span."""
    power = []
    for axis, c, s in zip((prior.along, prior.across), centre, size, strict=True):
        u = np.linspace(axis.start, axis.end, 3 * axis.size)
        i, value = axis.rows(u)
        m = np.zeros((len(u), axis.size))
        np.put_along_axis(m, i[:, None] + np.arange(6), value, 1)
        a = (u - c) / s
        power.append(np.linalg.lstsq(m, np.stack([a**0, a, a * a], axis=-1), rcond=None)[0].T)
    p, q = power
    pairs = ((0, 0), (1, 0), (0, 1), (2, 0), (1, 1), (0, 2))
    return np.asarray(
        sum(w * np.multiply.outer(p[i], q[j]) for w, (i, j) in zip(b, pairs, strict=True))
    )


@dataclass(frozen=True)
class Bench:
    """The axes laid out for one set of readings, before any batten is bent."""

    readings: Readings
    turn: Turn
    uth: Array
    origin: float
    length: float
    deep: float

    @classmethod
    def of(cls, readings: Readings, turn: Turn) -> Bench:
        """Lay out."""
        uth = turn.into(readings.points)
        low, high = uth.min(axis=0), uth.max(axis=0)
        return cls(readings, turn, uth, low[0], max(high[0] - low[0], 1), max(high[1] - low[1], 1))

    def fit(
        self,
        stiffness: Stiffness,
        *,
        cut: float,
        doubt: bool = True,
        start: float | None = None,
        fine: float = 1.0,
    ) -> Fit:
        """Bend one batten; ``fine`` scales the cells."""
        r, uth, length = self.readings, self.uth, self.length
        k = 2 * np.pi / length

        def warped(u: Array) -> Array:
            return np.asarray(u + stiffness.warp / k * np.sin(k * (u - self.origin)))

        over = _OVER_U * length
        ends = warped(np.array([self.origin - over, self.origin + length + over]))
        along = Axis.over(ends[0], ends[1], _CELL_U * length * fine)
        low, high = uth[:, 1].min(), uth[:, 1].max()
        margin = _OVER_T * self.deep
        across = Axis.over(low - margin, high + margin, _CELL_T * self.deep * fine)
        prior = Prior.of(along, across, _STIFF_U * stiffness.along * length, _STIFF_T * self.deep)
        xi = warped(uth[:, 0])
        index, value = prior.rows(xi, uth[:, 1])
        half = prior.half(index, value)
        c = prior.covariance(half)
        centre = np.array([self.origin + length / 2, low + self.deep / 2])
        size = np.array([length / 2, self.deep / 2])
        basis = _trend(xi, uth[:, 1], centre, size)
        b = _least_sums(basis, uth[:, 2], 0.01 * self.deep)
        trend = _trend_coef(prior, b, centre, size)
        y = uth[:, 2] - basis @ b
        field = HeightField(along, across, trend, self.turn, stiffness.warp, self.origin, length)
        state: dict[str, HeightField | Array] = {"field": field}

        def regrade(alpha: Array) -> Array:
            coef = trend + prior.coefficients(index, value, alpha)
            field = HeightField(along, across, coef, self.turn, stiffness.warp, self.origin, length)
            _, gradient, _ = field.offs(r.points)
            state["field"], state["gradient"] = field, gradient
            return np.asarray((r.sigma * r.sensed(gradient)) ** 2)

        done = settle(c, y, r.sigma**2, free=6, cut=cut, regrade=regrade, doubt=doubt, start=start)
        fitted, gradient = state["field"], state["gradient"]
        assert isinstance(fitted, HeightField)
        assert isinstance(gradient, np.ndarray)
        fitted.coef.flags.writeable = False
        return Fit(fitted, r, done, gradient, stiffness, prior, half)


def fit_field(
    readings: Readings,
    turn: Turn,
    *,
    cut: float = 4.5,
    candidates: tuple[Stiffness, ...] = CANDIDATES,
    doubt: bool = True,
) -> Fit:
    """The fair surface of the readings, its batten the likeliest of the candidates.

    The first candidate is fitted with all its doubts; the others are compared with it on the
    readings it kept, and the best of them is fitted in its turn if it is the likelier.
    """
    bench = Bench.of(readings, turn)
    first = bench.fit(candidates[0], cut=cut, doubt=doubt)
    if len(candidates) == 1:
        return first
    kept = readings.take(first.settled.kept)
    s = first.settled.posterior.scale
    clean = Bench(kept, turn, bench.uth[first.settled.kept], bench.origin, bench.length, bench.deep)
    trials = [
        (clean.fit(k, cut=cut, doubt=False, start=s).settled.score, n)
        for n, k in enumerate(candidates)
    ]
    best = min(trials)[1]
    if best == 0 or trials[best][0] > trials[0][0] - 4.0:
        return first
    return bench.fit(candidates[best], cut=cut, doubt=doubt, start=s)
