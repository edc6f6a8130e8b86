"""What meets a box: the question that tiles and labels ask of lines."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from futtock.sheet.extent import box_of
from futtock.sheet.items import Arc, Box, Path, Picture, Text

Array = NDArray[np.float64]


def meets(segments: Array, box: Box) -> NDArray[np.bool_]:
    """Mask (n,) of the segments (n, 4) that touch the box.

    A segment is x0, y0, x1, y1. Parametric clipping (Liang and Barsky 1984).
    """
    s = segments
    t0, t1 = np.zeros(len(s)), np.ones(len(s))
    for k in (0, 1):
        p, d = s[:, k], s[:, k + 2] - s[:, k]
        low, high = box[k], box[k + 2]
        level = np.abs(d) < 1e-12
        safe = np.where(level, 1.0, d)
        a, b = (low - p) / safe, (high - p) / safe
        inside = (p >= low) & (p <= high)
        t0 = np.where(level, np.where(inside, t0, 2.0), np.maximum(t0, np.minimum(a, b)))
        t1 = np.where(level, np.where(inside, t1, -1.0), np.minimum(t1, np.maximum(a, b)))
    hit: NDArray[np.bool_] = t0 <= t1
    return hit


_ROUND_MM = 4.0  # lines are kept this far round a box, for their width and their dashes
_SHORT = 24  # a line of fewer points is not worth cutting


class Near:
    """Items that are asked for box after box: only what meets a box is given, long lines in part.

    Parameters
    ----------
    items
        Items, none of them a group.
    """

    def __init__(self, items: Sequence[Path | Arc | Text | Picture]) -> None:
        kept = [(item, box) for item in items if (box := box_of([item])) is not None]
        self._items = [item for item, _ in kept]
        self._boxes = np.array([box for _, box in kept]).reshape(-1, 4)
        self._lines = {
            k: _segments(item)
            for k, item in enumerate(self._items)
            if isinstance(item, Path) and not item.fill and len(item.points_mm) >= _SHORT
        }

    def items(self, box: Box) -> tuple[Path | Arc | Text | Picture, ...]:
        """What meets the box, in order; of long lines the runs that lie in it or near it."""
        x0, y0, x1, y1 = wide = _grown(box, _ROUND_MM)
        b = self._boxes
        found = (b[:, 0] <= x1) & (b[:, 2] >= x0) & (b[:, 1] <= y1) & (b[:, 3] >= y0)
        out: list[Path | Arc | Text | Picture] = []
        for k in np.flatnonzero(found).tolist():
            item = self._items[k]
            if k in self._lines and isinstance(item, Path):
                out += _runs(item, self._lines[k], wide)
            else:
                out.append(item)
        return tuple(out)


def _grown(box: Box, by: float) -> Box:
    return (box[0] - by, box[1] - by, box[2] + by, box[3] + by)


def _segments(item: Path) -> Array:
    p = item.points_mm
    q = np.concatenate([p[1:], p[:1]]) if item.closed else p[1:]
    return np.hstack([p[: len(q)], q])


def _runs(item: Path, segments: Array, box: Box) -> list[Path]:
    """The parts of a line whose segments meet a box, each an open line; the whole where all do."""
    hit = meets(segments, box)
    if hit.all():
        return [item]
    steps = np.flatnonzero(np.diff(np.concatenate([[False], hit, [False]]).astype(int)))
    out = []
    for a, b in steps.reshape(-1, 2).tolist():
        points = np.concatenate([segments[a:b, :2], segments[b - 1 : b, 2:]])
        out.append(Path(points, item.stroke, False, None, item.layer))
    return out
