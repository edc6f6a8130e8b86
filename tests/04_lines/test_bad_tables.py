"""Bad tables: whatever is wrong with one, it is faired or said to be unsolvable."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from line_tables import canoe, marram, wigley

from futtock.errors import Unsolvable
from futtock.lines.fair import FairSettings, fair
from futtock.vessel.table import OffsetTable

TABLES = (marram, canoe, wigley)


def mutilated(table: OffsetTable, rng: np.random.Generator) -> OffsetTable:
    """A table with something wrong: rows lost, doubled or scaled, stations and ends disordered."""
    rows, x, ends = list(table.rows), table.x_mm.copy(), dict(table.ends)
    kind = int(rng.integers(9))
    name = list(ends)[int(rng.integers(len(ends)))] if ends else None
    if kind == 0:
        rows = [r for r in rows if rng.random() > 0.4]
    elif kind == 1:
        rows = [replace(r, values_mm=r.values_mm * rng.choice([1 / 25.4, 25.4])) for r in rows]
    elif kind == 2:
        x = x[::-1].copy()
    elif kind == 3:
        x[int(rng.integers(len(x)))] = rng.choice([x[0], np.nan])
    elif kind == 4 and name:
        ends[name] = ends[name][::-1]
    elif kind == 5 and name:
        ends[name] = ends[name][: int(rng.integers(0, 3))]
    elif kind == 6:
        gone = [np.where(rng.random(len(x)) < 0.5, np.nan, r.values_mm) for r in rows]
        rows = [replace(r, values_mm=v) for r, v in zip(rows, gone, strict=True)]
    elif kind == 7:
        rows = rows + rows[:3]
    else:
        k = int(rng.integers(len(rows)))
        rows[k] = replace(rows[k], values_mm=rows[k].values_mm * rng.choice([-1, 0, 1e6]))
    return replace(table, rows=tuple(rows), x_mm=x, ends=ends)


@settings(max_examples=25)
@given(
    which=st.sampled_from(TABLES),
    seed=st.integers(0, 10_000),
    wrongs=st.integers(1, 3),
    tolerance=st.sampled_from([0.0, 0.5, 1.6, 50.0]),
)
def test_a_bad_table_is_faired_or_refused(
    which: object, seed: int, wrongs: int, tolerance: float
) -> None:
    """Nothing but `Unsolvable` is raised, and every figure of a faired table is in the account."""
    table = which()  # type: ignore[operator]
    rng = np.random.default_rng(seed)
    for _ in range(wrongs):
        table = mutilated(table, rng)
        if not table.rows:
            return
    try:
        faired = fair(table, FairSettings(tolerance, waterline_mm=1200.0))
    except Unsolvable:
        return
    placed = np.isfinite(table.x_mm)
    figures = sum(int((np.isfinite(r.values_mm) & placed).sum()) for r in table.rows)
    assert len(faired.points) >= figures


def test_too_few_figures_say_how_many_are_needed() -> None:
    """A table of two stations is refused with the count that was found."""
    table = wigley()
    few = replace(
        table,
        stations=table.stations[:2],
        x_mm=table.x_mm[:2],
        rows=tuple(
            replace(r, values_mm=r.values_mm[:2], texts=r.texts[:2]) for r in table.rows[:4]
        ),
    )
    with pytest.raises(Unsolvable, match="8 figures"):
        fair(few, FairSettings(1.0))


def test_a_tolerance_too_tight_is_told() -> None:
    """Noise of 6 mm under a stated tolerance of half a millimetre is found fault with."""
    table = wigley()
    rng = np.random.default_rng(5)
    noisy = replace(
        table,
        rows=tuple(
            replace(r, values_mm=r.values_mm + rng.normal(0, 6, len(r.values_mm)))
            for r in table.rows
        ),
    )
    codes = [f.code for f in fair(noisy, FairSettings(0.5)).findings]
    assert "L003" in codes or codes.count("L001") > 5


def test_half_breadths_that_nothing_places_are_told() -> None:
    """A row of half-breadths at a sheer whose height is not given is passed over, and told."""
    table = canoe()
    rows = tuple(r for r in table.rows if r.name != "height sheer")
    faired = fair(replace(table, rows=rows), FairSettings(1.6))
    assert [f.line for f in faired.findings if f.code == "L004"] == ["halfbreadth sheer"]


def test_a_buttock_below_the_rabbet_is_doubted_even_where_it_stands_alone() -> None:
    """Near the post a buttock's only figure has no neighbour to say so: her rabbet does."""
    table = marram()
    buttocks = [r for r in table.rows if r.what == "buttock"]
    row = max(buttocks, key=lambda r: np.isfinite(r.values_mm).argmax())
    column = int(np.flatnonzero(np.isfinite(row.values_mm))[-1])
    values = row.values_mm.copy()
    values[column] = 100.0
    texts = tuple("100 mm" if k == column else t for k, t in enumerate(row.texts))
    wrong = replace(row, values_mm=values, texts=texts)
    table = replace(table, rows=tuple(wrong if r is row else r for r in table.rows))
    doubted = {(p.line, p.station) for p in fair(table, FairSettings(25.4 / 16)).doubtful}
    assert (row.name, table.stations[column]) in doubted
