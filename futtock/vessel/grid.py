"""A paper's cells, row by row, from CSV or from a workbook."""

from __future__ import annotations

import csv
import io
import zipfile
from dataclasses import dataclass
from pathlib import PurePath
from typing import Any

from futtock.vessel import kinds
from futtock.vessel.papers import LARGEST_BYTES, Papers

_MOST_ROWS = 5_000
_MOST_COLUMNS = 500


@dataclass(frozen=True, slots=True)
class GridRow:
    """One row: its line number in the file (row number in a workbook), from 1, and its cells.

    Cells of a CSV file are text; those of a workbook are text, numbers or dates; an empty cell is
    an empty text.
    """

    line: int
    cells: tuple[Any, ...]

    def text(self, column: int) -> str:
        """A cell as text; empty beyond the row's end."""
        return shown(self.cells[column]) if column < len(self.cells) else ""


def shown(cell: Any) -> str:
    """A cell as a person sees it: whole numbers of a workbook without a decimal point."""
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return str(cell)


def read_grid(papers: Papers, name: str) -> tuple[GridRow, ...] | None:
    """Rows with anything in them, comments taken out; None with a finding where unreadable.

    A ``#`` at the start of a cell, or after a blank in it, begins a comment that runs to the end
    of the row. Commas, semicolons or tabs may part the cells of a text file.
    """
    content = papers.bytes_of(name)
    if content is None:
        return None
    workbook = PurePath(name).suffix.lower() in (".xlsx", ".xlsm")
    if workbook or content.startswith(b"PK\x03\x04"):
        rows = _from_workbook(papers, name, content)
    elif content.startswith(b"\xd0\xcf\x11\xe0"):
        said = "This is a workbook of the old kind (XLS), or one locked with a password."
        papers.note(kinds.UNREADABLE_FILE.found(said, file=name, remedy="Save it as XLSX or CSV."))
        return None
    else:
        text = papers.decoded(name, content)
        rows = None if text is None else _from_text(text)
    if rows is None:
        return None
    kept = tuple(r for r in map(_without_comment, rows) if any(c != "" for c in r.cells))
    if not kept:
        papers.note(kinds.EMPTY_FILE.found("There is no row in it.", file=name))
        return None
    return kept


def _from_text(text: str) -> list[GridRow]:
    lines = text.splitlines()[: _MOST_ROWS + 1]
    first = next((x for x in lines if x.strip() and not x.lstrip().startswith("#")), "")
    delimiter = max(",;\t", key=first.count)
    rows = []
    for number, line in enumerate(lines, start=1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        try:
            cells = next(csv.reader([line], delimiter=delimiter), [])
        except csv.Error:  # one cell beyond the library's limit
            cells = line[:LARGEST_BYTES].split(delimiter)
        rows.append(GridRow(number, tuple(c.strip() for c in cells)))
    return rows


def _from_workbook(papers: Papers, name: str, content: bytes) -> list[GridRow] | None:
    problem = _not_a_workbook(content)
    if problem:
        papers.note(kinds.UNREADABLE_FILE.found(problem, file=name))
        return None
    try:
        return _sheet_rows(content)
    except Exception as error:  # the library's failures on broken workbooks are of every kind
        said = f"The workbook is broken: {type(error).__name__}."
        papers.note(kinds.UNREADABLE_FILE.found(said, file=name))
        return None


def _sheet_rows(content: bytes) -> list[GridRow]:
    """Rows of the first sheet that holds anything."""
    import warnings

    from openpyxl import load_workbook

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # styles and extensions that do not concern us
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        try:
            for sheet in book.worksheets:
                rows = [
                    GridRow(number, tuple("" if c is None else _stripped(c) for c in cells))
                    for number, cells in enumerate(
                        sheet.iter_rows(
                            max_row=_MOST_ROWS, max_col=_MOST_COLUMNS, values_only=True
                        ),
                        start=1,
                    )
                ]
                rows = [GridRow(r.line, _trimmed(r.cells)) for r in rows]
                if any(r.cells for r in rows):
                    return rows
        finally:
            book.close()
    return []


def _not_a_workbook(content: bytes) -> str | None:
    if not content:
        return "The file is empty."
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as parts:
            if "[Content_Types].xml" not in parts.namelist():
                return "This is a ZIP file, but not a workbook."
            if sum(p.file_size for p in parts.infolist()) > 10 * LARGEST_BYTES:
                return "The workbook unpacks to more than any table needs."
    except (zipfile.BadZipFile, OSError, ValueError):
        return "This is not an XLSX workbook."
    return None


def _stripped(cell: Any) -> Any:
    return cell.strip() if isinstance(cell, str) else cell


def _trimmed(cells: tuple[Any, ...]) -> tuple[Any, ...]:
    last = max((i for i, c in enumerate(cells) if c != ""), default=-1)
    return cells[: last + 1]


def _without_comment(row: GridRow) -> GridRow:
    for i, cell in enumerate(row.cells):
        if isinstance(cell, str) and "#" in cell:
            at = 0 if cell.startswith("#") else cell.find(" #")
            if at >= 0:
                head = cell[:at].strip()
                return GridRow(row.line, (*row.cells[:i], *((head,) if head else ())))
    return row
