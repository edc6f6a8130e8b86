"""Published tables through the command line: from a folder of papers to frames and moulds."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from command_line import document
from line_tables import canoe, series60, summed_mm3, wigley

from futtock.vessel.table import OffsetTable

STATEMENT = """\
[vessel]
name = "{name}"
[lines]
offsets = "offsets.csv"
unit = "mm"
tolerance = "{tolerance} mm"
waterline = "{waterline} mm"
[planking]
thickness = "{planking} mm"
[framing]
first = "{first} mm"
room_and_space = "{space} mm"
count = {count}
sided = "{sided} mm"
moulded = {{ heel = "{heel} mm", head = "{head} mm" }}
[futtocks]
longest = "{longest} mm"
shortest = "{shortest} mm"
butt_shift = "{shift} mm"
[timber]
species = "white oak"
"""


def folder_of(where: Path, table: OffsetTable, statement: str) -> Path:
    """A vessel folder with the table's cells exactly as they stand in the table."""
    where.mkdir()
    (where / "vessel.toml").write_text(statement)
    with (where / "offsets.csv").open("w", newline="") as file:
        out = csv.writer(file)
        out.writerow(["line", "at", *table.stations])
        out.writerow(["station", "", *(f"{x:.6f} mm" for x in table.x_mm)])
        for row in table.rows:
            out.writerow([row.line, row.at, *row.texts])
    return where


@pytest.fixture(scope="module")
def canoe_folder(tmp_path_factory) -> Path:
    """The canoe of 1889: 14 ft, to be framed lightly."""
    statement = STATEMENT.format(
        name="Canoe of 1889",
        tolerance=1.6,
        waterline=152.4,
        planking=6,
        first=900,
        space=300,
        count=9,
        sided=15,
        heel=32,
        head=22,
        longest=700,
        shortest=100,
        shift=90,
    )
    return folder_of(tmp_path_factory.mktemp("canoe") / "v", canoe(), statement)


def test_the_canoes_misprints_come_out_doubtful(canoe_folder):
    """Her three sure misprints are doubted, and no more than one other figure.

    Source: W. P. Stephens, Canoe and Boat Building, 4th ed. 1889, Plate XI (public domain).
    """
    points = document("fair", str(canoe_folder), code=3)["points"]
    found = {(p["line"], p["station"]) for p in points if p["doubtful"]}
    sure = {
        ("halfbreadth waterline 0-6-0", "0"),
        ("halfbreadth waterline 0-2-0", "3"),
        ("halfbreadth sheer", "13"),
    }
    assert sure <= found
    assert len(found - sure) <= 1


def test_the_canoe_is_framed_and_moulded(canoe_folder):
    """Every frame stands, narrows towards both ends, and every timber has a mould."""
    frames = document("frames", str(canoe_folder), code=(0, 3))["frames"]
    assert [f["number"] for f in frames] == list(range(1, 10))
    widest = [max(p[0] for p in f["faces"][1]["edge_mm"]) for f in frames]
    assert max(widest) == pytest.approx(378 - 6, abs=12)  # half of her 30 in beam, less planking
    assert widest.index(max(widest)) in (3, 4, 5)
    moulds = document("moulds", str(canoe_folder), code=(0, 3))["moulds"]
    assert {m["mark"] for m in moulds} == {t["mark"] for f in frames for t in f["timbers"]}
    assert all(m["mass_kg"] > 0 for m in moulds)


def test_series_60_weighs_as_published(tmp_path):
    """Cp within 0.001 and LCB within 0.05 % of length.

    Source: F. H. Todd, DTMB Report 1712 (1963): Cp 0.614, LCB 1.5 % of length aft of midship.
    """
    length = 400 * 304.8
    statement = STATEMENT.format(
        name="Series 60",
        tolerance=2.5,
        waterline=length / 7.5 / 2.5,
        planking=100,
        first=6000,
        space=3000,
        count=37,
        sided=200,
        heel=600,
        head=400,
        longest=6000,
        shortest=900,
        shift=1200,
    )
    folder = folder_of(tmp_path / "v", series60(), statement)
    got = document("fair", str(folder), code=(0, 3))["hydrostatics"]
    assert got["cp"] == pytest.approx(0.614, abs=0.001)
    assert got["lcb_mm"] / length - 0.5 == pytest.approx(0.015, abs=0.0005)


def test_wigley_in_eighths_weighs_as_her_figures(tmp_path):
    """Volume within 0.02 % of what Simpson's rule makes of the same eighths, which rounding has
    moved by 0.033 % from the formula, and LCB within 0.1 mm.

    Source: W. C. S. Wigley's parabolic hull, V = 4LBT/9.
    """
    length, beam, draught = 40 * 304.8, 8 * 304.8, 5 * 304.8
    statement = STATEMENT.format(
        name="Wigley",
        tolerance=1.0,
        waterline=draught,
        planking=30,
        first=600,
        space=400,
        count=27,
        sided=45,
        heel=120,
        head=80,
        longest=1500,
        shortest=300,
        shift=350,
    )
    folder = folder_of(tmp_path / "v", wigley(), statement)
    got = document("fair", str(folder), code=(0, 3))["hydrostatics"]
    summed = summed_mm3(wigley())
    assert summed == pytest.approx(4 / 9 * length * beam * draught, rel=4e-4)
    assert got["volume_m3"] * 1e9 == pytest.approx(summed, rel=2e-4)
    assert got["lcb_mm"] == pytest.approx(length / 2, abs=0.1)
