"""What the builder states of saw, planer, treenails and timber reaches the bench, key by key."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from futtock.errors import Unreadable
from futtock.job import settings
from futtock.stock.slab import Slab
from futtock.vessel.stating import read_vessel

TEXT = """
[vessel]
name = "Trial"
[timber]
rough = "2-1/2 in"
rough_moisture_percent = 20
[treenails]
diameter = "20 mm"
least = 3
length_step = "10 mm"
sirmark_clear = "15 mm"
heel_clear = "40 mm"
head_clear = "50 mm"
plank_fastening = "30 mm"
plank_zones = [{ name = "garboard", from = "0 mm", to = "300 mm", depth = "60 mm" }]
clear = [["700 mm", "800 mm"]]
[saw]
hand = "right"
crank_from = "feed"
turns_a_minute = 33
tilt_axis = "-25 mm"
trial = [
  { read = -30, true = -29.5, going = "left" },
  { read = 30, true = 30.5, going = "left" },
  { read = 0, true = 0.5, going = "left" },
]
[planer]
first_pass = "1 mm"
second_pass = "3 mm"
finish_pass = "0.4 mm"
clean = "0.8 mm"
minutes_per_m2 = 5
setting_minutes = 2
"""


@pytest.fixture(scope="module")
def vessel():
    """A statement with every key of the bench set apart from its default."""
    stated, findings = read_vessel(TEXT)
    assert findings == ()
    return stated


def test_the_saw_is_set_as_stated(vessel):
    """Hand, crank, axis and pace; zero comes from the test piece's cuts, all half a degree over."""
    saw = settings.saw_settings(vessel)
    assert (saw.hand, saw.crank_from, saw.turns_a_minute) == ("right", "feed", 33)
    assert saw.tilt_axis_mm == 25  # the axis lies that far below the table
    assert saw.head.zero_deg == pytest.approx(0.5)
    assert saw.head.scale == pytest.approx(1.0)


def test_one_reading_is_no_test_piece():
    """Fewer than two different readings cannot give a scale: the key is named."""
    bare, _ = read_vessel('[saw]\ntrial = [{ read = 5, true = 6, going = "left" }]\n')
    with pytest.raises(Unreadable) as told:
        settings.saw_settings(bare)
    assert told.value.findings[0].column == "trial"


def test_the_fastening_is_set_as_stated(vessel):
    """Rule, clearances and planking zones; the zone's depth holds within it only."""
    nails = settings.fastening_settings(vessel)
    assert (nails.least, nails.length_step_mm, nails.sirmark_clear_mm) == (3, 10, 15)
    assert (nails.heel_mm, nails.head_mm, nails.clear) == (40, 50, ((700, 800),))
    assert nails.plank_depth_mm(150.0) == 60
    assert nails.plank_depth_mm(500.0) == 30


def test_the_planer_is_set_as_stated(vessel):
    """Depths of passes and their time."""
    rates = settings.planing_rates(vessel)
    assert (rates.first_mm, rates.second_mm, rates.finish_mm) == (1, 3, 0.4)
    assert (rates.minutes_m2, rates.set_minutes) == (5, 2)


def test_a_piece_has_its_slabs_warp_cut_down_to_its_size(vessel):
    """Bow goes with the length's square, cup with the width's, twist with both (own geometry: a
    parabola's rise over part of its chord); without a slab the rough stock stands in, flat.
    """
    ring = np.array([[0, 0], [2000, 0], [2000, 400], [0, 400]], float)
    slab = Slab(
        "A", "white oak", 70.0, 18.0, ring, ring, (), (), cup_mm=8.0, bow_mm=-12.0, twist_mm=10.0
    )
    mould = SimpleNamespace(mark="1-P-f1", length_mm=1000.0, wide_mm=200.0)
    piece = settings.rough_piece(vessel, mould, slab)
    assert (piece.thick_mm, piece.moisture_percent, piece.clean_mm) == (70, 18, 0.8)
    assert (piece.cup_mm, piece.bow_mm, piece.twist_mm) == pytest.approx((2.0, -3.0, 2.5))
    flat = settings.rough_piece(vessel, mould, None)
    assert (flat.thick_mm, flat.moisture_percent) == (63.5, 20)
    assert flat.flatness_mm == 0
