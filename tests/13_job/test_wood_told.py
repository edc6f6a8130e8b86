"""What a slab's drying and its grain do to the timber is told where the slab is."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from readback import read_svg_paths

from futtock.job import rack
from futtock.progress import quiet
from futtock.stock.species import species


@pytest.fixture
def few(marram_copy: Path) -> Path:
    """Marram with three slabs: at 27 %, at 15 % as in service, and never metered."""
    slabs = json.loads((marram_copy / "slabs.json").read_text("utf-8"))[:3]
    for slab, percent in zip(slabs, (27.0, 15.0, None), strict=True):
        slab["moisture_percent"] = percent
    (marram_copy / "slabs.json").write_text(json.dumps(slabs), "utf-8")
    return marram_copy


def _wetter(mm: float, shrinkage: float, now: float, service: float) -> float:
    """Wood Handbook equation 13-3 by hand: the size now of what is ``mm`` in service, less it."""
    share = shrinkage / 100.0 / 30.0
    return mm * (1 - share * (30 - now)) / (1 - share * (30 - service)) - mm


def test_what_to_leave_stands_with_each_slab(few):
    """For each slab the least and the most to leave, sided and moulded, by the printed shrinkages;
    nothing for one that is dry, no figure for one never metered.
    """
    answer = rack.count(str(few), quiet)
    wet, dry, unknown = (s["to_leave"] for s in answer.document["slabs"])
    oak = species("white oak")
    for key, mm in (("sided_mm", 1.875 * 25.4), ("moulded_mm", 5 * 25.4)):
        least, most = (_wetter(mm, p.value, 27.0, 15.0) for p in (oak.radial, oak.tangential))
        assert wet[key] == pytest.approx([least, most], abs=0.006)
        assert dry[key] == [0.0, 0.0]
    assert wet["service_percent"] == 15.0
    assert unknown is None
    sided = " to ".join(f"{v:.1f}" for v in wet["sided_mm"])
    assert f"from 27 % to 15 % in service leave {sided} mm on 1 7/8 in sided" in answer.account


def test_the_grain_sheet_says_what_the_grain_leaves(few, tmp_path):
    """Below the slab stand the figures of ANC-18 beside the others at the slope allowed, each with
    what it is a percentage of, and the caution.
    """
    stated = (few / "vessel.toml").read_text("utf-8")
    name = json.loads((few / "slabs.json").read_text("utf-8"))[0]["name"]
    for slope, left in ((10, "bending modulus of rupture 78 %"), (12, "modulus of rupture 88 %")):
        (few / "vessel.toml").write_text(
            stated.replace("grain_slope = 10", f"grain_slope = {slope}"), "utf-8"
        )
        rack.draw(str(few), quiet, out=str(tmp_path), names=[name])
        drawn = (tmp_path / f"slab-{name}-grain.svg").read_text("utf-8")
        assert f"1 in {slope}, the steepest allowed" in drawn
        assert left in drawn
        assert "percent of the design value" in drawn
        assert "from memory" in drawn
        assert "not a design" in drawn
        assert read_svg_paths(drawn)[0]
