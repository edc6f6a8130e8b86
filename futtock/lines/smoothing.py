"""How closely the batten is held: the smoothing by marginal likelihood with the tolerance known.

Readings y = f + error with f ~ N(0, s C) and error ~ N(0, D), D from the stated tolerance. The
scale s of the batten's freedom maximises the probability of the readings, the tolerance being
*known*: unlike the discrepancy principle or cross-validation this does not wander between
interpolating and flattening (Wecker and Ansley 1983; Rasmussen and Williams, *Gaussian Processes
for Machine Learning*, ch. 5). Directions that the batten leaves free do not count, so their share
of the determinant, ``free * log s``, is taken out again.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import blas, lapack

from futtock.errors import Unsolvable

Array = NDArray[np.float64]
_WHOLE = 48  # rows of a triangle that is turned round at once
_REACH = 1e13  # most that the batten's variance may be of the errors': double precision's end


def evidence(c: Array, d: Array, y: Array, s: float, trend: Array) -> float:
    """Minus twice the log marginal likelihood of what no trend explains, but for a constant.

    Battens that leave different directions free are thereby weighed on the same readings
    (restricted likelihood: Patterson and Thompson 1971).

    Parameters
    ----------
    c : (n, n)
        Covariance at s = 1.
    d : (n,)
        Variances of the errors.
    y : (n,)
    s
        Scale of the batten's freedom.
    trend : (n, k)
        What any batten may follow without bending.
    """
    a = s * c
    a.flat[:: len(y) + 1] += d
    factor, info = lapack.dpotrf(a.T, lower=1, clean=0, overwrite_a=1)
    if info:
        return np.inf
    both, _ = lapack.dtrtrs(factor, np.column_stack([trend, y]), lower=1)
    q, r = np.linalg.qr(both[:, :-1])
    left = both[:, -1] - q @ (q.T @ both[:, -1])
    logdet = np.log(np.diag(factor)).sum() + np.log(np.abs(np.diag(r))).sum()
    return float(left @ left) + 2 * float(logdet)


def likeliest(
    c: Array, d: Array, y: Array, s: float, trend: Array, rounds: int = 8
) -> tuple[float, float]:
    """Least :func:`evidence` over the scale, and where: a walk to a bracket, then a parabola."""
    step = 1.5  # of log s: the evidence is near enough a parabola over two of these
    at = [float(np.log(s)) + k * step for k in (-1, 0, 1)]
    cost = [evidence(c, d, y, float(np.exp(x)), trend) for x in at]
    for _ in range(rounds):
        if cost[0] < cost[1]:
            at, cost = [at[0] - step, *at[:2]], [np.nan, *cost[:2]]
            cost[0] = evidence(c, d, y, float(np.exp(at[0])), trend)
        elif cost[2] < cost[1]:
            at, cost = [*at[1:], at[2] + step], [*cost[1:], np.nan]
            cost[2] = evidence(c, d, y, float(np.exp(at[2])), trend)
        else:
            break
    bow = cost[0] - 2 * cost[1] + cost[2]
    if np.isfinite(bow) and bow > 0:
        x = at[1] + float(np.clip(0.5 * (cost[0] - cost[2]) / bow, -1, 1)) * step
        value = evidence(c, d, y, float(np.exp(x)), trend)
        if value < cost[1]:
            return value, float(np.exp(x))
    return cost[1], float(np.exp(at[1]))


@dataclass(frozen=True)
class Posterior:
    """The batten at rest on its readings.

    Attributes
    ----------
    scale
        s.
    alpha : (n,)
        The field is ``s * (covariance with the readings) @ alpha``.
    lower : (n, n)
        Cholesky factor of s C + D.
    mean : (n,)
        The field at the readings.
    loo : (n,)
        Each reading less what the others say of it.
    spread2 : (n,)
        Variance of what the others say, the reading's own error apart.
    used
        Freedoms that the readings take up, those the batten leaves free among them.
    bent, misfit
        ``s alpha' C alpha`` and ``y' alpha``: what the batten's bending and the whole cost.
    """

    scale: float
    alpha: Array
    lower: Array
    mean: Array
    loo: Array
    spread2: Array
    used: float
    bent: float
    misfit: float

    def excess(self, free: int, known: bool) -> float:
        """Logarithm of how many times freer the batten wants to be than it is.

        At the likeliest scale the bending costs as much as the freedoms it takes up: there
        ``d(-2 log likelihood)/d(log s) = used - free - bent`` vanishes (MacKay 1992). Where the
        errors' scale is unknown the bending is measured by it.
        """
        n = len(self.alpha)
        unit = 1.0 if known else max(self.misfit / max(n - free, 1), 1e-300)
        return log(max(self.bent / unit, 1e-12) / max(self.used - free, 1e-3))


def at_rest(c: Array, d: Array, y: Array, s: float) -> Posterior:
    """The posterior for a given scale, with its leave-one-out figures in closed form."""
    most = max(float(c.diagonal().max()), 1e-300)
    s = min(s, _REACH * float(d.min()) / most)
    for nudge in (0.0, 1e-13, 1e-11, 1e-9):  # of the largest: readings may coincide
        a = s * c
        a.flat[:: len(y) + 1] += d + nudge * s * most
        # symmetric, so the transpose is the same matrix, in the order that needs no copy
        lower, info = lapack.dpotrf(a.T, lower=1, clean=1, overwrite_a=1)
        if not info:
            break
    else:
        raise Unsolvable("the figures contradict each other beyond what a batten can be bent to")
    alpha, _ = lapack.dpotrs(lower, y, lower=1)
    turned = _turned(lower)
    q = np.einsum("ij,ij->j", turned, turned)
    mean = y - d * alpha
    used = len(y) - float(q @ d)
    return Posterior(
        s,
        alpha,
        lower,
        mean,
        alpha / q,
        np.maximum(1 / q - d, 0.0),
        used,
        float(alpha @ mean),
        float(alpha @ y),
    )


def _turned(lower: Array) -> Array:
    """Inverse of a lower triangle, by halves: the library's own is slow on large ones."""
    n = len(lower)
    if n <= _WHOLE:
        return np.asarray(lapack.dtrtri(lower, lower=1)[0])
    h = n // 2
    out = np.zeros((n, n), order="F")
    out[:h, :h], out[h:, h:] = _turned(lower[:h, :h]), _turned(lower[h:, h:])
    left = blas.dtrmm(1.0, out[:h, :h], lower[h:, :h], side=1, lower=1)
    out[h:, :h] = blas.dtrmm(-1.0, out[h:, h:], left, lower=1)
    return out


@dataclass
class ScaleSearch:
    """Steps of the scale towards the likeliest: the secant on :meth:`Posterior.excess`.

    One posterior a step; the errors may be re-weighted between steps, which only makes the last
    slope a little stale.
    """

    free: int
    known: bool = True
    at: float = 0.0
    last: tuple[float, float] | None = None
    settled: bool = False

    def step(self, p: Posterior) -> float:
        """The next scale after the posterior p."""
        here, excess = log(p.scale), p.excess(self.free, self.known)
        slope = -0.5  # of the excess over log s, until two steps have shown it
        if self.last is not None and abs(here - self.last[0]) > 1e-3:
            seen = (excess - self.last[1]) / (here - self.last[0])
            slope = min(max(seen, -1.5), -0.12)
        self.last = (here, excess)
        move = min(max(-excess / slope, -4.0), 4.0)
        self.settled = abs(move) < 0.1
        return exp(here + move)


def seek(
    c: Array, d: Array, y: Array, s: float, free: int, *, known: bool = True, rounds: int = 12
) -> Posterior:
    """The posterior at the likeliest scale, from a start."""
    search = ScaleSearch(free, known)
    p = at_rest(c, d, y, s)
    for _ in range(rounds):
        ahead = search.step(p)
        if search.settled:
            break
        p = at_rest(c, d, y, ahead)
    return p
