"""Rot proposed from a portrait: broad patches browner and darker than the wood round them.

Shade darkens and leaves the hue; sapwood has another hue and is paler; a knot is small. Brown rot
is told by all three, from a portrait in colour. Pale rot, and rot beneath the face, is not seen.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from futtock.stock.photo.blemish import Proposed
from futtock.stock.photo.portrait import Portrait

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_PX_MM = 8.0
_OFF = 3.5  # spreads of the wood's own hue
_LEAST_HUE = 0.05  # of the logarithm of two colours' ratio
_LEAST_DARK = 0.14
_LEAST_MM2 = 2500.0
_LEAST_WIDE_MM = 34.0
_ROUND_MM = 90.0


def propose_rot(portrait: Portrait, wood: Mask, spots: Sequence[Proposed] = ()) -> list[Proposed]:
    """Patches of the bare wood that look rotten, surest first; ``spots`` are knots, passed over.

    Whoever stands by the slab decides: a stain of iron or wet looks alike, and a spike tells.
    """
    import cv2

    shrink = max(1, round(_PX_MM / portrait.mm_per_px))
    px = portrait.mm_per_px * shrink
    h, w = (n // shrink for n in portrait.picture.shape[:2])
    if min(h, w) < 8:
        return []
    ground = wood[: h * shrink, : w * shrink].astype(np.float32)
    weight = cv2.resize(ground, (w, h), interpolation=cv2.INTER_AREA)
    coded = portrait.picture[: h * shrink, : w * shrink].astype(np.float32) / 255.0
    light = cv2.resize((coded**2.2) * ground[..., None], (w, h), interpolation=cv2.INTER_AREA)
    on: Mask = weight > 0.6
    if on.sum() < 50:
        return []
    logs = np.log(np.maximum(light / np.maximum(weight, 1e-3)[..., None], 1e-4))
    redder, yellower = logs[..., 2] - logs[..., 1], logs[..., 1] - logs[..., 0]
    off = (_away(redder, on) + _away(yellower, on)) / 2.0
    likely = (off > 1.0) & on
    size = max(3, round(_LEAST_WIDE_MM / px) | 1)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    patch = cv2.morphologyEx(likely.astype(np.uint8), cv2.MORPH_CLOSE, disc)
    patch = cv2.morphologyEx(patch, cv2.MORPH_OPEN, disc)
    count, labels = cv2.connectedComponents(np.asarray(patch, np.uint8))
    knots = np.zeros((h, w), np.uint8)
    for spot in spots:
        ring = (portrait.pixels(spot.outline_mm) + 0.5) / shrink - 0.5
        cv2.fillPoly(knots, [np.rint(ring).astype(np.int32)], 1)
    found = []
    for n in range(1, count):
        region = labels == n
        area = float(region.sum()) * px * px
        if area < _LEAST_MM2 or knots[region].mean() > 0.3:
            continue
        dark = _darker(logs[..., 1], region, on & (patch == 0), px)
        if dark < _LEAST_DARK:
            continue
        hue = float(np.median(off[region]))
        score = -0.6 + 5.0 * (dark - _LEAST_DARK) + 0.8 * (hue - 1.0) + min(area / 40_000.0, 0.6)
        rings, _ = cv2.findContours(
            region.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
        )
        ring = max(rings, key=cv2.contourArea)
        ring = cv2.approxPolyDP(ring, 0.7, True).reshape(-1, 2).astype(np.float64)
        if len(ring) < 3:
            continue
        outline = portrait.millimetres((ring + 0.5) * shrink - 0.5)
        found.append(Proposed("rot", outline, float(1.0 / (1.0 + np.exp(-score)))))
    return sorted(found, key=lambda p: -p.confidence)


def _away(values: NDArray[np.float32], on: Mask) -> NDArray[np.float32]:
    """How far above the wood's own median, 1 at the least that counts."""
    middle = float(np.median(values[on]))
    spread = 1.4826 * float(np.median(np.abs(values[on] - middle)))
    out = (values - middle) / max(_OFF * spread, _LEAST_HUE)
    return np.asarray(out, np.float32)


def _darker(logs: NDArray[np.float32], region: Mask, around: Mask, px: float) -> float:
    """By what share a region is darker than the wood within 90 mm of it."""
    import cv2

    reach = max(3, round(2.0 * _ROUND_MM / px) | 1)
    near = cv2.dilate(region.astype(np.uint8), np.ones((reach, reach), np.uint8)) > 0
    ring = near & around
    if ring.sum() < 10:
        return 0.0
    return 1.0 - float(np.exp(np.median(logs[region]) - np.median(logs[ring])))
