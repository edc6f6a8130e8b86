"""Inner edges: the moulded size square to the outer edge, and what folds there.

Where the outer edge turns more sharply than the moulded size (a hard bilge, a tuck) the offset
folds into a swallowtail. It is cut off where it crosses itself and the corner is worked to a round
that leaves a little wood, so that every point of the outer edge keeps a point opposite.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def moulded_mm(stated: tuple[tuple[float, float], ...], girth_mm: Array) -> Array:
    """Moulded size at each point of edges of girths (..., n), straight-line between the stated.

    Parameters
    ----------
    stated
        ``(girth fraction, mm)`` in any order; constant beyond the first and last.
    girth_mm
        Girth of the points, from 0 at the heel.
    """
    fraction, size = np.array(sorted(stated)).T
    share = girth_mm / girth_mm[..., -1:]
    sizes: Array = np.interp(share, fraction, size)
    return sizes


def inner_edge(
    edge: Array, tangent: Array, moulded: Array, round_mm: float
) -> tuple[Array, NDArray[np.bool_]]:
    """Inner edges opposite outer ones.

    Parameters
    ----------
    edge, tangent : (K, n, 2)
    moulded : (K, n)
    round_mm
        Least radius worked in the corner that cutting off a swallowtail leaves.

    Returns
    -------
    (K, n, 2) inner points, and (K,) True where a swallowtail was cut off.
    """
    inward = np.stack([-tangent[..., 1], tangent[..., 0]], axis=-1)
    inner = edge + moulded[..., None] * inward
    step = np.diff(inner, axis=1)
    folds = ((step * tangent[:, 1:]).sum(axis=-1) <= 0).any(axis=1)
    for k in np.flatnonzero(folds):
        inner[k] = _unfolded(inner[k], tangent[k], round_mm)
    return inner, folds


def _unfolded(inner: Array, tangent: Array, round_mm: float) -> Array:
    """The inner edge with its swallowtails cut off and their corners rounded."""
    back = (np.diff(inner, axis=0) * tangent[1:]).sum(axis=1) <= 0
    inner = inner.copy()
    done = 0
    for k in np.flatnonzero(back):
        if k < done:
            continue
        i, j, corner = _crossing(inner, int(k))
        i, j = _round_ends(inner, i, j, corner, round_mm)
        if i == 0 or j == len(inner) - 1:
            # folded to an end: nothing to cross; close the points up along a straight line
            s = np.linspace(0, 1, j - i + 1)[:, None]
            inner[i : j + 1] = (1 - s) * inner[i] + s * inner[j]
        else:
            s = np.linspace(0, 1, j - i + 1)[:, None]
            inner[i : j + 1] = (1 - s) ** 2 * inner[i] + 2 * s * (1 - s) * corner + s**2 * inner[j]
        done = j
    return inner


def _crossing(inner: Array, k: int) -> tuple[int, int, Array]:
    """Points before and after the loop about segment k, and where its sides cross.

    The pair of segments farthest apart that cross is taken, so that a loop within a loop goes too.
    """
    n = len(inner)
    reach = 4
    while True:
        lo, hi = max(0, k - reach), min(n - 1, k + 1 + reach)
        p, q = inner[lo:k], inner[lo + 1 : k + 1]
        r, s = inner[k + 1 : hi], inner[k + 2 : hi + 1]
        if len(p) and len(r):
            d, e = (q - p)[:, None], (s - r)[None, :]
            f = r[None, :] - p[:, None]
            det = d[..., 0] * e[..., 1] - d[..., 1] * e[..., 0]
            det = np.where(np.abs(det) < 1e-12, np.nan, det)
            a = (f[..., 0] * e[..., 1] - f[..., 1] * e[..., 0]) / det
            b = (f[..., 0] * d[..., 1] - f[..., 1] * d[..., 0]) / det
            with np.errstate(invalid="ignore"):
                hit = (a >= 0) & (a <= 1) & (b >= 0) & (b <= 1)
            found = np.argwhere(hit)
            if len(found):
                i, j = found[np.argmax(found[:, 1] - found[:, 0])]
                return lo + int(i), k + 2 + int(j), p[i] + a[i, j] * (q[i] - p[i])
        if lo == 0 and hi == n - 1:
            return max(0, k - 1), min(n - 1, k + 2), inner[k]
        reach *= 2


def _round_ends(inner: Array, i: int, j: int, corner: Array, round_mm: float) -> tuple[int, int]:
    """Points from which a round of about ``round_mm`` about the corner may start and end."""
    while i > 0 and np.hypot(*(inner[i] - corner)) < round_mm:
        i -= 1
    while j < len(inner) - 1 and np.hypot(*(inner[j] - corner)) < round_mm:
        j += 1
    return i, j
