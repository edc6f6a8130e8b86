"""The rack at the command line: forms out, tape records in, the pile counted, slabs drawn."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from command_line import document, futtock

HEAD = "station,top left,top right,bottom left,bottom right,thickness,grain 1\n"
RECORD = (
    "slab,N-01\nspecies,white oak\nunit,in\nmoisture,18\nmoisture date,2020-03-02\nstack,Z\n"
    "price,120\n"
    + HEAD
    + "0,7 1/2,7,7 1/2,7 1/2,2 3/4,0\n3-0-0,8,7,8,7 1/2,2 3/4,1\n6-0-0,8,7,8,7 1/2,2 7/8,2\n"
    "9-0-0,7,8,7 1/2,8,2 3/4,1\n12-0-0,7,7,7 1/4,7,2 3/4,0\n"
    "flaw,face,at,across,long,wide\nknot,both,2-6-0,2 left,2,1 1/2\n"
)


@pytest.fixture
def vessel(tmp_path) -> Path:
    """A folder as 'new' writes it, with no rack yet."""
    folder = tmp_path / "vessel"
    futtock("new", str(folder))
    return folder


@pytest.fixture
def record(tmp_path) -> Path:
    """A tape record of one slab."""
    file = tmp_path / "n-01.csv"
    file.write_text(RECORD)
    return file


def codes(answer) -> list[str]:
    """Codes of an answer's findings."""
    return [f["code"] for f in answer["findings"]]


def test_a_tape_record_becomes_a_slab_with_every_figure(vessel, record):
    """Each figure of the record is in the entry printed, in mm, and the same stands in the file."""
    entry = document("rack", "add", str(vessel), "--tape", str(record))
    findings = entry.pop("findings")
    assert json.loads((vessel / "slabs.json").read_text()) == [entry]
    assert entry["name"] == "N-01"
    assert entry["stack"] == "Z"
    assert entry["price"] == 120
    assert entry["moisture_date"] == "2020-03-02"
    assert entry["thickness_mm"] == pytest.approx(2.75 * 25.4)  # the thinnest reading
    assert [0, 190.5] in entry["top"]
    assert [3657.6, -177.8] in entry["top"]
    assert entry["grain"] == [[[0, 0], [914.4, 25.4], [1828.8, 50.8], [2743.2, 25.4], [3657.6, 0]]]
    assert [d["kind"] for d in entry["defects"]] == ["knot"]
    # 12 ft x 16 in x 2-3/4 in at 75 kg: over three times NIOSH's 23 kg (safety_limits.csv L01)
    heavy = [f for f in findings if f["code"] == "S501"]
    assert "far beyond" in heavy[0]["message"]
    assert "L01" in heavy[0]["expected"] or "NIOSH" in heavy[0]["expected"]


def test_a_second_slab_of_the_name_is_refused_and_one_renamed_is_added(vessel, record):
    """Nothing on the rack is ever overwritten; --name gives the slab another name."""
    futtock("rack", "add", str(vessel), "--tape", str(record))
    before = (vessel / "slabs.json").read_bytes()
    refused = document("rack", "add", str(vessel), "--tape", str(record), code=1)
    assert "S006" in codes(refused)
    assert set(refused) == {"findings"}
    assert (vessel / "slabs.json").read_bytes() == before
    words = ("--name", "N-02", "--stack", "Y", "--moisture", "15")
    entry = document("rack", "add", str(vessel), "--tape", str(record), *words)
    assert (entry["name"], entry["stack"], entry["moisture_percent"]) == ("N-02", "Y", 15)
    assert [s["name"] for s in json.loads((vessel / "slabs.json").read_text())] == ["N-01", "N-02"]


def test_a_fault_in_one_slab_puts_none_on_the_rack(vessel, tmp_path):
    """A record of two slabs with a cell that cannot be read: the cell is named, nothing written."""
    file = tmp_path / "two.csv"
    file.write_text(RECORD + RECORD.replace("N-01", "N-02").replace("9-0-0,7,", "9-0-0,seven,"))
    refused = document("rack", "add", str(vessel), "--tape", str(file), code=1)
    assert any(f["code"] == "S401" and f["read"] == "seven" for f in refused["findings"])
    assert not (vessel / "slabs.json").exists()


def test_two_slabs_in_one_record_both_go_on_the_rack(vessel, tmp_path):
    """Several slabs answer as a list, and a name for all of them is misuse."""
    file = tmp_path / "two.csv"
    file.write_text(RECORD + RECORD.replace("N-01", "N-02"))
    futtock("rack", "add", str(vessel), "--tape", str(file), "--name", "X", code=2)
    added = document("rack", "add", str(vessel), "--tape", str(file))
    assert [s["name"] for s in added["slabs"]] == ["N-01", "N-02"]


def test_a_workbook_reads_as_the_csv_does(vessel, record, tmp_path):
    """XLSX of the same cells gives the same entry."""
    from openpyxl import Workbook

    book = Workbook()
    for row in csv.reader(io.StringIO(RECORD)):
        book.active.append(row)
    book.save(tmp_path / "n.xlsx")
    typed = document("rack", "add", str(vessel), "--tape", str(record))
    (vessel / "slabs.json").unlink()
    assert document("rack", "add", str(vessel), "--tape", str(tmp_path / "n.xlsx")) | {
        "findings": []
    } == typed | {"findings": []}


def test_what_the_rack_holds_stays_as_it_was(vessel, record):
    """Entries set aside, and keys that are not known, stand after an addition as before it."""
    odd = {"name": "Q", "species": "oak", "chalk": "blue"}
    (vessel / "slabs.json").write_text(json.dumps([odd]))
    futtock("rack", "add", str(vessel), "--tape", str(record))
    assert json.loads((vessel / "slabs.json").read_text())[0] == odd


def test_a_broken_rack_file_is_never_written_over(vessel, record):
    """slabs.json that is not JSON stops the addition and keeps every byte."""
    (vessel / "slabs.json").write_text('[{"name": "A"')
    assert codes(document("rack", "add", str(vessel), "--tape", str(record), code=1)) == ["S002"]
    assert (vessel / "slabs.json").read_text() == '[{"name": "A"'


def test_misuse_of_add_is_told(vessel, record):
    """No source, two sources, a photograph without thickness, a taped distance ill written."""
    futtock("rack", "add", str(vessel), code=2)
    futtock("rack", "add", str(vessel), "--tape", "a.csv", "--photo", "b.jpg", code=2)
    futtock("rack", "add", str(vessel), "--photo", "b.jpg", "--name", "B", code=2)
    futtock("rack", "add", str(vessel), "--tape", str(record), "--taped", "0-1=3 m", code=2)
    gone = document("rack", "add", str(vessel), "--tape", "/none/none.csv", code=1)
    assert gone["findings"]


def test_the_form_as_a_file_is_read_back_when_filled(vessel, tmp_path):
    """The form's own headings are what 'rack add' reads: filled in, it becomes the slab."""
    out = tmp_path / "forms"
    words = ("--name", "F-1", "--stack", "B", "--length", "9-0-0")
    made = document("rack", "form", str(vessel), "--out", str(out), *words)
    assert set(made["files"]) == {"slab-F-1.pdf", "slab-F-1.csv"}
    assert (out / "slab-F-1.pdf").read_bytes()[:5] == b"%PDF-"
    rows = list(csv.reader(io.StringIO((out / "slab-F-1.csv").read_text())))
    at = next(k for k, r in enumerate(rows) if r[0] == "station")
    fill = {"top left": "6", "top right": "6", "thickness": "2 1/2", "grain 1": "0"}
    for row in rows[at + 1 :]:
        if row[0] == "flaw":
            break
        for k, head in enumerate(rows[at]):
            row[k] = fill.get(head, row[k])
    filled = io.StringIO()
    csv.writer(filled).writerows(rows)
    (out / "slab-F-1.csv").write_text(filled.getvalue())
    entry = document("rack", "add", str(vessel), "--tape", str(out / "slab-F-1.csv"))
    assert (entry["name"], entry["stack"], entry["thickness_mm"]) == ("F-1", "B", 63.5)
    assert max(x for x, _ in entry["top"]) == pytest.approx(9 * 304.8)


def test_the_pile_is_counted_by_stack_with_the_journal(vessel, record, tmp_path):
    """Counts, volume, value and moisture by stack; a spoiled slab leaves the count, not the list.

    A board foot is 144 cubic inches (wood_formulas.toml, board_foot).
    """
    futtock("rack", "add", str(vessel), "--tape", str(record))
    other = ("--name", "N-02", "--stack", "Y")
    futtock("rack", "add", str(vessel), "--tape", str(record), *other)
    before = document("rack", "list", str(vessel))
    assert [s["stack"] for s in before["stacks"]] == ["Y", "Z"]
    whole = before["pile"]
    assert (whole["slabs"], whole["measured"], whole["value"]) == (2, 2, 240)
    assert whole["board_feet"] == pytest.approx(whole["volume_m3"] / (144 * 0.0254**3), abs=0.01)
    assert whole["oldest_reading"] == "2020-03-02"
    futtock("did", str(vessel), "N-02", "spoiled", "--who", "A")
    futtock("did", str(vessel), "N-01", "measured", "--who", "A", "--moisture", "14")
    after = document("rack", "list", str(vessel))
    assert {s["name"]: s["state"] for s in after["slabs"]} == {"N-01": "whole", "N-02": "spoiled"}
    assert (after["pile"]["slabs"], after["pile"]["spoiled"]) == (1, 1)
    assert after["pile"]["moisture_percent"] == [14, 14]


def test_a_vessel_without_a_rack_is_no_fault(vessel):
    """A newcomer's rack that is not there yet is a note, and the list says how to begin."""
    listed = document("rack", "list", str(vessel))
    assert [(f["code"], f["severity"]) for f in listed["findings"]] == [("S001", "note")]
    assert "rack add" in futtock("rack", "list", str(vessel)).stdout


def test_drawing_gives_each_slab_and_its_grain(vessel, record, tmp_path):
    """Two pages a slab, and each as a picture of its own; cards are drawn full size from 0."""
    futtock("rack", "add", str(vessel), "--tape", str(record))
    drawn = document("rack", "draw", str(vessel), "--out", str(tmp_path), "--slab", "N-01")
    assert drawn["files"] == ["slab-N-01.pdf", "slab-N-01.svg", "slab-N-01-grain.svg"]
    assert "grain" in (tmp_path / "slab-N-01-grain.svg").read_text()
    futtock("rack", "draw", str(vessel), "--slab", "none", code=2)
    cards = document("rack", "cards", str(vessel), "--out", str(tmp_path), "--count", "4")
    assert cards["cards"] == [0, 1, 2, 3]
    assert (tmp_path / "cards.pdf").stat().st_size > 2000


def test_a_lens_is_measured_and_kept(vessel, tmp_path):
    """Three pictures with cards give a lens that is kept in the folder; a spoiled one is told."""
    import cv2
    import numpy as np

    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    words = []
    for shot, size in enumerate((84, 96, 108)):
        picture = np.full((900, 1200), 235, np.uint8)
        for k in range(12):
            marker = cv2.aruco.generateImageMarker(dictionary, k, size)
            x, y = 60 + (k % 4) * 310 - shot * 10, 60 + (k // 4) * 310
            picture[y : y + size, x : x + size] = marker // 2 + 60
        picture = cv2.GaussianBlur(picture, (0, 0), 0.8)
        cv2.imwrite(str(tmp_path / f"{shot}.png"), cv2.cvtColor(picture, cv2.COLOR_GRAY2BGR))
        words += ["--photo", str(tmp_path / f"{shot}.png")]
    got = document("rack", "lens", str(vessel), *words)
    assert got["shots"] == 3
    assert got["coefficient"] == pytest.approx(0.0, abs=0.005)  # drawn without a lens
    kept = vessel / "photos" / "lens.json"
    assert json.loads(kept.read_text())["coefficient"] == got["coefficient"]
    kept.write_text("{}")
    said = ("--name", "X", "--thickness", "2 in")
    told = futtock("rack", "add", str(vessel), "--photo", str(tmp_path / "0.png"), *said, code=2)
    assert "photos/lens.json" in told.stderr + told.stdout


@pytest.mark.slow
def test_a_photograph_becomes_a_slab_with_its_portrait(vessel, tmp_path):
    """A rendered slab of known outline: the entry printed is kept, its area within 3 %."""
    import cv2
    import numpy as np
    import shapely
    from photo_cases import swept_slab

    scene = swept_slab()
    picture = tmp_path / "slab.jpg"
    cv2.imwrite(str(picture), scene.image)
    apart = float(np.hypot(*(scene.cards[0].mean(0) - scene.cards[4].mean(0))))
    words = ("--name", "P-1", "--thickness", "2 3/4 in", "--cards-on", "face")
    taped = ("--taped", f"0-4={apart:.0f} mm")
    entry = document("rack", "add", str(vessel), "--photo", str(picture), *words, *taped)
    entry.pop("findings")
    assert json.loads((vessel / "slabs.json").read_text()) == [entry]
    assert entry["name"] == "P-1"
    assert entry["thickness_mm"] == pytest.approx(69.85)
    assert (vessel / entry["portrait"]).read_bytes()[:2] == b"\xff\xd8"
    # the same size as the truth, whatever the axes it is laid in
    found, truth = shapely.Polygon(entry["face_top"]), shapely.Polygon(scene.face_mm)
    assert found.area == pytest.approx(truth.area, rel=0.03)
    assert entry["grain"]
    # the same picture as its other face: no card fits a slab that was not turned, so it is said
    again = document(
        "rack", "add", str(vessel), "--photo", str(picture), "--below", str(picture),
        "--name", "P-2", *words[2:], *taped,
    )  # fmt: skip
    assert "S738" in [f["code"] for f in again["findings"]]
    assert again["bottom"] != again["top"]
    assert again["face_bottom"]


@pytest.mark.slow
def test_offcuts_go_back_on_the_rack_with_their_outlines(tmp_path):
    """A timber roughed from a slab leaves offcuts of the slab less its two faces and the kerf; the
    consumed slab stays on the list, and no layout lays anything more on it.
    """
    import shapely

    folder = tmp_path / "marram"
    futtock("new", str(folder), "--demo")
    stated = folder / "vessel.toml"
    stated.write_text(stated.read_text().replace("count = 27", "count = 5"))
    few = json.loads((folder / "slabs.json").read_text())[:30]
    (folder / "slabs.json").write_text(json.dumps(few))
    laid = document("lay", str(folder), "--rounds", "1", "--accept", code=(0, 3))
    place = laid["placements"][0]
    slab, mark = place["slab"], place["mark"]
    words = ("rack", "offcuts", str(folder), "--slab", slab)
    futtock(*words, code=2)  # nothing is roughed out of it yet
    futtock("did", str(folder), mark, "moulded", "--who", "A")
    futtock("did", str(folder), mark, "laid-out", "--slab", slab, "--who", "A")
    futtock("did", str(folder), mark, "roughed", "--who", "A")
    left = document(*words)
    assert left["sawn"] == [mark]
    rack = {s["name"]: s for s in json.loads((folder / "slabs.json").read_text())}
    whole = shapely.Polygon(rack[slab]["bottom"])
    pieces = [shapely.Polygon(s["bottom"]) for s in left["slabs"]]
    assert pieces
    assert all(rack[s["name"]]["top"] == s["top"] for s in left["slabs"])
    mould = next(
        m for m in document("moulds", str(folder), code=(0, 3))["moulds"] if m["mark"] == mark
    )
    for piece in pieces:
        assert piece.within(whole.buffer(0.5))
    room = whole.area - shapely.Polygon(mould["outline_up"]).area
    assert sum(p.area for p in pieces) < room
    futtock("did", str(folder), slab, "consumed", "--who", "A")
    listed = {s["name"]: s["state"] for s in document("rack", "list", str(folder))["slabs"]}
    assert listed[slab] == "consumed"
    again = document("lay", str(folder), "--rounds", "1", code=(0, 3))
    # what was cut out of it is still of it; nothing else is laid there
    assert [p["mark"] for p in again["placements"] if p["slab"] == slab] == [mark]


def test_squares_for_treenails_and_wedges_are_a_stock_of_their_own(vessel):
    """pins.csv is listed with the rack, by use, square and length."""
    rows = "name,use,species,square,length,count,moisture_percent,stack\n"
    rows += "T1,treenail,osage orange,1 in,4-0-0,40,8,loft\nW1,wedge,white oak,7/8 in,1-0-0,60,8,\n"
    (vessel / "pins.csv").write_text(rows)
    pins = document("rack", "list", str(vessel))["pins"]
    assert [(p["use"], p["count"]) for p in pins] == [("treenail", 40), ("wedge", 60)]
    assert pins[0]["length_mm"] == pytest.approx(4 * 304.8)
    # 40 squares of 1 in by 4 ft: 40 x 48 cubic inches
    assert pins[0]["volume_m3"] == pytest.approx(40 * 48 * 0.0254**3, abs=1e-6)
