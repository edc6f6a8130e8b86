"""Sound knots and sapwood: what the builder allows changes what a layout accepts."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from layout_cases import knot, plank, strip

from futtock.job.settings import lay_settings
from futtock.layout.exact import Court
from futtock.layout.knots import widest_ground
from futtock.layout.lay import lay
from futtock.layout.placement import Placement
from futtock.layout.problem import prepare
from futtock.layout.proof import certify
from futtock.layout.settings import LaySettings
from futtock.stock.sound import FlawRules
from futtock.vessel import read_folder

BAR = strip("1-P-f1", np.c_[np.linspace(0, 900, 31), np.zeros(31)], 100.0)
SMALL = replace(LaySettings(kerf_mm=6.0), rules=FlawRules(knot_mm=25.0))


def _stated(folder: Path, words: str) -> LaySettings:
    """The layout's settings of a vessel.toml that says this under ``[timber]``."""
    (folder / "vessel.toml").write_text(f"[timber]\n{words}\n", "utf-8")
    stated = read_folder(folder)
    assert {f.code for f in stated.findings if f.severity == "fault"} <= {"V002"}  # no offsets
    return lay_settings(stated.vessel)


def _at(y: float) -> Placement:
    """The bar along the plank, its middle line so high."""
    return Placement("1-P-f1", "P", 0.0, (50.0, y), False, 0.0, 0.0)


@pytest.mark.parametrize(
    ("words", "y", "fits"),
    [
        ("", 60.0, False),
        ('sound_knots = "25 mm"', 60.0, True),
        ('sound_knots = "19 mm"', 60.0, False),
        ('sound_knots = "25 mm"', 76.0, False),
        ('sound_knots = "25 mm"\nknots_within = 0.5', 76.0, True),
        ('sound_knots = "25 mm"\nknots_within = 0.05', 60.0, False),
    ],
)
def test_a_knot_by_size_and_place(tmp_path, words, y, fits):
    """A knot 20 mm wide in a bar 100 mm deep: allowed as wide as stated, and wholly within the
    stated share of the depth from the middle line.
    """
    slab = plank("P", 1000.0, 160.0, flaws=[knot(500.0, 60.0, 10.0)])
    verdict = Court([BAR], [slab], _stated(tmp_path, words)).judge(_at(y))
    assert verdict.passes == fits
    assert {f.what for f in verdict.faults} <= {"flaw"}


def test_a_knot_by_the_end_is_never_in_the_middle():
    """Beside a butt there is no depth about a knot: it bars the timber though it is on the line."""
    for x, fits in ((500.0, True), (60.0, False), (945.0, False)):
        slab = plank("P", 1000.0, 160.0, flaws=[knot(x, 60.0, 10.0)])
        assert Court([BAR], [slab], SMALL).judge(_at(60.0)).passes == fits


def test_a_timber_without_a_place_is_laid_over_a_small_knot(tmp_path):
    """A plank that a row of small knots divides gives a long bar only where the builder allows
    them; the knot beside its edge it keeps clear of, and the finding names it.
    """
    knots = [knot(480.0, 95.0, 9.0), knot(300.0, 12.0, 9.0)]
    slab = plank("P", 1000.0, 150.0, flaws=knots)
    strict = _stated(tmp_path, "")
    assert lay([BAR], [slab], replace(strict, thickness_mm=45.0), rounds=2).unplaced == ("1-P-f1",)
    allowed = replace(_stated(tmp_path, 'sound_knots = "1 in"'), thickness_mm=45.0)
    found = lay([BAR], [slab], allowed, rounds=2)
    (placed,) = found.placements
    assert [f.code for f in found.findings if f.read == "1-P-f1"] == ["P112"]
    assert Court([BAR], [slab], allowed).judge(placed).passes
    wood = shapely.Polygon(placed.lay(BAR.outline_up_mm))
    line = shapely.LineString(placed.lay(BAR.grain_mm))
    assert wood.intersects(shapely.Polygon(knots[0].outline_mm))
    for one in knots:
        ring = shapely.Polygon(one.outline_mm)
        if wood.intersects(ring):
            assert line.hausdorff_distance(ring) > 0
            assert max(line.distance(shapely.Point(p)) for p in one.outline_mm) <= 25.0


def test_clear_wood_comes_first():
    """Where a clear place is to be had, no timber is laid over a knot."""
    slabs = [plank("K", 1000.0, 120.0, flaws=[knot(500.0, 60.0, 9.0)]), plank("C", 1000.0, 120.0)]
    found = lay([BAR], slabs, SMALL, rounds=2)
    assert [p.slab for p in found.placements] == ["C"]
    assert found.findings == ()


def test_no_proof_counts_an_allowed_knot_as_unsound():
    """That a timber fits a slab nowhere is proven under strict rules, and not where the knot that
    is in its way may stay.
    """
    slab = plank("P", 1000.0, 120.0, flaws=[knot(500.0, 60.0, 9.0)])
    strict = prepare([BAR], [slab], replace(SMALL, rules=FlawRules()))
    assert certify(strict).proven.tolist() == [[True]]
    allowed = prepare([BAR], [slab], SMALL)
    assert certify(allowed).proven.tolist() == [[False]]
    assert widest_ground(strict) is strict.ground


@pytest.mark.parametrize(
    ("words", "species", "fits"),
    [
        ("", "white oak", False),
        ('sapwood = "never"', "white oak", False),
        ('sapwood = "allowed"', "white oak", True),
        ('sapwood = ["White-Oak"]', "white oak", True),
        ('sapwood = ["elm"]', "white oak", False),
        ('sapwood = ["elm", "larch"]', "larch", True),
    ],
)
def test_sapwood_by_species(tmp_path, words, species, fits):
    """A bar as broad as the whole face lies in it only where the sapwood of that species may be
    used; by any of the species' names.
    """
    heart = np.array([[0.0, 20.0], [1000.0, 20.0], [1000.0, 90.0], [0.0, 90.0]])
    whole = np.array([[0.0, 0.0], [1000.0, 0.0], [1000.0, 120.0], [0.0, 120.0]])
    slab = replace(
        plank("P", 1000.0, 120.0), species=species, top_mm=heart, bottom_mm=heart,
        face_top_mm=whole, face_bottom_mm=whole,
    )  # fmt: skip
    settings = replace(_stated(tmp_path, words), thickness_mm=45.0)
    assert Court([BAR], [slab], settings).judge(_at(60.0)).passes == fits
    assert len(lay([BAR], [slab], settings, rounds=2).placements) == int(fits)
