from __future__ import annotations

import numpy as np
import pytest
import shapely

from futtock.errors import Misused
from futtock.stock.invent import PILE, SHAPES, Recipe, invent_rack, invent_slab
from futtock.stock.outline import arc_mm
from futtock.stock.rack import rack_of, rack_text


def test_the_same_seed_gives_the_same_rack_and_another_does_not():
    """Benchmarks and simulated yards can be run again to the last figure."""
    assert rack_text(invent_rack(20, 3)) == rack_text(invent_rack(20, 3))
    assert rack_text(invent_rack(20, 3)) != rack_text(invent_rack(20, 4))


def test_every_invented_slab_stands_the_inspection():
    """No invented slab draws a finding: outlines are simple, faces match, grain is on the wood."""
    got = rack_of(invent_rack(200, 38))
    assert got.findings == ()
    assert len(got.slabs) == 200
    assert sum(s.measured for s in got.slabs) == PILE.measured_a_stack * len(PILE.stacks)


def test_sound_faces_lie_within_the_bark():
    """Sapwood and wane are taken off, never added."""
    for one in invent_rack(40, 2):
        for sound, whole in ((one.top_mm, one.face_top_mm), (one.bottom_mm, one.face_bottom_mm)):
            extra = shapely.Polygon(sound).difference(shapely.Polygon(whole).buffer(1.0))
            assert extra.area < 200  # mm2: tenths of a millimetre along an edge


@pytest.mark.parametrize("shape", SHAPES, ids=lambda s: s.name)
def test_shapes_have_the_sweep_they_are_named_for(shape):
    """Straight stays straight; a crook bends by its curvature over its length."""
    rng = np.random.default_rng(7)
    for k in range(12):
        line = invent_slab(rng, f"{k}", shape).grain_mm[0]
        chord = np.hypot(*(line[-1] - line[0]))
        along = (line[-1] - line[0]) / chord
        sweep = np.abs((line - line[0]) @ [-along[1], along[0]]).max()
        if shape.name == "straight":
            assert sweep < 0.04 * chord
        elif shape.name == "crook":
            assert sweep > 0.05 * chord
        assert arc_mm(line)[-1] >= chord


def test_counts_and_recipes():
    """Slabs are dealt to stacks as evenly as may be; a negative count is refused."""
    names = [s.stack for s in invent_rack(7, 1, Recipe({"X": (1, 0, 0, 0), "Y": (0, 0, 1, 0)}))]
    assert names == ["X"] * 4 + ["Y"] * 3
    assert invent_rack(0) == ()
    with pytest.raises(Misused, match="-1 slabs"):
        invent_rack(-1)
