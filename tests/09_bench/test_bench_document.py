"""The document of the bench: fixed keys, every timber, and nothing that JSON cannot carry."""

import json

import pytest
from exact_frames import cone_frame, sphere_frame

from futtock.bench.bedding import bedding
from futtock.bench.document import sheets_json
from futtock.bench.fastening import FasteningSettings
from futtock.bench.holes import lay_holes
from futtock.bench.order import sawing_order
from futtock.bench.saw import SawSettings
from futtock.bench.sawing import saw_sheets
from futtock.bench.thicknessing import Rough, thickness_pieces
from futtock.bench.treenails import fastenings
from futtock.moulds.flat import moulds
from futtock.moulds.settings import MouldSettings


@pytest.fixture(scope="module")
def document():
    frames = [cone_frame(12.0, number=1), sphere_frame(number=2)]
    made = moulds(frames, MouldSettings())
    saw = saw_sheets(made, SawSettings())
    rule = FasteningSettings()
    whole = fastenings(lay_holes(frames, rule), rule)
    text = json.dumps(
        sheets_json(
            saw,
            whole,
            made,
            frames,
            thickness=thickness_pieces([Rough("A", 70.0, 2000.0, 300.0)], 50.0),
            bedded=bedding(made, 1.5),
            order=sawing_order(saw, SawSettings()),
        ),
        allow_nan=False,
    )
    return made, json.loads(text)


def test_fixed_keys_of_the_sheets(document):
    """saw, treenails, thickness and mass have the keys that outside checks read."""
    made, whole = document
    assert {"saw", "treenails", "thickness", "mass"} <= set(whole)
    assert [s["mark"] for s in whole["saw"]] == [m.mark for m in made]
    for sheet in whole["saw"]:
        assert sheet["face_up"] in ("forward", "aft")
        assert [c["edge"] for c in sheet["cuts"]] == ["outer", "inner"]
        for cut in sheet["cuts"]:
            assert cut["feed"] in ("heel first", "head first")
            assert cut["kept"] in ("left", "right")
            assert {"edge", "feed", "kept", "head", "marks", "turns", "blade_ok"} <= set(cut)
            at = [m["at_mm"] for m in cut["marks"]]
            assert at == sorted(at)
            assert all({"at_mm", "deg", "head"} <= set(m) for m in cut["marks"])
            biggest = max(cut["marks"], key=lambda m: m["deg"])
            assert cut["head"] == biggest["head"]
    assert {"holes", "diameter_mm", "lengths_mm"} <= set(whole["treenails"])
    assert whole["treenails"]["holes"] == sum(f["holes"] for f in whole["treenails"]["frames"])


def test_masses_agree(document):
    """Timbers' and frames' masses add up to the same sum."""
    made, whole = document
    mass = whole["mass"]
    assert mass["total_kg"] == pytest.approx(sum(m.mass_kg for m in made), abs=0.01)
    assert mass["total_kg"] == pytest.approx(sum(f["mass_kg"] for f in mass["frames"]), abs=0.05)
    assert whole["bedding"]["joint_m2"] > 0
    assert len(whole["thickness"]["pieces"]) == 1
    cuts = sum(len(b["cuts"]) for b in whole["order"]["batches"])
    assert cuts == 2 * len(made)
