"""The table of offsets as the trade writes it: rows of readings at stations, in millimetres."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Row:
    """One row of the table.

    Attributes
    ----------
    line, at
        Its first two cells as written: ``"halfbreadth"``, ``"waterline 2-6-0"``.
    what
        The line it speaks of: ``sheer``, ``rabbet``, ``keel``, ``keel top``, ``bearding``,
        ``buttock``, ``waterline``, ``diagonal``, ``knuckle``.
    at_mm
        Height of a waterline above base, distance of a buttock from the centreline; else nan.
    values_mm : (stations,)
        The readings; nan where a cell is empty or could not be read.
    texts : (stations,)
        The cells as written.
    file_line
        Line number in the file, from 1 (row number in a workbook).
    """

    line: Literal["height", "halfbreadth", "diagonal"]
    at: str
    what: str
    at_mm: float
    values_mm: Array
    texts: tuple[str, ...]
    file_line: int

    @property
    def name(self) -> str:
        """First two cells joined by a blank, the row's name in every report."""
        return f"{self.line} {self.at}".strip()


@dataclass(frozen=True)
class Diagonal:
    """A diagonal plane: height where it meets the centreline, slope (negative: falls outboard)."""

    name: str
    height_mm: float
    slope_deg: float


@dataclass(frozen=True)
class OffsetTable:
    """A whole table: stations, rows, the end lines that stations do not give, the diagonals.

    ``ends`` holds ordered points (m, 3) by name: ``stem rabbet``, ``post rabbet``,
    ``sheer forward``, ``sheer aft``, ``transom edge``; ``end_lines`` their line numbers (m,).
    """

    file: str
    stations: tuple[str, ...]
    x_mm: Array
    rows: tuple[Row, ...]
    diagonals: dict[str, Diagonal] = field(default_factory=dict)
    ends: dict[str, Array] = field(default_factory=dict)
    ends_file: str | None = None
    end_lines: dict[str, tuple[int, ...]] = field(default_factory=dict)

    def row(self, line: str, at: str) -> Row | None:
        """The row whose first two cells are these, or None."""
        return next((r for r in self.rows if r.line == line and r.at == at), None)
