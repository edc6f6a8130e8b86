"""What fair means, as a Gaussian prior: the batten's energy and the covariances it implies.

The energy is the integral of squared derivatives of order m of the height field, m being 3 or 4,
each direction in its own stiffness length,

    E = 1/(Lx Lt) integral sum_d C(m, d) (Lx^d Lt^(m-d) d^m h / dx^d dt^(m-d))^2 dx dt,

which leaves every polynomial below that order free. A spline with coefficients c has E = c' K c; a
weak mass term makes K definite. As a prior, c ~ N(0, s K^-1): s is the only unknown of the
smoothing and is chosen by :mod:`futtock.lines.smoothing` (Wahba, *Spline Models for Observational
Data*, ch. 1; Kimeldorf and Wahba 1970). Readings see c through rows v, so their covariance is
s V K^-1 V'.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import comb

import numba
import numpy as np
from numpy.typing import NDArray
from scipy.linalg import blas, cho_solve_banded, cholesky_banded

from futtock.lines.bspline import DEGREE, Axis, tensor_band

Array = NDArray[np.float64]
# weight of the integral of h^2, by order: as little as double precision bears
_MASS = {3: 1e-6, 4: 0.015}
_BLOCK = 64


@numba.njit(cache=True)
def _unpack(band: Array, width: int) -> Array:  # pragma: no cover - compiled
    """Lower band as rows: out[i, j] = L[i, i - width + j]."""
    n = band.shape[1]
    out = np.zeros((n, width + 1))
    for k in range(width + 1):
        for i in range(k, n):
            out[i, width - k] = band[k, i - k]
    return out


@numba.njit(cache=True)
def _block(rows: Array, i0: int, i1: int, j0: int, j1: int) -> Array:  # pragma: no cover
    """Dense L[i0:i1, j0:j1] from the rows of :func:`_unpack`."""
    width = rows.shape[1] - 1
    out = np.zeros((i1 - i0, j1 - j0))
    for i in range(i0, i1):
        for j in range(max(j0, i - width), min(j1, i + 1)):
            out[i - i0, j - j0] = rows[i, width - i + j]
    return out


@dataclass(frozen=True)
class Prior:
    """The batten laid on a pair of axes.

    Attributes
    ----------
    along, across
        Axes of the spline.
    factor : (5 * across.size + 6, N)
        Banded Cholesky factor of K.
    """

    along: Axis
    across: Axis
    factor: Array

    @classmethod
    def of(cls, along: Axis, across: Axis, stiff_u: float, stiff_t: float, order: int = 3) -> Prior:
        """The prior with these stiffness lengths (mm of the axes' own parameters)."""
        pairs = []
        for d in range(order + 1):
            w = comb(order, d) * stiff_u ** (2 * d - 1) * stiff_t ** (2 * (order - d) - 1)
            pairs.append((w, along.gram(d), across.gram(order - d)))
        pairs.append((_MASS[order] / (stiff_u * stiff_t), along.gram(0), across.gram(0)))
        band = tensor_band(pairs, across.size)
        return cls(along, across, cholesky_banded(band, lower=True, check_finite=False))

    @property
    def size(self) -> int:
        """Number of coefficients."""
        return self.along.size * self.across.size

    def rows(self, u: Array, t: Array) -> tuple[NDArray[np.intp], Array]:
        """Indices (n, 36) and values (n, 36) of the basis at each place."""
        i, a = self.along.rows(u)
        j, b = self.across.rows(t)
        k = np.arange(DEGREE + 1)
        index = (i[:, None, None] + k[:, None]) * self.across.size + j[:, None, None] + k
        value = a[:, :, None] * b[:, None, :]
        return index.reshape(len(i), -1), value.reshape(len(i), -1)

    def half(self, index: NDArray[np.intp], value: Array) -> Array:
        """W = L^-1 V' (N, n) in Fortran order, so that W'W is the covariance over s."""
        n = len(index)
        order = np.argsort(index[:, 0], kind="stable")
        w = np.zeros((self.size, n))
        w[index[order].T, np.arange(n)] = value[order].T
        width = self.factor.shape[0] - 1
        rows = _unpack(self.factor, width)
        first = index[order, 0]
        for i0 in range(0, self.size, _BLOCK):
            i1 = min(i0 + _BLOCK, self.size)
            live = int(np.searchsorted(first, i1))  # columns further on are still all zero
            if not live:
                continue
            j0 = max(i0 - width, 0)
            part = w[i0:i1, :live]
            if j0 < i0:
                part = part - _block(rows, i0, i1, j0, i0) @ w[j0:i0, :live]
            w[i0:i1, :live] = blas.dtrsm(1.0, _block(rows, i0, i1, i0, i1), part, lower=1)
        back = np.empty(n, np.intp)
        back[order] = np.arange(n)
        return w[:, back]

    def covariance(self, w: Array) -> Array:
        """W'W (n, n)."""
        c = blas.dsyrk(1.0, np.asfortranarray(w), trans=1, lower=1)
        return np.asarray(c + np.tril(c, -1).T)

    def coefficients(self, index: NDArray[np.intp], value: Array, alpha: Array) -> Array:
        """K^-1 V' alpha, shape (along.size, across.size)."""
        b = np.bincount(index.ravel(), (value * alpha[:, None]).ravel(), self.size)
        c = cho_solve_banded((self.factor, True), b, check_finite=False)
        return np.asarray(c).reshape(self.along.size, self.across.size)
