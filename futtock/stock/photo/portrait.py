"""The rectified picture of a face: so many pixels to the millimetre, seen straight from above."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.stock.photo.plane import Plane

Array = NDArray[np.float64]
Picture = NDArray[np.uint8]

_MOST_PIXELS = 12_000_000


@dataclass(frozen=True, slots=True)
class Portrait:
    """A face seen from above.

    ``picture`` (h, w, 3) BGR, row 0 at the greatest y; its lower left pixel's middle lies at
    ``origin_mm``, and a pixel is ``mm_per_px`` wide. ``seen`` (h, w) is False where the
    photograph shows nothing.
    """

    picture: Picture
    origin_mm: tuple[float, float]
    mm_per_px: float
    seen: NDArray[np.bool_]

    def pixels(self, points_mm: Array) -> Array:
        """(column, row) of points (..., 2)."""
        at = (np.asarray(points_mm, float) - self.origin_mm) / self.mm_per_px
        out: Array = np.stack([at[..., 0], self.picture.shape[0] - 1 - at[..., 1]], axis=-1)
        return out

    def millimetres(self, pixels: Array) -> Array:
        """Points of (column, row), (..., 2)."""
        p = np.asarray(pixels, float)
        x, y = p[..., 0], self.picture.shape[0] - 1 - p[..., 1]
        out: Array = np.stack([x, y], axis=-1) * self.mm_per_px + self.origin_mm
        return out

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of the ground it shows."""
        h, w = self.picture.shape[:2]
        return w * self.mm_per_px, h * self.mm_per_px


def rectified(
    picture: Picture, plane: Plane, low_mm: Array, high_mm: Array, mm_per_px: float = 1.0
) -> Portrait:
    """The ground between two corners (x, y), taken out of a photograph.

    ``mm_per_px`` grows where the portrait would have more than 12 million pixels. Where a pixel of
    the portrait holds many of the photograph's they are averaged first, so that nothing aliases.
    """
    import cv2

    span = np.maximum(np.asarray(high_mm, float) - low_mm, 1.0)
    mm_per_px = max(mm_per_px, float(np.sqrt(span[0] * span[1] / _MOST_PIXELS)))
    w, h = (np.ceil(span / mm_per_px).astype(int) + 1).tolist()
    middle = np.array([(np.asarray(low_mm) + high_mm) / 2.0])
    finer = mm_per_px / float(plane.mm_per_pixel(middle)[0])
    source, shrink = picture, 1.0
    if finer >= 2.0:
        shrink = 1.0 / np.floor(finer)
        source = np.asarray(
            cv2.resize(picture, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA), np.uint8
        )
    # the view is smooth: asked at every 16th pixel and interpolated between
    step = 16
    cols, rows = np.arange(0, w + step, step), np.arange(0, h + step, step)
    x = low_mm[0] + cols * mm_per_px
    y = low_mm[1] + (h - 1 - rows) * mm_per_px
    ground = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    where = ((plane.pixels(ground) + 0.5) * shrink - 0.5).reshape(len(rows), len(cols), 2)
    fine_x, fine_y = np.arange(w, dtype=np.float32) / step, np.arange(h, dtype=np.float32) / step
    gx, gy = np.meshgrid(fine_x, fine_y)
    seen_at = cv2.remap(where.astype(np.float32), gx, gy, cv2.INTER_LINEAR)
    out = cv2.remap(source, seen_at[..., 0], seen_at[..., 1], cv2.INTER_LINEAR)
    height, width = source.shape[:2]
    seen = (seen_at >= 0).all(-1) & (seen_at[..., 0] < width - 1) & (seen_at[..., 1] < height - 1)
    low = (float(low_mm[0]), float(low_mm[1]))
    return Portrait(np.asarray(out, np.uint8), low, mm_per_px, seen)


def ground_seen(plane: Plane, size_px: tuple[int, int], about_mm: Array, reach_mm: float) -> Array:
    """Corners (2, 2) of the ground within reach of some points that the photograph shows."""
    about = np.asarray(about_mm, float)
    low, high = about.min(0) - reach_mm, about.max(0) + reach_mm
    x, y = np.meshgrid(np.linspace(low[0], high[0], 60), np.linspace(low[1], high[1], 60))
    ground = np.column_stack([x.ravel(), y.ravel()])
    depth = ground @ plane.to_pixel[2, :2] + plane.to_pixel[2, 2]
    seen = plane.pixels(ground)
    width, height = size_px
    within = (depth > 0.05) & (seen >= 0).all(1) & (seen[:, 0] < width) & (seen[:, 1] < height)
    shown = ground[within]
    if not len(shown):
        return np.array([low, high])
    return np.array([shown.min(0), shown.max(0)])
