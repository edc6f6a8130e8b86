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

from futtock.lines.smoothing import Posterior, ScaleSearch, at_rest, seek

Array = NDArray[np.float64]
_OUT = 1e-7  # weight of a reading left out: as good as nothing, yet the matrix stays definite
_SOFT, _HARD = 6, 24


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
    """

    posterior: Posterior
    noise: Array
    z: Array
    kept: NDArray[np.bool_]
    scale: float


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
    guard: NDArray[np.bool_] | None = None,
    least: Callable[[Array], Array] | None = None,
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
    guard : (n,) bool
        Readings that are never left out.
    least
        Given ``s * alpha``, how far from what the others say a reading must lie to be a slip: below
        it the batten yields, not the figure.
    """
    n = len(y)
    s = start or float(np.median(noise) / max(np.median(np.diag(c)), 1e-300) * 1e6)
    p = seek(c, noise, y, s, free, known=False)
    if regrade is not None:
        noise = regrade(p.scale * p.alpha)
    if not doubt:
        p = seek(c, noise, y, p.scale, free)
        if regrade is not None:
            noise = regrade(p.scale * p.alpha)
        kept = np.ones(n, bool)
        z = p.loo / np.sqrt(noise + p.spread2)
        return Settled(p, noise, z, kept, 1.0)
    weight = np.ones(n)
    robust_scale = max(1.0, _spread(p.loo / np.sqrt(noise + p.spread2)))
    search = ScaleSearch(free)
    s = p.scale
    z = np.zeros(n)
    for turn in range(_SOFT):
        p = at_rest(c, noise * robust_scale**2 / weight, y, s)
        if regrade is not None:
            noise = regrade(p.scale * p.alpha)
        s = search.step(p)
        z = p.loo / np.sqrt(noise + p.spread2)
        robust_scale = max(1.0, _spread(z))
        new = _tukey(z / robust_scale, cut + 1.5)
        if guard is not None:
            new = np.where(guard, 1.0, new)
        calm = turn > 0 and float(np.abs(new - weight).max()) < 0.05
        weight = new
        if calm:
            break
    loose = np.ones(n, bool) if guard is None else ~guard
    kept = (np.abs(z) < cut * robust_scale) | ~loose
    slight = np.zeros(n, bool)
    tried = np.zeros(n, bool)  # let back in by itself, and the rest contradicted it
    last: int | None = None
    first = True
    for _ in range(_HARD):
        p = at_rest(c, noise * robust_scale**2 / np.where(kept, 1.0, _OUT), y, s)
        if regrade is not None:
            noise = regrade(p.scale * p.alpha)
        s = search.step(p)
        z = p.loo / np.sqrt(noise + p.spread2)
        robust_scale = max(1.0, _spread(z))
        r = np.abs(z) / robust_scale
        if least is not None:
            # let back in once and for all: a batten that yields to a figure bears it afterwards
            slight = slight | (np.abs(p.loo) < least(p.scale * p.alpha))
            r = np.where(slight, 0.0, r)
        # figures that contradict each other: the worst go first, for the rest may then agree
        worst = kept & loose & (r > max(cut, 0.6 * float(r[kept & loose].max(initial=0))))
        again = ~kept & ~tried & (r < 0.9 * cut)
        if worst.any() and last is not None:
            kept[last], tried[last], last = False, True, None
        elif worst.any():
            kept = kept & ~worst
        elif again.any():
            # all at once, and when that will not hold, one by one
            last = None if first else int(np.argmin(np.where(again, r, np.inf)))
            kept = kept | again if last is None else kept | (np.arange(n) == last)
            first = False
        elif search.settled:
            break
    return Settled(p, noise, z, kept, robust_scale)


def _spread(z: Array) -> float:
    return 1.4826 * float(np.median(np.abs(z)))
