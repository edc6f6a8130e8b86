"""The outline of a pattern photographed on a plain floor with two cards or more beside it.

The cards square the picture up. A pattern is all of one tone against a floor of another, so its
edge is where the picture crosses the tone that parts the two best (Otsu 1979); it is looked for
among the cards alone, and must not run out of the ground that they span.
"""

from __future__ import annotations

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray

from futtock.errors import Unreadable
from futtock.findings import Finding
from futtock.progress import Progress, Report, quiet
from futtock.stock import kinds
from futtock.stock.photo.decode import open_picture
from futtock.stock.photo.photograph import PhotoSettings, squared_up
from futtock.stock.photo.portrait import Portrait, rectified

Array = NDArray[np.float64]
Mask = NDArray[np.uint8]

_ROUND_MM = 40.0  # of ground beyond the cards that is looked at
_CARD_MM = 8.0  # round each card that is passed over
_LEAST_MM2 = 1e4
_SMOOTH_MM = 0.4


def pattern_outline(
    content: bytes, file: str = "photo", report: Report = quiet, mm_per_px: float = 0.5
) -> tuple[Array, tuple[Finding, ...]]:
    """The pattern's outline (n, 2) in mm, seen from above, and what was noticed.

    Raises
    ------
    Unreadable
        With findings: the file cannot be opened, fewer than two cards are seen, or no pattern.
    """
    report(Progress("pattern", 0, 2, "opening the picture"))
    opened = open_picture(content, file)
    adjusted, findings = squared_up(opened.picture, PhotoSettings(), file)
    cards = list(adjusted.corners_mm.values())
    report(Progress("pattern", 1, 2, "finding the pattern"))
    every = np.concatenate(cards)
    low, high = every.min(axis=0) - _ROUND_MM, every.max(axis=0) + _ROUND_MM
    portrait = rectified(opened.picture, adjusted.plane, low, high, mm_per_px)
    ring = _largest(portrait, cards)
    if ring is None:
        said = "no pattern is found among the cards."
        found = kinds.FACE_NOT_FOUND.found(
            said, file=file, remedy="Lay it wholly among the cards on a floor of another tone."
        )
        raise Unreadable(said, [*findings, found])
    return ring, (*opened.findings, *findings)


def _largest(portrait: Portrait, cards: list[Array]) -> Array | None:
    """The largest region of one tone that lies wholly within the ground seen."""
    tone: Mask = np.asarray(cv2.cvtColor(portrait.picture, cv2.COLOR_BGR2GRAY), np.uint8)
    tone = np.asarray(cv2.GaussianBlur(tone, (0, 0), 1.0 / portrait.mm_per_px), np.uint8)
    ground = portrait.seen.astype(np.uint8)
    for corners in cards:
        grown = shapely.Polygon(corners).convex_hull.buffer(10.0 + _CARD_MM, join_style="mitre")
        px = portrait.pixels(shapely.get_coordinates(grown))
        cv2.fillPoly(ground, [np.round(px).astype(np.int32)], 0)
    if not ground.any():
        return None
    level, _ = cv2.threshold(tone[ground > 0].reshape(-1, 1), 0, 255, cv2.THRESH_OTSU)
    best: shapely.Polygon | None = None
    for side in (tone > level, tone <= level):
        region = (side & (ground > 0)).astype(np.uint8)
        lines, _ = cv2.findContours(region, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        for line in lines:
            pixels = line.reshape(-1, 2).astype(float)
            if len(pixels) < 8 or _at_the_rim(pixels, region.shape):
                continue
            # the line runs through the outermost pixels' middles: half a pixel within the edge
            grown = shapely.Polygon(portrait.millimetres(pixels)).buffer(portrait.mm_per_px / 2)
            # one that crosses itself comes back in pieces
            for area in shapely.get_parts([grown]).tolist():
                if area.area >= _LEAST_MM2 and (best is None or area.area > best.area):
                    best = area
    if best is None:
        return None
    ring: Array = shapely.get_coordinates(shapely.simplify(best.exterior, _SMOOTH_MM))[:-1]
    return ring


def _at_the_rim(pixels: Array, shape: tuple[int, ...]) -> bool:
    low, high = pixels.min(axis=0), pixels.max(axis=0)
    return bool((low <= 1).any() or high[0] >= shape[1] - 2 or high[1] >= shape[0] - 2)
