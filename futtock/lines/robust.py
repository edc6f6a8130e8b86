"""Which figures are doubtful: studentised leave-one-out residuals, down-weighted, then let back in.

Starts undersmoothed, with the errors' scale unknown (an oversmoothed start rejects everything at
the ends), weights by Tukey's biweight on the studentised residuals while their scale shrinks to
the stated tolerance, then lets back in, hard, every reading that the rest can bear (Huber and
Ronchetti, *Robust Statistics*; the leave-one-out forms are exact for a linear smoother).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from futtock.lines.smoothing import Posterior, ScaleSearch, at_rest, seek

Array = NDArray[np.float64]
_OUT = 1e-7  # weight of a reading left out: as good as nothing, yet the matrix stays definite
_SOFT, _HARD = 6, 24
_TRIED = 4
_CALM = 2.5  # studentised residual below which no two readings are thought to hide each other
_SPAN = (-5.0, 30.0)  # of the batten's freedom beside the tolerance, logarithms
_WRONG = -2 * float(np.log(0.03 / (4 * 304.8)))  # a figure in thirty wrong, within two feet


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
    begin: Settled | None = None,
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
    begin
        What another batten settled to on the same readings; its doubts are where this one begins.
    """
    n = len(y)
    loose = np.ones(n, bool) if guard is None else ~guard
    if begin is not None and doubt and start is not None:
        search, s = ScaleSearch(free), start
        kept, noise, robust_scale = begin.kept, begin.noise, begin.scale
        return _harden(
            c, y, noise, search, s, kept, loose, robust_scale, cut=cut, regrade=regrade, least=least
        )
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
    kept = (np.abs(z) < cut * robust_scale) | ~loose
    return _harden(
        c, y, noise, search, s, kept, loose, robust_scale, cut=cut, regrade=regrade, least=least
    )


def _harden(
    c: Array,
    y: Array,
    noise: Array,
    search: ScaleSearch,
    s: float,
    kept: NDArray[np.bool_],
    loose: NDArray[np.bool_],
    robust_scale: float,
    *,
    cut: float,
    regrade: Callable[[Array], Array] | None,
    least: Callable[[Array], Array] | None,
) -> Settled:
    """Readings in or out for good: the worst go, and whoever the rest can bear comes back."""
    n = len(y)
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


def sift(
    c: Array,
    y: Array,
    noise: Array,
    settled: Settled,
    *,
    free: int,
    cut: float,
    guard: NDArray[np.bool_],
    least: Array,
) -> Settled:
    """Doubts of one line by themselves weighed against a batten that bends to them.

    A line has few readings, and a batten that is free enough to follow a slip hides it. So the
    doubts are chosen together with the batten's freedom: a reading is left out, or let back in,
    where that makes all the readings likelier, a wrong one being as likely anywhere within two
    feet (a contaminated normal: Box and Tiao 1968).
    """
    places = np.exp(np.linspace(*_SPAN, 61)) * float(np.median(noise) / np.median(np.diag(c)))

    def weigh(kept: NDArray[np.bool_]) -> tuple[float, float]:
        live = np.flatnonzero(kept)
        root = 1 / np.sqrt(noise[live])
        values, turned = np.linalg.eigh(root[:, None] * c[np.ix_(live, live)] * root)
        inner = 1 + np.maximum(values, 0)[:, None] * places
        bent = ((turned.T @ (root * y[live])) ** 2)[:, None] / inner
        # directions that the batten leaves free do not count
        cost = bent.sum(axis=0) + np.log(inner).sum(axis=0) - free * np.log(places)
        k = int(np.argmin(cost))
        own = float(np.log(2 * np.pi * noise[live]).sum())
        return float(cost[k]) + own + _WRONG * (len(y) - len(live)), float(places[k])

    kept = settled.kept
    best, scale = weigh(kept)
    z = np.abs(settled.z)
    for _ in range(max(len(y) // 3, 1)):
        suspect = np.where(kept & ~guard, z, 0.0)
        worst = [k for k in np.argsort(-suspect)[:_TRIED] if suspect[k] > 1.0]
        singly = [(k,) for k in (*worst, *np.flatnonzero(~kept & ~guard))]
        pairs = combinations(worst, 2) if suspect.max(initial=0.0) > _CALM else ()
        trials = [*singly, *pairs]
        found = None
        for count, trial in enumerate(trials):
            if count >= len(singly) and found is not None:
                break  # two that hide each other are looked for where none will do by itself
            other = kept.copy()
            other[list(trial)] ^= True
            if other.sum() <= free + 2:
                continue
            value, at = weigh(other)
            if value < best - 1e-9:
                best, scale, found = value, at, other
        if found is None:
            break
        kept = found
        z = np.abs(_with(c, y, noise, kept, scale)[1])
    p, z = _with(c, y, noise, kept, scale)
    kept = kept | (np.abs(z) < cut) | (np.abs(p.loo) < least)
    p, z = _with(c, y, noise, kept, scale)
    return Settled(p, noise, z, kept, max(1.0, _spread(z)))


def _with(
    c: Array, y: Array, noise: Array, kept: NDArray[np.bool_], s: float
) -> tuple[Posterior, Array]:
    p = at_rest(c, noise / np.where(kept, 1.0, _OUT), y, s)
    return p, p.loo / np.sqrt(noise + p.spread2)


def _spread(z: Array) -> float:
    ordered = np.sort(np.abs(z))  # a median, without the library's long way round
    half = len(z) // 2
    middle = ordered[half] if len(z) % 2 else (ordered[half - 1] + ordered[half]) / 2
    return 1.4826 * float(middle)
