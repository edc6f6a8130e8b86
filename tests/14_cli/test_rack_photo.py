"""Slabs by photograph at the command line: the other face, wane, corrections from a file."""

from __future__ import annotations

import json
import re
from pathlib import Path

import cv2
import numpy as np
import pytest
import shapely
from command_line import document, futtock
from photo_cases import cards_at_the_edges, off, turned_over

SAID = ("--name", "P-1", "--thickness", "2 in", "--cards-on", "floor")
WANE = "unit,mm\nstation,wane left,wane right\n0,30,20\n"
TOUCHES = [
    {"what": "flaw", "kind": "rot", "points": [[-60, -20], [40, -20], [0, 60]]},
    {"what": "drop", "points": [[9000, 0]]},
]


@pytest.fixture(scope="module")
def photos(tmp_path_factory) -> Path:
    """A folder with both faces of a slab photographed, cards standing out at its edges."""
    folder = tmp_path_factory.mktemp("photos")
    scene = cards_at_the_edges()
    cv2.imwrite(str(folder / "top.png"), scene.image)
    cv2.imwrite(str(folder / "below.png"), turned_over(scene))
    np.save(folder / "face.npy", scene.face_mm)
    return folder


@pytest.fixture
def vessel(tmp_path) -> Path:
    """A folder as 'new' writes it, with no rack yet."""
    folder = tmp_path / "vessel"
    futtock("new", str(folder))
    return folder


def ring(entry, key) -> shapely.Polygon:
    return shapely.Polygon(entry[key])


@pytest.mark.slow
def test_both_faces_are_tied_by_their_cards(vessel, photos):
    """Two photographs, cards left in place: it says that they tie the faces, the second face lies
    on the first as the slab was drawn, and the slab is of its size: drawn as high as the cards, it
    is taken for nearer than they by its thickness, and comes out smaller by that."""
    words = ("--photo", str(photos / "top.png"), "--below", str(photos / "below.png"))
    done = futtock("rack", "add", str(vessel), *words, *SAID)
    assert "Its other face is tied by cards 0, 1, 2, 3, 4, " in done.stdout
    (entry,) = json.loads((vessel / "slabs.json").read_text())
    assert off(np.array(entry["face_bottom"]), np.array(entry["face_top"])) < 8
    height = re.search(r"top.png: the camera is taken to be ([\d.]+) m", done.stderr)
    share = 1 - 50.8 / (1000 * float(height[1]))
    truth = shapely.Polygon(np.load(photos / "face.npy")).area * share**2
    assert ring(entry, "face_top").area == pytest.approx(truth, rel=0.01)


@pytest.mark.slow
def test_wane_by_tape_and_corrections_from_a_file(vessel, photos, tmp_path):
    """The tape's words for wane give the bottom, on the side of one who stands at the card named;
    rot drawn in the file is on the slab, and a correction that meets nothing is told by number."""
    (tmp_path / "wane.csv").write_text(WANE)
    (tmp_path / "touches.json").write_text(json.dumps(TOUCHES))
    words = ("--photo", str(photos / "top.png"), *SAID)
    more = ("--wane", str(tmp_path / "wane.csv"), "--butt", "0")
    touched = ("--corrections", str(tmp_path / "touches.json"))
    entry = document("rack", "add", str(vessel), *words, *more, *touched)
    assert [d["kind"] for d in entry["defects"]] == ["rot"]
    assert [f["line"] for f in entry["findings"] if f["code"] == "S736"] == [2]
    long = np.ptp(np.array(entry["face_top"])[:, 0])
    for above, below in (("top", "bottom"), ("face_top", "face_bottom")):
        gained = ring(entry, below).area - ring(entry, above).area
        assert gained == pytest.approx(50 * long, rel=0.03)
    entry.pop("findings")
    assert json.loads((vessel / "slabs.json").read_text()) == [entry]


def test_what_cannot_be_read_beside_a_photograph_is_told_at_once(vessel, photos, tmp_path):
    """A cell of the wane, a correction, a slab not in the record: the place is named, exit 1 or 2,
    before the picture is read, and nothing is put on the rack."""
    words = ("rack", "add", str(vessel), "--photo", str(photos / "top.png"), *SAID)
    file = tmp_path / "given"
    file.write_text("station,wane left\n0,3 in\n1-0-0,much\n")
    told = document(*words, "--wane", str(file), code=1)["findings"]
    assert [(f["code"], f["line"], f["column"]) for f in told] == [("S401", 3, 2)]
    file.write_text("slab,A\nstation,wane left\n0,3 in\nslab,B\nstation,wane left\n0,3 in\n")
    assert "A, B" in futtock(*words, "--wane", str(file), code=2).stderr
    file.write_text("station,top left\n0,3 in\n")
    assert document(*words, "--wane", str(file), code=1)["findings"][0]["code"] == "S409"
    file.write_text('[{"what": "point"}]')
    told = document(*words, "--corrections", str(file), code=1)["findings"]
    assert [f["code"] for f in told] == ["S739"]
    assert told[0]["remedy"]
    gone = document(*words, "--corrections", str(tmp_path / "none.json"), code=1)
    assert gone["findings"][0]["code"] == "S739"
    both = ("--wane", str(file), "--below", str(photos / "below.png"))
    assert "give one" in futtock(*words, *both, code=2).stderr
    assert "--wane" in futtock(*words, "--butt", "3", code=2).stderr
    futtock("rack", "add", str(vessel), "--tape", "a.csv", "--corrections", str(file), code=2)
    assert not (vessel / "slabs.json").exists()
