"""The table of offsets from a paper's cells, every wrong cell named and none guessed."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise
from typing import Any, Literal, cast

import numpy as np

from futtock.errors import Unreadable
from futtock.findings import Finding
from futtock.measure import read_length
from futtock.vessel import kinds
from futtock.vessel.grid import GridRow, read_grid, shown
from futtock.vessel.papers import Papers, did_you_mean
from futtock.vessel.table import Array, Diagonal, OffsetTable, Row

Line = Literal["height", "halfbreadth", "diagonal"]

LINES: tuple[Line, ...] = ("height", "halfbreadth", "diagonal")
PLACES: dict[Line, tuple[str, ...]] = {
    "height": ("sheer", "rabbet", "keel", "keel top", "bearding", "knuckle", "buttock"),
    "halfbreadth": ("sheer", "rabbet", "keel", "bearding", "knuckle", "waterline"),
    "diagonal": (),
}
"""Second cells that a row may have; buttock and waterline are followed by a length, a knuckle may
be followed by a name, a diagonal is called as in ``[diagonals]``."""

_MEASURED = {"buttock", "waterline"}


def read_cell(
    papers: Papers, cell: Any, unit: str, file: str, line: int, column: str | int, what: str
) -> float:
    """Millimetres of one cell; nan with a finding where it is no length."""
    try:
        return float(read_length(cell, unit))
    except Unreadable as error:
        papers.note(_at(error.findings[0], file, line, column, what))
        return float("nan")


def _at(finding: Finding, file: str, line: int, column: str | int, what: str) -> Finding:
    message = f"{what} cannot be read: {finding.message}"
    return replace(finding, file=file, line=line, column=column, message=message)


def read_offsets(
    papers: Papers, name: str, unit: str, diagonals: Mapping[str, Diagonal]
) -> OffsetTable | None:
    """The table as printed, or None with findings where there is nothing to build one from.

    Parameters
    ----------
    papers
        The folder; takes the findings.
    name
        The file, CSV or XLSX.
    unit
        Unit of bare numbers.
    diagonals
        The planes that ``vessel.toml`` states.
    """
    grid = read_grid(papers, name)
    if grid is None:
        return None
    header, *body = grid
    first = [header.text(0).lower(), header.text(1).lower()]
    if first[0] != "line":
        said = f"The first row begins with '{header.text(0)}', '{header.text(1)}'."
        papers.note(
            kinds.NO_HEADER.found(
                said,
                file=name,
                line=header.line,
                read=header.text(0),
                expected="line,at, and the stations' names, forward first",
            )
        )
        return None
    stations = [header.text(i) for i in range(2, len(header.cells))]
    marked = [r for r in body if r.text(0).lower() == "station"]
    if not marked:
        said = "There is no row that begins with 'station'."
        papers.note(kinds.NO_STATIONS.found(said, file=name, line=header.line))
        return None
    for extra in marked[1:]:
        said = f"The station row stands a second time (first in line {marked[0].line})."
        papers.note(kinds.DUPLICATE_ROW.found(said, file=name, line=extra.line))
    keep, x = _stations(papers, name, unit, stations, marked[0])
    rows = _rows(
        papers, name, unit, [r for r in body if r not in marked], stations, keep, diagonals
    )
    named = tuple(stations[i] for i in keep)
    used = {r.at for r in rows if r.line == "diagonal"}
    return OffsetTable(
        name, named, x, rows, {k: d for k, d in diagonals.items() if k in used} or dict(diagonals)
    )


def _stations(
    papers: Papers, file: str, unit: str, names: list[str], row: GridRow
) -> tuple[list[int], Array]:
    """Columns that are kept, in order from forward, and their x."""
    _check_width(papers, file, row, len(names))
    places: dict[int, float] = {}
    for i, name in enumerate(names):
        column = name or i + 3
        text = row.text(i + 2)
        if not name:
            if text:
                said = f"Column {i + 3} has a position but no name in the header."
                papers.note(
                    kinds.STATION_LEFT_OUT.found(said, file=file, line=row.line, column=column)
                )
            continue
        if not text:
            said = f"Station {name} has no position."
            papers.note(kinds.STATION_LEFT_OUT.found(said, file=file, line=row.line, column=column))
            continue
        value = read_cell(
            papers, row.cells[i + 2], unit, file, row.line, name, f"The position of station {name}"
        )
        if np.isnan(value):
            continue
        same = [j for j in places if names[j] == name or places[j] == value]
        if same:
            said = (
                f"Station {name} at {text} has the "
                f"{'name' if names[same[0]] == name else 'position'} of another "
                f"(column {same[0] + 3}, {row.text(same[0] + 2)})."
            )
            papers.note(
                kinds.DUPLICATE_STATION.found(
                    said, file=file, line=row.line, column=column, read=text
                )
            )
            continue
        places[i] = value
    order = sorted(places, key=places.__getitem__)
    if order != list(places):
        left = list(places)
        bad = next(b for a, b in pairwise(left) if places[b] < places[a])
        said = f"Station {names[bad]} at {row.text(bad + 2)} lies forward of the one before it."
        papers.note(
            kinds.STATIONS_DISORDER.found(
                said,
                file=file,
                line=row.line,
                column=names[bad],
                read=row.text(bad + 2),
                expected="positions growing aft",
            )
        )
    return order, _frozen([places[i] for i in order])


def _rows(
    papers: Papers,
    file: str,
    unit: str,
    grid: list[GridRow],
    stations: list[str],
    keep: list[int],
    diagonals: Mapping[str, Diagonal],
) -> tuple[Row, ...]:
    rows: list[Row] = []
    for found in grid:
        head = _head(papers, file, unit, found, diagonals)
        if head is None:
            continue
        line, what, at_mm = head
        at = found.text(1)
        same = next((r for r in rows if _same(r, line, what, at_mm, at)), None)
        if same is not None:
            said = f"'{line} {at}' stands already in line {same.file_line}, as '{same.name}'."
            papers.note(kinds.DUPLICATE_ROW.found(said, file=file, line=found.line, read=at))
            continue
        _check_width(papers, file, found, len(stations))
        values, texts = [], []
        for i in keep:
            cell = found.cells[i + 2] if i + 2 < len(found.cells) else ""
            texts.append(shown(cell))
            what_cell = f"{line} {at} at station {stations[i]}"
            values.append(
                float("nan")
                if cell == ""
                else read_cell(papers, cell, unit, file, found.line, stations[i], what_cell)
            )
        if not any(texts):
            said = f"'{line} {at}' holds no figure."
            papers.note(kinds.EMPTY_ROW.found(said, file=file, line=found.line))
        rows.append(Row(line, at, what, at_mm, _frozen(values), tuple(texts), found.line))
    return tuple(rows)


def _head(
    papers: Papers, file: str, unit: str, row: GridRow, diagonals: Mapping[str, Diagonal]
) -> tuple[Line, str, float] | None:
    """What a row's first two cells mean, or None with a finding."""
    written, at = row.text(0), row.text(1)
    plain = re.sub(r"[\s_-]", "", written.lower()).removesuffix("s")
    line = next((k for k in LINES if k == plain), None)
    if line is None:
        said = f"'{written}' is no kind of row{did_you_mean(written, (*LINES, 'station'))}."
        papers.note(
            kinds.UNKNOWN_ROW.found(
                said,
                file=file,
                line=row.line,
                column=1,
                read=written,
                expected="station, height, halfbreadth or diagonal",
            )
        )
        return None
    if line == "diagonal":
        if at not in diagonals:
            said = f"No plane is stated for diagonal '{at}'{did_you_mean(at, diagonals)}."
            papers.note(
                kinds.UNKNOWN_DIAGONAL.found(said, file=file, line=row.line, column=2, read=at)
            )
            return None
        return line, "diagonal", float("nan")
    words = " ".join(at.split())
    what = next((p for p in PLACES[line] if re.match(rf"{p}(?![a-z])", words.lower())), None)
    if what == "keel" and words.lower() == "keel top":
        what = "keel top"
    rest = words[len(what) :].strip() if what else ""
    if what is None or (rest and what not in {*_MEASURED, "knuckle"}):
        said = f"'{written} {at}' is no line that is known{_nearest(line, words)}."
        papers.note(
            kinds.UNKNOWN_LINE.found(
                said,
                file=file,
                line=row.line,
                column=2,
                read=at,
                expected=", ".join(
                    f"{p} and a length" if p in _MEASURED else p for p in PLACES[line]
                ),
            )
        )
        return None
    if what not in _MEASURED:
        return line, what, float("nan")
    at_mm = read_cell(papers, rest, unit, file, row.line, 2, f"Where the {what} lies ('{at}')")
    return None if np.isnan(at_mm) else (line, what, at_mm)


def _nearest(line: Line, words: str) -> str:
    other = "halfbreadth" if line == "height" else "height"
    first = words.split(" ")[0].lower() if words else ""
    if first and first in PLACES[cast(Line, other)]:
        return f"; {first} belongs to {other} rows"
    return did_you_mean(first, PLACES[line])


def _same(row: Row, line: Line, what: str, at_mm: float, at: str) -> bool:
    if row.line != line or row.what != what:
        return False
    if what in _MEASURED:
        return abs(row.at_mm - at_mm) < 0.01
    return row.at.lower() == at.lower()


def _check_width(papers: Papers, file: str, row: GridRow, stations: int) -> None:
    """Findings where a row is longer or shorter than the header."""
    last = max((i for i, c in enumerate(row.cells) if c != ""), default=-1) + 1
    width = 2 + stations
    if last > width:
        said = f"The row has {last} cells where the header has {width} columns."
        papers.note(
            kinds.RAGGED.found(
                said,
                file=file,
                line=row.line,
                column=width + 1,
                read=row.text(width),
                expected=f"{width} cells",
            )
        )
    elif len(row.cells) < width and not _is_workbook(file):
        said = f"The row has {len(row.cells)} cells where the header has {width} columns."
        papers.note(
            kinds.SHORT_ROW.found(said, file=file, line=row.line, expected=f"{width} cells")
        )


def _is_workbook(file: str) -> bool:
    return file.lower().endswith((".xlsx", ".xlsm"))


def _frozen(values: list[float]) -> Array:
    array = np.asarray(values, dtype=np.float64)
    array.setflags(write=False)
    return array
