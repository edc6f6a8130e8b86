"""Where words may lie: a placer that keeps labels off lines that matter and off each other."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from futtock.sheet.extent import text_corners
from futtock.sheet.items import Arc, Item, Path, Point, Text, flat, frozen, path
from futtock.sheet.style import THIN

Array = NDArray[np.float64]


class _Heap:
    """Rows that are added one after another and looked through by the boxes round them."""

    def __init__(self, shape: tuple[int, ...]) -> None:
        self.count = 0
        self._rows = np.empty((64, *shape))
        self._bounds = np.empty((4, 64))  # least x, least y, greatest x, greatest y

    @property
    def rows(self) -> Array:
        """All rows so far."""
        return self._rows[: self.count]

    def add(self, rows: Array, low: Array, high: Array) -> None:
        """Rows (n, ...) with their corners (n, 2)."""
        first, n = self.count, len(rows)
        if first + n > len(self._rows):
            more = max(2 * len(self._rows), first + n) - len(self._rows)
            self._rows = np.concatenate([self._rows, np.empty((more, *self._rows.shape[1:]))])
            self._bounds = np.concatenate([self._bounds, np.empty((4, more))], axis=1)
        self._rows[first : first + n] = rows
        self._bounds[:2, first : first + n] = low.T
        self._bounds[2:, first : first + n] = high.T
        self.count += n

    def near(self, low: Array, high: Array) -> Array:
        """The rows whose boxes touch one."""
        x0, y0, x1, y1 = self._bounds[:, : self.count]
        found = (x0 <= high[0]) & (x1 >= low[0]) & (y0 <= high[1]) & (y1 >= low[1])
        return self.rows[np.flatnonzero(found)]


class Labels:
    """The lines that matter on a sheet, and the words that already have a place on it.

    The placer is used while a sheet is composed and then thrown away.
    """

    def __init__(self, gap_mm: float = 0.6) -> None:
        self.gap_mm = gap_mm
        self._segments = _Heap((4,))
        self._boxes = _Heap((4, 2))

    def keep_off(self, points_mm: ArrayLike, closed: bool = False) -> None:
        """A line (n, 2) that no label may touch."""
        p = frozen(points_mm)
        if closed and len(p):
            p = np.vstack([p, p[:1]])
        if len(p) > 1:
            a, b = p[:-1], p[1:]
            self._segments.add(np.hstack([a, b]), np.minimum(a, b), np.maximum(a, b))

    def keep_off_items(self, items: Iterable[Item]) -> None:
        """Every path, arc and word among the items."""
        for item in flat(items):
            if isinstance(item, Path):
                if item.stroke is not None:
                    self.keep_off(item.points_mm, item.closed)
            elif isinstance(item, Text):
                self._take(text_corners(item))
            elif isinstance(item, Arc):
                self.keep_off(item.points_mm(0.1), item.whole)

    def taken(self, box_mm: tuple[float, float, float, float]) -> None:
        """A rectangle (x0, y0, x1, y1) in which no label may lie."""
        x0, y0, x1, y1 = box_mm
        self._take(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]))

    def collisions(self, text: Text) -> tuple[int, int]:
        """How many lines and how many other words the label would touch where it stands."""
        corners = text_corners(text)
        return self._hits(corners), self._overlaps(corners)

    def crowded(self, box_mm: tuple[float, float, float, float]) -> int:
        """How many lines and words lie in a rectangle (x0, y0, x1, y1)."""
        x0, y0, x1, y1 = box_mm
        return self.crossed(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]))

    def crossed(self, corners_mm: Array) -> int:
        """How many lines and words lie in a turned rectangle (4, 2), anticlockwise."""
        return self._hits(corners_mm) + self._overlaps(corners_mm)

    def put(self, text: Text) -> Text:
        """Set a label where it stands, whatever it touches; later ones keep off it."""
        self._take(text_corners(text))
        return text

    def place(self, text: Text, places: Iterable[Point | Text]) -> Text:
        """The label at the first place that is free, or at the one that touches least.

        Words of others weigh more than lines: a line under a label is broken by its halo, words
        under words cannot be read.
        """
        best, cost = text, math.inf
        for k, p in enumerate(places):
            trial = p if isinstance(p, Text) else replace(text, at_mm=p)
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
        best: tuple[float, Text, Array | None] | None = None
        for k, (reach, fan) in enumerate((r, f) for r in reach_mm for f in fan_deg):
            trial = _beside(text, point_mm, direction_deg + fan, reach)
            lines, words = self.collisions(trial)
            leader = _leader(trial, point_mm, leader_from_mm)
            # a leader through words is bad, words on words are worse
            through = 0 if leader is None else self.words_under(*leader)
            cost = lines + 20.0 * words + 8.0 * through + 1e-3 * k
            if best is None or cost < best[0]:
                best = (cost, trial, leader)
            if lines == words == through == 0:
                break
        assert best is not None
        _, found, leader = best
        self.put(found)
        if leader is None:
            return [found]
        self.keep_off(leader)
        return [path(leader, THIN, layer="TEXT"), found]

    def words_under(self, a_mm: ArrayLike, b_mm: ArrayLike) -> int:
        """How many words a straight line would run through."""
        p, q = np.asarray(a_mm, float), np.asarray(b_mm, float)
        along = (q - p) / max(float(np.hypot(*(q - p))), 1e-9)
        aside = 0.05 * np.array([-along[1], along[0]])
        return self._overlaps(np.array([p - aside, q - aside, q + aside, p + aside]))

    def free_spot(
        self, within_mm: tuple[float, float, float, float], size_mm: tuple[float, float]
    ) -> Point | None:
        """Lower left corner of a free rectangle of a size, the lowest and then leftmost, or None.

        Told on a raster of 3 mm, so that a large table finds its place at once.
        """
        cell = 3.0
        x0, y0, x1, y1 = within_mm
        nx, ny = int((x1 - x0) / cell), int((y1 - y0) / cell)
        w, h = (int(np.ceil((s + 2 * self.gap_mm) / cell)) + 1 for s in size_mm)
        if nx < w or ny < h:
            return None
        rings = np.concatenate([self._boxes.rows, self._boxes.rows[:, [1, 2, 3, 0]]], axis=2)
        s = np.concatenate([self._segments.rows, rings.reshape(-1, 4)])
        taken = np.zeros((nx + 1, ny + 1))
        n = (np.hypot(s[:, 2] - s[:, 0], s[:, 3] - s[:, 1]) / cell * 2).astype(int) + 2
        which = np.repeat(np.arange(len(s)), n)
        step = np.arange(len(which)) - np.repeat(np.cumsum(n) - n, n)
        f = (step / (n[which] - 1))[:, None]
        p = s[which, :2] * (1 - f) + s[which, 2:] * f
        i = np.floor((p - (x0, y0)) / cell).astype(int)
        i = i[(i >= 0).all(axis=1) & (i[:, 0] < nx) & (i[:, 1] < ny)]
        taken[i[:, 0] + 1, i[:, 1] + 1] = 1
        total = taken.cumsum(axis=0).cumsum(axis=1)
        inside = total[w:, h:] - total[:-w, h:] - total[w:, :-h] + total[:-w, :-h]
        free = np.argwhere(inside.T == 0)
        if not len(free):
            return None
        j, k = free[0]
        return (x0 + float(k) * cell + self.gap_mm, y0 + float(j) * cell + self.gap_mm)

    def _take(self, box: Array) -> None:
        self._boxes.add(box[None], box.min(axis=0)[None], box.max(axis=0)[None])

    def _overlaps(self, a: Array) -> int:
        """How many of the boxes come nearer to one than the gap (separating axes)."""
        g = self.gap_mm
        b = self._boxes.near(a.min(axis=0) - g, a.max(axis=0) + g)
        if not len(b):
            return 0
        own = np.diff(a[[0, 1, 2]], axis=0)
        axes = np.concatenate(
            [np.broadcast_to(own, (len(b), 2, 2)), np.diff(b[:, [0, 1, 2]], axis=1)], axis=1
        )
        axes = axes / np.maximum(np.hypot(axes[..., 0], axes[..., 1]), 1e-12)[..., None]
        pa = np.einsum("nkd,md->nkm", axes, a)
        pb = np.einsum("nkd,nmd->nkm", axes, b)
        apart = (
            (pa.max(axis=2) + g <= pb.min(axis=2)) | (pb.max(axis=2) + g <= pa.min(axis=2))
        ).any(axis=1)
        return int((~apart).sum())

    def _hits(self, corners: Array) -> int:
        s = self._segments.near(corners.min(0) - self.gap_mm, corners.max(0) + self.gap_mm)
        if not len(s):
            return 0
        # in the label's own axes, about its middle (separating axes of a segment and a box)
        u, v = corners[1] - corners[0], corners[3] - corners[0]
        w, h = math.hypot(*u.tolist()), math.hypot(*v.tolist())
        c, t = (u / w).tolist() if w > 0 else (1.0, 0.0)
        mid = 0.5 * (s[:, :2] + s[:, 2:] - corners[0] - corners[2])
        half = 0.5 * (s[:, 2:] - s[:, :2])
        mx, my = mid[:, 0] * c + mid[:, 1] * t, mid[:, 1] * c - mid[:, 0] * t
        hx, hy = half[:, 0] * c + half[:, 1] * t, half[:, 1] * c - half[:, 0] * t
        wide, tall = w / 2 + self.gap_mm, h / 2 + self.gap_mm
        ax, ay = np.abs(hx), np.abs(hy)
        hit = (np.abs(mx) <= wide + ax) & (np.abs(my) <= tall + ay)
        hit &= np.abs(mx * hy - my * hx) <= wide * ay + tall * ax + 1e-12
        return int(hit.sum())


def _leader(text: Text, point: Point, far_mm: float) -> Array | None:
    """A line (2, 2) from near a point to near the box of words; None where the words are near."""
    corners = text_corners(text)
    near = np.clip(point, corners.min(0), corners.max(0))
    far = float(np.hypot(*(near - point)))
    if far <= far_mm:
        return None
    toward = (near - point) / far
    return np.array([point + toward * 1.0, near - toward * 0.6])


def _beside(text: Text, point: Point, direction_deg: float, reach: float) -> Text:
    t = math.radians(direction_deg)
    way = np.array([math.cos(t), math.sin(t)])
    at0 = replace(text, at_mm=(0.0, 0.0), anchor="middle", rise="middle")
    half = float((text_corners(at0) @ way).max())
    # distance along the way at which the box clears the line square to it through the point
    far = half + reach
    return replace(at0, at_mm=(point[0] + way[0].item() * far, point[1] + way[1].item() * far))
