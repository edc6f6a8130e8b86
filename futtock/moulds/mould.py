"""A mould: one timber laid flat, both faces seen from above the face that is up.

Axes: x to the right, y away from the reader, in millimetres, as seen from above the ``up`` face.
A mould stands on its own: a pattern already made has the same type and no frame behind it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class SawnEdge:
    """One long edge of a timber, heel to head, as the saw will follow it.

    ``up_mm`` (n, 2) on the face that is up, ``down_mm`` (n, 2) the other end of each ruling on the
    face below, ``at_mm`` (n,) length along ``up_mm`` from the heel, ``lean_deg`` (n,) the chord
    lean of the ruling in the vessel's sense (positive where the hull widens going aft).
    """

    name: Literal["outer", "inner"]
    up_mm: Array
    down_mm: Array
    at_mm: Array
    lean_deg: Array


@dataclass(frozen=True)
class BevelMark:
    """A bevel mark: ``at_mm`` along the outer edge from the heel, degrees of both cuts there."""

    at_mm: float
    outer_deg: float
    inner_deg: float


@dataclass(frozen=True)
class Label:
    """A named point on the mould: sirmark, level, butt, hole; with the direction to draw it in."""

    kind: str
    text: str
    at_mm: tuple[float, float]
    direction_deg: float = 0.0
    size_mm: float = 0.0


@dataclass(frozen=True)
class Mould:
    """One timber's full-size pattern.

    ``outline_up_mm``, ``outline_down_mm`` (n, 2) closed rings (first point not repeated,
    anticlockwise) of the finished timber's two faces, both seen from above ``up``.
    ``grain_mm`` (m, 2) is its middle line, heel to head. ``edges`` are (outer, inner).
    ``square_m2`` is the area of the blank's plan (union of both outlines), ``mass_kg`` that of the
    finished timber. ``same_as`` names a twin whose mould, turned over, is this one.
    """

    mark: str
    up: Literal["forward", "aft"]
    outline_up_mm: Array
    outline_down_mm: Array
    grain_mm: Array
    edges: tuple[SawnEdge, SawnEdge]
    marks: tuple[BevelMark, ...]
    sided_mm: float
    square_m2: float
    mass_kg: float
    labels: tuple[Label, ...] = ()
    same_as: str | None = None
    frame: int | None = None
    layer: str | None = None
    side: str | None = None
    holes_mm: Array = field(default_factory=lambda: np.empty((0, 2)))
