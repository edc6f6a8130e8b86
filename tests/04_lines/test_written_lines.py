"""Faired tables, fairness and the spread: what is told of a fair hull."""

from __future__ import annotations

import numpy as np
import pytest
from line_tables import marram, wigley

from futtock.lines import bends, sample_table, where_to_measure, write_ends, write_table
from futtock.lines.fair import Fairing, FairSettings, fair
from futtock.lines.fairness import bend_of
from futtock.lines.sampled import Grid
from futtock.measure import read_length


@pytest.fixture(scope="module")
def faired() -> Fairing:
    return fair(marram(), FairSettings(25.4 / 16, waterline_mm=1524.0))


def test_faired_table_agrees_with_the_figures(faired: Fairing) -> None:
    """A figure of the faired table is the fair value that the account of the figures gives."""
    table = marram()
    faired_table = sample_table(faired.hull, Grid.of(table))
    fair_mm = {(p.line, p.station): p.fair_mm for p in faired.points}
    seen = 0
    for row in table.rows:
        if row.what not in ("waterline", "buttock", "diagonal"):
            continue
        match = next(
            (
                r
                for r in faired_table.rows
                if r.what == row.what and (r.at == row.at or abs(r.at_mm - row.at_mm) < 1e-6)
            ),
            None,
        )
        assert match is not None, row.name
        for name, value in zip(table.stations, match.values_mm, strict=True):
            if np.isfinite(value) and (row.name, name) in fair_mm:
                assert value == pytest.approx(fair_mm[row.name, name], abs=0.05)
                seen += 1
    assert seen > 150


@pytest.mark.parametrize("style", ["imperial", "metric"])
def test_written_table_reads_back(faired: Fairing, style: str) -> None:
    """Every cell of the written table is read back within half a sixteenth, or a tenth of a mm."""
    table = sample_table(faired.hull, Grid.of(marram()))
    lines = write_table(table, style).splitlines()  # type: ignore[arg-type]
    assert lines[0] == "line,at," + ",".join(table.stations)
    least = 25.4 / 32 if style == "imperial" else 0.051
    for text, row in zip(lines[2:], table.rows, strict=True):
        for cell, value in zip(text.split(",")[2:], row.values_mm, strict=True):
            if not cell:
                assert np.isnan(value)
            else:
                assert abs(float(read_length(cell)) - value) <= least + 1e-9
    ends = write_ends(marram().ends, style).splitlines()  # type: ignore[arg-type]
    assert len(ends) == 1 + sum(len(p) for p in marram().ends.values())


def test_faired_table_fairs_to_itself(faired: Fairing) -> None:
    """Fairing the faired table again moves nothing by a millimetre and doubts nothing."""
    table = sample_table(faired.hull, Grid.of(marram()))
    again = fair(
        type(table)(
            table.file, table.stations, table.x_mm, table.rows, marram().diagonals, marram().ends
        ),
        FairSettings(25.4 / 16),
    )
    assert again.doubtful == ()
    assert again.rms_mm < 0.4


def test_inflections_of_a_circle_and_of_a_wave() -> None:
    """A circle's arc does not turn over and shows its radius; a sine turns where it crosses."""
    a = np.linspace(0.2, 1.4, 400)
    arc = np.column_stack([5000 * np.sin(a), 5000 * np.cos(a), 0 * a])
    bend = bend_of("waterline", "arc", arc)
    assert bend is not None
    assert len(bend.inflections) == 0
    assert bend.quickest_m == pytest.approx(5.0, rel=0.01)
    x = np.linspace(0, 8000, 800)
    wave = np.column_stack([x, 1000 + 200 * np.sin(2 * np.pi * x / 8000), 0 * x])
    turned = bend_of("waterline", "wave", wave)
    assert turned is not None
    assert len(turned.inflections) == 1
    assert turned.inflections[0, 0] == pytest.approx(4000, abs=30)


def test_wigley_waterlines_do_not_turn_over() -> None:
    """A parabola has no inflection; rounding to eighths brings none in."""
    hull = fair(wigley(), FairSettings(1.0)).hull
    found = bends(hull, np.array([600.0, 900.0, 1200.0]), np.array([]))
    assert len(found) == 3
    for bend in found:
        assert len(bend.inflections) == 0
        pictured = bend.picture(500.0)
        assert pictured.shape == bend.points.shape
        assert np.ptp(pictured[:, 2]) < 1.0


def test_spread_is_told_and_is_larger_where_nothing_was_read(faired: Fairing) -> None:
    """Each place has a spread in millimetres and degrees; between stations it is the larger."""
    hull = faired.hull
    assert hull.spread is not None
    u = np.array([6400.8, 6858.0])
    low, high = hull.trim.low(u), hull.trim.high(u)
    normal, lean = hull.spread(u, low + 0.5 * (high - low))
    assert (normal > 0).all()
    assert (normal < 5).all()
    assert (lean < 3).all()
    across = np.array([np.cos(0.3), np.sin(0.3), 0.0])
    _, canted = hull.spread(u, low + 0.5 * (high - low), across)
    assert not np.allclose(canted, lean)


def test_spread_is_honest() -> None:
    """Against the closed form, errors of a table read to eighths are no larger than the spread."""
    length, beam, draught = 12192.0, 2438.4, 1524.0
    hull = fair(wigley(), FairSettings(3.175 / np.sqrt(12))).hull
    assert hull.spread is not None
    x, z = (g.ravel() for g in np.meshgrid(np.linspace(300, 11800, 40), np.linspace(80, 1450, 20)))
    s = 2 * x / length - 1
    y = beam / 2 * (1 - s**2) * (1 - ((draught - z) / draught) ** 2)
    off, uv = hull.surface.nearest(np.column_stack([x, y, z]))  # type: ignore[attr-defined]
    normal, _ = hull.spread(uv[:, 0], uv[:, 1])
    assert 0.3 < np.sqrt(((off / normal) ** 2).mean()) < 1.3


def test_a_gap_in_the_table_is_where_to_measure() -> None:
    """With stations 6 to 8 lost, the place to measure lies among them."""
    table = marram()
    rows = []
    for row in table.rows:
        values = row.values_mm.copy()
        if row.what in ("waterline", "buttock", "diagonal"):
            values[6:9] = np.nan
        rows.append(type(row)(row.line, row.at, row.what, row.at_mm, values, row.texts, 0))
    lost = type(table)(
        table.file, table.stations, table.x_mm, tuple(rows), table.diagonals, table.ends
    )
    hull = fair(lost, FairSettings(25.4 / 16)).hull
    worst = where_to_measure(hull)[0]
    assert table.x_mm[5] < worst.at_mm[0] < table.x_mm[9]
    assert where_to_measure(type(hull)(**{**hull.__dict__, "spread": None})) == ()
