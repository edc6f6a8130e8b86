"""The cards in a photograph as they were found, and corners set by hand where they were not."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused
from futtock.job.written import Written

Array = NDArray[np.float64]

CORNERS = ("upper left", "upper right", "lower right", "lower left")
"""Of the card's black square, as it reads upright, in order."""
_WIDEST_PX = 1600
_MOST = 50


@dataclass(frozen=True)
class CardSeen:
    """A card: its number as text, corners as text ``x, y`` in pixels of the picture shown."""

    number: str
    corners: tuple[str, ...]
    points: str
    by_hand: bool


@dataclass(frozen=True)
class CardsView:
    """The whole photograph with the cards in it."""

    id: str
    wide: int
    high: int
    cards: tuple[CardSeen, ...]


def by_hand(args: Mapping[str, Any]) -> dict[int, Array]:
    """Corners set by hand, in pixels, from what a reading is begun with."""
    given = args.get("corners") or {}
    return {int(n): np.asarray(c, float).reshape(4, 2) for n, c in given.items()}


def note_cards(place: Path, picture: NDArray[np.uint8], hand: Mapping[int, Array]) -> None:
    """Keep the upright picture, smaller, and the cards that are in it."""
    import cv2

    from futtock.stock.photo.cards import find_cards

    shrink = max(1.0, max(picture.shape[:2]) / _WIDEST_PX)
    size = (round(picture.shape[1] / shrink), round(picture.shape[0] / shrink))
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    good, jpeg = cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, 82])
    found = {c.number: c.corners_px for c in find_cards(picture) if c.number not in hand}
    cards = [
        {"number": n, "corners": np.asarray(c, float).round(2).tolist(), "by_hand": n in hand}
        for n, c in sorted({**found, **hand}.items())
    ]
    written = Written(place)
    if good:
        written.put("upright.jpg", jpeg.tobytes())
    written.put("cards.json", json.dumps({"size": size, "shrink": shrink, "cards": cards}))


def cards_view(place: Path) -> CardsView:
    """The photograph as it was sent, with the cards found and set.

    Raises
    ------
    Misused
        Where it is not read yet, or could not be opened.
    """
    kept = _kept(place)
    cards = []
    for c in kept["cards"]:
        at = np.asarray(c["corners"], float) / kept["shrink"]
        texts = tuple(f"{x:.1f}, {y:.1f}" for x, y in at)
        points = " ".join(f"{x:.1f},{y:.1f}" for x, y in at)
        cards.append(CardSeen(str(c["number"]), texts, points, bool(c["by_hand"])))
    return CardsView(place.name, int(kept["size"][0]), int(kept["size"][1]), tuple(cards))


def upright(place: Path) -> bytes:
    """The photograph to show; Misused where there is none."""
    try:
        return (place / "upright.jpg").read_bytes()
    except OSError:
        raise Misused("There is no such photograph.") from None


def set_by_hand(place: Path, typed: Mapping[str, str]) -> dict[int, list[list[float]]]:
    """Corners that were moved or added, in pixels of the picture itself, by number.

    Fields are ``card-K-number`` and ``card-K-0`` to ``card-K-3``; a card whose corners stand as
    they were found is left to be found again.

    Raises
    ------
    Misused
        Where a number or a corner is none, or two cards have one number.
    """
    kept = _kept(place)
    found = {c["number"]: np.asarray(c["corners"], float) for c in kept["cards"]}
    set_before = {c["number"] for c in kept["cards"] if c["by_hand"]}
    out: dict[int, list[list[float]]] = {}
    seen: set[int] = set()
    for k in range(_MOST):
        texts = [typed.get(f"card-{k}-{j}", "").strip() for j in range(4)]
        number = typed.get(f"card-{k}-number", "").strip()
        if not any(texts):
            continue
        if not number.isdecimal() or len(number) > 4 or int(number) >= _MOST:
            raise Misused(f"Card '{number[:10]}': expected its number, 0 to {_MOST - 1}.")
        if int(number) in seen:
            raise Misused(f"Card {number} is there twice.")
        seen.add(int(number))
        corners = [_corner(number, t) for t in texts]
        at = np.asarray(corners, float) * kept["shrink"]
        before = found.get(int(number))
        moved = before is None or float(np.abs(at - before).max()) > 0.2 * kept["shrink"]
        if moved or int(number) in set_before:
            out[int(number)] = at.round(2).tolist()
    return out


def _corner(number: str, text: str) -> tuple[float, float]:
    found = re.fullmatch(r"(-?\d+(?:\.\d+)?)[,; ]+(-?\d+(?:\.\d+)?)", text)
    if found is None or not all(-1e4 < float(v) < 1e5 for v in found.groups()):
        raise Misused(f"Card {number}, corner '{text[:20]}': expected two figures, as: 120, 340.")
    return float(found[1]), float(found[2])


def _kept(place: Path) -> dict[str, Any]:
    try:
        return dict(json.loads((place / "cards.json").read_text("utf-8")))
    except (OSError, ValueError):
        raise Misused("That photograph is not read yet.") from None
