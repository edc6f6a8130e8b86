"""The document of frames: fixed keys, plain values, axes as stated."""

from __future__ import annotations

import json

import numpy as np
from exact_surfaces import keeled, settings

from futtock.framing.build import frame_hull
from futtock.framing.json import framing_json


def test_the_document_holds_the_fixed_keys_and_round_trips():
    """Every key that outside checks read is there, and the text of it reads back the same."""
    framing = frame_hull(keeled(), settings(longest_mm=1500.0, notch_mm=10.0))
    document = framing_json(framing)
    assert json.loads(json.dumps(document)) == document
    assert document["largest_lean_deg"] == round(framing.largest_lean_deg, 6)
    for frame, drawn in zip(document["frames"], framing.frames, strict=True):
        assert {"number", "x_mm", "cant_deg", "rake_deg", "faces", "timbers"} <= set(frame)
        assert [f["name"] for f in frame["faces"]] == ["forward", "joint", "aft"]
        for face in frame["faces"]:
            n = len(face["edge_mm"])
            assert n >= 100
            assert {len(face[k]) for k in ("edge_mm", "lean_deg", "inner_mm")} == {n}
            assert np.abs(np.array(face["edge_mm"]) - drawn.face(face["name"]).edge_mm).max() < 1e-5
            assert face["edge_mm"][0][1] < face["edge_mm"][-1][1]
        for timber in frame["timbers"]:
            assert {
                "mark", "layer", "side", "girth_mm", "length_mm", "wide_mm", "sweep_mm",
            } <= set(timber)  # fmt: skip
            number, side, layer = timber["mark"].split("-")
            assert (int(number), side, layer[0]) == (
                frame["number"], timber["side"], timber["layer"],
            )  # fmt: skip
