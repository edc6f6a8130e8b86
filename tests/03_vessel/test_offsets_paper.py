"""The table of offsets: read as printed from CSV and workbooks, wrong cells named and left out."""

from __future__ import annotations

import csv
import math
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from futtock.findings import Severity, worst
from futtock.vessel import read_folder

MARRAM = Path(__file__).parents[2] / "futtock" / "demo"


def _folder(tmp_path, offsets: str | bytes, statement: str | None = None, name="offsets.csv"):
    tmp_path.mkdir(exist_ok=True)
    text = statement or (MARRAM / "vessel.toml").read_text("utf-8")
    if name != "offsets.csv":
        text = text.replace("offsets.csv", name)
    (tmp_path / "vessel.toml").write_text(text, "utf-8")
    content = offsets if isinstance(offsets, bytes) else offsets.encode()
    (tmp_path / name).write_bytes(content)
    (tmp_path / "ends.csv").write_bytes((MARRAM / "ends.csv").read_bytes())
    return tmp_path


def _marram() -> str:
    return (MARRAM / "offsets.csv").read_text("utf-8")


def _one(stated, code):
    found = [f for f in stated.findings if f.code == code]
    assert len(found) == 1, [str(f) for f in stated.findings]
    return found[0]


def test_marram_is_read_as_written():
    """Every figure of the demo's table is its feet, inches and eighths, worked out anew."""
    stated = read_folder(MARRAM)
    assert stated.findings == ()
    with (MARRAM / "offsets.csv").open(encoding="utf-8") as file:
        printed = [r for r in csv.reader(file) if r and not r[0].startswith("#")]
    table = stated.table
    assert table.stations == tuple(printed[0][2:])
    assert [r.name for r in table.rows] == [f"{r[0]} {r[1]}" for r in printed[2:]]
    for row, cells in zip(table.rows, printed[2:], strict=True):
        for value, cell in zip(row.values_mm, cells[2:], strict=True):
            if not cell:
                assert math.isnan(value)
                continue
            feet, inches, eighths = (int(p) for p in cell.split("-"))
            assert value == pytest.approx((feet * 96 + inches * 8 + eighths) * 25.4 / 8, abs=1e-9)
    assert table.row("halfbreadth", "waterline 2-6-0").at_mm == 762.0
    assert table.ends["stem rabbet"].shape == (17, 3)
    assert table.end_lines["stem rabbet"][0] == 2
    assert not table.x_mm.flags.writeable
    assert not table.rows[0].values_mm.flags.writeable
    assert set(stated.files) == {"vessel.toml", "offsets.csv", "ends.csv"}


def test_published_canoe_in_the_same_form(tmp_path, hulls_dir):
    """The canoe of 1889, set out in our rows, is read without a fault, her dotted cells empty."""
    with (hulls_dir / "american_cruising_canoe_1883.csv").open(encoding="utf-8") as file:
        rows = list(csv.reader(file))
    columns = list(zip(*rows[1:], strict=True))
    lines = ["line,at," + ",".join(columns[0])]
    lines.append("station,," + ",".join(f"{i}-0-0" for i in range(15)))
    for name, cells in zip(
        ["height,sheer", "height,rabbet", "halfbreadth,sheer"]
        + [f"halfbreadth,waterline 0-{i}-0" for i in (6, 4, 2)],
        columns[1:],
        strict=True,
    ):
        lines.append(f"{name}," + ",".join(cells))
    stated = read_folder(
        _folder(tmp_path / "v", "\n".join(lines), '[lines]\ntolerance = "1/16 in"\n')
    )
    assert worst(f for f in stated.findings if f.file == "offsets.csv") is None
    waterline = stated.table.row("halfbreadth", "waterline 0-6-0")
    assert np.isfinite(waterline.values_mm).sum() == 15
    assert waterline.values_mm[7] == pytest.approx(14.875 * 25.4)


WRONG_CELLS = [
    ("4-8-7", "4-8-9", "M003", "eighths run from 0 to 7"),
    ("4-8-7", "4-14-7", "M003", "inches run from 0 to 11"),
    ("4-8-7", "4-87", "M001", "two places"),
    ("4-8-7", "4/8/2007", "M002", "this is a date"),
    ("4-8-7", "2007-04-08", "M002", "this is a date"),
    ("4-8-7", "4-8-7 fathoms", "M001", "not a length"),
    ("4-8-7", "?", "M001", "no figure"),
]


@pytest.mark.parametrize(
    ("old", "new", "code", "words"), WRONG_CELLS, ids=[w[1] for w in WRONG_CELLS]
)
def test_wrong_cell(tmp_path, old, new, code, words):
    """A wrong cell is a fault that names file, line, station and what was read."""
    text = _marram()
    assert text.count(old) == 1
    stated = read_folder(_folder(tmp_path / "v", text.replace(old, new)))
    finding = _one(stated, code)
    assert finding.severity is Severity.FAULT
    assert words in finding.message
    assert (finding.file, finding.line, finding.column) == ("offsets.csv", 12, "4")
    assert finding.read == new
    assert "3-4-5" in finding.expected
    assert finding.message.startswith("halfbreadth sheer at station 4 cannot be read")
    row = stated.table.row("halfbreadth", "sheer")
    assert math.isnan(row.values_mm[4])
    assert row.texts[4] == new
    assert np.isfinite(np.delete(row.values_mm, 4)).all()


@pytest.mark.parametrize(
    ("old", "new", "code", "severity", "words"),
    [
        ("halfbreadth,sheer", "halfbredth,sheer", "V023", "fault", "'halfbreadth' is meant"),
        ("height,sheer", "height,shear", "V030", "fault", "perhaps 'sheer' is meant"),
        ("height,buttock 1-0-0", "height,waterline 1-0-0", "V030", "fault", "to halfbreadth"),
        ("height,buttock 1-0-0", "height,buttock one", "M001", "fault", "Where the buttock lies"),
        ("height,buttock 1-0-0", "height,buttock 12 in", None, None, ""),
        ("height,buttock 2-0-0", "height,buttock 12 in", "V024", "misfit", "already in line 8"),
        ("diagonal,B", "diagonal,D", "V029", "fault", "No plane is stated"),
        ("line,at", "row,where", "V020", "fault", "first row begins with 'row'"),
        ("station,,", "stations,,", "V025", "fault", "no row that begins with 'station'"),
        ("station,,1-6-0,3-0-0", "station,,1-6-0,", "V026", "fault", "Station 1 has no position"),
        ("station,,1-6-0,3-0-0", "station,,1-6-0,x", "M001", "fault", "position of station 1"),
        ("station,,1-6-0,3-0-0", "station,,3-0-0,1-6-0", "V027", "misfit", "lies forward of"),
        ("station,,1-6-0,3-0-0", "station,,3-0-0,3-0-0", "V028", "fault", "position of another"),
        ("line,at,0,1,2", "line,at,0,1,1", "V028", "fault", "has the name of another"),
        ("7-1-5,7-2-5", "7-1-5,7-2-5,9-9-9,8-8-8", "V021", "misfit", "19 cells"),
        (",0-3-2,", ",0-3-2,,,,,\n#", "V022", "doubt", "cells where the header has 17"),
        ("height,sheer,8-5-6", "height,sheer,3-5-6", "V041", "misfit", "0 the sheer (3-5-6)"),
    ],
)  # fmt: skip
def test_rows_and_stations(tmp_path, old, new, code, severity, words):
    """Each fault of the table's frame is told once, in words, with the line it stands in."""
    assert old in _marram()
    stated = read_folder(_folder(tmp_path / "v", _marram().replace(old, new, 1)))
    if code is None:
        assert stated.findings == ()
        return
    others = {f.code for f in stated.findings} - {code}
    # What follows from a fault may be told too: a crossing where a whole column moves.
    assert others <= {"V041", "V042", "V032", "V044", "V043"} or code == "V022", others
    finding = next(f for f in stated.findings if f.code == code)
    assert finding.severity == severity
    assert words in finding.message
    assert finding.line
    assert finding.remedy


@settings(max_examples=12, deadline=None)
@given(order=st.permutations(range(16)))
def test_stations_in_any_order_are_put_in_order(tmp_path_factory, order):
    """A table whose stations stand in any order, as from aft forward, is read as the same table,
    each figure keeping its station; that they were out of order is told.
    """
    rows = [r.split(",") for r in _marram().splitlines()[1:]]
    count = len(rows[0]) - 2
    order = [*(k for k in order if k < count), *range(16, count)]
    moved = "\n".join(",".join([*r[:2], *(r[2 + k] for k in order)]) for r in rows)
    stated = read_folder(_folder(tmp_path_factory.mktemp("order") / "v", moved))
    plain = read_folder(MARRAM).table
    assert stated.table.stations == plain.stations
    assert all(
        np.array_equal(a.values_mm, b.values_mm, equal_nan=True)
        for a, b in zip(stated.table.rows, plain.rows, strict=True)
    )
    out = order != sorted(order)
    assert [f.code for f in stated.findings] == (["V027"] if out else [])


@pytest.mark.parametrize("separator", [";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_separators_and_encodings(tmp_path, separator, encoding):
    """Semicolons, tabs, byte-order marks and Windows' letters do not change what is read."""
    text = _marram().replace(",", separator).replace("# Marram", "# Märram")
    stated = read_folder(_folder(tmp_path / "v", text.encode(encoding)))
    plain = read_folder(MARRAM).table
    assert all(
        np.array_equal(a.values_mm, b.values_mm, equal_nan=True)
        for a, b in zip(stated.table.rows, plain.rows, strict=True)
    )
    assert {f.code for f in stated.findings} == ({"V004"} if encoding == "cp1252" else set())


def test_comments(tmp_path):
    """A # begins a comment in a line of its own and at the end of a row, quotes in it and all."""
    text = _marram().replace("3-9-7\n", '3-9-7,# "as printed, p. 3\n', 1)
    assert text != _marram()
    assert read_folder(_folder(tmp_path / "v", text)).findings == ()


def _workbook(path, rows):
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.active
    for row in rows:
        sheet.append(row)
    book.save(path)


def test_workbook(tmp_path):
    """The same table in a workbook gives the same figures; numbers and dates are what they are."""
    rows = [
        [c or None for c in r]
        for r in csv.reader(_marram().splitlines())
        if not r[0].startswith("#")
    ]
    folder = _folder(tmp_path / "v", b"", name="offsets.xlsx")
    rows[2][3] = 2540.0
    _workbook(folder / "offsets.xlsx", rows)
    stated = read_folder(folder)
    assert stated.findings == ()
    plain = read_folder(MARRAM).table
    assert stated.table.rows[0].values_mm[1] == 2540.0
    assert stated.table.rows[0].texts[1] == "2540"
    assert np.array_equal(stated.table.rows[9].values_mm, plain.rows[9].values_mm, equal_nan=True)
    rows[2][3] = datetime(2007, 4, 3)  # noqa: DTZ001, workbooks know no zones
    _workbook(folder / "offsets.xlsx", rows)
    finding = _one(read_folder(folder), "M002")
    assert (finding.line, finding.column) == (2 + 1, "1")
    assert "4-3-7" in finding.message


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "The file is empty"),
        (b"line,at,0\n", "not an XLSX workbook"),
        (b"PK\x03\x04 broken", "not an XLSX workbook"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"0" * 600, "not an XLSX workbook"),
    ],
)
def test_no_workbook(tmp_path, content, words):
    """What is called a workbook and is none is said to be none."""
    folder = _folder(tmp_path / "v", content, name="offsets.xlsx")
    assert words in _one(read_folder(folder), "V003").message


def test_empty_workbook(tmp_path):
    """A workbook with nothing in it is said to be empty."""
    folder = _folder(tmp_path / "v", b"", name="offsets.xlsx")
    _workbook(folder / "offsets.xlsx", [])
    assert _one(read_folder(folder), "V005").severity is Severity.FAULT


@pytest.mark.parametrize("content", ["", "\n\n", "# nothing but this\n"])
def test_empty_table(tmp_path, content):
    """An empty table is said to be empty."""
    assert read_folder(_folder(tmp_path / "v", content)).table is None
    _one(read_folder(_folder(tmp_path / "v", content)), "V005")


def test_binary_and_old_workbooks(tmp_path):
    """A picture or an old workbook under the table's name is not read as text."""
    _one(read_folder(_folder(tmp_path / "a", b"\x89PNG\r\n\0\0\0")), "V003")
    old = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 100
    assert "old kind" in _one(read_folder(_folder(tmp_path / "b", old)), "V003").message


def test_too_few_figures(tmp_path):
    """A table that no hull can be drawn from says what there is and what is needed."""
    text = (
        "line,at,0,1,2\nstation,,0-0-0,4-0-0,8-0-0\nhalfbreadth,waterline 2-0-0,1-0-0,2-0-0,1-0-0\n"
    )
    finding = _one(read_folder(_folder(tmp_path / "v", text)), "V042")
    assert finding.read == "3 figures, 3 stations"


def _metric(text: str, factor: float) -> str:
    """The same table in bare numbers."""
    out = []
    for line in text.splitlines():
        if line.startswith("#"):
            continue
        cells = line.split(",")
        for i, cell in enumerate(cells):
            at = cell.rsplit(" ", 1)
            parts = at[-1].split("-")
            if len(parts) == 3:
                f, n, e = map(int, parts)
                at[-1] = f"{(f * 12 + n + e / 8) * 25.4 * factor:.1f}"
                cells[i] = " ".join(at)
        out.append(",".join(cells))
    return "\n".join(out)


def test_unit_mixed_up(tmp_path):
    """A table in millimetres that is declared in inches is doubted, the fitting unit named."""
    statement = (MARRAM / "vessel.toml").read_text("utf-8")
    right = read_folder(_folder(tmp_path / "a", _metric(_marram(), 1.0), statement))
    assert right.findings == ()
    wrong = statement.replace('unit = "mm"', 'unit = "in"')
    finding = _one(read_folder(_folder(tmp_path / "b", _metric(_marram(), 1.0), wrong)), "V040")
    assert finding.severity is Severity.MISFIT
    assert "In mm" in finding.message
    assert finding.read == "unit = in"


def test_unit_mixed_up_in_part(tmp_path):
    """Stations in feet and inches with bare figures of another unit are doubted too."""
    statement = (MARRAM / "vessel.toml").read_text("utf-8").replace('"mm"', '"in"')
    lines = _metric(_marram(), 1.0).splitlines()
    lines[1] = _marram().splitlines()[2]
    finding = _one(read_folder(_folder(tmp_path / "v", "\n".join(lines), statement)), "V040")
    assert "another unit" in finding.message


SLIPS = st.lists(
    st.tuples(st.integers(0, 2500), st.sampled_from(list(",-0123456789\n\"'#;é /ab\0"))),
    max_size=20,
)


@given(SLIPS)
@settings(max_examples=60)
def test_any_slip_of_the_pen_is_told(tmp_path_factory, slips):
    """Whatever letters are changed in the table, reading ends with a table or a finding."""
    letters = list(_marram())
    for at, letter in slips:
        letters[at % len(letters)] = letter
    stated = read_folder(_folder(tmp_path_factory.mktemp("v"), "".join(letters)))
    assert stated.table is not None or worst(stated.findings) is Severity.FAULT


@given(st.binary(max_size=300))
@settings(max_examples=60)
def test_any_bytes_are_told(tmp_path_factory, content):
    """Any bytes under the table's name end in a finding, never in a failure."""
    stated = read_folder(_folder(tmp_path_factory.mktemp("v"), content))
    assert worst(stated.findings) is Severity.FAULT
