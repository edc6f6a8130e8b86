"""frames --out: every drawing of the framing, the workbook and the model."""

from __future__ import annotations

import pytest
from command_line import document


@pytest.mark.slow
def test_every_paper_of_the_framing_is_written(marram_copy, tmp_path):
    """Framing plan, body plan, bevel map, cants, rabbet, and of each frame drawing and sheet."""
    stated = marram_copy / "vessel.toml"
    stated.write_text(stated.read_text().replace("count = 27", "count = 9"))
    out = tmp_path / "out"
    told = document("frames", str(marram_copy), "--out", str(out), code=3)
    wanted = {"framing-plan.pdf", "body-plan.pdf", "bevel-map.pdf", "cants.pdf", "rabbet.pdf"}
    wanted |= {f"{kind}-{n}.pdf" for kind in ("frame", "standing") for n in range(1, 10)}
    wanted |= {"workbook.xlsx", "framed.glb"}
    assert wanted <= set(told["files"])
    for name in wanted:
        assert (out / name).stat().st_size > 1000
    assert (out / "cants.pdf").read_bytes().startswith(b"%PDF")
    assert (out / "framed.glb").read_bytes()[:4] == b"glTF"
    # and the same tables as data, from the frames that were drawn
    numbers = [f["number"] for f in told["frames"]]
    assert [s["frame"] for s in told["standing"]] == numbers == list(range(1, 10))
    assert [f["number"] for f in told["bevel_map"]["frames"]] == numbers
    for row, frame, sheet in zip(told["rabbet"], told["frames"], told["standing"], strict=True):
        assert row["x_mm"] == pytest.approx(frame["x_mm"], abs=1e-3)
        assert row["rabbet_up_mm"] < row["apex_up_mm"] < row["bearding_up_mm"]
        heel, head = frame["faces"][1]["edge_mm"][0], frame["faces"][1]["edge_mm"][-1]
        assert sheet["keel_top_mm"] == pytest.approx(heel[1], abs=2e-3)
        sheer = next(p for p in sheet["places"] if p["kind"] == "sheer")
        assert sheer["spread_mm"] == pytest.approx(2 * head[0], abs=2e-3)
    proposed = {c["frame"]: c["angle_deg"] for c in told["cants"]["cants"]}
    assert proposed
    drawn = {v["frame"]: v["cant_deg"] for v in told["cants"]["plan_views"]}
    assert {n: drawn[n] for n in proposed} == proposed
    assert told["cants"]["accept"].startswith("cants = [")
    assert told["as_built"] is None
