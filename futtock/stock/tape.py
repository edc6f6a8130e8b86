"""A slab by tape: the record as a person writes it, from CSV, a workbook or the filled-in form.

Stretch a base line along the slab, from the butt. At each station along it measure out to either
edge, standing at the butt and looking along the line: left and right are yours. A figure with
``left`` or ``right`` after it (``3 in right``) says so itself; a minus is the other side of the
line. The record of one slab::

    slab,A-07
    species,white oak
    unit,in
    moisture,18
    station,top left,top right,bottom left,bottom right,thickness,grain 1
    0,5 1/2 in,6 in,6 in,6 1/4 in,2 3/4 in,0
    1-0-0,6 in,5 in,...
    flaw,face,at,across,long,wide
    knot,both,2-6-0,2 in left,2 in,1-1/2 in

Columns may come in any order; those for the bottom, the bark, the wane and the grain may be left
out, and a cell may be empty where nothing was measured.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused, Unreadable
from futtock.findings import Finding, Kind
from futtock.measure import MM_PER, read_length, unit_name
from futtock.stock import kinds
from futtock.vessel.grid import GridRow, read_grid
from futtock.vessel.papers import Papers

Array = NDArray[np.float64]

EDGES = (
    "top left", "top right", "bottom left", "bottom right",
    "bark left", "bark right", "bottom bark left", "bottom bark right",
    "wane left", "wane right",
)  # fmt: skip
"""Columns of the edges. Bark: the whole face within it. Wane: how much wider the bottom is."""

KEYS = (
    "species", "unit", "moisture", "moisture date", "thickness", "cup", "bow", "twist", "stack",
    "price", "measured", "note",
)  # fmt: skip
FLAW_HEADING = ("flaw", "face", "at", "across", "long", "wide")
_GRAIN = re.compile(r"grain ?(\d*)")
_FRACTION = re.compile(r"-?(\d+[ -])?\d+/\d+")  # a fraction of the record's own inches
_SIDE = re.compile(r"\s*\b(l|left|port|r|right|starboard)\.?\s*$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class TapeFlaw:
    """A flaw by tape: its middle ``at_mm`` along and ``across_mm`` (left positive), its size."""

    kind: str
    face: str
    at_mm: float
    across_mm: float
    long_mm: float
    wide_mm: float


@dataclass(frozen=True, slots=True)
class TapeRecord:
    """One slab as measured.

    Attributes
    ----------
    said
        What was said of it, by :data:`KEYS`, as written.
    stations_mm : (n,)
        Along the base line from the butt.
    readings_mm
        By column (:data:`EDGES`, ``thickness``, ``grain 1`` ...), each (n,), nan where empty;
        left columns are positive to the left of the line, right columns to the right, grain to
        the left.
    line
        Where the record begins in its file.
    """

    name: str
    said: dict[str, str]
    stations_mm: Array
    readings_mm: dict[str, Array]
    flaws: tuple[TapeFlaw, ...]
    file: str
    line: int


@dataclass(slots=True)
class _Draft:
    name: str
    line: int
    said: dict[str, str] = field(default_factory=dict)
    unit: str = "mm"
    headings: list[str] = field(default_factory=list)
    stations: list[float] = field(default_factory=list)
    readings: list[dict[str, float]] = field(default_factory=list)
    flaws: list[TapeFlaw] = field(default_factory=list)


def read_tape(
    papers: Papers, name: str, unit: str = "mm"
) -> tuple[tuple[TapeRecord, ...], tuple[Finding, ...]]:
    """Tape records from a CSV or XLSX file; one that cannot be opened leaves a finding.

    What the papers themselves notice (the file missing, its encoding) is among the findings.
    """
    before = len(papers.findings)
    rows = read_grid(papers, name)
    noticed = tuple(papers.findings[before:])
    if rows is None:
        return (), noticed
    records, findings = read_tape_rows(rows, name, unit)
    return records, (*noticed, *findings)


def read_tape_rows(
    rows: Iterable[GridRow], file: str, unit: str = "mm"
) -> tuple[tuple[TapeRecord, ...], tuple[Finding, ...]]:
    """Tape records from rows of cells, as a CSV or a workbook's sheet holds them.

    Parameters
    ----------
    rows
        Cells as text, numbers or dates, comments already taken out.
    file
        Name for findings.
    unit
        Unit of bare numbers until a record names its own.

    Returns
    -------
    records, findings
        A record with a cell that cannot be read is still returned, with that cell empty; the
        finding is a fault. Nothing raises.
    """
    return _Reader(file, unit).read(rows)


class _Reader:
    def __init__(self, file: str, unit: str) -> None:
        self.file, self.unit = file, unit
        self.findings: list[Finding] = []
        self.drafts: list[_Draft] = []
        self.mode = ""
        self.flaw_columns: list[str] = list(FLAW_HEADING)

    def read(self, rows: Iterable[GridRow]) -> tuple[tuple[TapeRecord, ...], tuple[Finding, ...]]:
        for row in rows:
            self.row(row.line, list(row.cells))
        return tuple(map(self.record, self.drafts)), tuple(self.findings)

    def row(self, number: int, row: list[Any]) -> None:
        first = _text(row[0]) if row else ""
        word = " ".join(first.lower().split())
        if word == "slab":
            self.begin(number, row)
        elif not self.drafts:
            said = f"{first!r} comes before any slab is named."
            self.say(kinds.TAPE_NAMELESS, said, number, 1, first, "slab, NAME")
        elif word == "station":
            self.mode = "stations"
            self.headings(number, row)
        elif word == "flaw":
            self.mode = "flaws"
            self.flaw_columns = [" ".join(_text(c).lower().split()) for c in row]
        elif word in KEYS:
            self.key(number, word, row)
        elif self.mode == "stations":
            self.station(number, row)
        elif self.mode == "flaws":
            self.flaw(number, row)
        else:
            said = f"{first!r} is not understood."
            self.say(kinds.TAPE_LINE, said, number, 1, first, ", ".join(("slab", *KEYS, "station")))

    def begin(self, number: int, row: list[Any]) -> None:
        name = _text(row[1]) if len(row) > 1 else ""
        if not name:
            said = "the slab has no name."
            self.say(kinds.TAPE_NAMELESS, said, number, 2, None, "the name chalked on it")
            name = f"slab at line {number}"
        self.drafts.append(_Draft(name, number, unit=self.unit))
        self.mode = ""

    def key(self, number: int, word: str, row: list[Any]) -> None:
        value = ", ".join(t for t in map(_text, row[1:]) if t)
        draft = self.drafts[-1]
        if word == "unit" and value:
            try:
                draft.unit = unit_name(value)
            except Misused as trouble:
                expected = ", ".join(MM_PER)
                self.say(kinds.TAPE_CELL, str(trouble), number, 2, value, expected)
        draft.said[word] = value

    def headings(self, number: int, row: list[Any]) -> None:
        names = []
        for column, cell in enumerate(row[1:], 2):
            word = " ".join(_text(cell).lower().replace("_", " ").split())
            grain = _GRAIN.fullmatch(word)
            if grain:
                word = f"grain {grain[1] or 1}"
            elif word and word not in (*EDGES, "thickness"):
                said = f"the heading {_text(cell)!r} is not known."
                expected = ", ".join((*EDGES, "thickness", "grain 1"))
                self.say(kinds.TAPE_HEADING, said, number, column, word, expected)
                word = ""
            names.append(word)
        self.drafts[-1].headings = names

    def station(self, number: int, row: list[Any]) -> None:
        draft = self.drafts[-1]
        at = self.length(row[0], number, 1, draft.unit)
        if at is None:
            return
        got: dict[str, float] = {}
        for column, (cell, name) in enumerate(zip(row[1:], draft.headings, strict=False), 2):
            if name and _text(cell):
                value = self.length(cell, number, column, draft.unit, name)
                if value is not None:
                    got[name] = value
        draft.stations.append(at)
        draft.readings.append(got)

    def flaw(self, number: int, row: list[Any]) -> None:
        draft = self.drafts[-1]
        by = dict(zip(self.flaw_columns, row, strict=False))
        columns = {name: k + 1 for k, name in enumerate(self.flaw_columns)}
        sizes: dict[str, float | None] = {}
        for name in ("at", "across", "long", "wide"):
            cell = by.get(name)
            if cell is not None and _text(cell):
                sizes[name] = self.length(cell, number, columns[name], draft.unit, name)
        at, wide = sizes.get("at"), sizes.get("wide")
        if at is None or wide is None:
            if "at" not in sizes or "wide" not in sizes:
                said = f"the flaw {_text(row[0])!r} wants its place along the line and its width."
                self.say(kinds.TAPE_MISSING, said, number, None, None, ", ".join(FLAW_HEADING))
            return
        face = _text(by.get("face")).lower() or "both"
        long = sizes.get("long")
        draft.flaws.append(
            TapeFlaw(
                _text(row[0]).lower(),
                face,
                at,
                sizes.get("across") or 0.0,
                abs(long if long is not None else wide),
                abs(wide),
            )
        )

    def length(
        self, cell: Any, number: int, column: int, unit: str, name: str = ""
    ) -> float | None:
        """One cell in mm; a side written after it sets its sign for that column."""
        sign = 1.0
        value = cell
        if isinstance(cell, str):
            value = cell = f"{cell} in" if unit == "in" and _FRACTION.fullmatch(cell) else cell
            side = _SIDE.search(cell)
            if side and any(c.isdigit() for c in cell):
                value = cell[: side.start()]
                is_right = side[1].lower() in ("r", "right", "starboard")
                sign = -1.0 if is_right != name.endswith("right") else 1.0
        try:
            return sign * float(read_length(value, unit))
        except Unreadable as trouble:
            for found in trouble.findings:
                self.say(
                    kinds.TAPE_CELL, found.message, number, column, _text(cell), found.expected
                )
            if not trouble.findings:
                self.say(kinds.TAPE_CELL, str(trouble), number, column, _text(cell), "a length")
            return None

    def say(
        self,
        kind: Kind,
        message: str,
        line: int,
        column: int | None,
        read: str | None,
        expected: str | None,
    ) -> None:
        self.findings.append(
            kind.found(
                message, file=self.file, line=line, column=column, read=read, expected=expected
            )
        )

    def record(self, draft: _Draft) -> TapeRecord:
        columns = dict.fromkeys(name for got in draft.readings for name in got)
        readings = {
            name: np.array([got.get(name, np.nan) for got in draft.readings]) for name in columns
        }
        return TapeRecord(
            draft.name,
            dict(draft.said),
            np.array(draft.stations, float),
            readings,
            tuple(draft.flaws),
            self.file,
            draft.line,
        )


def _text(cell: Any) -> str:
    return "" if cell is None else str(cell).strip()
