"""A mould: one timber laid flat, both faces seen from above the face that is up.

Axes: x to the right, y away from the reader, in millimetres, as seen from above the ``up`` face.
A mould stands on its own: a pattern already made has the same type and no frame behind it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock.findings import Finding

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
class EdgeDoubt:
    """How well one long edge of one face is known, from the readings the lines were faired to.

    ``at_mm`` (n,) are the places of the bevel marks, along the outer edge from the heel; ``mm``
    (n,) the standard error of the edge in the face's own plane there, and ``deg`` (n,) that of
    the bevel sawn there. An inner edge stands off from the outer by a stated size, so it is out by
    as much; where it is sawn square its bevel is in no doubt.
    """

    edge: Literal["outer", "inner"]
    face: Literal["up", "down"]
    at_mm: Array
    mm: Array
    deg: Array


@dataclass(frozen=True)
class Label:
    """A named point on the mould, with the direction to draw it in.

    Kinds: ``mark`` (the piece mark, along the timber), ``heel`` and ``head`` (the ends), ``up`` and
    ``out`` (arrows: the vessel's up and outboard), ``sirmark``, ``level``, ``sheer``, ``ribband``,
    ``centre`` and ``butt`` (on the outer edge, pointing into the timber), ``hole``.
    ``size_mm`` is a length or a diameter where the kind has one.
    """

    kind: str
    text: str
    at_mm: tuple[float, float]
    direction_deg: float = 0.0
    size_mm: float = 0.0


@dataclass(frozen=True)
class WorkLine:
    """What is drawn on the up face and worked when the frame is assembled.

    Kinds: ``notch`` (open, the cut over the keel), ``limber`` (open, the water's way), ``bolts``
    (closed, the zone kept clear for heel bolts). ``points_mm`` (n, 2).
    """

    kind: Literal["notch", "limber", "bolts"]
    points_mm: Array


@dataclass(frozen=True)
class MouldPlace:
    """How a mould's flat axes lie in the frame's (out, up): mould = R(turn) F frame + shift.

    F turns ``out`` over where ``flipped``. A port timber's frame axes are those of the starboard
    side (out grows outboard), as everywhere in framing.
    """

    turn_deg: float
    shift_mm: tuple[float, float]
    flipped: bool

    def _turn(self) -> Array:
        t = np.radians(self.turn_deg)
        return np.array([[np.cos(t), -np.sin(t)], [np.sin(t), np.cos(t)]])

    def to_mould(self, frame_mm: Array) -> Array:
        """Points (..., 2) of the frame's (out, up) in the mould's axes."""
        flip = np.array([-1.0 if self.flipped else 1.0, 1.0])
        laid = (np.asarray(frame_mm, float) * flip) @ self._turn().T
        return np.asarray(laid + np.asarray(self.shift_mm), float)

    def to_frame(self, mould_mm: Array) -> Array:
        """Points (..., 2) of the mould in the frame's (out, up)."""
        flip = np.array([-1.0 if self.flipped else 1.0, 1.0])
        back: Array = (np.asarray(mould_mm, float) - np.asarray(self.shift_mm)) @ self._turn()
        return np.asarray(back * flip, float)


@dataclass(frozen=True)
class Mould:
    """One timber's full-size pattern.

    ``outline_up_mm``, ``outline_down_mm`` (n, 2) closed rings (first point not repeated,
    anticlockwise) of the finished timber's two faces, both seen from above ``up``.
    ``grain_mm`` (m, 2) is its middle line, heel to head. ``edges`` are (outer, inner).
    ``square_m2`` is the area of the blank's plan (union of both outlines), ``mass_kg`` that of the
    finished timber. ``same_as`` names a twin whose mould, turned over, is this one.
    ``centre_mm`` is the centre of mass: x, y and the depth below the up face. ``place`` ties the
    flat axes to the frame's; None for a pattern that has no frame behind it. ``departure_mm`` is
    how far the ruled cut stands off the true surface at its worst (positive: wood left proud),
    ``doubt_mm`` the standard error of the outer edge where the lines are least certain, and
    ``doubt_deg`` that of its bevel; ``leave_mm`` is the wood to leave on the outer edge for that
    doubt, 0 where it is small. ``doubts`` says the same of each edge of both faces, place by place;
    empty where no lines stand behind the mould.
    ``work`` is what is marked at the heel, cut to the up face's outline.
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
    volume_m3: float = 0.0
    centre_mm: tuple[float, float, float] = (0.0, 0.0, 0.0)
    place: MouldPlace | None = None
    departure_mm: float = 0.0
    doubt_mm: float = 0.0
    doubt_deg: float = 0.0
    leave_mm: float = 0.0
    doubts: tuple[EdgeDoubt, ...] = ()
    work: tuple[WorkLine, ...] = ()
    findings: tuple[Finding, ...] = ()

    @property
    def length_mm(self) -> float:
        """Straight length along the chord, over both faces."""
        x = np.concatenate([self.outline_up_mm[:, 0], self.outline_down_mm[:, 0]])
        return float(np.ptp(x))

    @property
    def wide_mm(self) -> float:
        """Width square to the chord that both faces take together."""
        y = np.concatenate([self.outline_up_mm[:, 1], self.outline_down_mm[:, 1]])
        return float(np.ptp(y))

    @property
    def sweep_mm(self) -> float:
        """Greatest departure of the middle line from its chord."""
        first, last = self.grain_mm[0], self.grain_mm[-1]
        along = (last - first) / np.hypot(*(last - first))
        off = self.grain_mm - first
        return float(np.abs(off[:, 0] * along[1] - off[:, 1] * along[0]).max())
