"""The four edges of every layer as curves of one index, and where timbers start and stop on them.

Index k of a layer's joint outer edge, joint inner edge, far outer edge and far inner edge belong
together (see :class:`futtock.framing.frame.Layer`). Layers are counted two a frame, forward first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.framing.curve import at, cornered, meet
from futtock.framing.frame import Frame, Timber

Array = NDArray[np.float64]
Rows = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Ends:
    """Where Q timbers start and stop: indices (Q, 4) on the four edges of their layers.

    ``corners[q]`` are the heel's corners (k, 2) on the joint face and on the far face.
    """

    start: Array
    stop: Array
    corners: list[tuple[Array, Array]]


class Edges:
    """Edges of all layers of some frames, L = two a frame.

    Attributes
    ----------
    points, tangents, arriving : (4 L, n, 2)
        Edge c of layer l is row 4 l + c: joint outer, joint inner, far outer, far inner. Tangents
        leaving the points, and coming to them, which differ at corners.
    s_mm : (L,)
        Distance of each far face aft of the joint face.
    drop_mm : (L,)
        How far each far heel lies below the joint's.
    heel_mm : (L,)
        Moulded size at the heel.
    rise, toe_mm, centre_mm : (2, L)
        Of the joint and the far face: rise of the heel's line for each millimetre outboard, how far
        out its toe stands, and where the centreline is.
    on_keel : (L,)
        Whether the layer's heel stands on the keel's top.
    onwards : (4 L, 2)
        Unit vectors against which edges are carried on past the heel. Inner edges that come down
        flatly go on level, so that the throat keeps its depth, and all of a frame the same way:
        faces that went each its own would leave a twisted cut between them.
    """

    def __init__(self, frames: Sequence[Frame]) -> None:
        rows: list[Array] = []
        chords: list[Array] = []
        drops, s, heels = [], [], []
        rises: list[tuple[float, float]] = []
        toes: list[tuple[float, float]] = []
        centres: list[tuple[float, ...]] = []
        for f in frames:
            for layer, far, sign in ((f.layers[0], f.forward, -1.0), (f.layers[1], f.aft, 1.0)):
                rows += [f.joint.edge_mm, f.joint.inner_mm, layer.far_edge_mm, layer.far_inner_mm]
                chords += [layer.chord_deg, layer.inner_chord_deg]
                own, its = f.heel.rise[1] if f.heel else 0.0, 0 if sign < 0 else 2
                rises.append((own, f.heel.rise[its] if f.heel else 0.0))
                toes.append((float(f.joint.edge_mm[0, 0]), float(far.edge_mm[0, 0])))
                away = sign * f.plane.sided_mm
                centres.append(
                    tuple(
                        f.plane.centre_mm(at, float(face.edge_mm[0, 1]))
                        for at, face in ((0.0, f.joint), (away, far))
                    )
                )
                drops.append(float(f.joint.edge_mm[0, 1] - far.edge_mm[0, 1]))
                s.append(sign * f.plane.sided_mm)
                heels.append(float(np.hypot(*(f.joint.inner_mm[0] - f.joint.edge_mm[0]))))
        self.points = np.stack(rows)
        self.tangents, self.arriving = cornered(self.points)
        self.rise, self.toe_mm, self.centre_mm = (
            np.array(pairs).T for pairs in (rises, toes, centres)
        )
        dub = np.repeat([f.dub_mm for f in frames], 4)[:, None, None]
        if dub.any():
            t = self.tangents[::2]
            self.points[::2] += dub * np.stack([t[..., 1], -t[..., 0]], axis=-1)
        self.n = self.points.shape[1]
        self.onwards = self.tangents[:, 0].copy()
        self.onwards.reshape(len(frames), 8, 2)[:, 1::2] = _onwards(self.tangents[1::8, 0])[:, None]
        self.on_keel = np.repeat([f.on_keel for f in frames], 2)
        self._girth = np.stack([f.joint.girth_mm for f in frames for _ in "fa"])
        self._chords = np.stack(chords)
        self.drop_mm, self.s_mm, self.heel_mm = np.array(drops), np.array(s), np.array(heels)

    # --- girth, chords, places -------------------------------------------------------------

    def index(self, layer: Rows, girth_mm: Array) -> Array:
        """Fractional indices (Q,) of girths along the joint outer edges, on past both ends too."""
        g, last = self._girth[layer], self.n - 1
        j = np.clip((g[:, 1:] <= girth_mm[:, None]).sum(axis=1), 0, last - 1)
        q = np.arange(len(layer))
        return np.asarray(j + (girth_mm - g[q, j]) / (g[q, j + 1] - g[q, j]))

    def _between(self, values: Array, row: Rows, w: Array) -> Array:
        """Values (rows, n) at fractional indices, straight-line between and past the ends."""
        j = np.clip(np.floor(w).astype(np.intp), 0, self.n - 2)
        a, b = values[row, j], values[row, j + 1]
        return np.asarray(a + (w - j) * (b - a))

    def girth(self, layer: Rows, w: Array) -> Array:
        """Girths at fractional indices of the joint outer edges."""
        return self._between(self._girth, layer, w)

    def chords(self, layer: Rows, w_outer: Array, w_inner: Array) -> tuple[Array, Array]:
        """Chord bevels of outer and inner edges in degrees; constant past the ends.

        Below a heel on the keel the inner edge has the bevel of the plane in which it goes on.
        """
        high = self.n - 1.0
        outer = self._between(self._chords, 2 * layer, np.clip(w_outer, 0.0, high))
        inner = self._between(self._chords, 2 * layer + 1, np.clip(w_inner, 0.0, high))
        over = self.points[4 * layer + 3, 0] - self.points[4 * layer + 1, 0]
        way = self.onwards[4 * layer + 1]
        rise = (over[:, 0] * way[:, 1] - over[:, 1] * way[:, 0]) / self.s_mm[layer]
        past = (w_inner < 0) & self.on_keel[layer]
        return outer, np.where(past, np.degrees(np.arctan(rise)), inner)

    def at(self, layer: Rows, w: Array) -> Array:
        """Points (4, Q, 2) of the four edges at indices (4, Q).

        Past a heel on the keel an inner edge goes on straight along ``onwards``, towards the
        centreline.
        """
        rows = 4 * layer + np.arange(4)[:, None]
        place = at(self.points, self.tangents, w, rows, self.arriving)[0]
        past = w < 0
        past[::2] = False
        past &= self.on_keel[layer]
        if past.any():
            k = rows[past]
            step = np.hypot(*(self.points[k, 1] - self.points[k, 0]).T)
            place[past] = self.points[k, 0] + (w[past] * step)[:, None] * self.onwards[k]
        return place

    # --- ends ------------------------------------------------------------------------------

    def square_ends(self, layer: Rows, girth_mm: Array) -> Array:
        """Indices (Q, 4) of the planes square to the joint outer edges at girths (Q,)."""
        w = self.index(layer, girth_mm)
        p, d = at(self.points, self.tangents, w, 4 * layer, self.arriving)
        d = d / np.hypot(d[:, 0], d[:, 1])[:, None]
        rows = 4 * layer + np.arange(1, 4)[:, None]
        spot, square = np.broadcast_to(p, (3, *p.shape)), np.broadcast_to(d, (3, *d.shape))
        start = np.broadcast_to(w, (3, len(w)))
        rest = meet(self.points, self.tangents, spot, square, start, rows, self.arriving)
        return np.concatenate([w[None], rest]).T

    def heel_ends(self, layer: Rows, up_mm: Array) -> tuple[Array, list[tuple[Array, Array]]]:
        """Indices (Q, 4) of heels at heights (Q,) on the joint face, and their corners.

        Heights are those of the heel's line under the toe; a heel is level, or follows the keel's
        top where a cant crosses it.
        """
        rise = self.rise[:, layer]
        # heights of the heel's lines on the centreline, joint and far
        centre = self.centre_mm[:, layer]
        heights = np.stack([up_mm, up_mm - self.drop_mm[layer]])
        heights = heights - rise * (self.toe_mm[:, layer] - centre)
        rows = 4 * layer + np.array([[0], [2]])
        spot = np.stack([centre, heights], axis=-1)
        along = _square_to(rise)
        w = np.empty((len(layer), 4))
        start = self._fallen_to(rows, spot, along)
        met = meet(self.points, self.tangents, spot, along, start, rows, self.arriving)
        w[:, ::2] = met.T
        cornered = np.empty(rows.shape, dtype=bool)
        for face in (0, 1):
            w[:, 2 * face + 1], cornered[face] = self._inner_start(
                rows[face] + 1, spot[face], rise[face]
            )
        none = np.empty((0, 2))
        corners = [
            (
                spot[0, q][None] if cornered[0, q] else none,
                spot[1, q][None] if cornered[1, q] else none,
            )
            for q in range(len(layer))
        ]
        return w, corners

    def _fallen_to(self, rows: Rows, spot: Array, square_to: Array) -> Array:
        """Near which indices edges, carried on past their heels, first fall to lines (0: at once).

        An edge that comes in flatly may meet a deep foot's line twice.
        """
        above = ((self.points[rows, 0] - spot) * square_to).sum(axis=-1)
        start = np.zeros(rows.shape)
        deep = np.argwhere(above > 1.0)
        if len(deep):
            i, j = deep.T
            on = np.linspace(0.0, -0.5 * self.n, 161)
            k = np.broadcast_to(rows, start.shape)[i, j][:, None] * np.ones(161, dtype=np.intp)
            past = at(self.points, self.tangents, np.broadcast_to(on, k.shape), k, self.arriving)[0]
            left = ((past - spot[i, j, None]) * square_to[i, j, None]).sum(axis=-1)
            first = (left <= 0).argmax(axis=1)  # 0 where none is
            start[i, j] = on[first]
        return start

    def _inner_start(
        self, rows: Rows, corner: Array, rise: Array
    ) -> tuple[Array, NDArray[np.bool_]]:
        """Where inner edges, followed down, meet the heel's line or (True) the centreline.

        The line leaves the centreline at ``corner`` (Q, 2) and rises by ``rise`` for each
        millimetre out.
        """
        c = self.points[rows] - corner[:, None]
        c[..., 1] -= rise[:, None] * c[..., 0]  # sheared, so that the line is level
        outside = (c[:, :-2, 1] < 0) | (c[:, :-2, 0] < 0)
        any_out = outside.any(axis=1)
        last = np.where(any_out, outside.shape[1] - 1 - outside[:, ::-1].argmax(axis=1), 0)
        q = np.arange(len(rows))
        a, b = c[q, last], c[q, last + 1]
        t = self.onwards[rows].copy()
        t[:, 1] -= rise * t[:, 0]
        with np.errstate(divide="ignore", invalid="ignore"):
            # the last point outside: how far on from it each line is crossed
            down = np.where(a[:, 1] < 0, -a[:, 1] / (b[:, 1] - a[:, 1]), 0.0)
            across = np.where(a[:, 0] < 0, -a[:, 0] / (b[:, 0] - a[:, 0]), 0.0)
            # all inside: how far back from the first point each line is met
            below = np.where(t[:, 1] > 1e-3, c[:, 0, 1] / t[:, 1], np.inf)
            inboard = np.where(t[:, 0] > 1e-3, c[:, 0, 0] / t[:, 0], np.inf)
        step = np.hypot(*(self.points[rows, 1] - self.points[rows, 0]).T)
        back = -np.minimum(np.minimum(below, inboard), 3000.0) / step
        w = np.where(any_out, last + np.maximum(down, across), back)
        cornered = np.where(any_out, down < across, below > inboard)
        if any_out.any():  # straight between two points is only near
            met, level = rows[any_out], ~cornered[any_out]
            spot = corner[any_out]
            square = np.where(level[:, None], _square_to(rise[any_out]), [1.0, 0.0])
            w[any_out] = meet(
                self.points, self.tangents, spot, square, w[any_out], met, self.arriving
            )
        return w, cornered

    def _centreline(self, rows: Rows) -> Array:
        """Index at which edges come over the centreline, straight on below the heel; else -inf."""
        centre = self.centre_mm[rows % 4 // 2, rows // 4]
        out = self.points[rows, :-2, 0] - centre[:, None]
        over = out < 0
        last = over.shape[1] - 1 - over[:, ::-1].argmax(axis=1)
        q = np.arange(len(rows))
        a, b = out[q, last], self.points[rows, last + 1, 0] - centre
        with np.errstate(divide="ignore", invalid="ignore"):
            below = np.where(out[:, 1] > out[:, 0], -out[:, 0] / (out[:, 1] - out[:, 0]), -np.inf)
            return np.where(over.any(axis=1), last - a / (b - a), below)

    def ends(self, timbers: Sequence[tuple[int, Timber]]) -> Ends:
        """Where timbers start and stop, each given with the index of its layer."""
        layer = np.array([k for k, _ in timbers], dtype=np.intp)
        girths = np.array([t.girth_mm for _, t in timbers])
        stop = self.square_ends(layer, girths[:, 1])
        start = np.empty_like(stop)
        corners = [(np.empty((0, 2)), np.empty((0, 2)))] * len(timbers)
        stands = np.array([len(t.heel_mm) > 0 for _, t in timbers])
        if (~stands).any():
            start[~stands] = self.square_ends(layer[~stands], girths[~stands, 0])
            first = ~stands & np.array([t.number == 1 for _, t in timbers])
            for c in (1, 2, 3):  # the two sides' heels meet at the centreline, not across it
                start[first, c] = np.maximum(
                    start[first, c], self._centreline(4 * layer[first] + c)
                )
        if stands.any():
            foot = np.array([t.heel_mm[-1] for _, t in timbers if len(t.heel_mm)])
            on = layer[stands]
            up = foot[:, 1] + self.rise[0, on] * (self.toe_mm[0, on] - foot[:, 0])
            start[stands], found = self.heel_ends(on, up)
            for q, corner in zip(np.flatnonzero(stands), found, strict=True):
                corners[q] = corner
        return Ends(start, stop, corners)


def _square_to(rise: Array) -> Array:
    """Unit vectors (..., 2) square to lines that rise by so much for each millimetre outboard."""
    square = np.stack([-rise, np.ones_like(rise)], axis=-1)
    return np.asarray(square / np.hypot(rise, 1.0)[..., None])


def _onwards(tangent: Array) -> Array:
    """Ways (F, 2) in which inner edges that leave the heel along ``tangent`` are carried on.

    Level for an edge that comes down at 45 degrees or less, straight on from 60 degrees, and
    evenly between.
    """
    slope = np.arctan2(tangent[:, 1], tangent[:, 0])
    way = np.minimum(np.maximum(4 * slope - np.pi, 0.0), np.abs(slope))
    return np.stack([np.cos(way), np.sin(way)], axis=1)
