"""The whole job on Marram, from nothing to a folder that shows it."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from command_line import document
from shapely import Polygon

from futtock.layout.document import placements_from_json


@pytest.fixture(scope="module")
def shown(tmp_path_factory) -> tuple[Path, dict]:
    """The demo's folder and its document, after a short search."""
    out = tmp_path_factory.mktemp("demo") / "out"
    return out, document("demo", "--out", str(out), "--seconds", "2")


@pytest.mark.slow
def test_the_demo_tells_the_whole_job(shown, marram_dir):
    """The account speaks of her two slips, 27 frames, and timbers that are placed or named."""
    _, told = shown
    assert len(told["doubtful"]) == 2
    assert told["frames"] == 27
    assert 0 < told["placed"] <= told["timbers"]
    assert 0 < told["yield"] < 1
    assert told["treenails"] > 8 * told["frames"]
    assert told["mass_kg"] > 300


@pytest.mark.slow
def test_every_picture_and_link_of_the_page_is_there(shown):
    """The page names only files that were written, and asks the network for nothing."""
    out, told = shown
    page = (out / "index.html").read_text()
    named = set(re.findall(r'(?:src|href)="([^"#]+)"', page))
    assert named
    assert not [n for n in named if "://" in n]
    assert [n for n in named if not (out / n).exists()] == []
    assert set(told["files"]) >= {n for n in named if n.startswith("drawings/")}


@pytest.mark.slow
def test_the_layout_holds_when_looked_at_from_outside(marram_copy):
    """Placements from the JSON alone: each face in its face of the slab, the kerf between them."""
    moulds = {m["mark"]: m for m in document("moulds", str(marram_copy), code=3)["moulds"]}
    laid = document("lay", str(marram_copy), "--rounds", "60", "--seed", "1", code=3)
    slabs = {s["name"]: s for s in json.loads((marram_copy / "slabs.json").read_text())}
    placed: dict[str, list[Polygon]] = {}
    for p in placements_from_json(laid):
        mould, slab = moulds[p.mark], slabs[p.slab]
        up, down = (Polygon(p.lay(mould[k])).buffer(0) for k in ("outline_up", "outline_down"))
        top, bottom = Polygon(slab["top"]).buffer(0), Polygon(slab["bottom"]).buffer(0)
        on_top, on_bottom = (down, up) if p.mirrored else (up, down)
        assert on_top.difference(top.buffer(0.6)).area < 1
        assert on_bottom.difference(bottom.buffer(0.6)).area < 1
        for other in placed.setdefault(p.slab, []):
            assert up.union(down).distance(other) > 6.35 - 0.3
        placed[p.slab].append(up.union(down))
    assert sum(map(len, placed.values())) > 100


@pytest.mark.slow
def test_the_same_rounds_give_the_same_layout(marram_copy):
    """One seed and number of rounds: the same placements twice."""
    first, second = (
        document("lay", str(marram_copy), "--rounds", "30", "--seed", "3", code=3) for _ in range(2)
    )
    assert first["placements"] == second["placements"]
