from __future__ import annotations

import csv
import io
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from futtock.errors import Misused
from futtock.stock.grain import grain_field
from futtock.stock.inspect import inspect_slab
from futtock.stock.invent import SWEPT, invent_slab
from futtock.stock.rack import rack_from_text, rack_of, rack_text
from futtock.stock.tape import read_tape, read_tape_rows
from futtock.stock.tape_form import COLUMNS, tape_form, tape_form_text
from futtock.stock.taped import taped_slab
from futtock.vessel.grid import GridRow
from futtock.vessel.papers import Papers

RECORD = """\
slab,A-07
species,white oak
unit,in
moisture,18
moisture date,2026-11-02
stack,A
note,"crook, from below a branch"
station,top left,top right,bottom left,bottom right,thickness,grain 1
0,5 1/2 in,6,6,6-1/4 in,2 3/4 in,0
1-0-0,5,6,5 1/2,6 1/2,,0-0-4
2-0-0,4,6 1/4 in,4 1/2 in,7,2 11/16 in,1/2 in right
3-0-0,3,6,3 1/2,6 1/2,,1 in right
flaw,face,at,across,long,wide
knot,both,2-0-0,2 in left,2,1 1/2
check,top,4 in,0,8,1/8 in
"""


def rows(text: str) -> list[GridRow]:
    cells = csv.reader(io.StringIO(text))
    return [GridRow(n, tuple(c)) for n, c in enumerate(cells, 1) if any(c)]


def read(text: str):
    records, findings = read_tape_rows(rows(text), "tape.csv")
    slab, more = taped_slab(records[0])
    return slab, (*findings, *more)


def test_a_record_becomes_the_slab_it_describes():
    """By hand: left of the line is +y, the thinnest reading counts, the flaw lies where it was."""
    slab, findings = read(RECORD)
    assert findings == ()
    inch = 25.4
    expected_right = [[0, -6], [12, -6], [24, -6.25], [36, -6]]
    expected_left = [[36, 3], [24, 4], [12, 5], [0, 5.5]]
    np.testing.assert_allclose(slab.top_mm / inch, expected_right + expected_left)
    np.testing.assert_allclose(slab.bottom_mm[0] / inch, [0, -6.25])
    assert slab.thickness_mm == pytest.approx((2 + 11 / 16) * inch)
    assert slab.moisture_percent == 18
    assert slab.moisture_date == "2026-11-02"
    assert slab.note == "crook, from below a branch"
    np.testing.assert_allclose(slab.grain_mm[0] / inch, [[0, 0], [12, 0.5], [24, -0.5], [36, -1]])
    knot, check = slab.flaws
    centre = (knot.outline_mm.max(0) + knot.outline_mm.min(0)) / 2 / inch
    np.testing.assert_allclose(centre, [24, 2], atol=0.01)
    assert shapely.Polygon(check.outline_mm).area == pytest.approx(
        np.pi / 4 * 8 / 8 * inch**2, rel=0.02
    )
    assert [f.code for f in inspect_slab(slab)] == []


def test_a_flaw_lies_along_the_grain_and_covers_its_oval():
    """Long is along the grain at the flaw; the drawn ring leaves none of the oval out."""
    slab, _ = read(RECORD.replace("knot,both,2-0-0,2 in left,2,1 1/2", "knot,both,1-6-0,0,6,1"))
    ring = slab.flaws[0].outline_mm
    angle = np.radians(grain_field(slab).at(np.array([18 * 25.4, 0.0]))[0])
    along = (ring - [18 * 25.4, 0]) @ [np.cos(angle), np.sin(angle)]
    across = (ring - [18 * 25.4, 0]) @ [-np.sin(angle), np.cos(angle)]
    assert np.ptp(along) >= 6 * 25.4 - 1e-6
    assert np.ptp(along) < 6.1 * 25.4
    assert 25.4 - 0.3 <= np.ptp(across) < 26


def measured_by_tape(slab, every: float) -> str:
    """What a tape would read of a slab, to the millimetre, from a base line along x."""

    def edges(ring, x):
        cut = shapely.Polygon(ring).intersection(shapely.LineString([[x, -2000], [x, 2000]]))
        return cut.bounds[3], -cut.bounds[1]

    low = max(slab.top_mm[:, 0].min(), slab.bottom_mm[:, 0].min())
    high = min(slab.top_mm[:, 0].max(), slab.bottom_mm[:, 0].max())
    stations = np.round(np.linspace(low + 130, high - 130, int((high - low) / every) + 2))
    lines = [f"slab,{slab.name}", "species,white oak", f"thickness,{slab.thickness_mm:g}"]
    lines.append("station,top left,top right,bottom left,bottom right,grain 1")
    for x in stations:
        grain = np.interp(x, slab.grain_mm[0][:, 0], slab.grain_mm[0][:, 1])
        figures = [*edges(slab.top_mm, x), *edges(slab.bottom_mm, x), grain]
        lines.append(",".join(f"{v:.0f}" for v in (x, *figures)))
    return "\n".join(lines)


@pytest.mark.parametrize("seed", range(6))
def test_a_slab_measured_every_foot_comes_back_nearly_whole(seed):
    """Taped every 150 mm to the millimetre, an invented swept slab is met within a few mm."""
    slab = invent_slab(np.random.default_rng(seed), "T", SWEPT)
    back, findings = read(measured_by_tape(slab, 150.0))
    assert [f for f in findings if f.code != "S406"] == []
    for face in ("top_mm", "bottom_mm"):
        got, true = shapely.Polygon(getattr(back, face)), shapely.Polygon(getattr(slab, face))
        window = shapely.box(got.bounds[0] + 60, -2000, got.bounds[2] - 60, 2000)
        got, true = got.intersection(window), true.intersection(window)
        assert shapely.hausdorff_distance(got, true, densify=0.01) < 6.0
        assert abs(got.area / true.area - 1) < 0.01


def test_the_wane_may_stand_for_the_bottom():
    """Bottom edges from the top's and the wane's width to either side, wider being positive."""
    text = """\
slab,B-01
species,white oak
thickness,60
station,top left,top right,wane left,wane right
0,100,100,10,20
300,100,110,10,
600,100,120,10,40
"""
    slab, findings = read(text)
    assert findings == ()
    np.testing.assert_allclose(
        slab.bottom_mm, [[0, -120], [300, -140], [600, -160], [600, 110], [300, 110], [0, 110]]
    )


def test_edges_may_cross_the_line_and_be_skipped():
    """A crook's edge right of the line is written so; an empty cell is no corner."""
    text = """\
slab,B-02
species,white oak
thickness,60
station,top left,top right
0,100,100
300,,200
600,40 right,240
"""
    slab, _ = read(text)
    np.testing.assert_allclose(
        slab.top_mm, [[0, -100], [300, -200], [600, -240], [600, -40], [0, 100]]
    )
    np.testing.assert_array_equal(slab.bottom_mm, slab.top_mm)


EXCHANGED = """\
slab,A-07
species,white oak
thickness,60
station,top left,top right
0,-100,-90
300,-100,-90
"""


def changed(old: str, new: str) -> str:
    assert old in RECORD
    return RECORD.replace(old, new)


@pytest.mark.parametrize(
    ("text", "code", "line", "column"),
    [
        (changed("6-1/4 in", "six"), "S401", 9, 5),
        (changed("1-0-0,5,", "2026-01-05,5,"), "S401", 10, 1),
        (changed("unit,in", "unit,cubit"), "S401", 3, 2),
        (changed("top left", "upper left"), "S402", 8, 2),
        (changed("2-0-0,4", "0-6-0,4"), "S403", "A-07", "station"),
        (EXCHANGED, "S404", "A-07", "top left"),
        (changed("top right", ""), "S405", "A-07", "top left"),
        (changed("3-0-0,3", "6-0-0,3"), "S406", "A-07", "station"),
        (changed("2 11/16 in", "2 1/4 in"), "S407", "A-07", "thickness"),
        (changed("slab,A-07", "slab,"), "S408", 1, 2),
        (changed("slab,A-07\n", ""), "S408", 1, 1),
        (changed("2 3/4 in", "").replace("2 11/16 in", ""), "S409", "A-07", "thickness"),
        (changed("species,white oak\n", ""), "S409", "A-07", "species"),
        (changed("knot,both,2-0-0,", "knot,both,,"), "S409", 14, None),
        (changed("stack,A", "colour,brown"), "S410", 6, 1),
        (changed("2-0-0,4,", "2-0-0,1-4-0,"), "S411", "A-07", "top left"),
        (changed("knot,", "wart,"), "S210", "A-07", "flaw"),
        (changed("check,top", "check,up"), "S211", "A-07", "face"),
        (changed("moisture,18", "moisture,damp"), "S401", "A-07", "moisture"),
    ],
)  # fmt: skip
def test_each_slip_of_the_notebook_has_its_finding(text, code, line, column):
    """Every slip is named with its place and what to do; the record is kept as far as it goes."""
    records, findings = read_tape_rows(rows(text), "tape.csv")
    more = [f for r in records for f in taped_slab(r)[1]]
    found = [f for f in (*findings, *more) if f.code == code]
    assert found, (*findings, *more)
    assert any((f.line, f.column) == (line, column) for f in found), found
    assert all(f.remedy and f.file == "tape.csv" for f in found)


def test_many_slabs_in_one_workbook(tmp_path):
    """XLSX of the same layout, cells as numbers and text, one slab after another."""
    book = Workbook()
    sheet = book.active
    for row in csv.reader(io.StringIO(RECORD + RECORD.replace("A-07", "A-08"))):
        sheet.append([int(c) if c.isdecimal() else c for c in row])
    book.save(tmp_path / "tape.xlsx")
    records, findings = read_tape(Papers(tmp_path), "tape.xlsx")
    assert findings == ()
    first, second = (taped_slab(r)[0] for r in records)
    assert (first.name, second.name) == ("A-07", "A-08")
    np.testing.assert_array_equal(first.top_mm, read(RECORD)[0].top_mm)
    assert rack_of([first, second]).findings == ()
    assert len(rack_from_text(rack_text([first, second])).slabs) == 2


def test_a_file_that_is_not_there_is_a_finding(tmp_path):
    """No record, and the reason, never a traceback."""
    records, findings = read_tape(Papers(tmp_path), "none.csv")
    assert records == ()
    assert len(findings) == 1


def test_the_blank_form_reads_back_without_a_finding():
    """The CSV of the form has known headings and stations in order; filled in, it is a slab."""
    form = tape_form("A-09", "white oak", "imperial", 3000.0)
    records, findings = read_tape_rows(rows(tape_form_text(form)), "tape.csv")
    assert findings == ()
    assert len(form.columns) == len(COLUMNS)
    stations = records[0].stations_mm
    assert (np.diff(stations) > 0).all()
    assert stations[-1] <= 3000 < stations[-1] + 305 + 305
    filled = replace(
        records[0],
        readings_mm={
            "top left": np.full(len(stations), 150.0),
            "top right": np.full(len(stations), 140.0),
            "thickness": np.full(len(stations), 60.0),
        },
    )
    slab, _ = taped_slab(filled)
    assert slab.name == "A-09"
    with pytest.raises(Misused):
        tape_form(length_mm=-1)


cells = st.sampled_from(
    ["slab", "station", "flaw", "unit", "in", "top left", "top right", "thickness", "grain", "0",
     "1-0-0", "2", "-3", "x", "", "9999999999", "nan", "knot", "both", "1/0", "3 left", "right"]
)  # fmt: skip


@settings(max_examples=200, deadline=None)
@given(st.lists(st.lists(cells, min_size=1, max_size=6), max_size=14))
def test_no_notebook_however_muddled_makes_a_traceback(table):
    """Any cells in any order give findings and perhaps slabs."""
    grid = [GridRow(n, tuple(row)) for n, row in enumerate([["slab", "Z"], *table], 1)]
    records, _ = read_tape_rows(grid, "tape.csv")
    assert records[0].name == "Z"
    for record in records:
        slab, _ = taped_slab(record)
        if slab is not None:
            inspect_slab(slab)


def test_a_bottom_measured_as_the_top_is_kept_as_measured():
    """A square slab whose bottom was measured comes back from the rack without the note that no
    bottom is given; one whose bottom was not measured keeps that note.
    """
    cells = "".join(f"{x},9,10,9,10,2\n" for x in (0, 12, 24))
    text = "slab,A-1\nspecies,white oak\nunit,in\n"
    both = text + "station,top left,top right,bottom left,bottom right,thickness\n" + cells
    top = text + "station,top left,top right,thickness\n" + cells.replace(",9,10,2", ",2")
    for record, codes in ((both, set()), (top, {"S112"})):
        slab, _ = read(record)
        again = rack_from_text(rack_text([slab]))
        assert {f.code for f in again.findings} & {"S112"} == codes
        np.testing.assert_array_equal(again.slabs[0].bottom_mm, slab.bottom_mm)
