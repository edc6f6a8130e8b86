"""Height fields made of others: seen from another direction, knuckled, or blended.

All answer as a height over the plain diagonal, h(x, t), so that whoever asks need not know.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.lines.batten import Batten
from futtock.lines.heightfield import HeightField

Array = NDArray[np.float64]


@dataclass(frozen=True)
class SeenPlain(HeightField):
    """A field fitted in a turned projection, given as a height over the plain diagonal.

    With E(x, t, h) = (height of the point in the turned axes) - (the turned field there), the plain
    height solves E = 0 along h, and its derivatives follow from those of E by the theorem of
    implicit functions. Where the hull stands square to the plain projection (a bluff bow at the
    stem) the slopes grow without bound, as they must.

    Attributes
    ----------
    turned
        The field in its own axes.
    """

    turned: HeightField | None = None

    def heights(self, u: Array, v: Array) -> Array:
        """h, hx, ht, hxx, hxt, htt at matching places (...): shape (..., 6)."""
        assert self.turned is not None
        u, v = np.broadcast_arrays(np.asarray(u, float), np.asarray(v, float))
        x, t = u.ravel(), v.ravel()
        h = HeightField.heights(self, x, t)[:, 0]  # a fit in the plain projection: near enough
        basis = self.turn.axes
        # components of the plain axes in the turned: columns are u', t', h'
        ex, et, eh = (self.turned.turn.axes @ basis[k] for k in range(3))
        origin = x[:, None] * ex + t[:, None] * et
        for _ in range(30):
            at = origin + h[:, None] * eh
            f = self.turned.heights(at[:, 0], at[:, 1])
            e = at[:, 2] - f[:, 0]
            slope = eh[2] - f[:, 1] * eh[0] - f[:, 2] * eh[1]
            slope = np.where(np.abs(slope) < 0.05, 0.05, slope)
            step = np.clip(e / slope, -80, 80)
            h = h - step
            if np.abs(step).max(initial=0) < 1e-9:
                break
        at = origin + h[:, None] * eh
        f = self.turned.heights(at[:, 0], at[:, 1])
        first = [a[2] - f[:, 1] * a[0] - f[:, 2] * a[1] for a in (ex, et, eh)]
        big = np.where(np.abs(first[2]) < 0.02, 0.02, first[2])

        def second(a: Array, b: Array) -> Array:
            mixed = a[0] * b[1] + a[1] * b[0]
            return np.asarray(-(f[:, 3] * a[0] * b[0] + f[:, 4] * mixed + f[:, 5] * a[1] * b[1]))

        hx, ht = -first[0] / big, -first[1] / big
        hh = second(eh, eh)
        hxx = -(second(ex, ex) + 2 * second(ex, eh) * hx + hh * hx * hx) / big
        htt = -(second(et, et) + 2 * second(et, eh) * ht + hh * ht * ht) / big
        hxt = -(second(ex, et) + second(ex, eh) * ht + second(et, eh) * hx + hh * hx * ht) / big
        out = np.stack([h, hx, ht, hxx, hxt, htt], axis=-1)
        return np.asarray(out.reshape(*u.shape, 6))


@dataclass(frozen=True)
class Knuckle:
    """A knuckle: the diagonal's height it runs at, and how sharply the section turns there."""

    at: Batten
    turn: Batten

    def add(self, x: Array, t: Array, out: Array) -> None:
        """Add the ramp g(x) max(0, t - c(x)) and its derivatives to heights (n, 6)."""
        c, c1, c2 = (self.at(x, k) for k in range(3))
        g, g1, g2 = (self.turn(x, k) for k in range(3))
        above = t > c
        d = np.where(above, t - c, 0.0)
        on = above.astype(float)
        out[:, 0] += g * d
        out[:, 1] += g1 * d - g * c1 * on
        out[:, 2] += g * on
        out[:, 3] += g2 * d - (2 * g1 * c1 + g * c2) * on
        out[:, 4] += g1 * on


@dataclass(frozen=True)
class Knuckled(HeightField):
    """A field with knuckles: smooth but for a fold along each."""

    knuckles: tuple[Knuckle, ...] = ()

    def heights(self, u: Array, v: Array) -> Array:
        """h, hx, ht, hxx, hxt, htt at matching places (...): shape (..., 6)."""
        out = HeightField.heights(self, u, v)
        u, v = np.broadcast_arrays(np.asarray(u, float), np.asarray(v, float))
        flat = out.reshape(-1, 6)
        for knuckle in self.knuckles:
            knuckle.add(u.ravel(), v.ravel(), flat)
        return out


@dataclass(frozen=True)
class ForeAndAft(HeightField):
    """Two fields, each for its end of the hull, eased into each other over the middle.

    Attributes
    ----------
    fore, aft
        The fields, as heights over the plain diagonal.
    ease
        (from, to) in x between which the one gives way to the other.
    """

    fore: HeightField | None = None
    aft: HeightField | None = None
    ease: tuple[float, float] = (0.0, 1.0)

    def heights(self, u: Array, v: Array) -> Array:
        """h, hx, ht, hxx, hxt, htt at matching places (...): shape (..., 6)."""
        assert self.fore is not None
        assert self.aft is not None
        u, v = np.broadcast_arrays(np.asarray(u, float), np.asarray(v, float))
        x, t = u.ravel(), v.ravel()
        span = self.ease[1] - self.ease[0]
        s = np.clip((x - self.ease[0]) / span, 0, 1)
        # quintic step: first and second derivatives vanish at both ends
        w = s**3 * (10 - 15 * s + 6 * s * s)
        w1 = 30 * s * s * (1 - s) ** 2 / span
        w2 = 60 * s * (1 - s) * (1 - 2 * s) / span**2
        a = np.zeros((len(x), 6))
        b = np.zeros((len(x), 6))
        f, g = s < 1, s > 0
        a[f] = self.fore.heights(x[f], t[f])
        b[g] = self.aft.heights(x[g], t[g])
        out = (1 - w)[:, None] * a + w[:, None] * b
        gap = b - a
        out[:, 1] += w1 * gap[:, 0]
        out[:, 3] += w2 * gap[:, 0] + 2 * w1 * gap[:, 1]
        out[:, 4] += w1 * gap[:, 2]
        return np.asarray(out.reshape(*u.shape, 6))
