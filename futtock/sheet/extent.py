"""The room that items take on a sheet: words by the true width of their letters."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

import numpy as np

from futtock.sheet.items import Arc, Array, Box, Group, Item, Move, Path, Text, frozen
from futtock.sheet.letters import width_mm


def box_of(items: Iterable[Item]) -> Box | None:
    """(x0, y0, x1, y1) round the items, or None where there is nothing.

    A group with a window counts as its window's part of itself; words by their true width.
    """
    corners: list[Array] = []
    _corners(items, corners)
    if not corners:
        return None
    every = np.concatenate(corners)
    (x0, y0), (x1, y1) = every.min(axis=0).tolist(), every.max(axis=0).tolist()
    return (x0, y0, x1, y1)


def _corners(items: Iterable[Item], out: list[Array]) -> None:
    """Points (n, 2) that bound the items, added to ``out``."""
    for item in items:
        if isinstance(item, Path):
            if len(item.points_mm):
                out.append(item.points_mm)
        elif isinstance(item, Text):
            out.append(text_corners(item))
        elif isinstance(item, Group):
            if item.clip_mm is None:
                _corners(item.items, out)
                continue
            inner, c = box_of(item.items), item.clip_mm
            if inner is not None:
                cut = [max(inner[k], c[k]) for k in (0, 1)] + [min(inner[k], c[k]) for k in (2, 3)]
                if cut[0] < cut[2] and cut[1] < cut[3]:
                    out.append(np.array(cut).reshape(2, 2))
        elif isinstance(item, Arc):
            r = item.radius_mm
            out.append(
                np.array(item.centre_mm) + np.array([[-r, -r], [r, r]])
                if item.whole
                else item.points_mm(0.1)
            )
        else:
            x, y = item.at_mm
            out.append(np.array([[x, y], [x + item.size_mm[0], y + item.size_mm[1]]]))


def text_corners(text: Text) -> Array:
    """The four corners (4, 2) of the words' box, anticlockwise from the start of the baseline.

    Read-only; kept, since a sheet asks for the same words' box many times while it is composed.
    """
    return _text_corners(text, width_mm(text.text, text.size_mm, text.face))


@lru_cache(maxsize=16384)
def _text_corners(text: Text, w: float) -> Array:
    x0 = {"start": 0.0, "middle": -w / 2, "end": -w}[text.anchor]
    low, high = -0.22 * text.size_mm, 0.76 * text.size_mm
    corners = np.array([[x0, low], [x0 + w, low], [x0 + w, high], [x0, high]])
    bx, by = text.baseline_mm()
    return frozen(Move(bx, by, text.angle_deg).points(corners))
