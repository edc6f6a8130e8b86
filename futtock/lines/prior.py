"""What fair means, as a Gaussian prior: the batten's energy in its own ways of bending.

The energy is the integral of squared derivatives of order m of the height field, m being 3 or 4,
each direction in its own stiffness length,

    E = 1/(Lx Lt) integral sum_d C(m, d) (Lx^d Lt^(m-d) d^m h / dx^d dt^(m-d))^2 dx dt,

which leaves every polynomial below that order free. Along each axis a batten has its own ways of
bending: the polynomials that cost nothing, then the eigenvectors of the integral of squared m-th
derivatives (Demmler and Reinsch 1975). In products of these the energy is taken as diagonal, each
product charged its own energy: exact where the bending runs along one axis only, and for the free
polynomials; the cross-talk of the mixed terms, which lives at the edges, is left out. As a prior
the weight of each product is then independent, with variance s / (energy + a weak mass): s is the
only unknown of the smoothing and is chosen by :mod:`futtock.lines.smoothing` (Wahba, *Spline Models
for Observational Data*, ch. 1; Kimeldorf and Wahba 1970).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import comb

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import blas

from futtock.lines.bspline import Axis
from futtock.lines.ways import Ways, ways_of

Array = NDArray[np.float64]
# variance of what bending leaves free, beside one of bending: it may be had a thousand times more
# or less without a figure's moving
_MASS = 0.15


@lru_cache(maxsize=4)
def _below(n: int) -> NDArray[np.bool_]:
    """True on and below the diagonal (n, n)."""
    return np.asarray(np.tri(n, dtype=bool))


@dataclass(frozen=True)
class Prior:
    """The batten laid on a pair of axes.

    Attributes
    ----------
    along, across
        Ways of bending along either axis.
    variance : (along.size * across.size,)
        Of the weight of each product of ways, the second running fastest.
    """

    along: Ways
    across: Ways
    variance: Array

    @classmethod
    def of(cls, along: Axis, across: Axis, stiff_u: float, stiff_t: float, order: int = 3) -> Prior:
        """The prior with these stiffness lengths (mm of the axes' own parameters)."""
        u, t = ways_of(along, order), ways_of(across, order)
        cost = np.full((along.size, across.size), _MASS / (stiff_u * stiff_t))
        for d in range(order + 1):
            w = comb(order, d) * stiff_u ** (2 * d - 1) * stiff_t ** (2 * (order - d) - 1)
            cost += w * np.multiply.outer(u.energy[d], t.energy[order - d])
        return cls(u, t, 1.0 / cost.ravel())

    def rows(self, u: Array, t: Array, du: int = 0, dt: int = 0) -> Array:
        """Products of ways, or a derivative of them, at each place (n,): (n, N)."""
        a, b = self.along.at(u, du), self.across.at(t, dt)
        return np.asarray((a[:, :, None] * b[:, None, :]).reshape(len(a), -1))

    def half(self, rows: Array) -> Array:
        """W (n, N), so that W W' is the covariance over s of the places of the rows."""
        return np.asarray(rows * np.sqrt(self.variance))

    def covariance(self, half: Array) -> Array:
        """W W' (n, n)."""
        c = blas.dsyrk(1.0, half.T, trans=1, lower=1)
        return np.asarray(np.where(_below(len(c)), c, c.T))

    def coefficients(self, weights: Array) -> Array:
        """Spline coefficients of weights (N,) of the ways: (along.size, across.size)."""
        w = weights.reshape(self.along.axis.size, self.across.axis.size)
        return np.asarray(self.along.shapes @ w @ self.across.shapes.T)
