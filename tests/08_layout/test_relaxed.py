from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from layout_cases import knot, plank, strip
from shapely import Polygon

from futtock.job.settings import lay_settings
from futtock.layout.corner import sound_rings
from futtock.layout.exact import Court
from futtock.layout.lay import lay
from futtock.layout.placement import Placement
from futtock.layout.problem import prepare
from futtock.layout.proof import certify
from futtock.layout.settings import LaySettings
from futtock.stock.planed import planed_ring
from futtock.stock.sound import FlawRules
from futtock.vessel import read_folder

LONG, WIDE = 700.0, 100.0


def straight(mark="1-P-f1", layer=None, **more):
    mould = strip(mark, np.c_[np.linspace(0, LONG, 31), np.zeros(31)], WIDE, **more)
    return replace(mould, layer=layer)


def test_planed_face_stands_between_the_two():
    """A face planed by a share of the thickness moves that share of the way to the other face."""
    near = np.array([[0.0, 10.0], [500, 10], [500, 90], [0, 90]])
    far = near + np.array([[0.0, -10], [0, -10], [0, 10], [0, 10]])
    quarter = Polygon(planed_ring(near, far, 0.25))
    low, high = quarter.bounds[1], quarter.bounds[3]
    assert (low, high) == (pytest.approx(7.5, abs=0.5), pytest.approx(92.5, abs=0.5))
    assert low >= 7.5 - 1e-6  # never more than the truth
    back = Polygon(planed_ring(far, near, 0.25))
    assert back.bounds[1] == pytest.approx(2.5, abs=0.5)
    assert back.bounds[1] >= 2.5 - 1e-6
    assert planed_ring(near, far, 0.0) is near


def test_planing_lets_a_timber_in_and_is_off_by_default():
    """A face 4 mm too narrow takes the timber once a third of 60 mm is planed off, not before."""
    top = np.array([[0.0, 8.0], [720, 8], [720, 104], [0, 104]])
    bottom = np.array([[0.0, -8.0], [720, -8], [720, 120], [0, 120]])
    slab = replace(plank("W", 720, 112, bottom=bottom), top_mm=top)
    assert lay([straight()], [slab], LaySettings(), rounds=5).unplaced == ("1-P-f1",)
    planed = LaySettings(rules=FlawRules(planed_mm=20.0))
    assert lay([straight()], [slab], planed, rounds=5).unplaced == ()


@pytest.mark.parametrize(("layer", "down_gives"), [("f", True), ("a", False), (None, True)])
def test_wane_only_on_the_inner_corner_off_the_joint(layer, down_gives):
    """The strip along the inner edge comes off the face away from the joint, and nothing else."""
    mould = straight(layer=layer)
    assert mould.up == "aft"
    up, down = sound_rings(mould, 10.0)
    whole = LONG * WIDE
    gives, keeps = (down, up) if down_gives else (up, down)
    assert Polygon(keeps).area == pytest.approx(whole, rel=1e-6)
    assert Polygon(gives).area == pytest.approx(whole - LONG * 10.0, rel=0.01)
    lost = Polygon(keeps).difference(Polygon(gives))
    y = mould.edges[1].up_mm[:, 1].mean()
    assert abs(lost.centroid.y - y) == pytest.approx(5.0, abs=0.2)


def test_wane_on_the_corner_is_judged_by_the_exact_check():
    """On wood whose one face lacks 8 mm the timber stands only where that wane is allowed, its
    inner corner down; a knot in that corner, or the outer edge there, is still refused.
    """
    mould = straight(layer="f")
    inner = float(np.sign(mould.edges[1].up_mm[:, 1].mean()))
    top = np.array([[-10.0, -60.0], [710, -60], [710, 60], [-10, 60]])
    bottom = top.copy()
    bottom[:, 1] = np.clip(bottom[:, 1] * 10, -60.0, 60.0)
    edge = bottom[:, 1] == 60.0 * inner
    bottom[edge, 1] = 42.0 * inner
    slab = replace(plank("W", 720, 120, bottom=bottom), top_mm=top, grain_mm=())
    at = Placement(mould.mark, "W", 0.0, (0.0, 0.0), False, 0.0, 0.0)

    def faults(settings, placement=at, wood=slab):
        found = Court([mould], [wood], settings).judge(placement).faults
        return {f.what for f in found} - {"grain"}

    assert faults(LaySettings()) == {"inside"}
    assert faults(LaySettings(wane_mm=6.0)) == {"inside"}
    assert faults(LaySettings(wane_mm=9.0)) == set()
    turned = Placement(mould.mark, "W", 180.0, (LONG, 0.0), False, 0.0, 0.0)
    assert faults(LaySettings(wane_mm=9.0), turned) == {"inside"}
    knotty = replace(slab, flaws=(knot(300, 45.0 * inner, 3.0),))
    assert faults(LaySettings(wane_mm=9.0), wood=knotty) == {"flaw"}


def test_search_uses_the_wane_it_is_allowed():
    """A slab one face of which is 6 mm too narrow is used when wane is allowed, and only then; no
    pair that is laid so is ever proven impossible.
    """
    mould = straight(layer="f")
    bottom = np.array([[0.0, 0.0], [720, 0], [720, 98], [0, 98]])
    slab = plank("W", 720, 108, bottom=bottom)
    assert lay([mould], [slab], LaySettings(), rounds=5).unplaced == ("1-P-f1",)
    allowed = LaySettings(wane_mm=10.0)
    assert lay([mould], [slab], allowed, rounds=5).unplaced == ()
    assert certify(prepare([mould], [slab], allowed)).may.all()


@pytest.mark.parametrize(
    ("words", "wane", "planed"),
    [
        ("", 0.0, 0.0),
        ('[layout]\nwane = "8 mm"\nplane_off = "5 mm"\n', 8.0, 5.0),
        ('[layout]\nplane_off = "20 mm"\n', 0.0, 7.5),
    ],
)
def test_vessel_folder_states_both(tmp_path, words, wane, planed):
    """``[layout]`` wane and plane_off reach the laying; planing never takes more than is spare."""
    stated = '[framing]\nfirst = "500 mm"\nroom_and_space = "400 mm"\ncount = 3\n'
    stated += 'sided = "45 mm"\nmoulded = { heel = "120 mm", head = "80 mm" }\n'
    stated += '[timber]\nspecies = "white oak"\nrough = "60 mm"\n'
    (tmp_path / "vessel.toml").write_text(stated + words, "utf-8")
    settings = lay_settings(read_folder(tmp_path).vessel)
    assert (settings.wane_mm, settings.rules.planed_mm) == (wane, planed)
