"""Stale patterns: which are wrong, by how much, and codes that change only when the mould does."""

import numpy as np
import pytest
from exact_frames import cone_frame

from futtock.moulds.flat import moulds
from futtock.moulds.settings import MouldSettings
from futtock.moulds.stale import revision, stale_patterns


def of(g=12.0, **kwargs):
    return moulds([cone_frame(g, **kwargs)], MouldSettings())


def test_nothing_changed_nothing_stale():
    """The same lines give the same codes, whatever else is computed, and no stale pattern."""
    a, b = of(), of(marks=[("A", "sirmark", 0.3)])
    assert [revision(m) for m in a] == [revision(m) for m in b]
    assert len({revision(m) for m in a}) == len(a)
    assert all(len(revision(m)) == 6 for m in a)
    assert stale_patterns(a, b) == ()


def test_larger_hull_is_short_by_what_it_grew():
    """A cone moved out 5 mm: the old outlines are 5 mm short outside and 5 mm proud inside."""
    tan_g = np.tan(np.radians(12.0))
    old, new = of(x_mm=4000.0), of(x_mm=4000.0 + 5.0 / tan_g)
    found = stale_patterns(old, new)
    assert [s.mark for s in found] == [m.mark for m in old]
    for s in found:
        assert s.short_mm == pytest.approx(5.0, abs=0.6)
        assert s.proud_mm == pytest.approx(5.0, abs=0.6)
        assert s.bevel_deg == pytest.approx(0.0, abs=1e-9)
        assert s.finding("sawn").code == "D201"
        assert "mm short" in s.finding("sawn").message


def test_moved_butts_thinner_sides_and_bevels_are_found():
    """A butt moved along shows as length; sided and bevel changes as themselves."""
    old = of()
    girth = cone_frame(12.0).joint.girth_mm[-1]
    moved = {
        s.mark: s for s in stale_patterns(old, of(divisions={"f": (0.55,), "a": (0.25, 0.75)}))
    }
    assert set(moved) == {"1-S-f1", "1-S-f2", "1-P-f1", "1-P-f2"}
    assert moved["1-S-f1"].short_mm == pytest.approx(0.05 * girth, rel=0.02)
    assert moved["1-S-f2"].proud_mm == pytest.approx(0.05 * girth, rel=0.02)
    thinner = stale_patterns(old, of(sided_mm=48.0))
    assert {round(s.sided_mm, 9) for s in thinner} == {-2.0}
    tan = np.tan(np.radians(12.0)) * 4000.0
    steeper = stale_patterns(old, of(13.0, x_mm=tan / np.tan(np.radians(13.0))))
    assert {round(s.bevel_deg, 6) for s in steeper} == {1.0}


def test_timbers_that_are_no_more():
    """A frame taken out makes its patterns stale for good."""
    found = stale_patterns(of(), of(number=2))
    assert all(s.gone for s in found)
    assert {s.finding().code for s in found} == {"D202"}


def test_small_changes_are_passed_over():
    """Differences that nobody could measure are not called stale."""
    assert stale_patterns(of(x_mm=4000.0), of(x_mm=4000.2)) == ()
