"""Patterns already made run without offsets; prints know when they are stale."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
import shapely
from command_line import document, futtock
from pattern_scene import photograph_of
from readback import curve

STATEMENT = """\
[vessel]
name = "Patterns only"
[timber]
species = "white oak"
kerf = "1/4 in"
"""
TAPED = """\
mark,7-S-f1
sided,1-7/8 in
unit,in
offset,0,0,4
offset,12,1/4,4 1/4
offset,2',0,4
bevel,0,10,8
bevel,24,14.5,9
sirmark,A,12
"""


@pytest.fixture(scope="module")
def marram(tmp_path_factory) -> Path:
    """A folder of the demo vessel with seven frames, printed."""
    folder = tmp_path_factory.mktemp("prints") / "marram"
    futtock("new", str(folder), "--demo")
    stated = folder / "vessel.toml"
    stated.write_text(stated.read_text().replace("count = 27", "count = 3"))
    document("moulds", str(folder), "--out", str(folder / "out"), code=3)
    return folder


def _few_slabs(marram: Path, folder: Path, count: int) -> None:
    """A small pile, which is searched quickly."""
    slabs = json.loads((marram / "slabs.json").read_text())
    (folder / "slabs.json").write_text(json.dumps(slabs[:count]))


def test_every_timber_has_its_files(marram):
    """moulds --out writes MARK.dxf, MARK.svg and MARK.pdf of each timber, a roll and tiles."""
    marks = [m["mark"] for m in document("moulds", str(marram), code=3)["moulds"]]
    assert marks
    for mark in marks:
        for kind in ("dxf", "svg", "pdf"):
            assert (marram / "out" / f"{mark}.{kind}").stat().st_size > 500
    assert (marram / "out" / "roll.pdf").stat().st_size > 5000
    assert (marram / "out" / "tiles.pdf").stat().st_size > 5000


def test_prints_go_stale_when_the_planking_changes(marram, tmp_path):
    """Thicker planking makes every print wrong, by about the change; nothing else does."""
    folder = tmp_path / "v"
    shutil.copytree(marram, folder)
    assert document("moulds", str(folder), "--stale")["stale"] == []
    stated = folder / "vessel.toml"
    stated.write_text(stated.read_text().replace('"1-1/4 in"', '"1-1/2 in"'))
    stale = document("moulds", str(folder), "--stale", code=3)["stale"]
    marks = {m["mark"] for m in document("moulds", str(folder), code=3)["moulds"]}
    assert {s["mark"] for s in stale if not s["gone"]} == marks
    assert all(3.0 < max(s["proud_mm"], s["short_mm"]) < 25.0 for s in stale if not s["gone"])


def test_what_is_laid_out_and_sawn_is_told_when_it_is_wrong(marram, tmp_path):
    """Of timbers that no longer fit it is told which were printed, which laid out, which sawn."""
    folder = tmp_path / "v"
    shutil.copytree(marram, folder)
    _few_slabs(marram, folder, 10)
    laid = document("lay", str(folder), "--rounds", "5", "--accept", code=(0, 3))["placements"]
    marks = {m["mark"] for m in document("moulds", str(folder), code=(0, 3))["moulds"]}
    placed = [p["mark"] for p in laid]
    assert len(placed) > 2
    for stage in ("laid-out", "roughed"):
        futtock("did", str(folder), placed[0], stage, "--who", "Ann")
    stated = folder / "vessel.toml"
    stated.write_text(stated.read_text().replace('"1-1/4 in"', '"1-1/2 in"'))
    said = document("moulds", str(folder), "--stale", code=3)
    state = {s["mark"]: s["state"] for s in said["stale"]}
    assert set(state) == marks
    assert {m for m, s in state.items() if s == "sawn"} == {placed[0]}
    assert {m for m, s in state.items() if s == "laid out"} == set(placed[1:])
    assert (said["laid"], said["sawn"]) == (len(placed) - 1, 1)
    (sawn,) = [f for f in said["findings"] if f["line"] == placed[0]]
    assert "(sawn, revision" in sawn["message"]


def test_a_stretched_printer_is_made_good(marram, tmp_path):
    """--stretch lays roll and tiles out by as much larger; each mould's own print stays true."""
    import pdfplumber

    out = tmp_path / "out"
    words = ("--out", str(out), "--stretch", "0.99,1.02")
    said = futtock("moulds", str(marram), *words, code=(0, 3)).stdout
    assert "of paper" in said
    with (
        pdfplumber.open(out / "tiles.pdf") as made,
        pdfplumber.open(marram / "out" / "tiles.pdf") as plain,
    ):
        for pages, across, up in ((made, 100 / 0.99, 100 / 1.02), (plain, 100.0, 100.0)):
            lines = [
                (abs(w["x1"] - w["x0"]) * 25.4 / 72, abs(w["top"] - w["bottom"]) * 25.4 / 72)
                for w in pages.pages[1].lines
            ]
            assert any(abs(x - across) < 0.005 and y < 0.001 for x, y in lines)
            assert any(abs(y - up) < 0.005 and x < 0.001 for x, y in lines)
    mark = next(p.stem for p in out.glob("*-P-*.pdf"))
    assert (out / f"{mark}.pdf").read_bytes() == (marram / "out" / f"{mark}.pdf").read_bytes()
    futtock("moulds", str(marram), "--stretch", "wide", "--out", str(out), code=2)


def test_a_name_that_no_font_writes_is_told(marram, tmp_path):
    """Signs that are in no font are a finding that names --font; a file that is none is refused."""
    folder = tmp_path / "v"
    shutil.copytree(marram, folder)
    stated = folder / "vessel.toml"
    stated.write_text(stated.read_text().replace('"Marram"', '"Ναυσικά Чайка 𓊛"'))
    said = document("moulds", str(folder), "--out", str(tmp_path / "out"), code=3)
    (found,) = [f for f in said["findings"] if f["code"] == "J040"]
    assert "𓊛" in found["message"]
    assert "Ν" not in found["message"]
    assert "--font" in found["remedy"]
    words = ("--font", str(stated), "--out", str(tmp_path / "out"))
    futtock("moulds", str(folder), *words, code=1)


def test_an_old_code_says_so_when_looked_up(marram, tmp_path):
    """The code of a print holds before the change and is called wrong after it."""
    folder = tmp_path / "v"
    shutil.copytree(marram, folder)
    (record,) = (folder / "prints").glob("*.npz")
    mark = document("moulds", str(folder), code=3)["moulds"][0]["mark"]
    code = f"futtock:{record.stem}:{mark}"
    assert document("moulds", str(folder), "--code", code)["stale"] == []
    stated = folder / "vessel.toml"
    stated.write_text(stated.read_text().replace('"1-7/8 in"', '"1-3/4 in"'))
    (found,) = document("moulds", str(folder), "--code", code, code=3)["stale"]
    assert found["mark"] == mark
    assert found["sided_mm"] == pytest.approx(-3.175, abs=1e-6)
    futtock("moulds", str(folder), "--code", "nonsense", code=2)
    frame = document("moulds", str(folder), "--code", f"futtock:{record.stem}:1", code=3)["stale"]
    assert {s["mark"].split("-")[0] for s in frame} == {"1"}


def test_patterns_alone_go_through_layout_bench_and_yard(marram, tmp_path):
    """Patterns drawn, taped and photographed, without any offsets of the hull, run to the end.

    Their moulds are those that were drawn; they are printed, laid out, given saw sheets and a
    place in the journal; and when a pattern is changed, the timber sawn to it is told.
    """
    folder = tmp_path / "v"
    patterns = folder / "patterns"
    patterns.mkdir(parents=True)
    (folder / "vessel.toml").write_text(STATEMENT)
    _few_slabs(marram, folder, 30)
    own = {m["mark"]: m for m in document("moulds", str(marram), code=3)["moulds"]}
    marks = list(own)[:6]
    for mark in marks[:3]:
        shutil.copy(marram / "out" / f"{mark}.dxf", patterns / f"{mark}.dxf")
    for mark in marks[3:]:
        shutil.copy(marram / "out" / f"{mark}.svg", patterns / f"{mark}.svg")
    (patterns / "wall.csv").write_text(TAPED)
    photographed = curve(60, 620.0, 20.0)
    (patterns / "8-S-f1.jpg").write_bytes(photograph_of(photographed))
    every = {*marks, "7-S-f1", "8-S-f1"}
    moulds = document("moulds", str(folder), "--out", str(folder / "out"), code=(0, 3))["moulds"]
    assert {m["mark"] for m in moulds} == every
    for m in moulds:
        assert (folder / "out" / f"{m['mark']}.pdf").stat().st_size > 5000
        if m["mark"] == "8-S-f1":
            area = shapely.Polygon(photographed).area * 1e-6
            assert m["square_m2"] == pytest.approx(area, rel=0.02)
        if m["mark"] in own:
            assert m["square_m2"] == pytest.approx(own[m["mark"]]["square_m2"], rel=0.01)
    assert (folder / "out" / "roll.pdf").exists()
    sheets = document("sheets", str(folder), "--out", str(folder / "sheets"), code=(0, 3))
    assert {s["mark"] for s in sheets["saw"]} == every
    assert {"saw-sheets.pdf", "saw-strips.pdf", "shop-book.pdf"} <= set(sheets["files"])
    laid = document("lay", str(folder), "--rounds", "20", "--accept", code=(0, 3))["placements"]
    assert len(laid) >= 4
    mark = "7-S-f1"
    assert mark in {p["mark"] for p in laid}
    for stage in ("moulded", "laid-out", "roughed"):
        futtock("did", str(folder), mark, stage, "--who", "Ann")
    assert document("moulds", str(folder), "--stale", code=(0, 3))["stale"] == []
    (patterns / "wall.csv").write_text(TAPED.replace("4 1/4", "4"))
    (found,) = document("moulds", str(folder), "--stale", code=3)["stale"]
    assert (found["mark"], found["state"]) == (mark, "sawn")
    assert found["proud_mm"] == pytest.approx(6.35, abs=0.5)
