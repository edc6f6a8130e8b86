"""The spline and its prior laid out over a set of readings, ready to be bent to them."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import blas, cho_factor, cho_solve, lapack

from futtock.lines.batten import Batten
from futtock.lines.bspline import Axis
from futtock.lines.composed import Knuckle, Knuckled
from futtock.lines.figures import Readings
from futtock.lines.heightfield import HeightField, Turn
from futtock.lines.prior import Prior
from futtock.lines.smoothing import Posterior
from futtock.lines.ways import dense_rows, stiff_matrix

Array = NDArray[np.float64]
# Cells and stiffness lengths in parts of the length along and of the diagonal's height across. Only
# the ratio of the two lengths matters; smaller cells change nothing but the time.
_CELL_U, _CELL_T = 0.05, 0.06
_STIFF_U, _STIFF_T = 0.21, {3: 0.34, 4: 0.37}
_OVER_U, _OVER_T = 0.012, 0.05
_ORDER = 4
# all that bending of any order leaves free is taken out first
_POWERS = tuple((n - j, j) for n in range(_ORDER) for j in range(n + 1))
_ORDERS = ((0, 0), (1, 0), (0, 1))  # of derivatives along and across: height and slopes
_PLACES = 64  # distinct places along her that are looked at together
_FOLD = 1e-4  # prior variance of a knuckle's turn beside the batten's scale: as good as free


@dataclass(frozen=True, slots=True)
class Stiffness:
    """Shape of the batten: stiffness along in parts of the usual, end freedom, order of bending.

    Order 3 follows the quick turns of a forefoot or a tuck; order 4 is smoother between readings.
    """

    along: float = 1.0
    warp: float = 0.25
    order: int = 4

    @property
    def free(self) -> int:
        """Directions that the batten leaves free: the polynomials below its order."""
        return self.order * (self.order + 1) // 2


@dataclass(frozen=True)
class Fold:
    """A knuckle's basis at the readings: a ramp above the line times a slow batten along it."""

    line: Batten
    axis: Axis
    factor: tuple[Array, bool]
    rows: Array
    """(n, axis.size): the ramp times the batten's basis."""

    def back(self, rows: Array) -> Array:
        """The covariance's coefficients for rows (n, axis.size): (axis.size, n)."""
        return np.asarray(_FOLD * cho_solve(self.factor, rows.T, check_finite=False))


@dataclass(frozen=True)
class Laid:
    """One batten laid over the readings but not yet bent.

    Attributes
    ----------
    half : (n, N)
        See :meth:`Prior.half`.
    covariance : (n, n)
        Of the readings at scale one.
    cubic : (n, 10)
        Powers of the trend at the readings.
    trend
        Coefficients of the cubic trend taken out.
    rest : (n,)
        Heights less the trend.
    folds
        Knuckles.
    """

    stiffness: Stiffness
    turn: Turn
    prior: Prior
    origin: float
    length: float
    half: Array
    covariance: Array
    trend: Array
    cubic: Array
    rest: Array
    folds: tuple[Fold, ...]

    def field(self, alpha: Array) -> HeightField:
        """The height field of weights on the readings (``s * alpha``)."""
        weights = np.sqrt(self.prior.variance) * (alpha @ self.half)
        coef = self.trend + self.prior.coefficients(weights)
        coef.flags.writeable = False
        along, across = self.prior.along.axis, self.prior.across.axis
        args = (along, across, coef, self.turn, self.stiffness.warp, self.origin, self.length)
        if not self.folds:
            return HeightField(*args)
        knuckles = []
        for fold in self.folds:
            turn = fold.back(fold.rows) @ alpha
            knuckles.append(Knuckle(fold.line, Batten.bent(fold.axis, turn)))
        return Knuckled(*args, knuckles=tuple(knuckles))

    def deviations(self, p: Posterior, u: Array, v: Array) -> tuple[Array, Array, Array]:
        """Posterior standard deviations (n,) of the height and of its slopes along u and v."""
        k = 2 * np.pi / self.length
        u, v = np.asarray(u, float), np.asarray(v, float)
        places, mine = np.unique(u, return_inverse=True)
        phase = k * (places - self.origin)
        xi = places + self.stiffness.warp / k * np.sin(phase)
        stretch = (1.0, (1 + self.stiffness.warp * np.cos(phase))[:, None])
        prior = self.prior
        along = [prior.along.at(xi, d) * stretch[d] for d in (0, 1)]
        across = [prior.across.at(v, d) for d in (0, 1)]
        # what the readings see of each product of ways; its two factors are met one by one
        by = blas.dtrsm(1.0, p.lower, self.half.T, side=1, lower=1, trans_a=1).T
        shape = (prior.along.axis.size, prior.across.axis.size)
        free = prior.variance.reshape(shape)
        by = by.reshape(-1, *shape) * np.sqrt(free)
        by = by.transpose(1, 0, 2).reshape(shape[0], -1)
        solved = np.empty((3, len(self.half), len(u)))
        for first in range(0, len(places), _PLACES):
            part = slice(first, first + _PLACES)
            held = [(a[part] @ by).reshape(-1, len(self.half), shape[1]) for a in along]
            for j in range(len(held[0])):
                here = mine == first + j
                for which, (du, dv) in enumerate(_ORDERS):
                    solved[which][:, here] = held[du][j] @ across[dv][here].T
        out = []
        for which, (du, dv) in enumerate(_ORDERS):
            own = ((along[du] ** 2 @ free)[mine] * across[dv] ** 2).sum(axis=1)
            for fold in self.folds:
                rows = _ramp_rows(fold.line, fold.axis, u, v, which)
                cross = fold.rows @ fold.back(rows)
                solved[which] += lapack.dtrtrs(p.lower, cross, lower=1)[0]
                own += (rows * fold.back(rows).T).sum(axis=1)
            seen = np.einsum("ij,ij->j", solved[which], solved[which])
            out.append(np.sqrt(np.maximum(p.scale * own - p.scale**2 * seen, 0.0)))
        return out[0], out[1], out[2]


@dataclass(frozen=True)
class _Ground:
    """Axes, products of ways at the readings, and the trend, for one end freedom and order."""

    along: Axis
    across: Axis
    rows: Array
    cubic: Array
    trend: Array
    rest: Array


@dataclass(frozen=True)
class Bench:
    """The axes laid out for one set of readings, before any batten is laid.

    Attributes
    ----------
    uth : (n, 3)
        Readings in the turned axes.
    knuckles
        Height up the diagonal of each knuckle, over x.
    """

    readings: Readings
    turn: Turn
    uth: Array
    origin: float
    length: float
    deep: float
    knuckles: tuple[Batten, ...] = ()
    grounds: dict[tuple[float, int], _Ground] = field(default_factory=dict, repr=False)

    @classmethod
    def of(cls, readings: Readings, turn: Turn, knuckles: tuple[Batten, ...] = ()) -> Bench:
        """Lay out."""
        uth = turn.into(readings.points)
        low, high = uth.min(axis=0), uth.max(axis=0)
        length, deep = max(high[0] - low[0], 1.0), max(high[1] - low[1], 1.0)
        return cls(readings, turn, uth, float(low[0]), float(length), float(deep), knuckles)

    def lay(self, stiffness: Stiffness) -> Laid:
        """The axes, the prior and the readings' covariance of one batten."""
        ground = self._ground(stiffness.warp, stiffness.order)
        stiff_u = _STIFF_U * stiffness.along * self.length
        stiff_t = _STIFF_T[stiffness.order] * self.deep
        prior = Prior.of(ground.along, ground.across, stiff_u, stiff_t, stiffness.order)
        half = prior.half(ground.rows)
        c = prior.covariance(half)
        folds = tuple(self._fold(line, *self.uth.T[:2]) for line in self.knuckles)
        for fold in folds:
            c = c + fold.rows @ fold.back(fold.rows)
        return Laid(
            stiffness,
            self.turn,
            prior,
            self.origin,
            self.length,
            half,
            c,
            ground.trend,
            ground.cubic,
            ground.rest,
            folds,
        )

    def _ground(self, warp: float, order: int) -> _Ground:
        """What battens of one end freedom and one order have in common, found once."""
        if (warp, order) in self.grounds:
            return self.grounds[warp, order]
        k = 2 * np.pi / self.length

        def warped(u: Array) -> Array:
            return np.asarray(u + warp / k * np.sin(k * (u - self.origin)))

        over = _OVER_U * self.length
        ends = warped(np.array([self.origin - over, self.origin + self.length + over]))
        along = Axis.over(float(ends[0]), float(ends[1]), _CELL_U * self.length)
        u, t = self.uth[:, 0], self.uth[:, 1]
        low, high = float(t.min()), float(t.max())
        margin = _OVER_T * self.deep
        across = Axis.over(low - margin, high + margin, _CELL_T * self.deep)
        xi = warped(u)
        prior = Prior.of(along, across, 1.0, 1.0, order)
        centre = np.array([self.origin + self.length / 2, low + self.deep / 2])
        size = np.array([self.length / 2, self.deep / 2])
        basis = _cubic(xi, t, centre, size)
        b = _least_sums(basis, self.uth[:, 2], 0.01 * self.deep)
        trend = _trend_coef(along, across, b, centre, size)
        rest = self.uth[:, 2] - basis @ b
        ground = _Ground(along, across, prior.rows(xi, t), basis, trend, rest)
        self.grounds[warp, order] = ground
        return ground

    def _fold(self, line: Batten, u: Array, t: Array) -> Fold:
        axis = Axis.over(self.origin, self.origin + self.length, self.length / 12)
        factor = cho_factor(stiff_matrix(axis, self.length / 4, 1e-3), lower=True)
        return Fold(line, axis, factor, _ramp_rows(line, axis, u, t, 0))


def _ramp_rows(line: Batten, axis: Axis, u: Array, t: Array, which: int) -> Array:
    """Rows of a fold's basis: values (0), or derivatives along u (1) or v (2)."""
    c = line(u)
    on = (t > c).astype(float)
    rows = dense_rows(axis, u)
    if which == 0:
        return np.asarray(rows * (np.maximum(t - c, 0))[:, None])
    if which == 2:
        return np.asarray(rows * on[:, None])
    slope = dense_rows(axis, u, 1)
    return np.asarray(slope * np.maximum(t - c, 0)[:, None] - rows * (line(u, 1) * on)[:, None])


def _cubic(u: Array, t: Array, centre: Array, size: Array) -> Array:
    a, b = (u - centre[0]) / size[0], (t - centre[1]) / size[1]
    return np.stack([a**i * b**j for i, j in _POWERS], axis=-1)


def _least_sums(basis: Array, y: Array, small: float) -> Array:
    """Least absolute sums by re-weighted least squares: blunders do not tilt the trend."""
    w = np.ones(len(y))
    b: Array = np.zeros(basis.shape[1])
    for _ in range(6):
        root = np.sqrt(w)
        b = np.asarray(np.linalg.lstsq(basis * root[:, None], y * root, rcond=None)[0])
        w = 1 / np.maximum(np.abs(y - basis @ b), small)
    return b


def _trend_coef(along: Axis, across: Axis, b: Array, centre: Array, size: Array) -> Array:
    """Spline coefficients of the cubic trend: exact, for it lies in the span."""
    power = []
    for axis, c, s in zip((along, across), centre, size, strict=True):
        u = np.linspace(axis.start, axis.end, 3 * axis.size)
        a = (u - c) / s
        m = dense_rows(axis, u)
        power.append(np.linalg.lstsq(m, np.vander(a, _ORDER, increasing=True), rcond=None)[0].T)
    p, q = power
    terms = [w * np.multiply.outer(p[i], q[j]) for w, (i, j) in zip(b, _POWERS, strict=True)]
    return np.asarray(np.sum(terms, axis=0))
