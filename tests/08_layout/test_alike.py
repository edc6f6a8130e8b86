from __future__ import annotations

import numpy as np
import pytest
import shapely
from layout_cases import crook, knot, plank

from futtock.layout.alike import Along, _sizes, _spine, alike, made_over
from futtock.stock.invent import invent_rack


def test_made_over_as_itself_is_itself():
    """A slab brought to its own sizes keeps its outline and grain within 2 mm."""
    for slab in invent_rack(10, 5):
        spine = _spine(slab)
        own = _sizes(slab, spine)
        again = made_over(slab, Along(spine), own, own)
        for was, now in zip(
            (slab.top_mm, slab.grain_mm[0]), (again.top_mm, again.grain_mm[0]), strict=True
        ):
            assert np.abs(now - was).max() < 2.0


def test_made_over_reaches_its_sizes():
    """Longer, wider and more swept by what was asked, as measured again from the outline."""
    t = np.radians(np.linspace(0.0, 40.0, 60))
    slab = crook("A", 2500 * np.c_[np.sin(t), 1 - np.cos(t)], 240, flaws=[knot(700, 110, 20)])
    spine = _spine(slab)
    own = _sizes(slab, spine)
    aim = own + np.array([np.log(1.2), np.log(0.85), 0.03])
    over = made_over(slab, Along(spine), own, aim)
    got = _sizes(over, _spine(over))
    assert got[:2] == pytest.approx(aim[:2], abs=0.02)
    assert got[2] == pytest.approx(aim[2], abs=0.006)
    assert shapely.Polygon(over.top_mm).is_valid
    assert np.ptp(over.flaws[0].outline_mm, axis=0) == pytest.approx([40, 40], abs=1.0)


def test_sizes_keep_their_mean_and_spread():
    """Slabs made over have the mean and spread of those measured (Silverman and Young 1987)."""
    rack = invent_rack(60, 11)
    over = alike(rack, 4, seed=2)
    assert len(over.slabs) == 240
    assert set(over.parent.values()) == {s.name for s in rack}
    a, b = (np.array([_sizes(s, _spine(s)) for s in group]) for group in (rack, over.slabs))
    assert b.mean(0) == pytest.approx(a.mean(0), abs=0.25 * a.std(0).min() + 0.02)
    assert b.std(0) / a.std(0) == pytest.approx(1.0, abs=0.15)
    assert all(shapely.Polygon(s.top_mm).is_valid for s in over.slabs)
    assert not any(s.measured for s in over.slabs)


def test_one_slab_is_like_nothing():
    """With fewer than two measured there is no spread to go by."""
    assert alike([plank("A", 900, 200)], 3).slabs == ()
    assert alike([], 3).slabs == ()
