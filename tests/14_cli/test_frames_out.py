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
