"""The smaller papers: end lines, mends, divisions into timbers, what stands as built."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal, cast

import numpy as np

from futtock.vessel import kinds
from futtock.vessel.grid import GridRow, read_grid, shown
from futtock.vessel.offsets import read_cell
from futtock.vessel.papers import Papers, did_you_mean
from futtock.vessel.table import Array, OffsetTable

END_LINES = ("stem rabbet", "post rabbet", "sheer forward", "sheer aft", "transom edge")
"""Lines that stations do not give."""


@dataclass(frozen=True, slots=True)
class Mend:
    """One figure of the table put right (or dropped) by the builder; the paper stays as printed.

    ``line`` is the row's name, ``value_mm`` is nan where the figure is dropped.
    """

    line: str
    station: str
    printed: str
    value_mm: float
    why: str
    file_line: int

    @property
    def dropped(self) -> bool:
        """Whether the figure is left out."""
        return bool(np.isnan(self.value_mm))


@dataclass(frozen=True, slots=True)
class Division:
    """Where one layer of a frame is butted: girths from the heel along the joint face, in order.

    ``side`` is ``""`` where it holds for both sides; no girth means a single timber.
    """

    frame: int
    layer: Literal["f", "a"]
    side: Literal["", "P", "S", "C"]
    butts_mm: tuple[float, ...]
    file_line: int


@dataclass(frozen=True, slots=True)
class AsBuilt:
    """A measured point of a standing frame: height above base, spread out from the centreline."""

    frame: int
    side: Literal["P", "S"]
    height_mm: float
    spread_mm: float
    file_line: int


def read_ends(
    papers: Papers, name: str, unit: str
) -> tuple[dict[str, Array], dict[str, tuple[int, ...]]]:
    """Points (m, 3) and line numbers (m,) of each end line; wrong points left out."""
    points: dict[str, list[list[float]]] = {}
    lines: dict[str, list[int]] = {}
    for row in _body(papers, name, ("line", "x", "y", "z")):
        line = " ".join(row.text(0).lower().split())
        if line not in END_LINES:
            said = f"'{row.text(0)}' is no end line that is known{did_you_mean(line, END_LINES)}."
            papers.note(
                kinds.UNKNOWN_LINE.found(
                    said,
                    file=name,
                    line=row.line,
                    column=1,
                    read=row.text(0),
                    expected=", ".join(END_LINES),
                )
            )
            continue
        point = [
            read_cell(papers, _cell(row, i), unit, name, row.line, axis, f"{axis} of the {line}")
            for i, axis in enumerate("xyz", start=1)
        ]
        if not np.isnan(point).any():
            points.setdefault(line, []).append(point)
            lines.setdefault(line, []).append(row.line)
    ends: dict[str, Array] = {}
    for line, many in points.items():
        array = np.asarray(many, dtype=np.float64)
        array.setflags(write=False)
        ends[line] = array
    return ends, {k: tuple(v) for k, v in lines.items()}


def read_mends(papers: Papers, name: str, unit: str, table: OffsetTable) -> tuple[Mend, ...]:
    """The mends that name a figure of the table; others are told of."""
    mends: list[Mend] = []
    rows = {_folded(r.name): r for r in table.rows}
    for found in _body(papers, name, ("line", "station", "value")):
        row = rows.get(_folded(found.text(0)))
        station = found.text(1)
        if row is None:
            hint = did_you_mean(found.text(0), [r.name for r in table.rows])
            said = f"'{found.text(0)}' is no row of {table.file}{hint}."
            _unknown_place(papers, name, found, 0, "line", said, None)
            continue
        if station not in table.stations:
            said = f"'{station}' is no station of {table.file}."
            _unknown_place(papers, name, found, 1, "station", said, ", ".join(table.stations))
            continue
        value = float("nan")
        if found.text(2).lower() != "drop":
            what = f"The mend of {row.name} at station {station}"
            value = read_cell(papers, _cell(found, 2), unit, name, found.line, "value", what)
            if np.isnan(value):
                continue
        earlier = next((m for m in mends if (m.line, m.station) == (row.name, station)), None)
        if earlier is not None:
            said = f"{row.name} at station {station} is mended already in line {earlier.file_line}."
            papers.note(kinds.DUPLICATE_ROW.found(said, file=name, line=found.line))
            continue
        printed = row.texts[table.stations.index(station)]
        mends.append(Mend(row.name, station, printed, value, found.text(3), found.line))
    return tuple(mends)


def _unknown_place(
    papers: Papers, name: str, row: GridRow, column: int, key: str, said: str, known: str | None
) -> None:
    papers.note(
        kinds.UNKNOWN_PLACE.found(
            said, file=name, line=row.line, column=key, read=row.text(column), expected=known
        )
    )


def mended(table: OffsetTable, mends: Sequence[Mend]) -> OffsetTable:
    """The table with the mends in it; texts stay as printed."""
    rows = []
    for row in table.rows:
        mine = [m for m in mends if m.line == row.name]
        if mine:
            values = row.values_mm.copy()
            for mend in mine:
                values[table.stations.index(mend.station)] = mend.value_mm
            values.setflags(write=False)
            row = replace(row, values_mm=values)
        rows.append(row)
    return replace(table, rows=tuple(rows))


def read_divisions(papers: Papers, name: str, unit: str) -> tuple[Division, ...]:
    """``frame,layer,side,butt``: a row a butt; an empty side means both, an empty butt none."""
    butts: dict[tuple[int, str, str], list[float]] = {}
    first: dict[tuple[int, str, str], int] = {}
    for row in _body(papers, name, ("frame", "layer", "side", "butt")):
        frame = _whole(papers, name, row, 0, "frame")
        layer = _one_of(papers, name, row, 1, "layer", ("f", "a"))
        side = _one_of(papers, name, row, 2, "side", ("", "P", "S", "C"))
        if frame is None or layer is None or side is None:
            continue
        key = (frame, layer, side)
        butts.setdefault(key, [])
        first.setdefault(key, row.line)
        if row.text(3):
            what = f"The butt of frame {frame}, layer {layer}"
            girth = read_cell(papers, _cell(row, 3), unit, name, row.line, "butt", what)
            if not np.isnan(girth):
                butts[key].append(girth)
    return tuple(
        Division(
            frame,
            cast(Literal["f", "a"], layer),
            cast(Literal["", "P", "S", "C"], side),
            tuple(sorted(girths)),
            first[frame, layer, side],
        )
        for (frame, layer, side), girths in butts.items()
    )


def read_as_built(papers: Papers, name: str, unit: str) -> tuple[AsBuilt, ...]:
    """``frame,side,height,spread``: points measured on standing frames."""
    found: list[AsBuilt] = []
    for row in _body(papers, name, ("frame", "side", "height", "spread")):
        frame = _whole(papers, name, row, 0, "frame")
        side = _one_of(papers, name, row, 1, "side", ("P", "S"))
        if frame is None or side is None:
            continue
        height, spread = (
            read_cell(papers, _cell(row, i), unit, name, row.line, word, f"The {word}")
            for i, word in ((2, "height"), (3, "spread"))
        )
        if not np.isnan([height, spread]).any():
            found.append(AsBuilt(frame, cast(Literal["P", "S"], side), height, spread, row.line))
    return tuple(found)


def _body(papers: Papers, name: str, header: tuple[str, ...]) -> Iterator[GridRow]:
    """Rows below a header that begins with these words."""
    grid = read_grid(papers, name)
    if grid is None:
        return
    first = [grid[0].text(i).lower() for i in range(len(header))]
    if first != list(header):
        said = f"The first row reads {', '.join(first)}."
        papers.note(
            kinds.NO_HEADER.found(
                said,
                file=name,
                line=grid[0].line,
                read=",".join(first),
                expected=",".join(header),
            )
        )
        return
    yield from grid[1:]


def _cell(row: GridRow, column: int) -> object:
    return row.cells[column] if column < len(row.cells) else ""


def _whole(papers: Papers, name: str, row: GridRow, column: int, key: str) -> int | None:
    text = shown(_cell(row, column))
    if text.isascii() and text.isdigit() and len(text) < 6 and int(text) > 0:
        return int(text)
    said = f"The {key} is '{text}'; expected its number, from 1."
    papers.note(
        kinds.WRONG_CELL.found(
            said, file=name, line=row.line, column=key, read=text, expected="a number from 1"
        )
    )
    return None


def _one_of(
    papers: Papers, name: str, row: GridRow, column: int, key: str, words: tuple[str, ...]
) -> str | None:
    text = row.text(column)
    for word in words:
        if text.lower() == word.lower():
            return word
    expected = " or ".join(w or "nothing" for w in words)
    said = f"The {key} is '{text}'; expected {expected}."
    papers.note(
        kinds.WRONG_CELL.found(
            said, file=name, line=row.line, column=key, read=text, expected=expected
        )
    )
    return None


def _folded(name: str) -> str:
    return " ".join(name.lower().split())
