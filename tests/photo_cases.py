"""What several tests of slabs by photograph ask of a scene or of what was read from it."""

from __future__ import annotations

import cv2
import numpy as np
import shapely


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
