"""Where the cards lie: on the slab's face or beside it, as far as the outline tells."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock.findings import Finding
from futtock.stock import kinds

Array = NDArray[np.float64]
Lie = Literal["face", "floor"]

_BESIDE = 0.1  # share of a card on the face, under which it lies beside


def cards_beside(
    face_mm: Array, cards_mm: Mapping[int, Array]
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Numbers of cards (4, 2) that lie off a face's ring (n, 2), and of those that lie across it.

    A card lies beside the face where less than a tenth of it is on it, and across its edge where
    less than nine tenths are: there an outline a little out would give either answer.
    """
    import shapely

    face = shapely.Polygon(face_mm).buffer(0)
    shares = {}
    for number, corners in cards_mm.items():
        card = shapely.Polygon(corners).buffer(0)
        shares[number] = float(card.intersection(face).area) / max(float(card.area), 1e-9)
    beside = tuple(sorted(n for n, share in shares.items() if share < _BESIDE))
    across = tuple(sorted(n for n, s in shares.items() if _BESIDE <= s < 1.0 - _BESIDE))
    return beside, across


def where_they_lie(
    beside: tuple[int, ...],
    across: tuple[int, ...],
    count: int,
    lie: Lie | None,
    file: str,
) -> list[Finding]:
    """What the cards' places say against what was said of them; asked where nothing was."""
    text = ", ".join(map(str, beside))
    on = count - len(beside) - len(across)
    if lie == "face" and beside:
        said = f"card {text} lies beside the slab, though the cards were said to lie on its face."
        return [kinds.CARDS_BESIDE.found(said, file=file, read=f"card {text} beside")]
    if lie == "floor" and on:
        said = f"{on} of the cards lie on the slab, though they were said to lie on the floor."
        return [kinds.CARDS_BESIDE.found(said, file=file, read=f"{on} on the face")]
    if lie is not None:
        return []
    if beside:
        said = f"card {text} lies beside the slab; it is taken to be as high as the slab's face."
        return [kinds.CARDS_FLOOR.found(said, file=file, read=f"card {text} beside")]
    said = "the cards are taken to lie on the slab's face."
    return [kinds.CARDS_FLOOR.found(said, file=file)]
