"""Weights and lifts: NIOSH's own cells, levers, and frames whose centre is a closed form."""

import numpy as np
import pytest
import shapely
from exact_frames import cone_frame, sphere_frame

from futtock import reference
from futtock.bench.lifting import Lift, hoist, slings, weight_limit_kg
from futtock.bench.weights import frame_weight, weigh
from futtock.errors import Misused
from futtock.moulds.flat import moulds
from futtock.moulds.settings import MouldSettings

BEST = {"hold_mm": 250.0, "height_mm": 750.0, "raise_mm": 250.0, "coupling": 1.0}


def cells(code):
    """(arguments, values) of a check row of safety_limits.csv."""
    row = next(r for r in reference.rows("safety_limits") if r["id"] == code)
    asked = row["figure"].split("=")[1].split("(")[0]
    numbers = [float(w) for w in asked.replace("/", " ").split() if w.replace(".", "").isdigit()]
    return numbers, [float(v) for v in row["value"].split("/")]


@pytest.mark.parametrize(
    ("code", "key", "scale"),
    [
        ("L09", "hold_mm", 10.0),
        ("L10", "height_mm", 10.0),
        ("L12", "raise_mm", 10.0),
        ("L13", "twist_deg", 1.0),
    ],
)
def test_niosh_cells(code, key, scale):
    """Each multiplier agrees with NIOSH's printed cells (safety_limits.csv L09 to L13)."""
    asked, printed = cells(code)
    assert len(asked) == len(printed) >= 4
    for value, cell in zip(asked, printed, strict=True):
        got = weight_limit_kg(Lift(**{**BEST, key: value * scale})) / 23.0
        assert got == pytest.approx(cell, abs=0.0101)


def test_best_case_is_23_kg():
    """The load constant: 23 kg close in, at knuckle height, raised little (L01)."""
    assert weight_limit_kg(Lift(**BEST)) == pytest.approx(23.0)


@pytest.mark.parametrize("key", ["height_mm", "raise_mm"])
def test_beyond_reach_nothing_may_be_lifted(key):
    """Above 175 cm the multiplier is nothing (L11), and such a lift is refused for a timber."""
    assert weight_limit_kg(Lift(**{**BEST, key: 1760.0})) == 0.0
    mould = moulds([cone_frame()], MouldSettings())[0]
    with pytest.raises(Misused, match="outside"):
        hoist(mould, Lift(**{**BEST, key: 1760.0}))


def test_people_and_index_follow_the_mass():
    """More people as the piece grows; then tackle; two bear what levers give them."""
    frame = cone_frame(12.0)
    lift = Lift(**BEST)
    for density, people in ((2000, 1), (10000, 2), (23000, 4), (31700, 0)):
        mould = moulds([frame], MouldSettings(density_kg_m3=density))[0]
        got = hoist(mould, lift)
        assert got.mass_kg == mould.mass_kg
        assert got.people == people, (density, mould.mass_kg)
        assert sum(got.ends_kg) == pytest.approx(mould.mass_kg)
        first, second = got.ends_kg
        about = first * mould.grain_mm[0, 0] + second * mould.grain_mm[-1, 0]
        assert about == pytest.approx(mould.mass_kg * mould.centre_mm[0])
        if people:
            assert got.index <= 1.0


def test_slings_bear_alike_about_the_centre():
    """A straight-ish piece is slung at its centre of mass; a crook at two points about it."""
    flat = moulds([sphere_frame(angles_deg=(40, 60))], MouldSettings())[0]
    assert slings(flat).shape == (1, 2)
    assert shapely.Polygon(flat.outline_up_mm).contains(shapely.Point(slings(flat)[0]))
    crook = moulds([cone_frame(12.0, angles_deg=(0, 170))], MouldSettings())[0]
    two = slings(crook)
    assert two.shape == (2, 2)
    assert two[:, 0].mean() == pytest.approx(crook.centre_mm[0])
    for point in two:
        assert shapely.Polygon(crook.outline_up_mm).contains(shapely.Point(point))


@pytest.mark.parametrize("up", ["joint", "forward", "aft"])
def test_centre_of_a_whole_frame(up):
    """Both sides and layers of a cone's frame: on the centreline, aft of the joint by the taper."""
    frame = cone_frame(12.0, x_mm=4000.0, moulded_mm=100.0, angles_deg=(10, 110))
    made = moulds([frame], MouldSettings(up=up, density_kg_m3=1000.0))
    got = frame_weight(frame, made)
    tan_g = np.tan(np.radians(12.0))
    steps = np.radians(np.linspace(10, 110, 161))
    s, weight = np.polynomial.legendre.leggauss(12)
    aft = 50.0 * s
    big = (4000.0 + aft) * tan_g
    chords = np.sin(np.diff(steps))
    area = (big**2 - (big - 100.0) ** 2) / 2 * chords.sum()
    mass = 2 * (area * weight).sum() * 50.0 * 1e-9 * 1000
    assert got.mass_kg == pytest.approx(mass, rel=2e-4)  # the shape's points are not the arc's own
    assert got.centre_mm[1] == pytest.approx(0.0, abs=1e-6)
    assert got.centre_mm[0] == pytest.approx(
        (area * aft * weight).sum() / (area * weight).sum(), abs=0.02
    )
    # up: first moment of the ring sector, -R^3/3 times the integral of cos over the angles
    moment = -((big**3 - (big - 100.0) ** 3) / 3 * weight).sum()
    moment *= np.sin(steps[-1]) - np.sin(steps[0])
    assert got.centre_mm[2] == pytest.approx(moment / ((area * weight).sum()), abs=0.3)
    assert got.timbers == 10
    # slung alike on both sides, above the centre, on the wood between both circles
    (port_out, port_up), (out, up_mm) = got.slings_mm
    assert (port_out, port_up) == (-out, up_mm)
    assert up_mm > got.centre_mm[2]
    r = 4000.0 * tan_g
    assert r - 100.0 < np.hypot(out, up_mm) < r
    assert got.people == int(np.ceil(got.mass_kg / weight_limit_kg(Lift())))
    heavy = frame_weight(frame, moulds([frame], MouldSettings(density_kg_m3=8000.0)))
    assert heavy.people == 0


def test_heavy_timbers_are_said():
    """The vessel's list names how many pieces are past one person and the heaviest."""
    frame = cone_frame(12.0)
    light = weigh([frame], moulds([frame], MouldSettings(density_kg_m3=200.0)))
    assert light.findings == ()
    heavy = weigh([frame], moulds([frame], MouldSettings(density_kg_m3=4000.0)))
    assert [f.code for f in heavy.findings] == ["B401"]
    assert heavy.total_kg == pytest.approx(sum(p.mass_kg for p in heavy.pieces))
