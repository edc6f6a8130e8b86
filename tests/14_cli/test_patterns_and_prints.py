"""Patterns already made run without offsets; prints know when they are stale."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from command_line import document, futtock

STATEMENT = """\
[vessel]
name = "Patterns only"
[timber]
species = "white oak"
kerf = "1/4 in"
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


def test_patterns_alone_are_laid_out_and_sawn(marram, tmp_path):
    """A folder of patterns without any offsets goes to moulds, saw sheets and the pile."""
    folder = tmp_path / "v"
    (folder / "patterns").mkdir(parents=True)
    (folder / "vessel.toml").write_text(STATEMENT)
    shutil.copy(marram / "slabs.json", folder / "slabs.json")
    marks = [m["mark"] for m in document("moulds", str(marram), code=3)["moulds"]][:6]
    for mark in marks:
        shutil.copy(marram / "out" / f"{mark}.dxf", folder / "patterns" / f"{mark}.dxf")
    moulds = document("moulds", str(folder), code=(0, 3))["moulds"]
    assert {m["mark"] for m in moulds} == set(marks)
    own = {m["mark"]: m for m in document("moulds", str(marram), code=3)["moulds"]}
    for m in moulds:
        assert m["square_m2"] == pytest.approx(own[m["mark"]]["square_m2"], rel=0.01)
    assert {s["mark"] for s in document("sheets", str(folder), code=(0, 3))["saw"]} == set(marks)
    laid = document("lay", str(folder), "--rounds", "20", code=(0, 3))
    assert len(laid["placements"]) >= 4
    json.dumps(laid)
