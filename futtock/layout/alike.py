"""Slabs like those measured: what an unmeasured slab may be, beyond what was seen already.

Drawing the measured slabs again can show no shape that was not among them, and the timbers that
bind are those which few slabs give. So each measured slab is made over several times a little
longer or shorter, wider or narrower, more or less swept: the smoothed bootstrap, drawn in towards
the mean so that the spread of sizes stays that of the sample (Silverman and Young 1987). The width
of the smoothing follows Silverman's rule for three dimensions and so grows where few are measured.
Knots and checks do not ask what shape a tree has: each slab made over has the flaws, and the grain
that runs about them, of a measured slab drawn at random, or those of one knot in an ill place would
count as often as its shape is drawn.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from futtock.stock.outline import arc_mm, middle_line, normals
from futtock.stock.slab import Flaw, Slab

Array = NDArray[np.float64]

_WIDEST = 0.8  # of the sample's spread, however few are measured
_STATIONS = 240
_CLEAR_MM = 400.0  # beyond the outline to which points are carried along


@dataclass(frozen=True)
class Alike:
    """Slabs made over, and the measured slab each is like, by name."""

    slabs: tuple[Slab, ...]
    parent: Mapping[str, str]


def alike(slabs: Sequence[Slab], each: int, seed: int = 0) -> Alike:
    """``each`` slabs like every one of ``slabs``; none where fewer than two are measured.

    Their names are their parent's with ``~1``, ``~2`` ... after it.
    """
    if len(slabs) < 2 or each < 1:
        return Alike((), {})
    rng = np.random.default_rng([seed, 97])
    spines = [_spine(s) for s in slabs]
    sizes = np.array([_sizes(s, spine) for s, spine in zip(slabs, spines, strict=True)])
    mean, spread = sizes.mean(0), sizes.std(0, ddof=1)
    h = min((4.0 / 5.0) ** (1 / 7) * len(slabs) ** (-1 / 7), _WIDEST)
    made: list[Slab] = []
    parent: dict[str, str] = {}
    lines = [Along(spine) for spine in spines]
    for slab, was, own in zip(slabs, lines, sizes, strict=True):
        # antithetic pairs keep each family's mean at its parent's
        steps = rng.normal(size=((each + 1) // 2, 3))
        steps = np.vstack([steps, -steps])[:each]
        for v, step in enumerate(steps):
            aim = mean + (own - mean + h * spread * step) / np.sqrt(1.0 + h * h)
            name = f"{slab.name}~{v + 1}"
            d = int(rng.integers(len(slabs)))
            within = Within(slabs[d], lines[d], sizes[d])
            made.append(replace(made_over(slab, was, own, aim, within), name=name, measured=False))
            parent[name] = slab.name
    return Alike(tuple(made), parent)


def _spine(slab: Slab) -> Array:
    """The middle line (n, 2), evenly and without corners, from end to end."""
    from scipy.interpolate import CubicSpline

    line = middle_line(slab.top_mm)
    s = arc_mm(line)
    smooth: Array = CubicSpline(s, line)(np.linspace(0.0, s[-1], _STATIONS))
    return smooth


def _sizes(slab: Slab, spine: Array) -> Array:
    """Logarithms of length and width, and the rise of the middle line over its chord."""
    from futtock.stock.outline import signed_area_mm2

    long = float(arc_mm(spine)[-1])
    wide = abs(signed_area_mm2(slab.top_mm)) / max(long, 1.0)
    chord = spine[-1] - spine[0]
    size = max(float(np.hypot(*chord)), 1.0)
    off = (spine - spine[0]) @ np.array([-chord[1], chord[0]]) / size
    return np.array([np.log(long), np.log(max(wide, 1.0)), float(np.abs(off).max()) / size])


@dataclass(frozen=True)
class Within:
    """A measured slab, its middle line and sizes, whose flaws and grain another takes over."""

    slab: Slab
    line: Along
    sizes: Array


def made_over(slab: Slab, was: Along, own: Array, aim: Array, within: Within | None = None) -> Slab:
    """The slab with its length, width and rise brought from ``own`` to ``aim``.

    Every point keeps its place along and across the middle line; the line itself is lengthened and
    bent more or less in the plane of its own bend, evenly along it. With ``within`` grain and flaws
    are that slab's, at their shares of length and width. Knots keep their size.
    """
    long, wide = np.exp(aim[:2] - own[:2])
    spine = was.line[1:-1]
    s = arc_mm(spine)
    total = float(s[-1])
    d = np.diff(spine, axis=0)
    heading = np.unwrap(np.arctan2(d[:, 1], d[:, 0]))
    bend = 1.0 if heading[-1] >= heading[0] else -1.0
    # an even bend of small angle a rises a / 8 of its chord
    turn = bend * 8.0 * (aim[2] - own[2])
    heading = heading + turn * (0.5 * (s[1:] + s[:-1]) / total - 0.5)
    step = (np.diff(s) * long)[:, None] * np.column_stack([np.cos(heading), np.sin(heading)])
    now = Along(np.vstack([spine[:1], spine[0] + np.cumsum(step, axis=0)]))
    within = within or Within(slab, was, own)
    longer, wider = np.exp(aim[:2] - within.sizes[:2])

    def over(points: Array) -> Array:
        at, v = was.place(points)
        return now.point(at * long, v * wide)

    def inside(points: Array) -> Array:
        at, v = within.line.place(points)
        return now.point(at * longer, v * wider)

    def flaw(f: Flaw) -> Flaw:
        if f.kind != "knot":
            return replace(f, outline_mm=inside(f.outline_mm))
        at, v = within.line.place(f.outline_mm)
        s0, v0 = at.mean(), v.mean()
        ring = now.point(s0 * longer + (at - s0), v0 * wider + (v - v0))
        return replace(f, outline_mm=ring)

    return replace(
        slab,
        top_mm=over(slab.top_mm),
        bottom_mm=over(slab.bottom_mm),
        face_top_mm=None if slab.face_top_mm is None else over(slab.face_top_mm),
        face_bottom_mm=None if slab.face_bottom_mm is None else over(slab.face_bottom_mm),
        grain_mm=tuple(inside(line) for line in within.slab.grain_mm),
        flaws=tuple(flaw(f) for f in within.slab.flaws),
    )


class Along:
    """Places along and across a line, which runs straight on past both ends."""

    def __init__(self, line: Array) -> None:
        head, tail = line[0] - line[1], line[-1] - line[-2]
        head, tail = head / np.hypot(*head), tail / np.hypot(*tail)
        self.line = np.vstack([line[0] + head * _CLEAR_MM, line, line[-1] + tail * _CLEAR_MM])
        self.s = arc_mm(self.line) - _CLEAR_MM
        self.normal = normals(self.line)
        self._placed: dict[int, tuple[Array, tuple[Array, Array]]] = {}

    def place(self, points: Array) -> tuple[Array, Array]:
        """Along and across (n,) of points (n, 2); the same array is worked out once."""
        if id(points) not in self._placed:
            self._placed[id(points)] = points, self._place(points)
        return self._placed[id(points)][1]

    def _place(self, points: Array) -> tuple[Array, Array]:
        a, d = self.line[:-1], np.diff(self.line, axis=0)
        rel = points[:, None] - a
        t = np.clip((rel * d).sum(-1) / (d * d).sum(-1), 0.0, 1.0)
        gap = np.hypot(*np.moveaxis(rel - t[..., None] * d, -1, 0))
        k = gap.argmin(1)
        rows = np.arange(len(points))
        u = d[k] / np.hypot(*d[k].T)[:, None]
        off = points - a[k]
        across = u[:, 0] * off[:, 1] - u[:, 1] * off[:, 0]
        side = np.where(across >= 0.0, 1.0, -1.0)
        return self.s[k] + t[rows, k] * np.diff(self.s)[k], side * gap[rows, k]

    def point(self, along: Array, across: Array) -> Array:
        """Points (n, 2) at places along and across."""
        x, y, nx, ny = (np.interp(along, self.s, c) for c in (*self.line.T, *self.normal.T))
        n = np.column_stack([nx, ny])
        n /= np.maximum(np.hypot(*n.T), 1e-9)[:, None]
        out: Array = np.column_stack([x, y]) + n * across[:, None]
        return out
