"""Thicknessing, bedding and cautions."""

import numpy as np
import pytest
import shapely
from exact_frames import cone_frame
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog

from futtock import reference
from futtock.bench.bedding import bedding
from futtock.bench.cautions import cautions
from futtock.bench.thicknessing import Rates, Rough, thickness_piece, thickness_pieces
from futtock.errors import Misused
from futtock.moulds.flat import moulds
from futtock.moulds.settings import MouldSettings
from futtock.stock.species import species


@given(
    cup=st.floats(-6, 6),
    bow=st.floats(-8, 8),
    twist=st.floats(0, 12),
)
def test_flatness_is_the_best_pair_of_planes(cup, bow, twist):
    """No tilted pair of planes holds the warped face closer: checked by linear programming."""
    rough = Rough("A", 70.0, 2000.0, 300.0, cup, bow, twist)
    half = np.linspace(-0.5, 0.5, 41)
    u, v = (g.ravel() for g in np.meshgrid(half, half))
    z = cup * (1 - 4 * v * v) + bow * (1 - 4 * u * u) + twist * u * v
    # least width w of a slab z - (a u + b v + c) in [0, w]
    one = np.ones_like(u)
    rows = np.stack([u, v, one, 0 * one], axis=1)
    upper = np.stack([-u, -v, -one, -one], axis=1)
    got = linprog(
        [0, 0, 0, 1],
        np.concatenate([rows, upper]),
        np.concatenate([z, -z]),
        bounds=[(None, None)] * 3 + [(0, None)],
    )
    assert rough.flatness_mm == pytest.approx(got.fun, abs=0.02)


def test_twist_alone_is_half_the_lifted_corner():
    """One corner 8 mm up with three down costs 4 mm: two corners rise and two fall by half."""
    assert Rough("A", 70.0, 2000.0, 300.0, twist_mm=8.0).flatness_mm == pytest.approx(4.0)
    assert Rough("A", 70.0, 2000.0, 300.0, cup_mm=3.0).flatness_mm == pytest.approx(3.0)


def test_two_and_three_quarters_to_a_layer():
    """2-3/4 in rough makes a layer of 2 to 2-1/4 in (two layers 4 to 4-1/2; common practice)."""
    inch = 25.4
    rough = Rough("A", 2.75 * inch, 1800.0, 300.0, cup_mm=4.0, bow_mm=3.0, twist_mm=4.0)
    for layer in (2.0, 2.25):
        got = thickness_piece(rough, layer * inch)
        assert got.fits
        assert got.passes[-1].left_mm == pytest.approx(layer * inch)
    assert not thickness_piece(rough, 2.5 * inch).fits


@given(
    thick=st.floats(45, 90),
    cup=st.floats(-5, 5),
    twist=st.floats(0, 10),
    first=st.floats(0.5, 3),
    finish=st.floats(0.2, 1),
)
def test_passes_add_up(thick, cup, twist, first, finish):
    """Depths add up from the whole warped height to the size; no pass is deeper than stated."""
    rough = Rough("A", thick, 1500.0, 250.0, cup_mm=cup, twist_mm=twist)
    rates = Rates(first_mm=first, second_mm=first, finish_mm=finish)
    got = thickness_piece(rough, 47.6, rates)
    total = sum(p.depth_mm for p in got.passes)
    end = 47.6 if got.fits else got.attainable_mm
    assert thick + rough.flatness_mm - total == pytest.approx(end)
    assert got.passes[-1].left_mm == pytest.approx(end)
    assert max(p.depth_mm for p in got.passes) <= max(first, finish) + 1e-9
    assert [p.face for p in got.passes] == sorted(p.face for p in got.passes)
    if got.fits:
        faces = {f: sum(p.depth_mm for p in got.passes if p.face == f) for f in ("first", "second")}
        assert faces["first"] == pytest.approx(faces["second"])
    else:
        assert [f.code for f in got.findings] == ["B201"]


def test_cut_shorter_it_is_flatter():
    """Half the length has a quarter of the bow and half the twist, and then it is enough."""
    long = Rough("A", 56.0, 3000.0, 300.0, bow_mm=8.0, twist_mm=4.0)
    short = long.cut_to(1500.0, 300.0)
    assert (short.bow_mm, short.twist_mm) == (2.0, 2.0)
    assert not thickness_piece(long, 47.6).fits
    assert thickness_piece(short, 47.6).fits
    assert long.cut_to(9000.0, 900.0) == long


def test_wet_oak_is_left_thicker():
    """White oak at 20 % for service at 12 %: the allowance is that of its tangential shrinkage."""
    oak = species("white oak")
    rough = Rough("A", 70.0, 1500.0, 250.0, moisture_percent=20.0)
    got = thickness_piece(rough, 47.625, wood=oak, service_percent=12.0)
    # Wood Handbook equation 13-3: size = green (1 - S (30 - M) / 3000), S the published shrinkage
    share = oak.tangential.value / 100 / 30
    wet = 47.625 * (1 - share * 10) / (1 - share * 18)
    assert got.sided_mm == pytest.approx(wet)
    assert [f.code for f in got.findings] == ["B202"]
    dry = thickness_piece(rough, 47.625)
    assert dry.sided_mm == 47.625


def test_time_only_where_rates_are_stated():
    """Minutes are passes times area times the rate, and setting up; none without a rate."""
    rough = Rough("A", 70.0, 2000.0, 250.0)
    got = thickness_piece(rough, 47.6, Rates(minutes_m2=3.0, set_minutes=5.0))
    assert got.minutes == pytest.approx(3.0 * 0.5 * len(got.passes) + 10.0)
    assert thickness_piece(rough, 47.6).minutes is None
    plan = thickness_pieces([rough, Rough("B", 40.0, 2000.0, 250.0)], 47.6)
    assert plan.fail == ("B",)
    assert plan.minutes is None


def test_crowned_face_first():
    """The crowned face is made flat first, the hollow one down."""
    assert thickness_piece(Rough("A", 70, 2000, 250, cup_mm=3), 47.6).first_face == "top"
    assert thickness_piece(Rough("A", 70, 2000, 250, cup_mm=-3), 47.6).first_face == "bottom"


def test_senseless_sizes_are_refused():
    """A piece without thickness and a pass without depth are refused."""
    with pytest.raises(Misused):
        Rough("A", 0.0, 1.0, 1.0)
    with pytest.raises(Misused):
        Rates(first_mm=0.0)


def test_joint_area_of_a_cone_frame():
    """The joint's area is the ring sector of the joint face, both sides; litres follow coverage."""
    frame = cone_frame(12.0, moulded_mm=100.0, angles_deg=(15, 115))
    made = moulds([frame], MouldSettings())
    got = bedding(made, 1.5, spare_percent=10.0)
    r = 4000.0 * np.tan(np.radians(12.0))
    area = 2 * (r**2 - (r - 100.0) ** 2) / 2 * np.radians(100.0) * 1e-6
    assert got.joint_m2 == pytest.approx(area, rel=2e-3)
    assert got.litres == pytest.approx(got.joint_m2 / 1.5 * 1.1)
    assert got.frames[0].frame == 1
    faces = sum(shapely.Polygon(m.outline_up_mm).area for m in made if m.layer == "f") * 1e-6
    assert got.joint_m2 == pytest.approx(faces, rel=1e-3)
    with pytest.raises(Misused):
        bedding(made, 0.0)


@pytest.mark.parametrize(
    "sheet",
    [
        "sawing",
        "thicknessing",
        "fastening",
        "bedding",
        "lifting",
        "scarf",
        "rebuilding",
        "saw test",
    ],
)
def test_cautions_carry_their_figures_sources(sheet):
    """Cautions end with local rules first; figures are those of the table, with sources."""
    said = cautions(sheet)
    assert said[-1].text == "Local rules and a competent person come first."
    ids = {r["id"] for r in reference.rows("safety_limits")}
    for caution in said:
        assert set(caution.rows) <= ids
        assert len(caution.sources) == len(caution.rows)


def test_cautions_say_what_must_be_said():
    """Dust, noise, the guard, the 23 kg and lead are each on the sheet they belong to."""

    def words(sheet):
        return " ".join(c.text for c in cautions(sheet))

    assert "0.5 in above the work" in words("sawing")
    assert "85 dBA" in words("sawing")
    assert "1 to 3 mg/m3" in words("thicknessing")
    assert "23 kg" in words("lifting")
    assert "lead" in words("bedding")
    assert "not a design" in words("scarf")
    with pytest.raises(Misused, match="expected one of"):
        cautions("cooking")
