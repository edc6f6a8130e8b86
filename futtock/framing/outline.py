"""One timber's two faces, cut from its frame: ends square to the edge, heels on the keel's top.

Everything is in the frame's (out, up), starboard; a port timber is the mirror (out -> -out), a
timber that crosses the keel spans both. An ordinary butt is one plane square to the joint face's
outer edge, through both faces. A heel stands level on the keel's top, which each face meets at its
own height, and is cut off at the centreline where the timber reaches that far.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from futtock.framing.curve import at, meet, tangents
from futtock.framing.frame import Frame, LayerName, Timber

Array = NDArray[np.float64]

_BOTTOM = 6  # points along half of a floor's foot


@dataclass(frozen=True)
class TimberShape:
    """Both faces of a timber, outer and inner edges matched point by point, heel to head.

    Attributes
    ----------
    joint_outer, joint_inner, far_outer, far_inner : (n, 2)
        ``joint_outer[i]`` and ``far_outer[i]`` are the ends of one ruling of the outer edge's cut,
        ``joint_inner[i]`` and ``far_inner[i]`` of the inner edge's. A timber that crosses the keel
        (side ``C``) runs from its port head over the keel to its starboard head.
    girth_mm : (n,)
        Girth along the joint face's outer edge; negative on the port side, 0 along a floor's foot.
    outer_chord_deg, inner_chord_deg : (n,)
        Leans of the rulings, positive where the hull widens going aft.
    heel, heel_far : (k, 2)
        Corners of the heel between ``joint_inner[0]`` and ``joint_outer[0]`` (and between the far
        ones), in that order; none for an ordinary butt.
    """

    joint_outer: Array
    joint_inner: Array
    far_outer: Array
    far_inner: Array
    girth_mm: Array
    outer_chord_deg: Array
    inner_chord_deg: Array
    heel: Array = field(default_factory=lambda: np.empty((0, 2)))
    heel_far: Array = field(default_factory=lambda: np.empty((0, 2)))

    @property
    def joint_ring(self) -> Array:
        """Closed outline of the joint face: outer edge up, inner edge down, heel."""
        return np.concatenate([self.joint_outer, self.joint_inner[::-1], self.heel])

    @property
    def far_ring(self) -> Array:
        """Closed outline of the far face."""
        return np.concatenate([self.far_outer, self.far_inner[::-1], self.heel_far])

    @property
    def middle(self) -> Array:
        """Middle line (n, 2), halfway between the edges of both faces."""
        total: Array = self.joint_outer + self.joint_inner + self.far_outer + self.far_inner
        return total / 4


def timber_outline(frame: Frame, timber: Timber) -> TimberShape:
    """Both faces of one timber: see :class:`TimberShape`."""
    return timber_outlines(frame, (timber,))[0]


def timber_outlines(frame: Frame, timbers: Sequence[Timber]) -> tuple[TimberShape, ...]:
    """Both faces of several timbers of one frame, in their order.

    A port timber gets the shape of its starboard twin.
    """
    curves = {name: LayerCurves(frame, name) for name in {t.layer for t in timbers}}
    made: dict[tuple[LayerName, float, float, bool], TimberShape] = {}
    out = []
    for t in timbers:
        key = (t.layer, *t.girth_mm, t.side == "C")
        if key not in made:
            layer = curves[t.layer]
            made[key] = layer.crossing(t) if t.side == "C" else layer.half(t)
        out.append(made[key])
    return tuple(out)


class LayerCurves:
    """The four edges of one layer as curves of one index: joint outer and inner, far likewise."""

    def __init__(self, frame: Frame, name: LayerName) -> None:
        layer = frame.layer(name)
        self.far_face = frame.face("forward" if name == "f" else "aft")
        self.joint = frame.joint
        self.points = np.stack(
            [frame.joint.edge_mm, frame.joint.inner_mm, layer.far_edge_mm, layer.far_inner_mm]
        )
        self.tangents = tangents(self.points)
        self.chord = np.stack([layer.chord_deg, layer.inner_chord_deg])
        self.n = self.points.shape[1]
        self.sided = frame.plane.sided_mm
        self.sign = -1.0 if name == "f" else 1.0

    # --- girth and index -------------------------------------------------------------------

    def index(self, girth_mm: float) -> float:
        """Fractional index of a girth along the joint face's outer edge; goes on past both ends."""
        g = self.joint.girth_mm
        if girth_mm < 0:
            return float(girth_mm / g[1])
        if girth_mm > g[-1]:
            return float(self.n - 1 + (girth_mm - g[-1]) / (g[-1] - g[-2]))
        return float(np.interp(girth_mm, g, np.arange(self.n)))

    def girth(self, w: Array) -> Array:
        """Girths of fractional indices."""
        g = self.joint.girth_mm
        girth: Array = np.interp(w, np.arange(self.n), g)
        girth = girth + np.minimum(w, 0.0) * g[1]
        past: Array = np.maximum(w - (self.n - 1), 0.0) * (g[-1] - g[-2])
        return girth + past

    # --- ends ------------------------------------------------------------------------------

    def square_end(self, w: float) -> Array:
        """Index of each of the four curves in the plane square to the outer edge at index w."""
        p, d = at(self.points[:1], self.tangents[:1], np.array([[w]]))
        t = d[0, 0] / np.hypot(*d[0, 0])
        spot = np.broadcast_to(p[0, 0], (3, 1, 2))
        square = np.broadcast_to(t, (3, 1, 2))
        rest = meet(self.points[1:], self.tangents[1:], spot, square, np.full((3, 1), w))
        return np.concatenate([[w], rest[:, 0]])

    def heel_end(self, up_mm: float) -> tuple[Array, list[Array]]:
        """Indices of the four curves at a level heel, and corners of joint and far faces."""
        heights = (up_mm, up_mm - float(self.joint.edge_mm[0, 1] - self.far_face.edge_mm[0, 1]))
        w = np.zeros(4)
        corners = []
        for face, height in enumerate(heights):
            outer, inner = 2 * face, 2 * face + 1
            w[outer] = self._level(outer, height)
            w[inner], corner = self._inner_start(inner, height)
            corners.append(corner)
        return w, corners

    def _level(self, curve: int, height: float) -> float:
        spot, square = np.array([[[0.0, height]]]), np.array([[[0.0, 1.0]]])
        c, t = self.points[curve : curve + 1], self.tangents[curve : curve + 1]
        return float(meet(c, t, spot, square, np.zeros((1, 1)))[0, 0])

    def _inner_start(self, curve: int, height: float) -> tuple[float, Array]:
        """Where the inner edge, followed down, meets the heel's level or the centreline."""
        c, t = self.points[curve], self.tangents[curve]
        outside = (c[:, 1] < height) | (c[:, 0] < 0)
        last = int(np.flatnonzero(outside[:-2])[-1]) if outside[:-2].any() else -1
        if last >= 0:
            a, b = c[last], c[last + 1]
            down = (height - a[1]) / (b[1] - a[1]) if a[1] < height else 0.0
            across = -a[0] / (b[0] - a[0]) if a[0] < 0 else 0.0
            w = last + max(down, across)
            return w, np.empty((0, 2)) if down >= across else np.array([[0.0, height]])
        down = (c[0, 1] - height) / t[0, 1] if t[0, 1] > 1e-3 else np.inf
        across = c[0, 0] / t[0, 0] if t[0, 0] > 1e-3 else np.inf
        step = float(np.hypot(*(c[1] - c[0])))
        w = -min(down, across, 2000.0) / step
        return w, np.empty((0, 2)) if down <= across else np.array([[0.0, height]])

    # --- shapes ----------------------------------------------------------------------------

    def half(self, timber: Timber) -> TimberShape:
        """The shape of a timber of one side."""
        w1 = self.square_end(self.index(timber.girth_mm[1]))
        empty = np.empty((0, 2))
        if len(timber.heel_mm):
            w0, corners = self.heel_end(float(timber.heel_mm[-1, 1]))
        else:
            w0, corners = self.square_end(self.index(timber.girth_mm[0])), [empty, empty]
        return self._shape(w0, w1, corners)

    def crossing(self, timber: Timber) -> TimberShape:
        """The shape of a floor: its starboard half with the foot to the centreline, twice."""
        w1 = self.square_end(self.index(timber.girth_mm[1]))
        w0, _ = self.heel_end(float(timber.heel_mm[-1, 1]))
        half = self._shape(w0, w1, [np.empty((0, 2))] * 2, foot=_BOTTOM)

        def both(points: Array) -> Array:
            return np.concatenate([(points * np.array([-1.0, 1.0]))[:0:-1], points])

        def twice(values: Array, sign: float = 1.0) -> Array:
            return np.concatenate([sign * values[:0:-1], values])

        return TimberShape(
            both(half.joint_outer),
            both(half.joint_inner),
            both(half.far_outer),
            both(half.far_inner),
            twice(half.girth_mm, -1.0),
            twice(half.outer_chord_deg),
            twice(half.inner_chord_deg),
        )

    def _shape(self, w0: Array, w1: Array, corners: list[Array], foot: int = 0) -> TimberShape:
        whole = np.arange(np.ceil(w0[0] + 0.35), np.floor(w1[0] - 0.35) + 1)
        base = np.concatenate([[w0[0]], whole, [w1[0]]])
        long = np.concatenate([w0[0] - np.arange(foot, 0, -1), base])
        rows = np.empty((4, len(long)))
        for c in range(4):
            outer = c in (0, 2)
            along = base if outer else long
            w = _shifted(along, w0[c] - along[0], w1[c] - along[-1])
            rows[c] = np.concatenate([np.full(foot, w[0]), w]) if outer else w
        place = at(self.points, self.tangents, rows)[0]
        for c in (1, 3):  # an inner edge is carried on straight towards the centreline
            past = rows[c] < 0
            step = np.hypot(*(self.points[c, 1] - self.points[c, 0]))
            place[c, past] = (
                self.points[c, 0] + (rows[c, past] * step)[:, None] * self.tangents[c, 0]
            )
        outer_chord = np.interp(rows[0], np.arange(self.n), self.chord[0])
        if foot:
            share = np.arange(foot)[:, None] / foot
            for c in (0, 2):
                toe = place[c, foot]
                place[c, :foot] = np.array([0.0, toe[1]]) * (1 - share) + toe * share
            fall = float(place[0, 0, 1] - place[2, 0, 1])
            outer_chord[:foot] = np.degrees(np.arctan(fall / (self.sign * self.sided)))
        return TimberShape(
            place[0],
            place[1],
            place[2],
            place[3],
            self.girth(rows[0]),
            outer_chord,
            np.interp(rows[1], np.arange(self.n), self.chord[1]),
            corners[0],
            corners[1],
        )


def _shifted(w: Array, first: float, last: float) -> Array:
    """Indices moved by ``first`` at their start and ``last`` at their end, dying away quickly."""
    n = len(w)
    k = np.arange(n)
    out = w.copy()
    for shift, step in ((first, k), (last, k[::-1])):
        reach = min(max(6 * abs(shift), 1.0), n - 1)
        power = 2 if 2 * abs(shift) < reach else 1
        out = out + shift * np.clip(1 - step / reach, 0.0, 1.0) ** power
    return out
