"""A slab of timber: two faces, grain, flaws, in one frame of axes seen from above the top face."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Flaw:
    """A flaw: its kind (knot, check, rot, shake, sapwood, hole, ...), ring (n, 2), and face."""

    kind: str
    outline_mm: Array
    face: Literal["top", "bottom", "both"]


@dataclass(frozen=True)
class Slab:
    """One slab.

    ``top_mm``, ``bottom_mm`` (n, 2): sound outlines, bark, sapwood and wane excluded;
    ``face_top_mm``, ``face_bottom_mm`` the whole faces within the bark where known. ``grain_mm``
    holds traced lines, each (m, 2); ``grain_guessed`` is True where there were none and the
    outline's middle line stands in. Rings anticlockwise, first point not repeated.
    """

    name: str
    species: str
    thickness_mm: float
    moisture_percent: float | None
    top_mm: Array
    bottom_mm: Array
    grain_mm: tuple[Array, ...]
    flaws: tuple[Flaw, ...]
    stack: str = ""
    measured: bool = True
    grain_guessed: bool = False
    face_top_mm: Array | None = None
    face_bottom_mm: Array | None = None
    price: float | None = None
    note: str = ""
