"""Where a timber's outline has its points: dense enough that the chords between them are the curve.

A router or a saw follows straight lines from point to point. Each step of an edge is therefore
divided until no chord stands off its curve by more than :data:`CHORD_MM`, and every corner of an
edge has a point of its own.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from futtock.framing.edges import Edges

Array = NDArray[np.float64]

CHORD_MM = 0.01
"""How far the chords of an outline may stand off the true curve (a router is promised 0.02)."""

_CLEAR = 0.35  # no point nearer to an end than this part of a step
_MOST = 16
_NEAR = 0.1  # points nearer than this part of a step are one


class Sampling:
    """The parts into which every step of every layer's edges is divided.

    Parameters
    ----------
    edges
        Edges of all layers.
    """

    def __init__(self, edges: Edges) -> None:
        chord = np.diff(edges.points, axis=1)
        length = np.hypot(chord[..., 0], chord[..., 1])
        along = chord / np.maximum(length, 1e-12)[..., None]
        leave, arrive = edges.tangents[:, :-1], edges.arriving[:, 1:]
        turn = sum(
            np.abs(np.arcsin(np.clip(t[..., 0] * along[..., 1] - t[..., 1] * along[..., 0], -1, 1)))
            for t in (leave, arrive)
        )
        # an arc that turns by this much over a chord rises from it by length x turn / 8
        rise = (length * turn / 8).reshape(-1, 4, edges.n - 1).max(axis=1)
        parts = np.clip(np.ceil(np.sqrt(rise / CHORD_MM)), 1, _MOST).astype(np.intp)
        self.parts = parts
        self._grids = [_grid(p) for p in parts]
        self._last = edges.n - 1.0
        self._kinked = edges.on_keel & (
            np.abs(edges.onwards - edges.tangents[:, 0]).max(axis=1).reshape(-1, 4)[:, 1::2] > 1e-9
        ).any(axis=1)

    def rows(self, layer: int, w0: Array, w1: Array, foot: int) -> tuple[Array, int]:
        """Indices (4, n) of the points of a timber on its layer's four edges, and its foot's count.

        Whole steps and even parts of them where they can be: the edges start and stop at their own
        indices ``w0``, ``w1`` (4,), and the shift against the joint's outer edge dies away quickly
        from both ends. A floor's outer edges wait at their start for the ``foot`` points of the
        foot, which its inner edges use.
        """
        base = self._base(layer, float(w0[0]), float(w1[0]))
        if foot:
            base = np.concatenate([w0[0] - np.arange(foot, 0, -1), base])
        rows = self._placed(base, w0, w1, foot)
        if self._kinked[layer]:
            return self._cornered(base, rows, w0, w1, foot)
        return rows, foot

    def _base(self, layer: int, low: float, high: float) -> Array:
        """Indices along the joint's outer edge from end to end."""
        parts, grid = self.parts[layer], self._grids[layer]
        first, last = int(parts[0]), int(parts[-1])
        if low < 0:
            grid = np.concatenate([np.arange(np.floor(low) * first, 0) / first, grid])
        if high > self._last:
            more = np.arange(1, np.ceil((high - self._last) * last) + 1) / last
            grid = np.concatenate([grid, self._last + more])
        step = int(np.clip(low, 0, self._last - 1)), int(np.clip(high, 0, self._last - 1))
        clear = _CLEAR / parts[list(step)]
        inside = grid[(grid > low + clear[0]) & (grid < high - clear[1])]
        return np.concatenate([[low], inside, [high]])

    @staticmethod
    def _placed(base: Array, w0: Array, w1: Array, foot: int) -> Array:
        rows = _shifted(base, w0 - base[0], w1 - base[-1])
        if foot:
            own = base[foot:]
            outer = _shifted(own, (w0 - own[0])[::2], (w1 - own[-1])[::2])
            rows[::2, :foot] = outer[:, :1]
            rows[::2, foot:] = outer
        return rows

    def _cornered(
        self, base: Array, rows: Array, w0: Array, w1: Array, foot: int
    ) -> tuple[Array, int]:
        """The rows with a point on the corner, at index 0, that both inner edges have at the heel.

        One ruling joins the two corners, so that the cut has the same corner on both faces.
        """
        own = [c for c in (1, 3) if rows[c, 0] < 0 < rows[c, -1]]
        if not own:
            return rows, foot
        corner = float(np.mean([np.interp(0.0, rows[c], base) for c in own]))
        if np.abs(base - corner).min() > _NEAR:
            foot += int(corner < w0[0]) if foot else 0
            base = np.insert(base, np.searchsorted(base, corner), corner)
            rows = self._placed(base, w0, w1, foot)
        k = 1 + int(np.abs(base[1:-1] - corner).argmin())
        for c in own:
            rows[c] -= rows[c, k] * faded(base, k, float(rows[c, k]))
        return rows, foot


def faded(base: Array, k: int, shift: float) -> Array:
    """How much of a shift at point k each point takes: none at the ends or six shifts away."""
    side = np.where(base < base[k], base[k] - base[0], base[-1] - base[k])
    reach = np.minimum(max(6 * abs(shift), 1.0), side)
    faded: Array = np.clip(1 - np.abs(base - base[k]) / reach, 0.0, 1.0)
    return faded


def _grid(parts: NDArray[np.intp]) -> Array:
    """Whole steps and their parts, from 0 to the last index."""
    step = np.repeat(np.arange(len(parts)), parts)
    within = np.arange(len(step)) - np.repeat(np.cumsum(parts) - parts, parts)
    return np.append(step + within / parts[step], float(len(parts)))


def _shifted(w: Array, first: Array, last: Array) -> Array:
    """Indices (k, n) moved by ``first`` at their start and ``last`` at their end, shifts (k,)."""
    span = w[-1] - w[0]
    out = np.repeat(w[None], len(first), axis=0)
    for shift, away in ((first, w - w[0]), (last, w[-1] - w)):
        reach = np.clip(6 * np.abs(shift), 1.0, max(span, 1.0))[:, None]
        fade = np.clip(1 - away / reach, 0.0, 1.0)
        out += shift[:, None] * np.where(2 * np.abs(shift)[:, None] < reach, fade * fade, fade)
    return out
