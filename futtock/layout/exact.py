"""The exact check: polygons against polygons, knowing nothing of how a place was found.

Each face of the timber must lie inside its own face of the slab as that was measured, touch no
flaw, stand the gap away from every neighbour, and the grain may nowhere run through it steeper
than is allowed, as sampled at the traced lines themselves.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from futtock.layout.corner import sound_rings
from futtock.layout.placement import Placement
from futtock.layout.settings import LaySettings
from futtock.moulds.mould import Mould
from futtock.stock.grain import grain_field
from futtock.stock.slab import Flaw, Slab
from futtock.stock.sound import (
    FaceName,
    face_ring,
    flaw_rings,
    flaws_of,
    knot_allowed,
    small_knots,
)

Array = NDArray[np.float64]
FACES: tuple[FaceName, FaceName] = ("top", "bottom")
NEAR_LINE_MM = 12.0  # a traced chord this near the middle line is a reading of the slope
CHORD_MM = 20.0  # half the chord of the middle line that it is compared with
_NIL_MM2 = 0.01


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a placement: what (inside, flaw, gap, grain), where, and by how much."""

    what: str
    says: str
    amount: float


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the exact check finds of one placement.

    ``gap_mm`` to the nearest neighbour (infinite where alone); slopes as tangents; ``readings``
    how many traced chords the slope was read at; ``faults`` empty where it may stand.
    """

    mark: str
    slab: str
    faults: tuple[Fault, ...]
    gap_mm: float
    slope_worst: float
    slope_mean: float
    readings: int

    @property
    def passes(self) -> bool:
        """Whether it may stand."""
        return not self.faults


@dataclass(frozen=True)
class Laid:
    """A mould's outlines and middle line in a slab's axes."""

    up: BaseGeometry
    down: BaseGeometry
    blank: BaseGeometry
    line: Array


def sound_polygon(ring: Array) -> BaseGeometry:
    """A ring as a polygon that is valid."""
    p = Polygon(ring)
    return p if p.is_valid else p.buffer(0)


def laid(mould: Mould, placement: Placement) -> Laid:
    """The mould where the placement puts it."""
    up = sound_polygon(placement.lay(mould.outline_up_mm))
    down = sound_polygon(placement.lay(mould.outline_down_mm))
    return Laid(up, down, up.union(down), placement.lay(mould.grain_mm))


class Court:
    """The slabs and moulds of one layout, made ready once for many verdicts."""

    def __init__(
        self, moulds: Iterable[Mould], slabs: Iterable[Slab], settings: LaySettings
    ) -> None:
        self.moulds: Mapping[str, Mould] = {m.mark: m for m in moulds}
        self.slabs: Mapping[str, Slab] = {s.name: s for s in slabs}
        self.settings = settings
        self._rules = settings.rules
        self._slab = lru_cache(maxsize=None)(self._ready)

    def _ready(
        self, name: str
    ) -> tuple[BaseGeometry, BaseGeometry, list[tuple[str, str, BaseGeometry]], Array]:
        slab = self.slabs[name]
        top = sound_polygon(face_ring(slab, "top", self._rules))
        bottom = sound_polygon(face_ring(slab, "bottom", self._rules))
        shapely.prepare(top)
        shapely.prepare(bottom)
        flaws: list[tuple[str, str, BaseGeometry]] = []
        for face in FACES:
            for flaw in flaws_of(slab, face, self._rules):
                flaws.extend((face, flaw.kind, sound_polygon(r)) for r in flaw_rings(flaw))
        lines = grain_field(slab).lines_mm
        chords = [np.c_[line[:-1], line[1:]] for line in lines if len(line) > 1]
        return top, bottom, flaws, np.vstack(chords) if chords else np.empty((0, 4))

    def judge(self, placement: Placement, others: Sequence[BaseGeometry] = ()) -> Verdict:
        """The verdict on one placement with these neighbours' blanks beside it."""
        mould = self.moulds[placement.mark]
        slab = self.slabs[placement.slab]
        s = self.settings
        at = laid(mould, placement)
        top, bottom, flaws, chords = self._slab(placement.slab)
        faults: list[Fault] = []
        on_top, on_bottom = (at.down, at.up) if placement.mirrored else (at.up, at.down)
        sound_top, sound_bottom = on_top, on_bottom
        if s.wane_mm > 0.0:
            rings = [sound_polygon(placement.lay(r)) for r in sound_rings(mould, s.wane_mm)]
            sound_top, sound_bottom = rings[::-1] if placement.mirrored else rings
        names = ("down", "up") if placement.mirrored else ("up", "down")
        grow = s.rough_allowance_mm if s.allowance_sound else 0.0
        for face, piece, sound, ground, name in (
            ("top", on_top, sound_top, top, names[0]),
            ("bottom", on_bottom, sound_bottom, bottom, names[1]),
        ):
            piece = piece.buffer(grow) if grow else piece
            sound = sound.buffer(grow) if grow else sound
            if not ground.covers(sound):
                over = float(sound.difference(ground).area)
                if over > _NIL_MM2:
                    faults.append(
                        Fault(
                            "inside",
                            f"its {name} face stands {over:.0f} mm2 outside the {face} of the slab",
                            over,
                        )
                    )
            for where, kind, hole in flaws:
                if where == face and piece.intersects(hole):
                    shared = float(piece.intersection(hole).area)
                    if shared > _NIL_MM2:
                        faults.append(
                            Fault("flaw", f"its {name} face lies on a {kind}, {face}", shared)
                        )
        faults += [
            Fault("flaw", f"it lies on a knot, {off:.0f} mm from its middle line", off)
            for _flaw, off in self._knots(slab, at)
        ]
        gap = min((float(at.blank.distance(o)) for o in others), default=float("inf"))
        if gap < s.gap_mm - 1e-6:
            faults.append(
                Fault("gap", f"only {gap:.1f} mm to its neighbour, {s.gap_mm:.1f} needed", gap)
            )
        need = thickness_needed(mould, s)
        if slab.thickness_mm < need - 1e-9:
            faults.append(
                Fault(
                    "thickness",
                    f"the slab is {slab.thickness_mm:.0f} mm thick, {need:.0f} needed",
                    need - slab.thickness_mm,
                )
            )
        slopes, allowed = self._slopes(at, chords)
        over_by = slopes - allowed
        if len(slopes) and over_by.max() > 1e-9:
            worst = float(slopes[int(np.argmax(over_by))])
            faults.append(
                Fault(
                    "grain",
                    f"the grain runs 1 in {1 / max(worst, 1e-9):.1f} through it",
                    float(over_by.max()),
                )
            )
        return Verdict(
            placement.mark,
            placement.slab,
            tuple(faults),
            gap,
            float(slopes.max()) if len(slopes) else 0.0,
            float(slopes.mean()) if len(slopes) else 0.0,
            len(slopes),
        )

    def _knots(self, slab: Slab, at: Laid) -> list[tuple[Flaw, float]]:
        """Small knots in a timber that do not lie near its middle line, and how far off they lie.

        The moulded depth is that of the timber beside the knot: twice the way from the middle line
        to the nearest edge, so that a knot by an end is barred too.
        """
        barred = []
        line = shapely.LineString(at.line)
        for flaw in small_knots(slab, self._rules):
            ring = sound_polygon(flaw_rings(flaw)[0])
            if not at.blank.intersects(ring):
                continue
            by = line.interpolate(line.project(ring.centroid))
            depth = 2.0 * min(float(by.distance(f.boundary)) for f in (at.up, at.down))
            if not knot_allowed(flaw, at.line, depth, self._rules):
                off = shapely.distance(shapely.points(flaw.outline_mm), line)
                barred.append((flaw, float(off.max())))
        return barred

    def _slopes(self, at: Laid, chords: Array) -> tuple[Array, Array]:
        """Slope at each traced chord that lies by the middle line, and what is allowed there."""
        if not len(chords):
            return np.empty(0), np.empty(0)
        middle = (chords[:, :2] + chords[:, 2:]) / 2
        line = shapely.LineString(at.line)
        points = np.asarray(shapely.points(middle))
        near = (shapely.distance(points, line) < NEAR_LINE_MM) & shapely.contains(at.up, points)
        if not near.any():
            return np.empty(0), np.empty(0)
        points, chords = points[near], chords[near]
        along = shapely.line_locate_point(line, points)
        long = line.length
        a = shapely.get_coordinates(
            shapely.line_interpolate_point(line, np.maximum(0.0, along - CHORD_MM))
        )
        b = shapely.get_coordinates(
            shapely.line_interpolate_point(line, np.minimum(long, along + CHORD_MM))
        )
        own = np.arctan2(*(b - a).T[::-1])
        grain = np.arctan2(chords[:, 3] - chords[:, 1], chords[:, 2] - chords[:, 0])
        off = (grain - own + np.pi / 2) % np.pi - np.pi / 2
        s = self.settings
        allowed = np.full(len(off), 1.0 / s.grain_slope)
        if s.grain_slope_butts is not None:
            allowed[np.minimum(along, long - along) < s.butt_zone_mm] = 1.0 / s.grain_slope_butts
        return np.abs(np.tan(off)), allowed

    def judge_all(self, placements: Sequence[Placement]) -> list[Verdict]:
        """Verdicts on a whole layout, each placement against all others on its slab, in order."""
        blanks = [laid(self.moulds[p.mark], p).blank for p in placements]
        by: dict[str, list[int]] = {}
        for j, p in enumerate(placements):
            by.setdefault(p.slab, []).append(j)
        return [
            self.judge(p, [blanks[q] for q in by[p.slab] if q != j])
            for j, p in enumerate(placements)
        ]


def thickness_needed(mould: Mould, settings: LaySettings) -> float:
    """Thickness in mm that a slab must have for this timber."""
    if mould.mark in settings.thickness_of:
        return settings.thickness_of[mould.mark]
    if settings.thickness_mm is not None:
        return settings.thickness_mm
    return mould.sided_mm + settings.thickness_over_mm
