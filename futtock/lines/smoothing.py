"""How closely the batten is held: the smoothing by marginal likelihood with the tolerance known.

Readings y = f + error with f ~ N(0, s C) and error ~ N(0, D), D from the stated tolerance. The
scale s of the batten's freedom maximises the probability of the readings, the tolerance being
*known*: unlike the discrepancy principle or cross-validation this does not wander between
interpolating and flattening (Wecker and Ansley 1983; Rasmussen and Williams, *Gaussian Processes
for Machine Learning*, ch. 5). Directions that the batten leaves free do not count, so their share
of the determinant, ``free * log s``, is taken out again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack

from futtock.lines.prior import cholesky_inverse

Array = NDArray[np.float64]


def evidence(c: Array, d: Array, y: Array, s: float, free: int, known: bool = True) -> float:
    """Minus twice the log marginal likelihood, but for a constant.

    Parameters
    ----------
    c : (n, n)
        Covariance at s = 1.
    d : (n,)
        Variances of the errors.
    y : (n,)
    s
        Scale of the batten's freedom.
    free
        Directions that the batten leaves free.
    known
        False: the errors' common scale is unknown too, and profiled out.
    """
    a = s * c
    a.flat[:: len(y) + 1] += d
    factor, info = lapack.dpotrf(a, lower=1, clean=0, overwrite_a=1)
    if info:
        return np.inf
    logdet = 2 * np.log(np.diag(factor)).sum() - free * np.log(s)
    x, _ = lapack.dpotrs(factor, y, lower=1)
    misfit = float(y @ x)
    if known:
        return misfit + float(logdet)
    m = max(len(y) - free, 1)
    return float(m * np.log(max(misfit, 1e-300) / m) + logdet)


def best_scale(
    score: Callable[[float], float], start: float, span: float = 2.0, fine: float = 0.05
) -> float:
    """The s near ``start`` with the least score: steps of ``span`` decades, then a parabola.

    The search walks downhill from the start and narrows its step threefold until ``fine`` decades.
    """
    at = float(np.log10(start))
    seen: dict[float, float] = {}

    def value(p: float) -> float:
        p = round(p, 6)
        if p not in seen:
            seen[p] = score(10.0**p)
        return seen[p]

    step = span
    while True:
        here, down, up = value(at), value(at - step), value(at + step)
        walked = 0
        while min(down, up) < here and walked < 12:
            at = at - step if down < up else at + step
            here, down, up = value(at), value(at - step), value(at + step)
            walked += 1
        if step <= 4 * fine:
            bend = down + up - 2 * here
            shift = 0.5 * step * (down - up) / bend if np.isfinite(bend) and bend > 0 else 0.0
            return float(10.0 ** (at + np.clip(shift, -step, step)))
        step /= 3.0


@dataclass(frozen=True)
class Posterior:
    """The batten at rest on its readings.

    Attributes
    ----------
    scale
        s.
    alpha : (n,)
        The field is ``s * (covariance with the readings) @ alpha``.
    covariance : (n, n)
        s C + D.
    mean : (n,)
        The field at the readings.
    loo : (n,)
        Each reading less what the others say of it.
    spread2 : (n,)
        Variance of what the others say, the reading's own error apart.
    """

    scale: float
    alpha: Array
    covariance: Array
    mean: Array
    loo: Array
    spread2: Array

    def factor(self) -> Array:
        """Cholesky factor (n, n) of s C + D, lower; made anew at each call."""
        return np.asarray(np.linalg.cholesky(self.covariance))


def at_rest(c: Array, d: Array, y: Array, s: float) -> Posterior:
    """The posterior for a given scale, with its leave-one-out figures in closed form."""
    a = s * c
    a.flat[:: len(y) + 1] += d
    inverse, _ = cholesky_inverse(a)
    alpha = inverse @ y
    q = np.diag(inverse)
    return Posterior(s, alpha, a, y - d * alpha, alpha / q, np.maximum(1 / q - d, 0.0))
