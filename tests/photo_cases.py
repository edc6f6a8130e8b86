"""What several tests of slabs by photograph ask of a scene or of what was read from it."""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
import shapely
from photo_scene import Hardness, render


def taped(scene, a: int, b: int) -> float:
    return round(float(np.hypot(*(scene.cards[a].mean(0) - scene.cards[b].mean(0)))))


def encoded(picture, kind=".jpg") -> bytes:
    return cv2.imencode(kind, picture)[1].tobytes()


def off(got_ring, true_ring) -> float:
    """95th percentile of the distance between two rings, either way, mm."""
    out = []
    for a, b in ((got_ring, true_ring), (true_ring, got_ring)):
        line = shapely.LinearRing(a)
        points = shapely.line_interpolate_point(line, np.arange(0, line.length, 10))
        out.append(np.percentile(shapely.distance(points, shapely.LinearRing(b)), 95))
    return max(out)


def card_rings(got) -> list:
    """The cards' paper in the portrait's own axes."""
    seen = [got.adjusted.plane.pixels(c) for c in got.adjusted.corners_mm.values()]
    return [got.plane.millimetres(pixels) for pixels in seen]


def codes(caught) -> list[str]:
    return [f.code for f in caught.value.findings]


@cache
def swept_slab():
    """A swept slab 1.5 m long under a slanted camera, shadow across, sapwood and bark."""
    hard = Hardness(shadow=0.6, bark=0.7, sap=1.0, tilt=0.7, lens=0.6, knots=4.0)
    return render(3, hard, length=1500.0, width=300.0, pixels=(1800, 1350), cards=5, bend=0.2)


@cache
def cards_at_the_edges():
    """A slab with cards standing out at its edges, printed on both sides."""
    hard = Hardness(shadow=0.0, bark=0.3, sap=0.0, tilt=0.4, lens=0.0, knots=0.0, clutter=0.0)
    return render(
        11,
        hard,
        length=1500.0,
        width=300.0,
        pixels=(1800, 1350),
        cards=5,
        bend=0.1,
        card_place="beside",
    )


def turned_over(scene, moved_mm=(0.0, 0.0)) -> np.ndarray:
    """The slab turned over: the scene mirrored, but for its cards, which read the right way.

    They are drawn anew where they were; card 2 moved.
    """
    wide = scene.image.shape[1] - 1
    image = scene.image.copy()
    for corners in scene.cards.values():
        paper = corners.mean(0) + 1.25 * (corners - corners.mean(0))
        cv2.fillPoly(image, [np.int32(np.rint(scene.pixels(paper)))], (120, 125, 128))
    image = np.ascontiguousarray(image[:, ::-1])
    for number, corners in scene.cards.items():
        card = np.full((480, 480), 235, np.uint8)
        dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
        card[40:440, 40:440] = 25 + 0.8 * cv2.aruco.generateImageMarker(dictionary, number, 400)
        at = corners.mean(0) + 1.2 * (corners - corners.mean(0))
        at = at + np.array(moved_mm) * (number == 2)
        seen = scene.pixels(at)
        # mirrored corners run the other way round: the card's own left is to the right behind
        seen = (np.c_[wide - seen[:, 0], seen[:, 1]])[[1, 0, 3, 2]]
        source = np.array([[0, 0], [480, 0], [480, 480], [0, 480]], np.float32) - 0.5
        fine = 4
        size = (image.shape[1] * fine, image.shape[0] * fine)
        low = np.floor(seen.min(0)).astype(int) - 3
        high = np.ceil(seen.max(0)).astype(int) + 4
        size = tuple(((high - low) * fine).tolist())
        form = cv2.getPerspectiveTransform(
            source, ((seen - low + 0.5) * fine - 0.5).astype(np.float32)
        )
        drawn = cv2.warpPerspective(card, form, size).astype(np.float32)
        there = cv2.warpPerspective(np.ones_like(card), form, size).astype(np.float32)
        part = tuple((high - low).tolist())
        drawn = cv2.resize(drawn * there, part, interpolation=cv2.INTER_AREA)[..., None]
        there = cv2.resize(there, part, interpolation=cv2.INTER_AREA)[..., None]
        spot = image[low[1] : high[1], low[0] : high[0]]
        spot[:] = np.clip(spot * (1 - there) + drawn, 0, 255).astype(np.uint8)
    return cv2.GaussianBlur(image, (0, 0), 0.7)
