"""Scarfs: the keel of common practice, geometry by itself, published ratios, bolts, stopwaters."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from futtock import reference
from futtock.bench.scarf import scarf, scarf_json
from futtock.bench.scarf_rules import verdict
from futtock.bench.scarf_settings import ScarfSettings
from futtock.errors import Misused

IN, FT = 25.4, 304.8
KEEL = ScarfSettings(
    "keel", "nibbed", 16 * IN, 16 * IN, length_mm=6 * FT, adds_mm=13 * FT, bolt_mm=IN
)


def test_the_keel_of_common_practice():
    """A 16 in square keel lengthened 13 ft by a 6 ft scarf: 4.5 to 1, of planks and keels."""
    made = scarf(KEEL)
    assert made.ratio == pytest.approx(4.5)
    assert made.says == (
        "4.5 to 1: longer than the 4 to 1 of planks and short of the 6 to 1 given for keels."
    )
    assert made.new_piece_mm == pytest.approx(19 * FT)
    checks = {c.code: c.meets for c in made.checks}
    assert checks == {"H13": True, "H14": False, "H15": False, "H17": True}
    assert [f.code for f in made.findings] == ["B301"]
    assert "4.5 to 1 is short of the 6 to 1" in made.findings[0].message


@pytest.mark.parametrize(
    ("ratio", "text"),
    [
        (3.0, "3 to 1: short of the 4 to 1 of planks."),
        (4.0, "4 to 1: the 4 to 1 of planks."),
        (8.0, "8 to 1: longer than the 6 to 1 given for keels and short of the 12 to 1 of spars."),
        (14.0, "14 to 1: longer than the 12 to 1 of spars."),
    ],
)
def test_verdict_between_published_ratios(ratio, text):
    """The verdict names the nearest published ratio on either side."""
    assert verdict(ratio) == text


def test_published_ratios_are_the_tables():
    """The ratios used are those printed in hull_rules.csv (H13 to H15, H17, H20)."""
    printed = {r["id"]: r["value"] for r in reference.rows("hull_rules")}
    assert (printed["H13"], printed["H14"], printed["H15"]) == ("4", "6", "12")
    glued = scarf(ScarfSettings("plank", "plain", 30.0, 150.0, ratio=12.0, glued=True))
    assert {c.code: c.least for c in glued.checks}["H20"] == float(printed["H20"])
    beam = {c.code: c.least for c in scarf(KEEL).checks}["H17"]
    assert beam == float(printed["H17"].split("/")[1])  # with bolts, no indents


@given(
    form=st.sampled_from(["plain", "nibbed", "keyed"]),
    depth=st.floats(20, 500),
    ratio=st.floats(3, 15),
    adds=st.floats(0, 6000),
)
def test_the_two_pieces_make_the_member(form, depth, ratio, adds):
    """Old and new lie together without gap or overlap and fill the member's depth."""
    made = scarf(ScarfSettings("shelf", form, depth, 0.8 * depth, ratio=ratio, adds_mm=adds))
    old, new = shapely.Polygon(made.old_mm), shapely.Polygon(made.new_mm)
    assert old.is_valid
    assert new.is_valid
    long = made.settings.long_mm
    whole = shapely.box(-depth / 2, 0, long + depth / 2, depth)
    assert old.intersection(new).area < 1e-6 * whole.area
    assert old.union(new).symmetric_difference(whole).area < 1e-6 * whole.area
    assert old.area == pytest.approx(new.area)
    assert made.new_piece_mm == pytest.approx(long + adds)


def test_nibs_stand_square_and_the_slope_is_between():
    """Each nib is as deep as asked; the slope runs from nib to nib."""
    made = scarf(ScarfSettings("keel", "nibbed", 400.0, 300.0, ratio=6.0, nib_mm=25.4))
    assert made.joint_mm == pytest.approx(
        np.array([[0, 0], [0, 25.4], [2400, 374.6], [2400, 400.0]])
    )
    assert made.slope == pytest.approx(2400 / (400 - 50.8))
    plain = scarf(ScarfSettings("plank", "plain", 30.0, 150.0, ratio=8.0))
    assert plain.joint_mm == pytest.approx(np.array([[0, 0], [240, 30]]))


def test_key_lies_in_the_joint_and_keeps_its_shear_length():
    """The key is centred on the joint, and the wood to the nib against its indent is checked."""
    made = scarf(ScarfSettings("keel", "keyed", 300.0, 250.0, ratio=6.0))
    joint = shapely.LineString(made.joint_mm)
    assert joint.distance(shapely.Point(made.key.at_mm)) < 1e-9
    assert made.key.side_mm == 75.0
    slope = np.hypot(1800.0, 300.0 - 75.0)
    assert made.key.shear_mm == pytest.approx((slope - 75.0) / 2)
    check = next(c for c in made.checks if c.code == "H19")
    assert check.meets == (made.key.shear_mm / 37.5 >= 8)
    short = scarf(ScarfSettings("keel", "keyed", 300.0, 250.0, ratio=3.0, bolts=0, key_mm=120.0))
    assert not next(c for c in short.checks if c.code == "H19").meets


@pytest.mark.parametrize("form", ["nibbed", "keyed"])
def test_bolts_keep_their_distances_and_stagger(form):
    """Bolts stand clear of sides, nibs, key and one another, on either hand in turn."""
    s = ScarfSettings("keel", form, 400.0, 350.0, ratio=6.0, bolt_mm=25.0)
    made = scarf(s)
    x = np.array([b.x_mm for b in made.bolts])
    assert len(x) == 4
    assert x.min() >= 4 * 25.0
    assert 2400 - x.max() >= 4 * 25.0
    assert np.diff(x).min() >= 4 * 25.0
    for a, b in zip(made.bolts[:-1], made.bolts[1:], strict=True):
        assert a.across_mm == -b.across_mm
        assert 350 / 2 - abs(a.across_mm) >= 3 * 25.0
    if form == "keyed":
        assert np.abs(x - 1200).min() >= made.key.side_mm / 2 + 4 * 25.0


def test_as_many_bolts_on_either_side_of_a_key():
    """With a key an odd count is made even, and both halves are bolted alike."""
    made = scarf(ScarfSettings("keel", "keyed", 400.0, 350.0, ratio=7.0, bolt_mm=25.0))
    x = np.array([b.x_mm for b in made.bolts])
    assert len(x) == 6
    assert sorted(2800 - x) == pytest.approx(sorted(x))


@pytest.mark.parametrize("share", np.linspace(0.2, 0.8, 13))
def test_no_bolt_meets_the_stopwater(share):
    """Wherever the joint crosses the rabbet, each bolt passes a diameter clear of the stopwater."""
    made = scarf(
        ScarfSettings(
            "keel", "nibbed", 400.0, 350.0, ratio=6.0, bolt_mm=25.0, rabbet_mm=400 * share
        )
    )
    ((at, _),) = made.stopwaters_mm
    assert len(made.bolts) == 4
    for bolt in made.bolts:
        assert abs(bolt.x_mm - at) >= 1.5 * 25.0 + made.settings.stopwater_mm / 2 - 1e-9
    assert np.diff([b.x_mm for b in made.bolts]).min() >= 4 * 25.0


def test_bolts_without_room_are_said():
    """More bolts than the scarf has room for are a misfit, with the figures."""
    made = scarf(ScarfSettings("keel", "nibbed", 100.0, 90.0, ratio=4.0, bolts=9, bolt_mm=20.0))
    assert made.bolts == ()
    assert "B302" in [f.code for f in made.findings]


def test_stopwater_stands_where_the_joint_crosses_the_rabbet():
    """The stopwater lies on the joint at the rabbet's height; without a rabbet there is none."""
    made = scarf(ScarfSettings("keel", "nibbed", 400.0, 300.0, ratio=6.0, rabbet_mm=300.0))
    ((x, y),) = made.stopwaters_mm
    assert y == 300.0
    assert shapely.LineString(made.joint_mm).distance(shapely.Point(x, y)) < 1e-9
    assert "B303" in [f.code for f in made.findings]
    assert scarf(KEEL).stopwaters_mm == ()


def test_strength_is_labelled_for_what_it_is():
    """Strength figures say what they were measured on, or that none was found; never a design."""
    glued = scarf(ScarfSettings("plank", "plain", 30.0, 150.0, ratio=10.0, glued=True))
    assert "85 percent of clear wood" in glued.strength[0]
    assert "from memory" in glued.strength[0]
    keyed = scarf(ScarfSettings("keel", "keyed", 300.0, 250.0, ratio=6.0))
    assert "27.5 to 31 percent" in keyed.strength[0]
    assert "pine beams" in keyed.strength[0]
    assert "No published strength" in scarf(KEEL).strength[0]
    for made in (glued, keyed, scarf(KEEL)):
        assert "not a design" in made.strength[-1]
        assert "never across" in made.grain


def test_document_of_a_scarf():
    """The JSON document carries the joint, the bolts and every check with its source."""
    document = scarf_json(scarf(KEEL))
    assert document["ratio"] == 4.5
    assert len(document["bolts"]) == len(scarf(KEEL).bolts) > 0
    assert all(len(c["source"]) > 10 and len(c["how"]) > 3 for c in document["checks"])


@pytest.mark.parametrize(
    ("kwargs", "says"),
    [
        ({"ratio": 4.0, "length_mm": 100.0}, "one of them"),
        ({}, "one of them"),
        ({"ratio": 0.0}, "more than nothing"),
        ({"ratio": 4.0, "nib_mm": 200.0}, "half the depth"),
        ({"ratio": 4.0, "rabbet_mm": 500.0}, "rabbet"),
        ({"ratio": 4.0, "adds_mm": -1.0}, "nothing or more"),
    ],
)
def test_senseless_scarfs_are_refused(kwargs, says):
    """What cannot be drawn is refused in a sentence."""
    with pytest.raises(Misused, match=says):
        ScarfSettings("keel", "nibbed", 400.0, 300.0, **kwargs)
