"""The sheets that show how lines bend, where to measure, and the faired table."""

from __future__ import annotations

import numpy as np
import pytest
from line_tables import marram

from futtock.drawing.fairness import bend_sheet, measure_sheet, offsets_sheet
from futtock.drawing.heading import Heading
from futtock.drawing.lines_plan import LinesData, lines_data
from futtock.lines.fair import Fairing, FairSettings, fair
from futtock.lines.fairness import bends_of, known_over, where_to_measure
from futtock.lines.sampled import Grid, sample_table
from futtock.measure import feet_inches_eighths
from futtock.sheet.items import Arc, Text, flat
from futtock.sheet.style import EYE

HEAD = Heading("Marram", "1900-01-01", "abcdef01", "imperial")


@pytest.fixture(scope="module")
def faired() -> Fairing:
    return fair(marram(), FairSettings(25.4 / 16))


@pytest.fixture(scope="module")
def data(faired: Fairing) -> LinesData:
    return lines_data(faired.hull, marram())


def test_every_turn_has_its_ring(faired: Fairing, data: LinesData) -> None:
    """The bend sheet has one ring for each inflection and names each line."""
    bends = bends_of(faired.hull, marram())
    sheet = bend_sheet(bends, data, HEAD)
    items = list(flat(sheet.items))
    rings = [i for i in items if isinstance(i, Arc) and i.stroke == EYE]
    assert len(rings) == sum(len(b.inflections) for b in bends) > 0
    words = {i.text for i in items if isinstance(i, Text)}
    assert {f"{b.kind} {b.at}" for b in bends} <= words
    names = {r.at for r in marram().rows if r.what in ("waterline", "buttock")}
    assert {f"{b.kind} {b.at}" for b in bends if b.kind != "diagonal"} <= names


def test_discs_grow_with_the_doubt(faired: Fairing, data: LinesData) -> None:
    """A place known half as well has a disc twice as large, and the worst are numbered."""
    known = known_over(faired.hull)
    assert known is not None
    scanty = where_to_measure(faired.hull, most=3, times=1.0)
    sheet = measure_sheet(known, scanty, data, HEAD)
    discs = [i for i in flat(sheet.items) if isinstance(i, Arc) and i.layer == "DOUBT"]
    size = np.array([d.radius_mm for d in discs])
    most = np.percentile(known.spread_mm, 99)
    plain = (known.spread_mm < 1.2 * most) & (size > 0.1)
    ratio = size[plain] / known.spread_mm[plain]
    assert plain.sum() > 500
    assert ratio.max() == pytest.approx(ratio.min())
    assert scanty[0].spread_mm == known.spread_mm.max()
    words = [i.text for i in flat(sheet.items) if isinstance(i, Text)]
    assert {"1", "2", "3"} <= set(words)


def test_the_printed_table_holds_the_faired_figures(faired: Fairing) -> None:
    """Every figure of the faired table stands on the sheet in eighths."""
    table = sample_table(faired.hull, Grid.of(marram()))
    words = {i.text for i in flat(offsets_sheet(table, HEAD).items) if isinstance(i, Text)}
    wanted = {feet_inches_eighths(float(v)) for r in table.rows for v in r.values_mm if v == v}
    assert len(wanted) > 100
    assert wanted <= words


def test_stem_post_and_transom_are_drawn_faired_not_in_facets(faired: Fairing) -> None:
    """The drawn stem, post and transom edge run by their read points and turn without corners."""
    table = marram()
    data = lines_data(faired.hull, table)
    for name in ("stem rabbet", "post rabbet", "transom edge"):
        drawn, given = data.bounds[name], table.ends[name]
        assert len(drawn) > 20 * len(given)
        gap = np.linalg.norm(given[:, None, :] - drawn[None, :, :], axis=-1).min(axis=1)
        assert gap.max() < 8.0, name
        steps = np.diff(drawn[::10], axis=0)
        way = steps / np.linalg.norm(steps, axis=1, keepdims=True)
        turn = np.degrees(np.arccos(np.clip((way[1:] * way[:-1]).sum(axis=1), -1, 1)))
        assert np.percentile(turn, 95) < 15.0, name
