"""``lay --divide``, ``--seeds``, ``--limit``: a frame, and boards too short for its timbers."""

from __future__ import annotations

import csv
import json
from itertools import pairwise
from pathlib import Path

import pytest
from command_line import document, futtock

BOARD = 1080.0
SHIFT = 355.6  # 1-2-0
LONGEST = 1371.6  # 4-6-0


@pytest.fixture(scope="module")
def vessel(tmp_path_factory) -> Path:
    """One frame of the demo vessel whose grain may run as steep as 1 in 2, and ten broad boards."""
    folder = tmp_path_factory.mktemp("choices") / "vessel"
    futtock("new", str(folder), "--demo")
    stated = folder / "vessel.toml"
    text = stated.read_text().replace('first = "2-9-0"', 'first = "12-0-0"')
    text = text.replace("count = 27", "count = 1").replace("grain_slope = 10", "grain_slope = 2")
    stated.write_text(text)
    ring = [[0, 0], [BOARD, 0], [BOARD, 420], [0, 420]]
    grain = [[[10, y], [BOARD - 10, y]] for y in (105, 210, 315)]
    board = {"species": "white oak", "thickness_mm": 70, "top": ring, "grain": grain, "stack": "A"}
    rack = [{**board, "name": f"A-{k}"} for k in range(10)]
    (folder / "slabs.json").write_text(json.dumps(rack))
    return folder


def test_every_seed_and_limit_is_told(vessel):
    """A run for each seed and limit of grain; the answer is the best at the first limit."""
    words = ("--seeds", "2", "--limit", "2", "--limit", "9", "--rounds", "2")
    answer = document("lay", str(vessel), *words, code=(0, 3))
    runs = [(r["grain_slope"], r["seed"]) for r in answer["runs"]]
    assert runs == [(2, 0), (2, 1), (9, 0), (9, 1)]
    of_two = [r["placed"] for r in answer["runs"][:2]]
    assert len(answer["placements"]) == max(of_two)
    assert max(r["placed"] for r in answer["runs"][2:]) <= max(of_two)  # straighter grain is rarer
    timbers = len(answer["placements"]) + len(answer["unplaced"])
    assert all(r["placed"] + r["unplaced"] == timbers for r in answer["runs"])


def test_misuse_of_seeds_and_limits(vessel):
    """No seeds, and a limit steeper than 1 in 1, are misuse."""
    futtock("lay", str(vessel), "--seeds", "0", code=2)
    futtock("lay", str(vessel), "--limit", "0.5", code=2)


def test_butts_are_chosen_for_the_rack_and_written(vessel):
    """Boards too short for the frame as it is give more of another division, by the rules."""
    before = document("frames", str(vessel), code=(0, 3))["frames"][0]["timbers"]
    assert max(t["length_mm"] for t in before) > BOARD
    answer = document("lay", str(vessel), "--divide", "--rounds", "4", code=(0, 3))
    was, now = answer["before"], answer["after"]
    assert answer["changed"] == [1]
    assert now["short_m2"] < was["short_m2"]
    with (vessel / "futtocks.csv").open() as file:
        rows = list(csv.DictReader(file))
    assert {r["frame"] for r in rows} == {"1"}
    frame = document("frames", str(vessel), code=(0, 3))["frames"][0]
    timbers = frame["timbers"]
    assert len(timbers) == now["timbers"]
    assert max(t["length_mm"] for t in timbers) <= LONGEST + 0.5
    butts = {}
    for layer in "fa":
        own = sorted(t["girth_mm"] for t in timbers if (t["layer"], t["side"]) == (layer, "S"))
        assert all(a[1] == pytest.approx(b[0], abs=0.5) for a, b in pairwise(own))
        butts[layer] = [g[1] for g in own[:-1]]
        written = [
            float(r["butt"].removesuffix(" mm")) for r in rows if r["layer"] == layer and r["butt"]
        ]
        assert sorted(set(written)) == pytest.approx(butts[layer], abs=0.5)
    assert min(abs(p - q) for p in butts["f"] for q in butts["a"]) >= SHIFT - 0.5
    assert {p["mark"] for p in answer["placements"]} <= {t["mark"] for t in timbers}


def test_butts_that_are_stated_stay(vessel):
    """Once written the butts are the builder's: dividing again changes nothing, and says so."""
    if not (vessel / "futtocks.csv").exists():
        (vessel / "futtocks.csv").write_text("frame,layer,side,butt\n1,f,,1200 mm\n1,a,,800 mm\n")
    before = (vessel / "futtocks.csv").read_bytes()
    answer = document("lay", str(vessel), "--divide", "--rounds", "1", code=(0, 3))
    assert "J021" in [f["code"] for f in answer["findings"]]
    assert answer["changed"] == []
    assert (vessel / "futtocks.csv").read_bytes() == before
