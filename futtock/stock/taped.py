"""From a tape record to a slab: its outlines, thickness, grain and flaws, with what looks amiss."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Literal, cast

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Unreadable
from futtock.findings import Finding, Kind
from futtock.measure import is_bare, read_length
from futtock.stock import kinds
from futtock.stock.entry import FACES
from futtock.stock.grain import grain_field
from futtock.stock.outline import anticlockwise
from futtock.stock.slab import FLAW_KINDS, Flaw, Slab
from futtock.stock.tape import TapeFlaw, TapeRecord
from futtock.stock.wane import wane_of, widened

Array = NDArray[np.float64]

_FARTHEST_MM = 460.0  # between stations: 18 inches
_UNEVEN_MM = 5.0
_JUMP_MM, _JUMP_SHARE = 60.0, 0.4
_SIDES = ("left", "right")
_RIM = 24


def taped_slab(record: TapeRecord) -> tuple[Slab | None, tuple[Finding, ...]]:
    """The slab that a tape record describes.

    Axes: x along the base line from the butt, y to the left of it, so seen from above with the
    butt at the left. The bottom is given by its own edges, or by wane widths added to the top's,
    or is the top. The thinnest reading is the slab's thickness. A flaw is an oval lying along the
    grain at its place.

    Returns
    -------
    slab, findings
        The slab is None where an outline or the thickness is missing.
    """
    work = _Taping(record)
    return work.slab(), tuple(work.findings)


class _Taping:
    def __init__(self, record: TapeRecord) -> None:
        self.record = record
        self.findings: list[Finding] = []

    def say(self, kind: Kind, message: str, column: str, read: str, expected: str) -> None:
        record = self.record
        self.findings.append(
            kind.found(
                f"slab {record.name}: {message}",
                file=record.file,
                line=record.name,
                column=column,
                read=read,
                expected=expected,
            )
        )

    def slab(self) -> Slab | None:
        record = self.record
        self.look_over()
        top = self.ring("top", needed=True)
        thickness = self.thickness()
        if top is None or thickness is None:
            return None
        bottom = self.ring("bottom")
        if bottom is None:
            bottom = self.by_wane(top)
        said = record.said
        slab = Slab(
            name=record.name,
            species=said.get("species", ""),
            thickness_mm=thickness,
            moisture_percent=self.number("moisture"),
            moisture_date=said.get("moisture date") or None,
            top_mm=top,
            bottom_mm=bottom,
            face_top_mm=self.ring("bark"),
            face_bottom_mm=self.ring("bottom bark"),
            grain_mm=tuple(self.grain()),
            flaws=(),
            stack=said.get("stack", ""),
            measured=said.get("measured", "yes").lower() not in ("no", "false", "0"),
            price=self.number("price"),
            note=said.get("note", ""),
            cup_mm=self.length("cup"),
            bow_mm=self.length("bow"),
            twist_mm=self.length("twist"),
        )
        if not slab.species:
            self.say(kinds.TAPE_MISSING, "its species is not said.", "species", "", "as white oak")
        if not record.flaws:
            return slab
        field = grain_field(slab)
        flaws = []
        for flaw in record.flaws:
            angle, _ = field.at(np.array([flaw.at_mm, flaw.across_mm]))
            flaws.append(self.flaw(flaw, float(angle)))
        return replace(slab, flaws=tuple(flaws))

    def ring(self, face: str, needed: bool = False) -> Array | None:
        """The outline between a left and a right column, from the butt round by the right."""
        columns = [f"{face} {side}" for side in _SIDES]
        edges = [self.edge(name, sign) for name, sign in zip(columns, (1.0, -1.0), strict=True)]
        left, right = edges
        if min(len(left), len(right)) < 2:
            given = max(len(left), len(right))
            if needed or given:
                said = (
                    f"its {face} has {len(left)} figures to the left and {len(right)} to the right."
                )
                kind = kinds.TAPE_FEW if needed else kinds.TAPE_LINE
                self.say(kind, said, columns[0], f"{len(left)}, {len(right)}", "2 or more each")
            return None
        if float(np.interp(right[:, 0], left[:, 0], left[:, 1]).sum()) < float(right[:, 1].sum()):
            said = f"the {face}'s left edge lies right of its right edge."
            self.say(kinds.TAPE_EXCHANGED, said, columns[0], "exchanged", "left to your left")
        ring = anticlockwise(np.vstack([right, left[::-1]]))
        ring.flags.writeable = False
        return ring

    def by_wane(self, top: Array) -> Array:
        """The bottom from the top and the wane to either side: positive where it is wider."""
        if not any(f"wane {side}" in self.record.readings_mm for side in _SIDES):
            return top
        try:
            ring = anticlockwise(widened(top, wane_of(self.record)))
        except Unreadable:  # the columns are there, and empty
            return top
        ring.flags.writeable = False
        return ring

    def edge(self, column: str, sign: float) -> Array:
        """Points (n, 2) of one column, in the order of the stations; empty cells left out."""
        read = self.record.readings_mm.get(column)
        if read is None:
            return np.zeros((0, 2))
        points = np.column_stack([self.record.stations_mm, sign * read])[np.isfinite(read)]
        return points[np.argsort(points[:, 0], kind="stable")]

    def grain(self) -> Iterator[Array]:
        for name in sorted(self.record.readings_mm):
            if name.startswith("grain"):
                line = self.edge(name, 1.0)
                if len(line) < 2:
                    said = f"{name} has {len(line)} figures; it is passed over."
                    self.say(kinds.GRAIN_SHORT, said, name, f"{len(line)}", "2 or more")
                    continue
                line.flags.writeable = False
                yield line

    def thickness(self) -> float | None:
        read = self.record.readings_mm.get("thickness", np.zeros(0))
        read = read[np.isfinite(read)]
        stated = self.length("thickness")
        if stated is not None:
            read = np.r_[read, stated]
        read = read[read > 0]
        if not len(read):
            self.say(kinds.TAPE_MISSING, "its thickness is missing.", "thickness", "", "a length")
            return None
        if np.ptp(read) > _UNEVEN_MM:
            text = f"{read.min():.0f} to {read.max():.0f} mm"
            message = f"its thickness runs from {text}; {read.min():.1f} mm counts."
            self.say(kinds.TAPE_THICKNESS, message, "thickness", text, f"within {_UNEVEN_MM:g} mm")
        return float(read.min())

    def length(self, key: str) -> float | None:
        """A length said once for the slab, in mm, or None."""
        said = self.record.said.get(key)
        if not said:
            return None
        unit = self.record.said.get("unit") or "mm"
        try:
            return float(read_length(float(said) if is_bare(said) else said, unit))
        except (Unreadable, ValueError):
            expected = "a length, as 2-1/4 in"
            self.say(kinds.TAPE_CELL, f"its {key} cannot be read.", key, said, expected)
            return None

    def number(self, key: str) -> float | None:
        said = self.record.said.get(key)
        if not said:
            return None
        try:
            value = float(said.replace("%", "").strip())
        except ValueError:
            value = float("nan")
        if not np.isfinite(value):
            self.say(kinds.TAPE_CELL, f"its {key} cannot be read.", key, said, "a number")
            return None
        return value

    def flaw(self, flaw: TapeFlaw, angle_deg: float) -> Flaw:
        if flaw.kind not in FLAW_KINDS:
            said = f"kind of flaw {flaw.kind!r} is not known."
            self.say(kinds.FLAW_KIND, said, "flaw", flaw.kind, ", ".join(FLAW_KINDS))
        face = flaw.face
        if face not in FACES:
            self.say(
                kinds.FLAW_FACE, "face of a flaw is not known.", "face", face, ", ".join(FACES)
            )
            face = "both"
        a, t = np.radians(angle_deg), np.linspace(0.0, 2 * np.pi, _RIM, endpoint=False)
        # drawn a little outside the oval, so that its straight pieces do not cut the flaw short
        out = 1.0 / np.cos(np.pi / _RIM)
        along = out * max(flaw.long_mm, 1.0) / 2 * np.cos(t)
        across = out * max(flaw.wide_mm, 1.0) / 2 * np.sin(t)
        x = flaw.at_mm + along * np.cos(a) - across * np.sin(a)
        y = flaw.across_mm + along * np.sin(a) + across * np.cos(a)
        ring = np.column_stack([x, y])
        ring.flags.writeable = False
        return Flaw(flaw.kind, ring, cast(Literal["top", "bottom", "both"], face))

    def look_over(self) -> None:
        """Stations out of order or far apart, and edges that jump."""
        stations = self.record.stations_mm
        steps = np.diff(stations)
        if (steps <= 0).any():
            at = int(np.argmax(steps <= 0)) + 1
            text = f"{stations[at]:.0f} mm after {stations[at - 1]:.0f} mm"
            self.say(kinds.TAPE_ORDER, f"a station at {text}.", "station", text, "from the butt on")
        elif len(steps) and steps.max() > _FARTHEST_MM:
            at = int(np.argmax(steps))
            text = f"{steps[at]:.0f} mm"
            two = f"{stations[at]:.0f} and {stations[at + 1]:.0f} mm"
            message = f"its stations at {two} are {text} apart."
            self.say(kinds.TAPE_GAP, message, "station", text, f"{_FARTHEST_MM:.0f} mm or less")
        for column in self.record.readings_mm:
            if column.endswith(_SIDES) and not column.startswith("wane"):
                self._jumps(column)

    def _jumps(self, column: str) -> None:
        points = self.edge(column, 1.0)
        if len(points) < 4 or (np.diff(points[:, 0]) <= 0).any():
            return
        x, v = points.T
        share = (x[1:-1] - x[:-2]) / (x[2:] - x[:-2])
        between = v[:-2] + share * (v[2:] - v[:-2])
        off = np.abs(v[1:-1] - between)
        worst = int(np.argmax(off))
        # the neighbours of a wrong figure stand off too, by half as much: only its peak is named
        others = np.delete(off, range(max(0, worst - 1), min(len(off), worst + 2)))
        usual = float(np.median(others)) if len(others) else 0.0
        limit = max(_JUMP_MM, _JUMP_SHARE * float(np.median(np.abs(v))), 4 * usual)
        if off[worst] > limit:
            read = f"{v[worst + 1]:.0f} mm"
            message = (
                f"its {column} is {read} at {x[worst + 1]:.0f} mm, "
                f"{off[worst]:.0f} mm from the line between its neighbours."
            )
            expected = f"about {between[worst]:.0f} mm"
            self.say(kinds.TAPE_JUMP, message, column, read, expected)
