"""How a slab hangs together as a piece of wood: what contradicts what, and what to do about it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from futtock.findings import Finding, Kind
from futtock.stock import kinds
from futtock.stock.outline import crossings, signed_area_mm2, widest_gap_mm
from futtock.stock.slab import Slab

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Array = NDArray[np.float64]

SETS_ASIDE = frozenset({kinds.CROSSES.code, kinds.TOO_FEW.code, kinds.NO_AREA.code})
"""Findings after which a slab cannot be laid out until they are mended."""

_THINNEST_MM, _THICKEST_MM = 12.0, 400.0
_SHORTEST_MM, _LONGEST_MM = 150.0, 20_000.0
_LEAST_WOOD_MM2 = 2_500.0
_FACES_SHARE = 0.5  # of the smaller face that must lie over the other
_GRAIN_OFF_MM = 25.0  # a trace may run a little past the sound outline into the wane
_GRAIN_OFF_SHARE = 0.2
_WHOLE_FACE_SLACK_MM = 5.0
_GAP_TIMES = 6.0  # a closing edge so many times the others, and not straight across an end
_INCH_MM = 25.4


def inspect_slab(slab: Slab, file: str | None = None) -> tuple[Finding, ...]:
    """Everything about a slab that does not fit, in the order of its keys.

    Nothing is changed; ``SETS_ASIDE`` says which findings keep a slab out of a layout.
    """
    return tuple(_Inspection(slab, file).run())


def guessed_unit(thickness_mm: float) -> str | None:
    """The unit that a thickness was likely written in, where it is hardly millimetres."""
    if _THINNEST_MM <= thickness_mm <= _THICKEST_MM:
        return None
    for unit, size in (("in", _INCH_MM), ("cm", 10.0), ("m", 1000.0), ("ft", 304.8)):
        if 25.0 <= thickness_mm * size <= 250.0:
            return unit
    return None


class _Inspection:
    def __init__(self, slab: Slab, file: str | None) -> None:
        self.slab, self.file = slab, file

    def _found(self, kind: Kind, message: str, key: str, read: str, expected: str) -> Finding:
        name = self.slab.name
        return kind.found(
            f"slab {name}: {message}",
            file=self.file,
            line=name,
            column=key,
            read=read,
            expected=expected,
        )

    def run(self) -> Iterator[Finding]:
        yield from self._figures()
        bad = False
        rings = {
            "top": self.slab.top_mm,
            "bottom": self.slab.bottom_mm,
            "face_top": self.slab.face_top_mm,
            "face_bottom": self.slab.face_bottom_mm,
        }
        for key, ring in rings.items():
            if ring is None or (key == "bottom" and ring is self.slab.top_mm):
                continue
            for finding in self._ring(key, ring):
                bad = bad or finding.code in SETS_ASIDE
                yield finding
        if not bad:
            yield from self._size()
            yield from self._faces()
            yield from self._grain()
            yield from self._flaws()

    def _figures(self) -> Iterator[Finding]:
        thick = self.slab.thickness_mm
        if not _THINNEST_MM <= thick <= _THICKEST_MM:
            unit = guessed_unit(thick)
            size = {"in": _INCH_MM, "cm": 10.0, "m": 1000.0, "ft": 304.8}.get(unit or "", 0.0)
            likely = f"; in {unit} it would be {thick * size:.0f} mm" if unit else ""
            said = f"a slab {thick:g} mm thick is hardly meant{likely}."
            expected = f"{_THINNEST_MM:g} to {_THICKEST_MM:g} mm"
            yield self._found(kinds.THICKNESS_UNIT, said, "thickness_mm", f"{thick:g}", expected)
        wet = self.slab.moisture_percent
        if wet is not None and not 1.0 <= wet <= 200.0:
            share = " (written as a fraction?)" if 0 < wet < 1 else ""
            said = f"moisture of {wet:g} percent is hardly possible{share}."
            yield self._found(
                kinds.MOISTURE_ODD, said, "moisture_percent", f"{wet:g}", "1 to 200 percent"
            )

    def _ring(self, key: str, ring: Array) -> Iterator[Finding]:
        met = crossings(ring)
        if len(met):
            where = "; ".join(f"({x:.0f}, {y:.0f})" for x, y in met[:3])
            said = f"{key} crosses itself at {where} mm" + (
                f" and {len(met) - 3} more." if len(met) > 3 else "."
            )
            yield self._found(kinds.CROSSES, said, key, f"{len(met)} crossings", "none")
            return
        area = abs(signed_area_mm2(ring))
        if area < _LEAST_WOOD_MM2 and np.ptp(ring, axis=0).max() > _SHORTEST_MM:
            said = f"{key} holds only {area / 1e2:.1f} cm2 of wood."
            yield self._found(kinds.NO_AREA, said, key, f"{area / 1e2:.1f} cm2", "a slab's face")
            return
        closing, others = widest_gap_mm(ring)
        if self._left_open(ring, closing, others):
            said = f"{key} ends {closing:.0f} mm from where it began."
            expected = f"an end or a step of some {others:.0f} mm"
            yield self._found(kinds.UNCLOSED, said, key, f"{closing:.0f} mm", expected)

    @staticmethod
    def _left_open(ring: Array, closing: float, others: float) -> bool:
        """The closing edge runs along the slab, not across its end, and is far beyond a step."""
        if len(ring) < 8 or closing < _GAP_TIMES * max(others, 1.0):
            return False
        import shapely

        box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shapely.Polygon(ring)))
        sides = np.sort(np.hypot(*np.diff(box, axis=0).T))
        return closing > 1.5 * float(sides[0])

    def _size(self) -> Iterator[Finding]:
        import shapely

        box = shapely.get_coordinates(
            shapely.minimum_rotated_rectangle(shapely.Polygon(self.slab.top_mm))
        )
        length = float(np.hypot(*np.diff(box, axis=0).T).max())
        if _SHORTEST_MM <= length <= _LONGEST_MM:
            return
        unit = {"in": _INCH_MM, "ft": 304.8, "m": 1000.0, "cm": 10.0}
        likely = [
            f"{u} ({length * k / 1000:.2f} m)" for u, k in unit.items() if 500 <= length * k <= 8000
        ]
        said = f"its top is {length:g} mm long" + (
            f"; written in {' or '.join(likely)}?" if likely else "."
        )
        expected = f"{_SHORTEST_MM:g} to {_LONGEST_MM:g} mm"
        yield self._found(kinds.SIZE_UNIT, said, "top", f"{length:g}", expected)

    def _faces(self) -> Iterator[Finding]:
        import shapely

        slab = self.slab
        top, bottom = shapely.Polygon(slab.top_mm), shapely.Polygon(slab.bottom_mm)
        if slab.bottom_mm is not slab.top_mm:
            share = _over(top, bottom)
            flipped = _over(top, shapely.Polygon(slab.bottom_mm * [1.0, -1.0]))
            turned = slab.bottom_mm * [-1.0, 1.0]
            flipped = max(flipped, _over(top, shapely.Polygon(turned)))
            if share < _FACES_SHARE <= flipped:
                said = (
                    f"only {share:.0%} of its faces lie over each other, {flipped:.0%} turned over."
                )
                yield self._found(
                    kinds.BOTTOM_FROM_BELOW, said, "bottom", f"{share:.0%}", "most of both faces"
                )
            elif share < _FACES_SHARE:
                off = float(shapely.distance(top.centroid, bottom.centroid))
                said = f"its bottom lies {off:.0f} mm from its top; they share {share:.0%}."
                yield self._found(
                    kinds.BOTTOM_FAR, said, "bottom", f"{share:.0%} shared", "half or more"
                )
        for key, whole, sound in (
            ("face_top", slab.face_top_mm, top),
            ("face_bottom", slab.face_bottom_mm, bottom),
        ):
            if whole is None:
                continue
            out = sound.difference(shapely.Polygon(whole).buffer(_WHOLE_FACE_SLACK_MM)).area
            if out > 0.005 * sound.area:
                said = f"{out / 100:.0f} cm2 of the sound outline lies outside {key}."
                yield self._found(
                    kinds.WHOLE_FACE_SMALLER, said, key, f"{out / 100:.0f} cm2 outside", "none"
                )

    def _ground(self) -> BaseGeometry:
        import shapely

        slab = self.slab
        rings = (slab.top_mm, slab.bottom_mm, slab.face_top_mm, slab.face_bottom_mm)
        return shapely.union_all([shapely.Polygon(r) for r in rings if r is not None])

    def _grain(self) -> Iterator[Finding]:
        import shapely

        slab = self.slab
        if slab.grain_guessed or not slab.grain_mm:
            yield self._found(kinds.GRAIN_GUESSED, "no grain traced.", "grain", "none", "a line")
            return
        ground = shapely.buffer(self._ground(), _GRAIN_OFF_MM)
        for k, line in enumerate(slab.grain_mm):
            if len(line) < 2:
                continue
            trace = shapely.LineString(line)
            if trace.length <= 0:
                continue
            off = trace.difference(ground).length / trace.length
            if off > _GRAIN_OFF_SHARE:
                said = f"{off:.0%} of grain line {k + 1} lies off the slab."
                yield self._found(
                    kinds.GRAIN_OUTSIDE, said, f"grain[{k}]", f"{off:.0%} off", "on the slab"
                )

    def _flaws(self) -> Iterator[Finding]:
        import shapely

        ground = shapely.buffer(self._ground(), 1.0)
        for k, flaw in enumerate(self.slab.flaws):
            key = f"defects[{k}].outline"
            ring = flaw.outline_mm
            if len(ring) < 3 or len(crossings(ring)):
                said = f"the outline of flaw {k + 1} ({flaw.kind}) "
                said += "crosses itself." if len(ring) >= 3 else f"has {len(ring)} points."
                yield self._found(
                    kinds.FLAW_OUTLINE, said, key, f"{len(ring)} points", "once round, 3 or more"
                )
            if not ground.intersects(shapely.MultiPoint(ring).convex_hull):
                x, y = ring.mean(0)
                said = f"flaw {k + 1} ({flaw.kind}) at ({x:.0f}, {y:.0f}) mm lies off the slab."
                yield self._found(kinds.FLAW_OUTSIDE, said, key, f"({x:.0f}, {y:.0f})", "on it")


def _over(a: BaseGeometry, b: BaseGeometry) -> float:
    """Share of the smaller polygon that lies over the other."""
    import shapely

    both = shapely.area(shapely.intersection(shapely.make_valid(a), shapely.make_valid(b)))
    return float(both / max(min(shapely.area(a), shapely.area(b)), 1e-9))
