"""A slab of timber: two faces, grain, flaws, in one frame of axes seen from above the top face."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

FLAW_KINDS = {
    "knot": "a knot; its grain runs through the slab, and the grain of the slab flows round it",
    "check": "a drying crack along the grain, never built over",
    "shake": "a parting between the rings, never built over",
    "split": "a crack from an end or from felling, never built over",
    "rot": "decay, never built over; look for how far it runs beyond what shows",
    "sapwood": "sapwood left within the outline; kept clear of unless the setting allows it",
    "bark": "bark drawn into the wood, never built over",
    "pith": "the heart of the tree, where checks start; kept clear of",
    "hole": "a hole, old fastening or metal: never under a saw",
    "insect": "worm or beetle holes, never built over",
}
"""Kinds of flaw that are known, and what each means. Any other kind is kept clear of."""


@dataclass(frozen=True)
class Flaw:
    """A flaw: its kind (one of ``FLAW_KINDS``, or as written), ring (n, 2), and face."""

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
    ``price`` is for the whole slab; ``moisture_date`` the day it was metered, as YYYY-MM-DD;
    ``cup_mm``, ``bow_mm`` (crowned positive, hollow negative, of the top face over its whole width
    and length) and ``twist_mm`` are how it has warped, where measured. ``portrait`` is the file of
    its rectified photograph, beside the rack, and ``portrait_at`` where it lies: x and y of the
    middle of its lower left pixel, and millimetres a pixel.
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
    moisture_date: str | None = None
    portrait: str | None = None
    portrait_at: tuple[float, float, float] | None = None
    cup_mm: float | None = None
    bow_mm: float | None = None
    twist_mm: float | None = None
