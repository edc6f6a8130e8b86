"""The vessel folder as a whole: missing files, the smaller papers, and a folder made anew."""

from __future__ import annotations

import math
import shutil
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from futtock.errors import Misused, Unreadable
from futtock.measure import kinds as measure_kinds
from futtock.vessel import kinds, read_folder, write_new

MARRAM = Path(__file__).parents[2] / "futtock" / "demo"


def _codes(stated):
    return [f.code for f in stated.findings]


def test_nothing_there(tmp_path):
    """A path that is no folder, a folder that states nothing, and a file: each is told."""
    for path in (tmp_path / "none", tmp_path):
        stated = read_folder(path)
        assert _codes(stated) == ["V001"]
        assert stated.table is None
        assert "futtock new" in stated.findings[0].remedy
    (tmp_path / "file").write_text("x")
    assert _codes(read_folder(tmp_path / "file")) == ["V001"]


def test_named_file_is_missing(marram_copy):
    """A file that is named and not there is told, with the nearest name that is."""
    (marram_copy / "offsets.csv").rename(marram_copy / "ofsets.csv")
    (finding,) = read_folder(marram_copy).findings
    assert finding.code == "V002"
    assert finding.file == "offsets.csv"
    assert "perhaps 'ofsets.csv' is meant" in finding.message


def test_no_lines_at_all(marram_copy):
    """A folder with neither table nor points nor patterns says so; with patterns it is content."""
    text = (marram_copy / "vessel.toml").read_text("utf-8")
    text = text.replace('offsets = "offsets.csv"', "").replace('ends = "ends.csv"', "")
    (marram_copy / "vessel.toml").write_text(text, "utf-8")
    (marram_copy / "offsets.csv").unlink()
    assert _codes(read_folder(marram_copy)) == ["V002"]
    (marram_copy / "patterns").mkdir()
    assert _codes(read_folder(marram_copy)) == []


def test_a_folder_where_a_file_should_be(marram_copy):
    """A folder under the table's name is told."""
    (marram_copy / "offsets.csv").unlink()
    (marram_copy / "offsets.csv").mkdir()
    assert _codes(read_folder(marram_copy)) == ["V003"]


def test_huge_file(marram_copy):
    """A file far too large for a table is not read."""
    with (marram_copy / "offsets.csv").open("r+b") as file:
        file.truncate(50_000_000)
    assert _codes(read_folder(marram_copy)) == ["V006"]


def test_faults_of_every_paper_at_once(marram_copy):
    """Faults in vessel.toml, offsets.csv, ends.csv, mends.csv and futtocks.csv come in one pass."""
    for name, old, new in [
        ("vessel.toml", 'kerf = "1/4 in"', 'kerf = "thin"'),
        ("offsets.csv", "4-8-7", "4-8-9"),
        ("ends.csv", "0-6-0,0-3-0,8-7-4", "0-6-0,0-3-0,8-7-8"),
    ]:
        path = marram_copy / name
        text = path.read_text("utf-8")
        assert old in text
        path.write_text(text.replace(old, new, 1), "utf-8")
    (marram_copy / "mends.csv").write_text("line,station,value,why\nheight sheer,99,1-0-0,x\n")
    (marram_copy / "futtocks.csv").write_text("frame,layer,side,butt\n1,x,,2-0-0\n")
    stated = read_folder(marram_copy)
    assert {f.file for f in stated.findings} == {
        "vessel.toml", "offsets.csv", "ends.csv", "mends.csv", "futtocks.csv"
    }  # fmt: skip
    assert len(stated.findings) == 5
    assert all(f.line for f in stated.findings)


def test_ends(marram_copy):
    """A wrong point is left out, an unknown line told, a line far from her stations doubted."""
    path = marram_copy / "ends.csv"
    lines = path.read_text("utf-8").splitlines()
    lines[1] = "stem rabbet,0-6-0,,8-7-4"
    lines.append("stern rabbet,37-0-0,0-3-0,3-0-0")
    lines.append("sheer aft,900-0-0,0-3-0,3-0-0")
    path.write_text("\n".join(lines), "utf-8")
    stated = read_folder(marram_copy)
    assert _codes(stated) == ["M001", "V030", "V043"]
    assert stated.table.ends["stem rabbet"].shape == (16, 3)
    assert stated.findings[0].message.startswith("y of the stem rabbet cannot be read")


def test_ends_that_turn_back(marram_copy):
    """Points out of order along an end line are doubted at the line where they turn."""
    path = marram_copy / "ends.csv"
    lines = path.read_text("utf-8").splitlines()
    lines[5], lines[8] = lines[8], lines[5]
    path.write_text("\n".join(lines), "utf-8")
    (finding,) = read_folder(marram_copy).findings
    assert finding.code == "V044"
    assert finding.line in range(5, 10)


def test_mends(marram_copy):
    """A mend changes the mended table and leaves the printed one; drop leaves the figure out."""
    (marram_copy / "mends.csv").write_text(
        "line,station,value,why\n"
        "halfbreadth waterline 5-6-0,5,4-11-6,an inch too much\n"
        "Halfbreadth  Waterline 4-0-0,10,drop,illegible\n",
        "utf-8",
    )
    stated = read_folder(marram_copy)
    assert stated.findings == ()
    first, second = stated.mends
    assert first.printed == "5-0-6"
    assert first.why == "an inch too much"
    assert not first.dropped
    assert second.line == "halfbreadth waterline 4-0-0"
    assert second.dropped
    five, ten = stated.table.stations.index("5"), stated.table.stations.index("10")
    printed = stated.table.row("halfbreadth", "waterline 5-6-0")
    mended = stated.mended.row("halfbreadth", "waterline 5-6-0")
    assert printed.values_mm[five] - mended.values_mm[five] == pytest.approx(25.4)
    assert mended.texts == printed.texts
    assert math.isnan(stated.mended.row("halfbreadth", "waterline 4-0-0").values_mm[ten])
    assert np.isfinite(stated.table.row("halfbreadth", "waterline 4-0-0").values_mm[ten])


@pytest.mark.parametrize(
    ("row", "code", "words"),
    [
        ("halfbreadth waterline 5-6-1,5,4-11-6,", "V031", "perhaps 'halfbreadth waterline 5-6-0'"),
        ("height sheer,15,4-11-6,", "V031", "'15' is no station"),
        ("height sheer,5,4-11-9,", "M003", "The mend of height sheer at station 5 cannot be read"),
        ("height sheer,5,drop,\nheight sheer,5,7-0-0,", "V024", "mended already in line 2"),
    ],
)
def test_wrong_mends(marram_copy, row, code, words):
    """A mend that names no figure, or holds none, is told and left out."""
    (marram_copy / "mends.csv").write_text(f"line,station,value,why\n{row}\n", "utf-8")
    (finding,) = read_folder(marram_copy).findings
    assert finding.code == code
    assert words in finding.message
    assert finding.file == "mends.csv"


def test_divisions(marram_copy):
    """Butts are gathered by frame, layer and side, in order along the girth."""
    (marram_copy / "futtocks.csv").write_text(
        "frame,layer,side,butt\n1,f,,5-0-0\n1,f,,2-0-0\n1,a,P,3-6-0\n2,f,,\nx,f,,1-0-0\n", "utf-8"
    )
    stated = read_folder(marram_copy)
    assert [(d.frame, d.layer, d.side, d.butts_mm) for d in stated.divisions] == [
        (1, "f", "", (609.6, 1524.0)),
        (1, "a", "P", (1066.8,)),
        (2, "f", "", ()),
    ]
    assert [(f.code, f.line) for f in stated.findings] == [("V032", 6)]


def test_as_built(marram_copy):
    """Points of standing frames are read; a wrong side is told."""
    (marram_copy / "as_built.csv").write_text(
        "frame,side,height,spread\n13,P,4-0-0,5-1-2\n13,X,4-0-0,5-1-2\n", "utf-8"
    )
    stated = read_folder(marram_copy)
    assert [(a.frame, a.side, a.height_mm) for a in stated.as_built] == [(13, "P", 1219.2)]
    assert _codes(stated) == ["V032"]


def test_stated_contradictions(marram_copy):
    """Sizes that cannot both be true are told, each once."""
    text = (marram_copy / "vessel.toml").read_text("utf-8")
    text = text.replace('"1-7/8 in"', '"8 in"').replace('"4-6-0"', '"2-0-0"')
    (marram_copy / "vessel.toml").write_text(text, "utf-8")
    found = read_folder(marram_copy).findings
    assert [f.code for f in found] == ["V014"] * 3
    assert {f.column for f in found} == {"framing.sided", "futtocks.butt_shift"}


def test_new_folder(tmp_path):
    """A new folder is read with nothing wrong but the empty table; Marram with nothing at all."""
    blank = tmp_path / "deep" / "blank"
    written = write_new(blank)
    assert {p.name for p in written} == {"vessel.toml", "offsets.csv", "ends.csv", "mends.csv"}
    assert _codes(read_folder(blank)) == ["V042"]
    demo = tmp_path / "demo"
    write_new(demo, demo=True)
    assert _codes(read_folder(demo)) == []
    assert (demo / "slabs.json").read_bytes() == (MARRAM / "slabs.json").read_bytes()


@pytest.mark.parametrize("name", ["vessel.toml", "ends.csv"])
def test_new_never_overwrites(tmp_path, name):
    """Where any one of the files is there, nothing at all is written."""
    (tmp_path / name).write_text("mine")
    with pytest.raises(Misused, match=f"{name} already"):
        write_new(tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_text() == "mine"


def test_new_where_none_can_be_made(tmp_path):
    """Where the folder cannot be made the reason is given."""
    (tmp_path / "file").write_text("x")
    with pytest.raises((Unreadable, Misused)):
        write_new(tmp_path / "file")


def test_kinds_are_told_apart():
    """Each kind of finding has a code of its own, and a remedy."""
    every = (*kinds.KINDS, *measure_kinds.KINDS)
    assert len({k.code for k in every}) == len(every) > 30
    assert all(k.remedy and k.title.endswith(".") for k in every)


def test_speed():
    """Marram's folder takes under 30 ms of work once all is imported (best of five)."""
    times = []
    for _ in range(5):
        began = time.process_time()
        read_folder(MARRAM)
        times.append(time.process_time() - began)
    assert min(times) < 0.030


def test_import_is_light():
    """The room itself brings in neither numpy nor pydantic until something is asked for."""
    code = (
        "import sys, futtock.vessel; print([m for m in ('numpy','pydantic') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_relative_folder(marram_copy, monkeypatch):
    """A folder given as text and from where one stands is read the same."""
    monkeypatch.chdir(marram_copy)
    assert read_folder(".").files == read_folder(marram_copy).files
    shutil.rmtree(marram_copy / "photos", ignore_errors=True)
