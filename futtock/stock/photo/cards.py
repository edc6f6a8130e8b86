"""The printed cards: what is on them, and where their cells' edges lie in a picture.

A card is 120 mm square with a black square of 100 mm, a marker of the open ArUco dictionary
DICT_4X4_50: six cells by six, the outermost ring black. Its own axes have their origin in its
middle, x to its right and y to its top.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Picture = NDArray[np.uint8]

CARD_MM = 120.0
SQUARE_MM = 100.0
CELLS = 6
COUNT = 50
CELL_MM = SQUARE_MM / CELLS
CORNERS_MM = np.array([[-50.0, 50.0], [50.0, 50.0], [50.0, -50.0], [-50.0, -50.0]])
"""Corners of the black square, clockwise from its upper left, as the detector gives them."""

_PLACES = (0.25, 0.5, 0.75)  # along each cell edge
_REACH = 0.42  # of a cell, to either side of an edge
_SAMPLES = 25
_LEAST_STEP = 0.06  # of linear light between the two sides of an edge


@dataclass(frozen=True, slots=True)
class Card:
    """A card found: its number and the corners (4, 2) of its black square in pixels."""

    number: int
    corners_px: Array


@dataclass(frozen=True, slots=True)
class Edges:
    """Points on the edges of one card's cells.

    ``at_mm`` (n, 2) in the card's axes and ``normal_mm`` (n, 2) from dark to light there;
    ``seen_px`` (n, 2) where the edge was found; ``width_px`` the spread of the picture's blur.
    """

    number: int
    at_mm: Array
    normal_mm: Array
    seen_px: Array
    width_px: float


@cache
def bits(number: int) -> NDArray[np.bool_]:
    """The cells of a card (6, 6), True where white, row 0 at its top."""
    import cv2

    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    marker = cv2.aruco.generateImageMarker(dictionary, number, CELLS)
    white: NDArray[np.bool_] = np.asarray(marker) > 127
    return white


def find_cards(picture: Picture) -> list[Card]:
    """All cards in a picture (h, w, 3) or (h, w), by number; one number may come twice."""
    import cv2

    grey = cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY) if picture.ndim == 3 else picture
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    settings.adaptiveThreshWinSizeMin = 5
    settings.adaptiveThreshWinSizeMax = 45
    settings.adaptiveThreshWinSizeStep = 10
    settings.minMarkerPerimeterRate = 0.02
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    detector = cv2.aruco.ArucoDetector(dictionary, settings)
    corners, numbers, _ = detector.detectMarkers(grey)
    if not len(corners):
        return []
    found = [
        Card(int(n), np.asarray(c, float).reshape(4, 2))
        for n, c in zip(np.ravel(numbers), corners, strict=True)
    ]
    return sorted(found, key=lambda card: card.number)


def homography(from_points: Array, to_points: Array) -> Array:
    """The 3 x 3 map that carries four or more points (n, 2) onto others, by least squares."""
    a, b = _normalising(from_points), _normalising(to_points)
    p, q = project(a, from_points), project(b, to_points)
    one, zero = np.ones(len(p)), np.zeros((len(p), 3))
    x = np.column_stack([p, one])
    rows = np.vstack(
        [
            np.hstack([x, zero, -q[:, :1] * x]),
            np.hstack([zero, x, -q[:, 1:] * x]),
        ]
    )
    form = np.linalg.svd(rows)[2][-1].reshape(3, 3)
    form = inverse(b) @ form @ a
    scaled: Array = form / form[2, 2]
    return scaled


def project(form: Array, points: Array) -> Array:
    """Points (n, 2) through a 3 x 3 map."""
    p = points @ form[:, :2].T + form[:, 2]
    out: Array = p[:, :2] / p[:, 2:]
    return out


def inverse(form: Array) -> Array:
    """The 3 x 3 map undone."""
    back: Array = np.asarray(np.linalg.inv(form), dtype=np.float64)
    return back


def _normalising(points: Array) -> Array:
    middle = points.mean(0)
    scale = np.sqrt(2.0) / max(float(np.hypot(*(points - middle).T).mean()), 1e-12)
    return np.array([[scale, 0, -scale * middle[0]], [0, scale, -scale * middle[1]], [0, 0, 1.0]])


def linear_light(picture: Picture) -> NDArray[np.float32]:
    """Grey in linear light from 0 to 1: the camera's curve (sRGB) taken off."""
    import cv2

    coded = np.arange(256) / 255.0
    table = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
    grey = cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY) if picture.ndim == 3 else picture
    light: NDArray[np.float32] = table.astype(np.float32)[grey]
    return light


def drawn_to_edges(light: NDArray[np.float32], card: Card) -> Card:
    """A card whose corners were set by hand, drawn to the edges that are seen under it.

    Edges that disagree with most are passed over: a card by hand is often one that is smeared.
    The card itself where too few edges are seen.
    """
    for _ in range(3):
        edges = card_edges(light, card)
        if edges is None:
            return card
        at, seen = edges.at_mm, edges.seen_px
        form = homography(at, seen)
        for _ in range(3):
            off = np.hypot(*(project(form, at) - seen).T)
            good = off <= 2.5 * float(np.median(off)) + 0.05
            form = homography(at[good], seen[good])
        card = Card(card.number, project(form, CORNERS_MM))
    return card


def card_edges(light: NDArray[np.float32], card: Card) -> Edges | None:
    """The edges between dark and light cells of a card, each found to a part of a pixel.

    Across each edge a profile is taken in linear light, and the edge lies where it passes half
    way between its two levels: blur does not move that point, and what the camera's curve does
    to it has the opposite sense for the opposite step, which the fit may share among all.
    None where too few edges stand out.
    """
    import cv2

    form = homography(CORNERS_MM, card.corners_px)
    at, normal = _edge_places(card.number)
    off = np.linspace(-_REACH, _REACH, _SAMPLES) * CELL_MM
    places = at[:, None] + off[None, :, None] * normal[:, None]
    pixels = project(form, places.reshape(-1, 2))
    low = np.floor(pixels.min(0)).astype(int) - 2
    high = np.ceil(pixels.max(0)).astype(int) + 3
    low, high = np.maximum(low, 0), np.minimum(high, [light.shape[1], light.shape[0]])
    if (high - low < 8).any():
        return None
    patch = np.ascontiguousarray(light[low[1] : high[1], low[0] : high[0]])
    local = (pixels - low).astype(np.float32)
    values = cv2.remap(
        patch,
        local[:, :1].copy(),
        local[:, 1:].copy(),
        cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_REPLICATE,
    ).reshape(len(at), _SAMPLES)
    quarter = _SAMPLES // 5
    dark, bright = values[:, :quarter].mean(1), values[:, -quarter:].mean(1)
    step = bright - dark
    good = step > max(_LEAST_STEP, 0.35 * float(np.median(step)))
    if good.sum() < 12:
        return None
    share = (values - dark[:, None]) / np.where(good, step, 1.0)[:, None]
    where = np.array([_crossing(row, 0.5, off) for row in share])
    spread = np.array([_crossing(r, 0.75, off) - _crossing(r, 0.25, off) for r in share])
    good &= np.isfinite(where) & np.isfinite(spread)
    if good.sum() < 12:
        return None
    found = at[good] + where[good, None] * normal[good]
    per_mm = float(np.sqrt(abs(np.linalg.det(_jacobian(form)))))
    width = float(np.median(spread[good])) * per_mm
    return Edges(card.number, at[good], normal[good], project(form, found), width)


def _jacobian(form: Array) -> Array:
    """Pixels a millimetre at the card's middle, (2, 2)."""
    w = form[2, 2]
    derivative: Array = form[:2, :2] / w - np.outer(form[:2, 2], form[2, :2]) / w**2
    return derivative


def _crossing(row: Array, level: float, off: Array) -> float:
    """Where a rising profile passes a level nearest its middle; nan where it does not."""
    above = row >= level
    rises = np.flatnonzero(~above[:-1] & above[1:])
    if not len(rises):
        return float("nan")
    k = rises[np.argmin(np.abs(rises - len(row) / 2))]
    return float(off[k] + (level - row[k]) / (row[k + 1] - row[k]) * (off[k + 1] - off[k]))


@cache
def _edge_places(number: int) -> tuple[Array, Array]:
    """Points on all edges between dark and light cells, and their normals from dark to light."""
    white = np.ones((CELLS + 2, CELLS + 2), bool)  # the paper round the square is white
    white[1:-1, 1:-1] = bits(number)
    at, normal = [], []
    for r in range(CELLS + 2):
        for c in range(CELLS + 2):
            for dr, dc in ((0, 1), (1, 0)):
                if r + dr >= CELLS + 2 or c + dc >= CELLS + 2:
                    continue
                here, there = bool(white[r, c]), bool(white[r + dr, c + dc])
                if here == there:
                    continue
                sign = 1.0 if there else -1.0
                for place in _PLACES:
                    x = (c - 1 + dc if dc else c - 1 + place) * CELL_MM - SQUARE_MM / 2
                    y = SQUARE_MM / 2 - (r - 1 + dr if dr else r - 1 + place) * CELL_MM
                    at.append((x, y))
                    normal.append((sign * dc, -sign * dr))
    return np.array(at), np.array(normal, float)
