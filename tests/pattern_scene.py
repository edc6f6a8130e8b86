"""A photograph of a pattern on a floor with four cards, rendered with known truth."""

from __future__ import annotations

import cv2
import numpy as np

_PX = 2  # rendered pixels a millimetre, averaged two by two before the camera


def photograph_of(ring_mm: np.ndarray, seed: int = 0) -> bytes:
    """A JPEG of a pale pattern of that outline (n, 2) seen aslant, the same for the same seed."""
    rng = np.random.default_rng(seed)
    low, high = ring_mm.min(axis=0) - 320.0, ring_mm.max(axis=0) + 320.0
    w, h = ((high - low) * _PX).astype(int) // 2 * 2

    def pixels(points: np.ndarray) -> np.ndarray:
        p = (np.asarray(points, float) - low) * _PX
        return np.stack([p[:, 0], h - 1 - p[:, 1]], axis=1)

    floor = np.array((70.0, 72.0, 75.0))
    picture = floor + rng.normal(0.0, 6.0, (h, w, 1))
    mask = np.zeros((h, w), np.uint8)
    cv2.fillPoly(mask, [np.round(pixels(ring_mm) * 16).astype(np.int32)], 255, shift=4)
    wood = np.array((150.0, 190.0, 215.0)) + rng.normal(0.0, 5.0, (h, w, 1))
    wood += 8.0 * np.sin(np.arange(h) / 5.0)[:, None, None]
    picture = np.where(mask[..., None] > 0, wood, picture)
    book = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    corners = [(x, y) for x in (low[0] + 60, high[0] - 180) for y in (low[1] + 60, high[1] - 180)]
    for number, (x, y) in enumerate(corners):
        column, row = pixels(np.array([(x, y + 120.0)]))[0].astype(int)
        picture[row : row + 120 * _PX, column : column + 120 * _PX] = 245.0
        square = cv2.aruco.generateImageMarker(book, number, 100 * _PX)
        edge = 10 * _PX
        inner = picture[row + edge : row + edge + 100 * _PX, column + edge :][:, : 100 * _PX]
        inner[:] = np.where(square[..., None] > 0, 245.0, 12.0)
    flat = cv2.resize(np.clip(picture, 0, 255).astype(np.uint8), (w // 2, h // 2),
                      interpolation=cv2.INTER_AREA)  # fmt: skip
    high_px, wide = flat.shape[:2]
    out = (int(wide * 1.15), int(high_px * 1.15))
    seen = cv2.getPerspectiveTransform(
        np.array([[0, 0], [wide, 0], [wide, high_px], [0, high_px]], np.float32),
        np.array(
            [[60, 40], [out[0] - 90, 10], [out[0] - 20, out[1] - 30], [20, out[1] - 80]], np.float32
        ),
    )
    taken = cv2.warpPerspective(flat, seen, out, borderValue=tuple(floor.tolist()))
    taken = cv2.GaussianBlur(taken, (0, 0), 0.8)
    return cv2.imencode(".jpg", taken, [cv2.IMWRITE_JPEG_QUALITY, 92])[1].tobytes()
