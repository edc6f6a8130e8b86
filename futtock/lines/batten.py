"""A batten through one line: readings at places along it, faired, doubted and read back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from futtock.lines.bspline import DEGREE, Axis
from futtock.lines.robust import settle, sift
from futtock.lines.settings import least_slip_mm
from futtock.lines.ways import dense_rows, ways_of

Array = NDArray[np.float64]
_STIFF = 8  # of a batten's length to its stiffness length: only the mass is seen beside it
_MASS = 1e-5  # variance of what bending leaves free, beside one of bending


@dataclass(frozen=True)
class Batten:
    """A fair line y(s).

    Attributes
    ----------
    axis, coef
        Uniform quintic spline.
    z : (n,)
        Studentised leave-one-out residuals of the readings it was laid to.
    loo : (n,)
        Each reading less what the others say.
    kept : (n,) bool
        Readings it leans on.
    """

    axis: Axis
    coef: Array
    z: Array
    loo: Array
    kept: NDArray[np.bool_]

    @classmethod
    def bent(cls, axis: Axis, coef: Array) -> Batten:
        """A batten of known shape, laid to nothing."""
        none = np.zeros(0)
        return cls(axis, coef, none, none, none.astype(bool))

    def __call__(self, s: Array, order: int = 0) -> Array:
        """Value or derivative at places of any one shape; straight on past its ends."""
        s = np.asarray(s, float)
        flat = s.ravel()
        inside = np.clip(flat, self.axis.start, self.axis.end)
        out = self._at(inside, order)
        beyond = flat - inside
        if order == 0 and np.any(beyond):
            out = out + beyond * self._at(inside, 1)
        elif order > 1:
            out = np.where(beyond == 0, out, 0.0)
        return out.reshape(s.shape)

    def _at(self, s: Array, order: int) -> Array:
        i, v = self.axis.rows(s, order)
        return np.asarray((v * self.coef[i[:, None] + np.arange(DEGREE + 1)]).sum(axis=1))

    @cached_property
    def span(self) -> tuple[float, float]:
        """First and last place."""
        return self.axis.start, self.axis.end


def lay_batten(
    s: Array, y: Array, sigma: Array, *, reach: float = 0.0, cut: float = 4.5, doubt: bool = True
) -> Batten:
    """A batten laid to readings.

    Parameters
    ----------
    s, y, sigma : (n,)
        Places (any order; repeats allowed), readings and their standard errors.
    reach
        How far to carry the batten past its end readings.
    cut
        See :func:`futtock.lines.robust.settle`.
    doubt
        False: every reading is kept.

    Notes
    -----
    One reading gives a level line, two a straight one, three a parabola.
    """
    s, y, sigma = (np.asarray(a, float) for a in (s, y, sigma))
    low, high = float(s.min()) - reach, float(s.max()) + reach
    length = max(high - low, 1.0)
    places = len(np.unique(s))
    axis = Axis.over(low, low + length, length / np.clip(2 * places, 8, 90))
    t = (s - low) / length * 2 - 1
    power = np.vander(t, min(places, 3), increasing=True)
    trend = np.linalg.lstsq(power / sigma[:, None], y / sigma, rcond=None)[0]
    straight = _spline_of(axis, lambda u: np.polyval(trend[::-1], (u - low) / length * 2 - 1))
    none = np.zeros(len(s))
    if places <= 3:
        loo = y - power @ trend
        return Batten(axis, straight, none, loo, np.ones(len(s), bool))
    ways = ways_of(axis, 3)
    stiff = length / _STIFF
    variance = 1.0 / (stiff**5 * ways.energy[3] + _MASS / stiff)
    rows = ways.at(s) * np.sqrt(variance)
    c = rows @ rows.T
    y0 = y - power @ trend
    # nothing lies beyond an end to say that it is wrong
    guard = (s == s.min()) | (s == s.max())
    doubt = doubt and places > 5
    done = settle(c, y0, sigma**2, free=3, cut=cut, doubt=doubt, guard=guard)
    if doubt:
        least = np.array([least_slip_mm(one, length) for one in sigma])
        done = sift(c, y0, sigma**2, done, free=3, cut=cut, guard=guard, least=least)
    weights = np.sqrt(variance) * (done.posterior.alpha @ rows)
    coef = straight + done.posterior.scale * (ways.shapes @ weights)
    return Batten(axis, coef, done.z, done.posterior.loo, done.kept)


def _spline_of(axis: Axis, f: Callable[[Array], Array]) -> Array:
    """Coefficients of a polynomial f of degree five or less: exact."""
    return np.asarray(_through(axis.cells) @ f(axis.start + axis.step * _dense_places(axis.cells)))


def _dense_places(cells: int) -> Array:
    n = 3 * (cells + DEGREE)
    return (np.arange(n) + 0.5) / n * cells


@lru_cache(maxsize=128)
def _through(cells: int) -> Array:
    """Coefficients by least squares from values at dense places, on cells of length one."""
    return np.asarray(np.linalg.pinv(dense_rows(Axis(0.0, 1.0, cells), _dense_places(cells))))
