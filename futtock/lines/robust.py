"""Which figures are doubtful: studentised leave-one-out residuals, down-weighted, then let back in.

Starts undersmoothed, with the errors' scale unknown (an oversmoothed start rejects everything at
the ends), weights by Tukey's biweight on the studentised residuals while their scale shrinks to
the stated tolerance, then lets back in, hard, every reading that the rest can bear (Huber and
Ronchetti, *Robust Statistics*; the leave-one-out forms are exact for a linear smoother).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.lines.smoothing import Posterior, at_rest, best_scale, evidence

Array = NDArray[np.float64]
_OUT = 1e-7  # weight of a reading left out: as good as nothing, yet the matrix stays definite
_SOFT = 6


@dataclass(frozen=True)
class Settled:
    """The batten at rest with the doubtful readings left out.

    Attributes
    ----------
    posterior
        See :class:`Posterior`; its leave-one-out figures cover the readings left out too.
    noise : (n,)
        Error variances along the height, from the tolerance (weights not in them).
    z : (n,)
        Studentised leave-one-out residuals.
    kept : (n,) bool
        Readings that the fit leans on.
    scale
        Robust scale of z in the last round: near or below 1 where the tolerance is honest.
    score
        Evidence of the kept readings, to compare battens with.
    """

    posterior: Posterior
    noise: Array
    z: Array
    kept: NDArray[np.bool_]
    scale: float
    score: float


def _tukey(r: Array, cut: float) -> Array:
    w = np.where(np.abs(r) < cut, (1 - (r / cut) ** 2) ** 2, 0.0)
    return np.maximum(w, 1e-4)


def settle(
    c: Array,
    y: Array,
    noise: Array,
    *,
    free: int,
    cut: float = 4.5,
    start: float | None = None,
    regrade: Callable[[Array], Array] | None = None,
    doubt: bool = True,
) -> Settled:
    """Fit, doubt, and fit again until the doubts stand.

    Parameters
    ----------
    c : (n, n)
        Covariance of the readings at scale one.
    y, noise : (n,)
        Readings, and error variances to start from.
    free
        Directions that the batten leaves free.
    cut
        Studentised residual beyond which a reading is doubtful.
    start
        Scale to begin the search at.
    regrade
        Given ``s * alpha``, the error variances along the height for the new slopes.
    doubt
        False: every reading is kept.
    """
    n = len(y)
    s = start or float(np.median(noise) / max(np.median(np.diag(c)), 1e-300) * 1e6)
    weight = np.ones(n)
    s = best_scale(lambda v: evidence(c, noise, y, v, free, known=False), s, span=1.2, fine=0.12)
    p = at_rest(c, noise, y, s)
    if regrade is not None:
        noise = regrade(s * p.alpha)
    robust_scale = _scale_of(p, noise, np.ones(n))
    d = noise * max(robust_scale, 1.0) ** 2
    kept = np.ones(n, bool)
    for turn in range(_SOFT + 6 if doubt else 2):
        s = best_scale(
            lambda v, d=d: evidence(c, d, y, v, free),  # type: ignore[misc]
            s,
            span=0.5 if turn else 1.0,
            fine=0.06,
        )
        p = at_rest(c, d, y, s)
        if regrade is not None:
            noise = regrade(s * p.alpha)
        if not doubt:
            d = noise
            continue
        z = p.loo / np.sqrt(noise + p.spread2)
        robust_scale = max(1.0, 1.4826 * float(np.median(np.abs(z))))
        if turn < _SOFT:
            new = _tukey(z / robust_scale, cut + 1.5)
            if turn and np.abs(new - weight).max() < 0.02 and robust_scale <= 1.0:
                turn = _SOFT
        if turn >= _SOFT:
            keep = np.abs(z) < cut * robust_scale
            new = np.where(keep, 1.0, _OUT)
            if np.array_equal(keep, kept) and np.array_equal(new, weight):
                break
            kept = keep
        weight = new
        d = noise * robust_scale**2 / weight
    z = p.loo / np.sqrt(noise + p.spread2)
    live = np.flatnonzero(kept)
    score = evidence(c[np.ix_(live, live)], noise[live], y[live], s, free)
    return Settled(p, noise, z, kept, robust_scale, score)


def _scale_of(p: Posterior, noise: Array, weight: Array) -> float:
    z = p.loo / np.sqrt(noise + p.spread2) * weight
    return 1.4826 * float(np.median(np.abs(z)))
