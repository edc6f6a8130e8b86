"""Joint edge to far face: the straight rulings that a saw makes, square to the joint edge.

A tilted blade lies in the plane square to the edge it follows. Through point i of the joint edge
that plane holds the frame's fore-and-aft direction a and the edge's own normal, so in (out, up) it
is the line through the point square to the edge; where that line meets the far face's edge is the
ruling's other end.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from futtock.framing.curve import at, meet

Array = NDArray[np.float64]


def matched(edge: Array, tangent: Array, far: Array, far_tangent: Array) -> tuple[Array, Array]:
    """Where planes square to each edge meet the far edges.

    Parameters
    ----------
    edge, tangent, far, far_tangent
        (K, n, 2) points and unit tangents, heel to head.

    Returns
    -------
    (K, n) fractional indices on the far edges, (K, n, 2) points.
    """
    n = edge.shape[1]
    behind = ((far - edge) * tangent).sum(axis=-1)
    step = np.hypot(*np.moveaxis(far[:, -1] - far[:, 0], -1, 0)) / (n - 1)
    start = np.arange(n) - behind / np.maximum(step, 1e-9)[:, None]
    w = meet(far, far_tangent, edge, tangent, np.clip(start, -0.5 * n, 1.5 * n))
    return w, at(far, far_tangent, w)[0]


def chord_deg(edge: Array, tangent: Array, far: Array, s_mm: Array) -> Array:
    """Lean of each ruling in degrees, positive where the hull widens going aft.

    Parameters
    ----------
    edge, tangent, far
        (K, n, 2): joint edge with tangents, matched far points.
    s_mm
        (K,) distance of the far face aft of the joint face (negative: forward).
    """
    widens = outwards(edge, tangent, far)
    lean: Array = np.degrees(np.arctan(widens / s_mm[:, None]))
    return lean


def outwards(edge: Array, tangent: Array, far: Array) -> Array:
    """How far outboard of the edge the matched far points lie, (K, n)."""
    d = far - edge
    out: Array = d[..., 0] * tangent[..., 1] - d[..., 1] * tangent[..., 0]
    return out


def departure_mm(
    tangent: Array,
    lean_deg: Array,
    far_tangent: Array,
    far_lean_deg: Array,
    w: Array,
    s_mm: Array,
) -> Array:
    """How far the ruled cut stands off the true surface half-way through, square to it.

    In the plane of the ruling the true surface leaves both ends at slopes known from its normals;
    the cubic with those ends and slopes lies off its chord by (slope at one end less slope at the
    other) x thickness / 8 at half-way, exact to the fourth order in the thickness.

    Parameters
    ----------
    tangent, lean_deg
        Of the joint edge: (K, n, 2), (K, n).
    far_tangent, far_lean_deg
        Of the far edge at its own points.
    w
        (K, n) from :func:`matched`.
    s_mm
        (K,) as in :func:`chord_deg`.

    Returns
    -------
    (K, n), positive where wood is left proud of the true surface.
    """
    n = tangent.shape[1]
    j = np.clip(np.floor(w), 0, n - 2).astype(np.intp)
    share = np.clip(w - j, 0.0, 1.0)
    rows = np.arange(len(w))[:, None]

    def between(values: Array) -> Array:
        mixed: Array = values[rows, j] * (1 - share) + values[rows, j + 1] * share
        return mixed

    # cosine of the angle between both edges' normals in the face's plane
    turn = tangent[..., 0] * between(far_tangent[..., 0]) + tangent[..., 1] * between(
        far_tangent[..., 1]
    )
    near = np.tan(np.radians(lean_deg))
    far = np.tan(np.radians(between(far_lean_deg))) / np.where(np.abs(turn) > 0.1, turn, 0.1)
    middle = np.cos(np.arctan(0.5 * (near + far)))
    off: Array = s_mm[:, None] / 8 * (far - near) * middle
    return off
