"""One slab as the rack file writes it: read with every fault named, and written back."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Literal, cast

import numpy as np
from numpy.typing import NDArray

from futtock.findings import Finding, Kind
from futtock.stock import kinds
from futtock.stock.outline import anticlockwise, is_closed_twice, signed_area_mm2
from futtock.stock.slab import FLAW_KINDS, Flaw, Slab

Array = NDArray[np.float64]
FaceOfFlaw = Literal["top", "bottom", "both"]

KEYS = (
    "name", "species", "thickness_mm", "moisture_percent", "moisture_date", "top", "bottom",
    "face_top", "face_bottom", "grain", "defects", "stack", "measured", "price", "note", "portrait",
    "portrait_at", "cup_mm", "bow_mm", "twist_mm",
)  # fmt: skip
FACES = ("top", "bottom", "both")
_FEWEST = 3


class _Reading:
    """Findings of one entry, with its place."""

    def __init__(self, file: str, name: str) -> None:
        self.file, self.name = file, name
        self.findings: list[Finding] = []
        self.clockwise: list[str] = []

    def say(self, kind: Kind, message: str, key: str, read: object, expected: str) -> None:
        self.findings.append(
            kind.found(
                f"slab {self.name}: {message}",
                file=self.file,
                line=self.name,
                column=key,
                read=_shown(read),
                expected=expected,
            )
        )

    def number(self, entry: Mapping[str, Any], key: str, needed: bool = False) -> float | None:
        value = entry.get(key)
        if value is None:
            if needed:
                self.say(kinds.KEY_MISSING, f"no {key}.", key, None, "a number")
            return None
        if not _is_number(value):
            self.say(kinds.KEY_WRONG, f"{key} is not a number.", key, value, "a number")
            return None
        return float(value)

    def text(self, entry: Mapping[str, Any], key: str) -> str | None:
        value = entry.get(key)
        if value is None or isinstance(value, str):
            return value
        self.say(kinds.KEY_WRONG, f"{key} is not text.", key, value, "text in quotes")
        return None

    def points(self, value: Any, key: str) -> Array | None:
        """Points (n, 2), or None with a finding that names the first that is wrong."""
        if not isinstance(value, list):
            self.say(kinds.KEY_WRONG, f"{key} is not a list.", key, value, "[[x, y], ...] in mm")
            return None
        for k, point in enumerate(value):
            if not (isinstance(point, list) and len(point) == 2 and all(map(_is_number, point))):
                self.say(
                    kinds.KEY_WRONG,
                    f"point {k + 1} of {key} is not a pair of numbers.",
                    f"{key}[{k}]",
                    point,
                    "[x, y] in mm",
                )
                return None
        return np.array(value, dtype=float).reshape(-1, 2)

    def ring(self, value: Any, key: str) -> Array | None:
        """An outline, anticlockwise, no point repeated; None where it cannot be an outline."""
        points = self.points(value, key)
        if points is None:
            return None
        if is_closed_twice(points):
            said = f"the first point of {key} is repeated at its end."
            self.say(kinds.CLOSED_TWICE, said, key, f"{len(points)} points", "each point once")
            points = points[:-1]
        points = (
            points[np.r_[True, (np.diff(points, axis=0) != 0).any(1)]] if len(points) else points
        )
        if len(points) < _FEWEST:
            said = f"{key} has {len(points)} points, too few for an outline."
            self.say(kinds.TOO_FEW, said, key, f"{len(points)} points", "3 points or more")
            return None
        if signed_area_mm2(points) < 0:
            self.clockwise.append(key)
        return _frozen(anticlockwise(points))


def read_entry(entry: object, file: str, position: int) -> tuple[Slab | None, list[Finding]]:
    """A slab from one entry of a rack file, and everything wrong with how it is written.

    ``position`` counts from 1 and stands for the name where there is none. The slab is None where
    a key that is needed is missing or of the wrong form, or its outline has too few points. How
    the slab hangs together as a piece of wood is for ``inspect_slab`` to say.
    """
    place = f"slab {position}"
    if not isinstance(entry, dict):
        message = f"{place} of the rack is not a slab."
        return None, [
            kinds.NOT_A_SLAB.found(
                message, file=file, line=place, read=_shown(entry), expected="{...}"
            )
        ]
    name = entry.get("name")
    named = isinstance(name, str) and bool(name.strip())
    reading = _Reading(file, cast(str, name).strip() if named else place)
    if not named:
        kind = kinds.KEY_MISSING if name is None else kinds.KEY_WRONG
        reading.say(kind, "no name.", "name", name, "the name chalked on it, in quotes")
    for key in entry:
        if key not in KEYS:
            reading.say(kinds.KEY_UNKNOWN, f"key {key} is not known.", key, key, "a known key")
    if entry.get("species") is None:
        reading.say(kinds.KEY_MISSING, "no species.", "species", None, "as white oak")
    thickness = reading.number(entry, "thickness_mm", needed=True)
    if thickness is not None and thickness <= 0:
        reading.say(
            kinds.KEY_WRONG, "thickness_mm is not above 0.", "thickness_mm", thickness, "above 0"
        )
        thickness = None
    top = bottom = None
    if entry.get("top") is None:
        reading.say(kinds.KEY_MISSING, "no top outline.", "top", None, "[[x, y], ...] in mm")
    else:
        top = reading.ring(entry["top"], "top")
    bottom = top
    if entry.get("bottom") is None:
        reading.say(kinds.BOTTOM_ABSENT, "no bottom given.", "bottom", None, "[[x, y], ...] in mm")
    else:
        bottom = reading.ring(entry["bottom"], "bottom")
    whole = {
        key: reading.ring(entry[key], key) if entry.get(key) is not None else None
        for key in ("face_top", "face_bottom")
    }
    if reading.clockwise:
        keys = reading.clockwise
        said = f"{', '.join(keys)} {'run' if len(keys) > 1 else 'runs'} clockwise."
        reading.say(kinds.CLOCKWISE, said, keys[0], "clockwise", "anticlockwise from above")
    measured = entry.get("measured", True)
    if not isinstance(measured, bool):
        reading.say(
            kinds.KEY_WRONG, "measured is not true or false.", "measured", measured, "true or false"
        )
        measured = True
    species = reading.text(entry, "species")
    slab = Slab(
        name=reading.name,
        species=species or "",
        thickness_mm=thickness or 0.0,
        moisture_percent=reading.number(entry, "moisture_percent"),
        top_mm=top if top is not None else np.zeros((0, 2)),
        bottom_mm=bottom if bottom is not None else np.zeros((0, 2)),
        grain_mm=_grain(reading, entry.get("grain")),
        flaws=_flaws(reading, entry.get("defects")),
        stack=reading.text(entry, "stack") or "",
        measured=measured,
        face_top_mm=whole["face_top"],
        face_bottom_mm=whole["face_bottom"],
        price=reading.number(entry, "price"),
        note=reading.text(entry, "note") or "",
        moisture_date=reading.text(entry, "moisture_date"),
        portrait=reading.text(entry, "portrait"),
        portrait_at=_placed(reading, entry.get("portrait_at")),
        cup_mm=reading.number(entry, "cup_mm"),
        bow_mm=reading.number(entry, "bow_mm"),
        twist_mm=reading.number(entry, "twist_mm"),
    )
    usable = named and species is not None and thickness is not None
    usable = usable and top is not None and bottom is not None
    return (slab if usable else None), reading.findings


def _grain(reading: _Reading, value: Any) -> tuple[Array, ...]:
    if value is None:
        return ()
    if not isinstance(value, list):
        reading.say(kinds.KEY_WRONG, "grain is not a list.", "grain", value, "a list of lines")
        return ()
    lines = []
    for k, given in enumerate(value):
        line = reading.points(given, f"grain[{k}]")
        if line is None:
            continue
        if len(line) < 2 or float(np.hypot(*np.ptp(line, axis=0))) < 1.0:
            said = f"grain line {k + 1} has no length and is passed over."
            reading.say(kinds.GRAIN_SHORT, said, f"grain[{k}]", given, "two points or more")
        lines.append(_frozen(line))
    return tuple(lines)


def _placed(reading: _Reading, value: Any) -> tuple[float, float, float] | None:
    if value is None:
        return None
    if isinstance(value, list) and len(value) == 3 and all(map(_is_number, value)) and value[2] > 0:
        return float(value[0]), float(value[1]), float(value[2])
    said = "portrait_at is not a place and a scale."
    reading.say(kinds.KEY_WRONG, said, "portrait_at", value, "[x, y, mm a pixel]")
    return None


def _flaws(reading: _Reading, value: Any) -> tuple[Flaw, ...]:
    if value is None:
        return ()
    if not isinstance(value, list):
        reading.say(kinds.KEY_WRONG, "defects is not a list.", "defects", value, "a list of flaws")
        return ()
    flaws = []
    for k, given in enumerate(value):
        key = f"defects[{k}]"
        if not isinstance(given, dict):
            reading.say(kinds.KEY_WRONG, f"flaw {k + 1} is not a flaw.", key, given, "{...}")
            continue
        kind, face = given.get("kind"), given.get("face", "both")
        if kind not in FLAW_KINDS:
            said = f"kind of flaw {k + 1} is not known."
            reading.say(kinds.FLAW_KIND, said, f"{key}.kind", kind, ", ".join(FLAW_KINDS))
        if face not in FACES:
            said = f"face of flaw {k + 1} is not known."
            reading.say(kinds.FLAW_FACE, said, f"{key}.face", face, ", ".join(FACES))
            face = "both"
        outline = reading.points(given.get("outline"), f"{key}.outline")
        if outline is None or not len(outline):
            if outline is not None:
                said = f"flaw {k + 1} has no points."
                reading.say(kinds.KEY_WRONG, said, f"{key}.outline", [], "[[x, y], ...] in mm")
            continue
        flaws.append(Flaw(str(kind), _frozen(outline), cast(FaceOfFlaw, face)))
    return tuple(flaws)


def slab_entry(slab: Slab) -> dict[str, Any]:
    """A slab as the rack file writes it; what was guessed or left out is left out again."""
    entry: dict[str, Any] = {
        "name": slab.name,
        "species": slab.species,
        "thickness_mm": _plain(slab.thickness_mm),
    }
    optional: dict[str, Any] = {
        "moisture_percent": _plain(slab.moisture_percent),
        "moisture_date": slab.moisture_date,
    }
    entry |= {key: value for key, value in optional.items() if value is not None}
    entry["top"] = _listed(slab.top_mm)
    if slab.bottom_mm is not slab.top_mm:  # the same array stands in where none was measured
        entry["bottom"] = _listed(slab.bottom_mm)
    for key, ring in (("face_top", slab.face_top_mm), ("face_bottom", slab.face_bottom_mm)):
        if ring is not None:
            entry[key] = _listed(ring)
    if not slab.grain_guessed:
        entry["grain"] = [_listed(line) for line in slab.grain_mm]
    entry["defects"] = [
        {"kind": f.kind, "outline": _listed(f.outline_mm), "face": f.face} for f in slab.flaws
    ]
    if slab.stack:
        entry["stack"] = slab.stack
    entry["measured"] = slab.measured
    more: dict[str, Any] = {
        "cup_mm": _plain(slab.cup_mm),
        "bow_mm": _plain(slab.bow_mm),
        "twist_mm": _plain(slab.twist_mm),
        "price": _plain(slab.price),
        "note": slab.note or None,
        "portrait": slab.portrait,
        "portrait_at": [_plain(v) for v in slab.portrait_at] if slab.portrait_at else None,
    }
    return entry | {key: value for key, value in more.items() if value is not None}


def _is_number(value: object) -> bool:
    return (
        isinstance(value, int | float)
        and not isinstance(value, bool)
        and math.isfinite(value)
        and abs(value) < 1e9
    )


def _plain(value: float | None) -> float | int | None:
    return int(value) if value is not None and float(value).is_integer() else value


def _listed(points: Array) -> list[list[float | int | None]]:
    return [[_plain(x), _plain(y)] for x, y in points.tolist()]


def _frozen(points: Array) -> Array:
    points = np.array(points, dtype=float)
    points.flags.writeable = False
    return points


def _shown(value: object, most: int = 60) -> str | None:
    if value is None:
        return None
    text = value if isinstance(value, str) else repr(value)
    return text if len(text) <= most else text[: most - 3] + "..."
