"""Uniform quintic B-splines: bases, energies, and the compiled evaluation of a tensor product.

Basis function k of an axis is the cardinal B-spline of degree five on knots a step apart; over one
cell six of them live, each a polynomial of degree five in the local coordinate (de Boor,
*A Practical Guide to Splines*, ch. X; the local matrix is the classical one for uniform knots).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import comb, factorial

import numba
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
DEGREE = 5
_N = DEGREE + 1


def _local_matrix() -> Array:
    """Coefficients M[k, j] with B_k(s) = sum_j M[k, j] s^j on one cell, s in [0, 1]."""
    m = np.zeros((_N, _N))
    for k in range(_N):
        for j in range(DEGREE - k + 1):
            a = DEGREE - k - j
            for p in range(_N):
                m[k, p] += (-1) ** j * comb(_N, j) * comb(DEGREE, p) * a ** (DEGREE - p)
    return m / factorial(DEGREE)


def _differentiated(m: Array) -> Array:
    return np.hstack([m[:, 1:] * np.arange(1, _N), np.zeros((_N, 1))])


_M0 = _local_matrix()
_M1 = _differentiated(_M0)
_M2 = _differentiated(_M1)
_M3 = _differentiated(_M2)
_M4 = _differentiated(_M3)
_LOCAL = (_M0, _M1, _M2, _M3, _M4)


@dataclass(frozen=True, slots=True)
class Axis:
    """An interval cut into equal cells.

    Attributes
    ----------
    start, step
        First knot of the first cell and length of a cell.
    cells
        Number of cells; the axis carries ``cells + 5`` basis functions.
    """

    start: float
    step: float
    cells: int

    @classmethod
    def over(cls, low: float, high: float, step: float) -> Axis:
        """The axis from low to high in the fewest cells not longer than the step."""
        cells = max(int(np.ceil((high - low) / step - 1e-9)), 1)
        return cls(low, (high - low) / cells, cells)

    @property
    def size(self) -> int:
        """Number of basis functions."""
        return self.cells + DEGREE

    @property
    def end(self) -> float:
        """Last knot of the last cell."""
        return self.start + self.step * self.cells

    def rows(self, at: Array, order: int = 0) -> tuple[NDArray[np.intp], Array]:
        """First basis function (n,) and the six values (n, 6) of a derivative at each place."""
        s = (np.asarray(at, float) - self.start) / self.step
        cell = np.clip(np.floor(s).astype(np.intp), 0, self.cells - 1)
        powers = np.vander(s - cell, _N, increasing=True)
        return cell, powers @ _LOCAL[order].T / self.step**order

    def gram(self, order: int) -> Array:
        """Integrals of products of derivatives, as lower diagonals (6, size)."""
        hilbert = 1.0 / (np.arange(_N)[:, None] + np.arange(_N)[None, :] + 1.0)
        local = _LOCAL[order] @ hilbert @ _LOCAL[order].T * self.step ** (1 - 2 * order)
        band = np.zeros((_N, self.size))
        for d in range(_N):
            for k in range(_N - d):
                band[d, k : k + self.cells] += local[k + d, k]
        return band


@numba.njit(cache=True, inline="always")
def _powers(m: Array, s: float, out: Array) -> None:  # pragma: no cover - compiled
    for k in range(6):
        out[k] = ((((m[k, 5] * s + m[k, 4]) * s + m[k, 3]) * s + m[k, 2]) * s + m[k, 1]) * s + m[
            k, 0
        ]


@numba.njit(cache=True)
def evaluate(
    coef: Array, axes: Array, x: Array, t: Array, out: Array
) -> None:  # pragma: no cover - compiled
    """Value and derivatives to second order of a warped tensor spline at n places.

    Parameters
    ----------
    coef : (mx, mt)
        Coefficients.
    axes : (9,)
        Start, step, cells of either axis, then warp amount, origin and length; see
        :class:`futtock.lines.heightfield.HeightField`.
    x, t : (n,)
    out : (n, 6)
        Receives h, hx, ht, hxx, hxt, htt.
    """
    x0, hx, nx, t0, ht, nt = axes[0], axes[1], int(axes[2]), axes[3], axes[4], int(axes[5])
    amount, origin, length = axes[6], axes[7], axes[8]
    k = 2.0 * np.pi / length
    b = np.empty((6, 6))
    for n in range(x.shape[0]):
        phase = k * (x[n] - origin)
        xi = x[n] + amount / k * np.sin(phase)
        d1 = 1.0 + amount * np.cos(phase)
        d2 = -amount * k * np.sin(phase)
        s = (xi - x0) / hx
        i = min(max(int(np.floor(s)), 0), nx - 1)
        s -= i
        q = (t[n] - t0) / ht
        j = min(max(int(np.floor(q)), 0), nt - 1)
        q -= j
        _powers(_M0, s, b[0])
        _powers(_M1, s, b[1])
        _powers(_M2, s, b[2])
        _powers(_M0, q, b[3])
        _powers(_M1, q, b[4])
        _powers(_M2, q, b[5])
        f = fx = ft = fxx = fxt = ftt = 0.0
        for a in range(6):
            r0 = r1 = r2 = 0.0
            for e in range(6):
                v = coef[i + a, j + e]
                r0 += v * b[3, e]
                r1 += v * b[4, e]
                r2 += v * b[5, e]
            f += b[0, a] * r0
            fx += b[1, a] * r0
            fxx += b[2, a] * r0
            ft += b[0, a] * r1
            fxt += b[1, a] * r1
            ftt += b[0, a] * r2
        fx /= hx
        fxx /= hx * hx
        ft /= ht
        ftt /= ht * ht
        fxt /= hx * ht
        out[n, 0] = f
        out[n, 1] = fx * d1
        out[n, 2] = ft
        out[n, 3] = fxx * d1 * d1 + fx * d2
        out[n, 4] = fxt * d1
        out[n, 5] = ftt


@numba.njit(cache=True)
def laid_out(
    h: Array, u: Array, v: Array, axes: Array, out: Array
) -> None:  # pragma: no cover - compiled
    """Points and their derivatives (n, 6, 3) of heights (n, 6) over (u, v) in axes (3, 3)."""
    for n in range(u.shape[0]):
        for i in range(3):
            eu, et, eh = axes[0, i], axes[1, i], axes[2, i]
            out[n, 0, i] = h[n, 0] * eh + (u[n] * eu + v[n] * et)
            out[n, 1, i] = h[n, 1] * eh + eu
            out[n, 2, i] = h[n, 2] * eh + et
            for k in range(3, 6):
                out[n, k, i] = h[n, k] * eh
