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

from futtock.framing.curve import at, cornered, meet
from futtock.framing.edges import Edges
from futtock.framing.frame import Frame, Timber
from futtock.framing.samples import Sampling, faded

Array = NDArray[np.float64]

_FOOT = 6  # points along half of a floor's foot


def _nothing() -> Array:
    return np.empty((0, 2))


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
    heel: Array = field(default_factory=_nothing)
    heel_far: Array = field(default_factory=_nothing)

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
    return outlines([frame], [[timber]])[0][0]


def outlines(
    frames: Sequence[Frame], timbers: Sequence[Sequence[Timber]] | None = None
) -> list[list[TimberShape]]:
    """Both faces of many timbers at once, which is far quicker than one by one.

    Parameters
    ----------
    frames
        Frames.
    timbers
        For each frame those wanted; by default all of its own.

    Returns
    -------
    For each frame the shapes in the order of its timbers. A port timber shares the shape of its
    starboard twin.
    """
    wanted = [f.timbers for f in frames] if timbers is None else timbers
    edges = Edges(frames)
    own: dict[tuple[int, float, float, bool], int] = {}
    first: list[tuple[int, Timber]] = []
    order = []
    for k, group in enumerate(wanted):
        for t in group:
            layer = 2 * k + (t.layer == "a")
            key = (layer, *t.girth_mm, t.side == "C")
            if key not in own:
                own[key] = len(first)
                first.append((layer, t))
            order.append(own[key])
    shapes = _shapes(frames, edges, first)
    made = iter(order)
    return [[shapes[next(made)] for _ in group] for group in wanted]


def _shapes(
    frames: Sequence[Frame], edges: Edges, timbers: list[tuple[int, Timber]]
) -> list[TimberShape]:
    """Shapes of timbers, each with its layer's index: all points in one evaluation."""
    if not timbers:
        return []
    ends, sampling = edges.ends(timbers), Sampling(edges)
    rows, feet = [], []
    for (layer_of, t), w0, w1 in zip(timbers, ends.start, ends.stop, strict=True):
        foot = _FOOT if t.side == "C" else 0
        row, foot = sampling.rows(layer_of, w0, w1, foot)
        rows.append(row)
        feet.append(foot)
    sizes = [r.shape[1] for r in rows]
    layer = np.repeat([k for k, _ in timbers], sizes)
    flat = np.concatenate(rows, axis=1)
    place = edges.at(layer, flat)
    girth = edges.girth(layer, flat[0])
    outer_deg, inner_deg = edges.chords(layer, flat[0], flat[1])
    split = np.cumsum(sizes)[:-1]
    parts = zip(
        timbers,
        feet,
        np.split(place, split, axis=1),
        np.split(girth, split),
        np.split(outer_deg, split),
        np.split(inner_deg, split),
        ends.corners,
        strict=True,
    )
    shapes = []
    for (k, t), foot, p, g, outer, inner, corner in parts:
        if foot:
            shapes.append(
                _floor(p, g, outer, inner, foot, float(edges.s_mm[k]), float(edges.heel_mm[k]))
            )
            continue
        heel, heel_far = _nothing(), _nothing()
        if len(t.heel_mm):
            heel, heel_far = _notched(frames[k // 2], t, corner, (p[0, 0, 0], p[2, 0, 0]))
        shapes.append(TimberShape(p[0], p[1], p[2], p[3], g, outer, inner, heel, heel_far))
    return shapes


def _notched(
    frame: Frame, timber: Timber, corner: tuple[Array, Array], toes: tuple[float, float]
) -> tuple[Array, Array]:
    """Heel corners of joint and far face, over the keel where the notch is sawn with the timber.

    A timber that stops outboard of the keel's middle, or whose toe (out) lies inboard of the keel's
    side, has no notch to saw and keeps its corners.
    """
    work = frame.heel
    if work is None or not work.with_timber or not len(work.notch_mm):
        return corner
    far = work.notch_forward_mm if timber.layer == "f" else work.notch_aft_mm
    rises = (work.rise[1], work.rise[0 if timber.layer == "f" else 2])
    both = []
    for own, notch, toe, rise in zip(corner, (work.notch_mm, far), toes, rises, strict=True):
        if not len(own) or toe <= notch[1, 0]:
            both.append(own)
            continue
        side = float(notch[1, 0])
        both.append(np.concatenate([notch[:2], [[side, own[0, 1] + rise * (side - own[0, 0])]]]))
    return both[0], both[1]


def _floor(
    place: Array,
    girth: Array,
    outer: Array,
    inner: Array,
    foot: int,
    s_mm: float,
    throat_mm: float,
) -> TimberShape:
    """A floor from its starboard half (4, n, 2): the foot drawn to the centreline, then twice."""
    place = place.copy()
    share = np.arange(foot)[:, None] / foot
    for c in (0, 2):
        toe = place[c, foot]
        place[c, :foot] = np.array([0.0, toe[1]]) * (1 - share) + toe * share
    outer = outer.copy()
    outer[:foot] = np.degrees(np.arctan(float(place[0, 0, 1] - place[2, 0, 1]) / s_mm))
    place[1::2, 0, 0] = 0.0
    _throat(place, foot, throat_mm)

    def both(points: Array) -> Array:
        return np.concatenate([(points * np.array([-1.0, 1.0]))[:0:-1], points])

    def twice(values: Array, sign: float = 1.0) -> Array:
        return np.concatenate([sign * values[:0:-1], values])

    joint_outer, joint_inner, far_outer, far_inner = (both(p) for p in place)
    return TimberShape(
        joint_outer,
        joint_inner,
        far_outer,
        far_inner,
        twice(girth, -1.0),
        twice(outer),
        twice(inner),
    )


def _throat(place: Array, foot: int, throat_mm: float) -> None:
    """Inner edges of (4, n, 2) made as deep as the moulded size at the heel, level to a corner.

    The corners of both faces get one index, so that one ruling joins them.
    """
    n = place.shape[1]
    index = np.arange(n, dtype=float)
    k = 0
    for c in (1, 3):
        level = float(place[c - 1, foot, 1]) + throat_mm
        up = place[c, :, 1]
        under = np.flatnonzero(up[: n // 2] < level)
        if not len(under):
            continue
        last = int(under[-1])
        start = np.array([[last + (level - up[last]) / (up[last + 1] - up[last])]])
        line = place[c : c + 1]
        leave, arrive = cornered(line)
        spot, square = np.array([[[0.0, level]]]), np.array([[[0.0, 1.0]]])
        corner = float(meet(line, leave, spot, square, start, arriving=arrive)[0, 0])
        k = k or min(max(round(corner), 1), n - 2)
        on = index - (k - corner) * faded(index, k, k - corner)
        place[c] = at(line, leave, on[None], arriving=arrive)[0][0]
        place[c, : k + 1, 1] = level
