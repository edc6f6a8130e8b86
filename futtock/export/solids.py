"""A timber as it stands in the vessel: matched rings of both faces, and its closed mesh."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused
from futtock.framing.frame import FramePlane
from futtock.moulds.mould import Mould

Array = NDArray[np.float64]
Index = NDArray[np.int64]


@dataclass(frozen=True)
class StandingTimber:
    """A timber's two faces in the vessel's x, y, z, corners in the order heel to head.

    ``up_outer``, ``up_inner``, ``down_outer``, ``down_inner`` (n, 3) are the edges, point matched
    with point; ``up_foot``, ``down_foot`` (k, 3) the heel's corners from the inner edge's heel to
    the outer edge's, none for an ordinary butt. ``down`` is the far end of each ruling.
    """

    mark: str
    up_outer: Array
    up_inner: Array
    down_outer: Array
    down_inner: Array
    up_foot: Array
    down_foot: Array


def standing(mould: Mould, plane: FramePlane) -> StandingTimber:
    """The timber of a mould in its place in the vessel.

    Raises
    ------
    Misused
        for a pattern that has no frame behind it.
    """
    if mould.place is None or mould.layer is None:
        raise Misused(f"{mould.mark} is a pattern without a frame: it has no place in the vessel")
    far = -plane.sided_mm if mould.layer == "f" else plane.sided_mm
    joint_up = (mould.up == "aft") == (mould.layer == "f")
    depth_up, depth_down = (0.0, far) if joint_up else (far, 0.0)
    outer, inner = mould.edges
    foot_up = _foot(mould.outline_up_mm, inner.up_mm[0], outer.up_mm[0])
    foot_down = _foot(mould.outline_down_mm, inner.down_mm[0], outer.down_mm[0])
    place = mould.place
    mirror = np.array([1.0, -1.0 if mould.side == "P" else 1.0, 1.0])
    _, out, up = plane.axes()

    def put(points: Array, s: float) -> Array:
        if not len(points):
            return np.empty((0, 3))
        q = place.to_frame(points)
        placed: Array = (plane.origin(s) + q[:, :1] * out + q[:, 1:] * up) * mirror
        return placed

    return StandingTimber(
        mould.mark,
        put(outer.up_mm, depth_up),
        put(inner.up_mm, depth_up),
        put(outer.down_mm, depth_down),
        put(inner.down_mm, depth_down),
        put(foot_up, depth_up),
        put(foot_down, depth_down),
    )


def flat(mould: Mould) -> Array:
    """Corners (m, 2) of the timber's mesh in the mould's own axes, in the order of :func:`mesh`."""
    outer, inner = mould.edges
    foot_up = _foot(mould.outline_up_mm, inner.up_mm[0], outer.up_mm[0])
    foot_down = _foot(mould.outline_down_mm, inner.down_mm[0], outer.down_mm[0])
    return np.vstack([outer.up_mm, inner.up_mm, outer.down_mm, inner.down_mm, foot_up, foot_down])


def _foot(ring: Array, a: Array, b: Array) -> Array:
    """Corners of a closed ring strictly between two of its points, the way with fewer of them."""
    i = int(np.hypot(*(ring - a).T).argmin())
    j = int(np.hypot(*(ring - b).T).argmin())
    n = len(ring)
    ahead, back = (j - i) % n, (i - j) % n
    k = np.arange(1, ahead) if ahead <= back else -np.arange(1, back)
    return ring[(i + k) % n]


def heels(timber: StandingTimber) -> tuple[Array, Array]:
    """Corners of both faces' heels from inner edge to outer, as many on the one as on the other.

    Where one face has a corner that the other has not (a heel that just reaches the centreline),
    the other gets a point at the same part of its length; no outline is changed by that.
    """
    up = np.vstack([timber.up_inner[:1], timber.up_foot, timber.up_outer[:1]])
    down = np.vstack([timber.down_inner[:1], timber.down_foot, timber.down_outer[:1]])
    if len(up) == len(down):
        return up, down
    parts = [_parts(line) for line in (up, down)]
    both = np.unique(np.round(np.concatenate(parts), 9))
    both = both[np.concatenate([[True], np.diff(both) > 1e-3])]
    both[-1] = 1.0
    return _at(up, parts[0], both), _at(down, parts[1], both)


def _parts(line: Array) -> Array:
    step = np.linalg.norm(np.diff(line, axis=0), axis=1)
    run = np.concatenate([[0.0], np.cumsum(step)])
    out: Array = run / max(float(run[-1]), 1e-12)
    return out


def _at(line: Array, own: Array, parts: Array) -> Array:
    return np.column_stack([np.interp(parts, own, line[:, k]) for k in range(3)])


def mesh(timber: StandingTimber) -> tuple[Array, Index]:
    """Closed mesh: corners (m, 3) and triangles (t, 3), turned outward.

    Faces are strips between their edges, each sawn edge two triangles to a ruling; a heel is a fan.
    """
    n = len(timber.up_outer)
    blocks = [timber.up_outer, timber.up_inner, timber.down_outer, timber.down_inner]
    up_foot, down_foot = timber.up_foot, timber.down_foot
    corners = np.vstack([*blocks, up_foot, down_foot])
    uo, ui, do, di = (np.arange(n) + k * n for k in range(4))
    uf = np.arange(len(up_foot)) + 4 * n
    df = np.arange(len(down_foot)) + 4 * n + len(up_foot)
    faces = [_strip(uo, ui), _strip(di, do), _strip(do, uo), _strip(ui, di)]
    faces.append(np.array([[uo[-1], di[-1], ui[-1]], [uo[-1], do[-1], di[-1]]]))
    up_ring = np.r_[ui[0], uf, uo[0]]
    down_ring = np.r_[di[0], df, do[0]]
    if len(up_ring) > 2:
        faces.append(np.array([[up_ring[0], a, b] for a, b in pairwise(up_ring[1:])]))
    if len(down_ring) > 2:
        faces.append(np.array([[down_ring[0], b, a] for a, b in pairwise(down_ring[1:])]))
    faces.append(_between(up_ring, down_ring))
    triangles = np.vstack(faces)
    if _volume(corners, triangles) < 0:
        triangles = triangles[:, ::-1]
    return corners, triangles


def _strip(a: Index, b: Index) -> Index:
    """Triangles between two lines of corners of the same count."""
    return np.vstack(
        [
            np.column_stack([a[:-1], a[1:], b[1:]]),
            np.column_stack([a[:-1], b[1:], b[:-1]]),
        ]
    )


def _between(a: Index, b: Index) -> Index:
    """Triangles between two lines of corners of any counts, walked side by side."""
    out = []
    i = j = 0
    while i < len(a) - 1 or j < len(b) - 1:
        if j >= len(b) - 1 or (i < len(a) - 1 and (i + 1) * (len(b) - 1) <= (j + 1) * (len(a) - 1)):
            out.append([a[i], b[j], a[i + 1]])
            i += 1
        else:
            out.append([a[i], b[j], b[j + 1]])
            j += 1
    return np.array(out)


def _volume(corners: Array, triangles: Index) -> float:
    a, b, c = (corners[triangles[:, k]] for k in range(3))
    return float((a * np.cross(b, c)).sum()) / 6.0


def volume_mm3(corners: Array, triangles: Index) -> float:
    """Volume inside a closed mesh (divergence theorem)."""
    return _volume(corners, triangles)
