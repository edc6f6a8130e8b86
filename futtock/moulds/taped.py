"""A pattern taken off with a tape: a CSV of points or offsets, with its mark and bevels.

One row a figure, lengths in any notation of the trade, ``#`` a comment::

    mark,12-P-f2
    sided,1-7/8 in
    up,aft                    face that is up; left out: the joint face
    unit,in                   of bare figures; left out: mm
    offset,at,outer,inner     along a straight line from the heel, and away from it to both edges
    outer,x,y                 or points of the edges, heel to head
    inner,x,y
    bevel,at,outer,inner      along the outer edge from the heel, degrees of both cuts
    sirmark,name,at           along the outer edge from the heel

Seen from above the face that is up, x to the right from the heel, y away from the reader.
"""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused, Unreadable
from futtock.findings import Finding
from futtock.measure import read_angle, read_length
from futtock.moulds import kinds

Array = NDArray[np.float64]
Up = Literal["forward", "aft"]
MARK = re.compile(r"\b(\d{1,3})-([PSC])-([fa])(\d{1,2})\b")
_FIGURES = {"offset": 3, "outer": 2, "inner": 2, "bevel": 3, "sirmark": 2}


@dataclass(frozen=True)
class Traced:
    """A pattern as traced: both long edges of the up face, heel to head, and its bevels.

    ``outer_deg`` and ``inner_deg`` are (at, lean) pairs, ``at`` along the outer edge from the heel.
    ``down_mm`` are the two edges of the other face, where the pattern shows it: they then give the
    bevels. ``rings_mm`` are the outlines as drawn (up, and down where shown), heels and all.
    """

    mark: str
    up: Up
    outer_mm: Array
    inner_mm: Array
    outer_deg: tuple[tuple[float, float], ...]
    inner_deg: tuple[tuple[float, float], ...]
    sirmarks: tuple[tuple[str, float], ...] = ()
    sided_mm: float | None = None
    down_mm: tuple[Array, Array] | None = None
    rings_mm: tuple[Array, ...] = ()


def read_taped(name: str, data: bytes) -> tuple[Traced | None, list[Finding]]:
    """Read a taped pattern; None with the findings that say why not."""
    findings: list[Finding] = []
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        said = kinds.PATTERN_UNREADABLE.found(f"{name} is no text: {wrong.reason}.", file=name)
        return None, [said]
    rows = [
        (n, [c.strip() for c in row])
        for n, row in enumerate(csv.reader(text.splitlines()), 1)
        if row and row[0].strip() and not row[0].lstrip().startswith("#")
    ]
    words = {row[0].lower(): (n, row[1]) for n, row in rows if len(row) > 1}
    unit = words.get("unit", (0, "mm"))[1] or "mm"
    reading = _Reading(name, unit, findings)
    got: dict[str, list[tuple[float, ...]]] = {k: [] for k in _FIGURES}
    sirmarks: list[tuple[str, float]] = []
    for n, row in rows:
        kind = row[0].lower()
        if kind in ("mark", "sided", "up", "unit"):
            continue
        if kind not in _FIGURES:
            reading.fault(n, 1, row[0], "mark, sided, up, unit, offset, outer, inner or bevel")
        elif len(row) < _FIGURES[kind] + 1:
            reading.fault(n, len(row), ",".join(row), f"{_FIGURES[kind]} figures after {kind}")
        elif kind == "sirmark":
            sirmarks.append((row[1], reading.length(n, 3, row[2])))
        elif kind == "bevel":
            lean = [reading.angle(n, k, row[k - 1]) for k in (3, 4)]
            got[kind].append((reading.length(n, 2, row[1]), *lean))
        else:
            cells = row[1 : _FIGURES[kind] + 1]
            got[kind].append(tuple(reading.length(n, k, c) for k, c in enumerate(cells, 2)))
    found = MARK.search(words.get("mark", (0, name))[1]) or MARK.search(name)
    if found is None:
        place, read = words.get("mark", (0, name))
        findings.append(
            kinds.PATTERN_MARK.found(
                f"{name}: {read!r} is no piece mark.",
                file=name,
                line=place or None,
                column=2 if place else None,
                read=read,
                expected="a mark such as 12-P-f2",
            )
        )
    up: Up = "aft" if found is None or found[3] == "f" else "forward"
    if "up" in words:
        line, face = words["up"]
        if face.lower() in ("forward", "aft"):
            up = "forward" if face.lower() == "forward" else "aft"
        else:
            reading.fault(line, 2, face, "forward or aft")
    outer = list(got["outer"]) or [(a, o) for a, o, _ in got["offset"]]
    inner = list(got["inner"]) or [(a, i) for a, _, i in got["offset"]]
    places = [len(set(map(tuple, edge))) for edge in (outer, inner)]
    if not findings and min(places) < 2:
        findings.append(
            kinds.PATTERN_OUTLINE.found(
                f"{name}: {places[0]} points of the outer edge and {places[1]} of the inner.",
                file=name,
                expected="two points or more of each edge, in places of their own",
            )
        )
    sided = reading.length(*_at(words["sided"], 2)) if "sided" in words else None
    if findings or found is None:
        return None, findings
    bevels = np.array(got["bevel"], float).reshape(-1, 3)
    return (
        Traced(
            found[0],
            up,
            np.array(outer),
            np.array(inner),
            tuple(map(tuple, bevels[:, [0, 1]].tolist())),
            tuple(map(tuple, bevels[:, [0, 2]].tolist())),
            tuple(sirmarks),
            sided,
        ),
        findings,
    )


def _at(word: tuple[int, str], column: int) -> tuple[int, int, str]:
    return word[0], column, word[1]


@dataclass
class _Reading:
    """Reads cells, gathering what is wrong with where."""

    name: str
    unit: str
    findings: list[Finding]

    def fault(self, line: int, column: int, read: str, expected: str) -> None:
        self.findings.append(
            kinds.PATTERN_FIGURE.found(
                f"{self.name}: {read!r} where {expected} was expected.",
                file=self.name,
                line=line,
                column=column,
                read=read,
                expected=expected,
            )
        )

    def length(self, line: int, column: int, cell: str) -> float:
        try:
            return float(read_length(cell, self.unit))
        except (Unreadable, Misused) as wrong:
            self.fault(line, column, cell, f"a length ({wrong})")
            return 0.0

    def angle(self, line: int, column: int, cell: str) -> float:
        try:
            return float(read_angle(cell))
        except Unreadable:
            self.fault(line, column, cell, "degrees")
            return 0.0
