"""A batten's own ways of bending along an axis (Demmler and Reinsch 1975); splines as matrices.

The ways are the polynomials that cost nothing, then the eigenvectors of the integral of squared
m-th derivatives. In them that energy is diagonal, so that covariances are had without solving with
a matrix that is all but singular.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cholesky, eigh, solve_triangular

from futtock.lines.bspline import DEGREE, Axis

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Ways:
    """A batten's own ways of bending along one axis.

    Attributes
    ----------
    axis
        The spline's axis.
    shapes : (size, size)
        Spline coefficients of each way, in columns; orthonormal over the axis.
    energy : (m + 1, size)
        Integral of each way's squared derivative of order 0 to m.
    """

    axis: Axis
    shapes: Array
    energy: Array

    def at(self, s: Array, order: int = 0) -> Array:
        """Each way's value or derivative at places (n,): (n, size)."""
        return dense_rows(self.axis, s, order) @ self.shapes


def ways_of(axis: Axis, m: int) -> Ways:
    """The ways of bending along an axis, by the integral of squared m-th derivatives."""
    unit = _ways(axis.cells, m)
    shrink = axis.step ** (-2.0 * np.arange(m + 1))
    return Ways(axis, unit.shapes / np.sqrt(axis.step), unit.energy * shrink[:, None])


@lru_cache(maxsize=128)
def _ways(cells: int, m: int) -> Ways:
    """On cells of length one."""
    axis = Axis(0.0, 1.0, cells)
    grams = [band_matrix(axis.gram(d)) for d in range(m + 1)]
    # what costs nothing: polynomials by degree, each orthogonal to those below
    s = (np.arange(3 * axis.size) + 0.5) / (3 * axis.size) * cells
    legendre = np.polynomial.legendre.legvander(2 * s / cells - 1, m - 1)
    free = np.linalg.lstsq(dense_rows(axis, s), legendre, rcond=None)[0]
    root = cholesky(free.T @ grams[0] @ free, lower=True)
    free = solve_triangular(root, free.T, lower=True).T
    shapes = eigh(grams[m], grams[0])[1]
    shapes[:, :m] = free
    shapes[:, m:] -= free @ (free.T @ grams[0] @ shapes[:, m:])
    energy = np.array([np.einsum("ij,ij->j", shapes, g @ shapes) for g in grams])
    for d in range(1, m + 1):
        energy[d, :d] = 0.0
    shapes.flags.writeable = energy.flags.writeable = False
    return Ways(axis, shapes, energy)


def dense_rows(axis: Axis, s: Array, order: int = 0) -> Array:
    """Basis of an axis at places (n,), or a derivative of it: (n, axis.size)."""
    index, value = axis.rows(s, order)
    v = np.zeros((len(index), axis.size))
    np.put_along_axis(v, index[:, None] + np.arange(DEGREE + 1), value, 1)
    return v


def stiff_matrix(axis: Axis, stiff: float, mass: float) -> Array:
    """Energy of third derivatives in a stiffness length, with a weak mass: (size, size)."""
    return band_matrix(axis.gram(3)) * stiff**5 + mass / stiff * band_matrix(axis.gram(0))


def band_matrix(band: Array) -> Array:
    """A symmetric matrix (n, n) from its lower diagonals."""
    n = band.shape[1]
    m = np.zeros((n, n))
    for d in range(band.shape[0]):
        i = np.arange(n - d)
        m[i + d, i] = m[i, i + d] = band[d, : n - d]
    return m
