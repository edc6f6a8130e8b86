"""Where words may lie: a placer that keeps labels off lines that matter and off each other."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from futtock.sheet.clip import meets
from futtock.sheet.items import Arc, Item, Path, Point, Text, flat, frozen, path, text_corners
from futtock.sheet.style import THIN

Array = NDArray[np.float64]


class Labels:
    """The lines that matter on a sheet, and the words that already have a place on it.

    The placer is used while a sheet is composed and then thrown away.
    """

    def __init__(self, gap_mm: float = 0.6) -> None:
        self.gap_mm = gap_mm
        self._lines: list[Array] = []
        self._segments: Array | None = None
        self._boxes: list[Array] = []

    def keep_off(self, points_mm: ArrayLike, closed: bool = False) -> None:
        """A line (n, 2) that no label may touch."""
        p = frozen(points_mm)
        if closed and len(p):
            p = np.vstack([p, p[:1]])
        if len(p) > 1:
            self._lines.append(np.hstack([p[:-1], p[1:]]))
            self._segments = None

    def keep_off_items(self, items: Iterable[Item]) -> None:
        """Every path, arc and word among the items."""
        for item in flat(items):
            if isinstance(item, Path):
                if item.stroke is not None:
                    self.keep_off(item.points_mm, item.closed)
            elif isinstance(item, Text):
                self._boxes.append(text_corners(item))
            elif isinstance(item, Arc):
                self.keep_off(item.points_mm(0.1), item.whole)

    def taken(self, box_mm: tuple[float, float, float, float]) -> None:
        """A rectangle (x0, y0, x1, y1) in which no label may lie."""
        x0, y0, x1, y1 = box_mm
        self._boxes.append(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]))

    def collisions(self, text: Text) -> tuple[int, int]:
        """How many lines and how many other words the label would touch where it stands."""
        corners = text_corners(text)
        return self._hits(corners), sum(_overlap(corners, b, self.gap_mm) for b in self._boxes)

    def put(self, text: Text) -> Text:
        """Set a label where it stands, whatever it touches; later ones keep off it."""
        self._boxes.append(text_corners(text))
        return text

    def place(self, text: Text, places: Sequence[Point | Text]) -> Text:
        """The label at the first place that is free, or at the one that touches least.

        Words of others weigh more than lines: a line under a label is broken by its halo, words
        under words cannot be read.
        """
        trials = [p if isinstance(p, Text) else replace(text, at_mm=p) for p in places]
        best, cost = trials[0], np.inf
        for k, trial in enumerate(trials):
            lines, words = self.collisions(trial)
            here = lines + 20.0 * words + 1e-3 * k
            if here < cost:
                best, cost = trial, here
            if lines == words == 0:
                break
        return self.put(best)

    def beside(
        self,
        text: Text,
        point_mm: Point,
        direction_deg: float,
        reach_mm: Sequence[float] = (1.5, 3.0, 5.0, 8.0, 12.0, 17.0),
        fan_deg: Sequence[float] = (0.0, 25.0, -25.0, 50.0, -50.0, 80.0, -80.0),
        leader_from_mm: float = 6.0,
    ) -> list[Item]:
        """The label beside a point, in a direction if it can be, with a leader where it is far.

        The label's box is set so that its nearest edge is ``reach_mm`` from the point.
        """
        trials = [
            _beside(text, point_mm, direction_deg + fan, reach)
            for reach in reach_mm
            for fan in fan_deg
        ]
        found = self.place(text, trials)
        corners = text_corners(found)
        near = np.clip(point_mm, corners.min(0), corners.max(0))
        far = float(np.hypot(*(near - point_mm)))
        if far <= leader_from_mm:
            return [found]
        toward = (near - point_mm) / far
        leader = path([point_mm + toward * 1.0, near - toward * 0.6], THIN, layer="TEXT")
        return [leader, found]

    def _hits(self, corners: Array) -> int:
        if self._segments is None:
            self._segments = np.vstack(self._lines) if self._lines else np.empty((0, 4))
        s = self._segments
        if not len(s):
            return 0
        lo, hi = corners.min(0) - self.gap_mm, corners.max(0) + self.gap_mm
        near = (
            (np.minimum(s[:, 0], s[:, 2]) <= hi[0])
            & (np.maximum(s[:, 0], s[:, 2]) >= lo[0])
            & (np.minimum(s[:, 1], s[:, 3]) <= hi[1])
            & (np.maximum(s[:, 1], s[:, 3]) >= lo[1])
        )
        s = s[near]
        if not len(s):
            return 0
        # in the label's own axes
        u = corners[1] - corners[0]
        w = float(np.hypot(*u))
        h = float(np.hypot(*(corners[3] - corners[0])))
        u = u / w if w > 0 else np.array([1.0, 0.0])
        turn = np.column_stack([u, (-u[1], u[0])])
        own = np.hstack([(s[:, :2] - corners[0]) @ turn, (s[:, 2:] - corners[0]) @ turn])
        g = self.gap_mm
        return int(meets(own, (-g, -g, w + g, h + g)).sum())


def _beside(text: Text, point: Point, direction_deg: float, reach: float) -> Text:
    t = np.radians(direction_deg)
    way = np.array([np.cos(t), np.sin(t)])
    at0 = replace(text, at_mm=(0.0, 0.0), anchor="middle", rise="middle")
    corners = text_corners(at0)
    half = float((corners @ way).max())
    # distance along the way at which the box clears the point's own square to the way
    x, y = np.asarray(point) + way * (half + reach)
    return replace(at0, at_mm=(float(x), float(y)))


def _overlap(a: Array, b: Array, gap: float) -> bool:
    """Do two convex boxes (4, 2) come nearer than the gap (separating axes)?"""
    for box in (a, b):
        for k in (0, 1):
            axis = box[k + 1] - box[k]
            n = float(np.hypot(*axis))
            if n == 0:
                continue
            axis = axis / n
            pa, pb = a @ axis, b @ axis
            if pa.max() + gap <= pb.min() or pb.max() + gap <= pa.min():
                return False
    return True
