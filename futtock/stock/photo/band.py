"""The slab straightened: columns along its middle line, rows across it, as a picture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock.stock.outline import arc_mm, evenly, middle_line, normals, reach_across
from futtock.stock.photo.portrait import Portrait
from futtock.stock.photo.rough import lab

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Mask = NDArray[np.bool_]

ALONG_MM = 4.0
"""From column to column; rows are a millimetre apart."""
BEYOND_MM = 160.0
"""How far the band goes on beyond the rough ends."""

_ASIDE_MM = 100.0
_MOST_MM = 560.0


@dataclass(frozen=True, slots=True)
class Band:
    """A straightened slab.

    ``line_mm``, ``normal`` (columns, 2): middle line and its left normal; ``v_mm`` (rows,) across,
    left positive. ``lab`` (rows, columns, 3); ``rough``, ``seen``, ``paper`` (rows, columns).
    ``ends`` are the columns of the rough shape's two ends.
    """

    line_mm: Array
    normal: Array
    v_mm: Array
    lab: Single
    rough: Mask
    seen: Mask
    paper: Mask
    ends: tuple[int, int]

    def ground_mm(self, column: Array, v: Array) -> Array:
        """Points (n, 2) at fractional columns and offsets."""
        at = np.arange(len(self.line_mm))
        x = np.column_stack([np.interp(column, at, self.line_mm[:, k]) for k in (0, 1)])
        n = np.column_stack([np.interp(column, at, self.normal[:, k]) for k in (0, 1)])
        points: Array = x + n * np.asarray(v)[:, None]
        return points


def straightened(portrait: Portrait, rough_mm: Array, cards_mm: list[Array]) -> Band:
    """The band of a rough ring (n, 2); ``cards_mm`` are the corners of the cards' paper."""
    import cv2
    import shapely

    line = _calm(middle_line(rough_mm, 150.0))
    line = _carried(line)
    count = int(arc_mm(line)[-1] / ALONG_MM) + 1
    line = evenly(_smooth(line, count), count)
    normal = normals(line)
    left, right = reach_across(rough_mm, line, normal)
    both = np.r_[left, right]
    both = both[np.isfinite(both)]
    reach = int(min((np.percentile(both, 96) if len(both) else 200.0) + _ASIDE_MM, _MOST_MM))
    v = np.arange(-reach, reach + 1, dtype=float)
    ground = line[None] + v[:, None, None] * normal[None]
    at = portrait.pixels(ground).astype(np.float32)
    x, y = np.ascontiguousarray(at[..., 0]), np.ascontiguousarray(at[..., 1])
    colours = cv2.remap(lab(portrait.picture), x, y, cv2.INTER_LINEAR)
    shown = cv2.remap(portrait.seen.astype(np.uint8), x, y, cv2.INTER_NEAREST)
    flat = ground.reshape(-1, 2)

    def within(ring: Array, wider: float = 0.0) -> Mask:
        shape = shapely.Polygon(ring).buffer(wider)
        shapely.prepare(shape)
        inside: Mask = np.asarray(shapely.contains_xy(shape, flat[:, 0], flat[:, 1]))
        return inside.reshape(ground.shape[:2])

    paper = np.zeros(ground.shape[:2], bool)
    for corners in cards_mm:
        paper |= within(corners, 5.0)
    end = int(BEYOND_MM / ALONG_MM)
    return Band(
        line,
        normal,
        v,
        colours.astype(np.float32),
        within(rough_mm),
        np.asarray(shown) > 0,
        paper,
        (end, count - 1 - end),
    )


def _calm(line: Array) -> Array:
    """The line with its last points, which the ends' skew pulls about, laid straight on."""
    if len(line) < 6:
        return line
    out = line.copy()
    out[0] = 2 * line[1] - line[2]
    out[-1] = 2 * line[-2] - line[-3]
    # as far as before: the end of the slab lies where it lay
    for k, m in ((0, 1), (-1, -2)):
        way = out[k] - line[m]
        out[k] = line[m] + way / max(float(np.hypot(*way)), 1e-9) * np.hypot(*(line[k] - line[m]))
    return out


def _carried(line: Array) -> Array:
    first, last = line[0] - line[1], line[-1] - line[-2]
    first = first / max(float(np.hypot(*first)), 1e-9)
    last = last / max(float(np.hypot(*last)), 1e-9)
    on: Array = np.vstack([line[0] + first * BEYOND_MM, line, line[-1] + last * BEYOND_MM])
    return on


def _smooth(line: Array, count: int) -> Array:
    """A smooth curve near the points: its turn must not wriggle, or the rows would cross."""
    from scipy.interpolate import UnivariateSpline

    s = arc_mm(line)
    at = np.linspace(0.0, s[-1], count)
    at_most = len(s) * 4.0**2
    degree: Literal[1, 2, 3] = 3 if len(s) > 3 else 1
    fits = [UnivariateSpline(s, line[:, k], k=degree, s=at_most)(at) for k in (0, 1)]
    smooth: Array = np.column_stack(fits)
    return smooth
