"""Stations that stand at the very ends of the rabbet, and figures at the stem's head."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from line_tables import marram

from futtock.lines.fair import FairSettings, fair
from futtock.vessel.table import OffsetTable

TOLERANCE = 25.4 / 16


def with_end_breadths(table: OffsetTable) -> tuple[OffsetTable, float, float]:
    """The table with stations at stem and post, its constant rabbet breadth filled in there."""
    stem, post = table.ends["stem rabbet"], table.ends["post rabbet"]
    head, tuck = stem[np.argmax(stem[:, 2])], post[np.argmax(post[:, 2])]
    x = np.r_[head[0], table.x_mm, tuck[0]]
    rows = []
    for row in table.rows:
        ends = (float("nan"), float("nan"))
        if row.line == "halfbreadth" and row.what == "rabbet":
            ends = (float(head[1]), float(tuck[1]))
        values = np.r_[ends[0], row.values_mm, ends[1]]
        texts = tuple("" if np.isnan(v) else f"{v:.1f} mm" for v in values)
        rows.append(replace(row, values_mm=values, texts=texts))
    stations = ("head", *table.stations, "tuck")
    return replace(table, stations=stations, x_mm=x, rows=tuple(rows)), head[1], tuck[1]


def test_a_rabbet_breadth_at_the_ends_is_not_doubted() -> None:
    """The rabbet's half-breadth given at stem and post agrees with the end points it repeats."""
    plain = {(p.line, p.station) for p in fair(marram(), FairSettings(TOLERANCE)).doubtful}
    table, fore, aft = with_end_breadths(marram())
    faired = fair(table, FairSettings(TOLERANCE))
    assert {(p.line, p.station) for p in faired.doubtful} == plain
    row = next(r.name for r in table.rows if r.line == "halfbreadth" and r.what == "rabbet")
    at = {p.station: p.fair_mm for p in faired.points if p.line == row}
    assert at["head"] == pytest.approx(fore, abs=3.0)
    assert at["tuck"] == pytest.approx(aft, abs=3.0)
