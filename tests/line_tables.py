"""Tables of offsets for the tests of this room: read from the open hull data."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np
from scipy.integrate import simpson

from futtock.measure import read_length
from futtock.vessel.table import Diagonal, OffsetTable, Row

DATA = Path(__file__).parent / "data"


def _mm(text: str, unit: str = "mm") -> float:
    return float(read_length(text, unit)) if text.strip() else float("nan")


def row(line: str, at: str, what: str, at_mm: float, texts: list[str], unit: str = "mm") -> Row:
    """A row from its cells as written."""
    values = np.array([_mm(t, unit) for t in texts])
    return Row(line, at, what, at_mm, values, tuple(texts), 0)  # type: ignore[arg-type]


def _lines(name: str) -> list[list[str]]:
    text = (DATA / name).read_text()
    kept = "\n".join(k for k in text.splitlines() if k.strip() and not k.startswith("#"))
    return list(csv.reader(io.StringIO(kept)))


def marram(name: str = "offsets.csv") -> OffsetTable:
    """The demo's table with its end lines and diagonals."""
    head, station, *rest = _lines(f"demo/{name}")
    rows = []
    for cells in rest:
        what, _, place = cells[1].rpartition(" ")
        if what in ("buttock", "waterline"):
            at = _mm(place)
        else:
            what, at = ("diagonal" if cells[0] == "diagonal" else cells[1]), float("nan")
        rows.append(row(cells[0], cells[1], what, at, cells[2:]))
    ends: dict[str, list[list[float]]] = {}
    for line, *xyz in _lines("demo/ends.csv")[1:]:
        ends.setdefault(line, []).append([_mm(c) for c in xyz])
    diagonals = {k: Diagonal(k, z * 304.8, -35.0) for k, z in (("A", 6.5), ("B", 4.75))}
    return OffsetTable(
        name,
        tuple(head[2:]),
        np.array([_mm(c) for c in station[2:]]),
        tuple(rows),
        diagonals,
        {k: np.array(v) for k, v in ends.items()},
        "ends.csv",
    )


def canoe() -> OffsetTable:
    """The canoe of 1889 in the trade's notation, its three misprints left in."""
    head, *body = _lines("hulls/american_cruising_canoe_1883.csv")
    columns = list(zip(*body, strict=True))
    rows = []
    for name, cells in zip(head[1:], columns[1:], strict=True):
        kind, _, what = name.partition("_")
        line = "height" if kind == "ht" else "halfbreadth"
        if what.startswith("WL_"):
            inches = what[3:].removesuffix("in")
            rows.append(
                row(line, f"waterline 0-{inches}-0", "waterline", float(inches) * 25.4, list(cells))
            )
        else:
            at = "sheer" if what == "deck" else what
            rows.append(row(line, at, at, float("nan"), list(cells)))
    x = np.arange(15) * 304.8
    return OffsetTable("canoe.csv", tuple(columns[0]), x, tuple(rows))


def series60(length_mm: float = 400 * 304.8) -> OffsetTable:
    """Series 60 parent of block 0.60: each column by the maximum of its own waterline."""
    head, *body = _lines("hulls/series60_cb060.csv")
    largest = dict(zip(head, body[-1], strict=True))
    body = body[:-1]
    half, draught = length_mm / 7.5 / 2, length_mm / 7.5 / 2.5
    rows = []
    for k, name in enumerate(head):
        if not name.startswith("WL_"):
            continue
        z = float(name[3:]) * draught
        values = [f"{float(r[k]) * float(largest[name]) * half:.3f}" for r in body]
        rows.append(row("halfbreadth", f"waterline {z:.1f}", "waterline", z, values))
    x = np.array([float(r[0]) for r in body]) * length_mm / 20
    return OffsetTable("series60.csv", tuple(r[0] for r in body), x, tuple(rows))


def wigley() -> OffsetTable:
    """The parabolic hull of 40 ft x 8 ft x 5 ft, every half-breadth to the nearest eighth."""
    head, *body = _lines("hulls/wigley_40ft_eighths.csv")
    rows = [
        row(
            "halfbreadth", f"waterline {name[3:]}", "waterline", _mm(name[3:]), [r[k] for r in body]
        )
        for k, name in enumerate(head)
        if name.startswith("WL_")
    ]
    return OffsetTable(
        "wigley.csv", tuple(r[0] for r in body), np.array([_mm(r[1]) for r in body]), tuple(rows)
    )


def summed_mm3(table: OffsetTable) -> float:
    """Volume of both sides that Simpson's rule makes of a table of waterlines: exact for parabolas.

    Rounded to eighths Wigley's own figures are 0.033 % more than her formula; what is read from
    them can be no nearer.
    """
    figures = np.array([np.nan_to_num(r.values_mm) for r in table.rows])
    levels = np.array([r.at_mm for r in table.rows])
    return 2 * float(simpson(simpson(figures, x=table.x_mm, axis=1), x=levels))
