from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from futtock.stock.grain import grain_field, grain_raster, slope_of_grain
from futtock.stock.grid import slab_grid
from futtock.stock.invent import invent_rack
from futtock.stock.outline import arc_mm, crossings, middle_line, reach_across, signed_area_mm2
from futtock.stock.slab import Flaw, Slab

SLABS = invent_rack(24, seed=11)


def apart(a, b):
    """Angles between directions, degrees, modulo 180."""
    return np.abs((np.asarray(a) - b + 90) % 180 - 90)


def arc(radius: float, low_deg: float, high_deg: float, n: int = 60):
    t = np.radians(np.linspace(low_deg, high_deg, n))
    return radius * np.c_[np.cos(t), np.sin(t)]


def ring_of(inner: float, outer: float, low_deg: float, high_deg: float):
    return np.vstack([arc(outer, low_deg, high_deg), arc(inner, low_deg, high_deg)[::-1]])


def slab(top, grain=(), flaws=()):
    return Slab("T", "white oak", 70.0, 18.0, top, top, tuple(grain), tuple(flaws))


def test_between_traced_circles_the_grain_is_the_circle_through_the_point():
    """Three concentric traces: the field is the tangent everywhere between (exact circle)."""
    traces = [arc(r, 40, 140) for r in (900, 1000, 1100)]
    field = grain_field(slab(ring_of(880, 1120, 40, 140), traces))
    rng = np.random.default_rng(0)
    t = np.radians(rng.uniform(45, 135, 300))
    points = rng.uniform(900, 1100, 300)[:, None] * np.c_[np.cos(t), np.sin(t)]
    angle, sure = field.at(points)
    # chords of 1.7 degrees of arc: the field can be no nearer than a small part of that
    assert apart(angle, np.degrees(t) + 90).max() < 0.06
    assert sure.min() > 0.7


def test_on_its_traces_the_field_gives_the_traces_own_direction():
    """At the middle of each traced piece, where layouts are checked, within a sixth of a degree."""
    for one in SLABS:
        field = grain_field(one)
        for line in one.grain_mm:
            piece = np.diff(line, axis=0)
            own = np.degrees(np.arctan2(piece[:, 1], piece[:, 0]))
            angle, _ = field.at((line[1:] + line[:-1]) / 2)
            assert apart(angle, own).max() < 0.15


@pytest.mark.parametrize("bend_deg", [20, 90, 170])
def test_without_a_trace_the_grain_is_the_middle_line_and_is_marked(bend_deg):
    """A ring-shaped slab, bent little or far past a right angle: the middle circle is found."""
    low, high = 90 - bend_deg / 2, 90 + bend_deg / 2
    inner, outer = (900, 1100) if bend_deg > 30 else (2900, 3100)
    top = ring_of(inner, outer, low, high)
    line = middle_line(top)
    off = np.abs(np.hypot(*line.T) - (inner + outer) / 2)
    assert off[1:-1].max() < 2.5  # mm, of a slab 200 mm wide
    assert off.max() < 8.0  # the two ends are carried on, not measured
    assert abs(arc_mm(line)[-1] - (inner + outer) / 2 * np.radians(bend_deg)) < 12
    field = grain_field(slab(top))
    assert field.guessed
    _, sure = field.at(line)
    assert sure.max() <= 0.4


def test_the_middle_line_runs_from_the_broader_end():
    """Butt first: the line starts at the broad end of a tapering slab."""
    top = np.array([[0, -150], [2000, -80], [2000, 80], [0, 150]], float)
    assert middle_line(top)[0, 0] < 10
    assert middle_line(top)[-1, 0] > 1990


def test_grain_flows_round_a_knot_and_never_through_it():
    """Lines drawn along the field from well before a knot pass to either side of it."""
    t = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    knot = Flaw("knot", np.c_[500 + 25 * np.cos(t), 100 + 20 * np.sin(t)], "both")
    top = np.array([[0, 0], [1000, 0], [1000, 200], [0, 200]], float)
    far = [np.array([[0.0, y], [1000.0, y]]) for y in (5, 195)]
    field = grain_field(slab(top, far, [knot]))
    hole = shapely.Polygon(knot.outline_mm).buffer(-2.5)
    for start in (88.0, 95.0, 99.0, 101.0, 106.0, 112.0):
        point = np.array([400.0, start])
        path = [point]
        for _ in range(200):
            a = np.radians(field.at(point[None])[0][0])
            half = point + 0.5 * np.array([np.cos(a), np.sin(a)])
            a = np.radians(field.at(half[None])[0][0])
            point = point + np.array([np.cos(a), np.sin(a)])
            path.append(point)
        assert not shapely.LineString(path).intersects(hole), start
        assert abs(path[-1][1] - start) < 8  # and comes back to its own line beyond
    angle, sure = field.at(np.array([[500.0, 100.0], [500.0, 160.0], [300.0, 100.0]]))
    assert sure[0] == pytest.approx(0.0, abs=1e-12)
    assert apart(angle[1:], 0).max() < 1.0  # straight again a diameter and more away


def test_slope_of_grain_of_a_straight_line_on_straight_grain():
    """A line turned by a degree and a bit from the grain slopes by its tangent (closed form)."""
    top = np.array([[0, 0], [1000, 0], [1000, 200], [0, 200]], float)
    field = grain_field(slab(top, [np.array([[0.0, 100], [1000, 100]])]))
    for rise in (0.0, 0.05, 0.1, 1.0):
        slope = slope_of_grain(field, np.array([[100.0, 20], [200, 20 + 100 * rise]]))
        assert slope.mean == pytest.approx(rise, abs=1e-9)
        assert slope.worst == pytest.approx(rise, abs=1e-9)
    assert slope_of_grain(field, np.array([[0.0, 0], [100, 0]]), 10).at_mm[-1] == pytest.approx(100)


def test_slope_of_a_circle_on_straight_grain_is_worst_at_its_ends():
    """An arc of 20 degrees over straight grain slopes by tan 10 at its ends, by chords inside."""
    top = np.array([[-500, 0], [500, 0], [500, 400], [-500, 400]], float)
    field = grain_field(slab(top, [np.array([[-500.0, 100], [500, 100]])]))
    line = arc(1000, 80, 100, 400) - [0, 800]
    slope = slope_of_grain(field, line, 5.0)
    assert slope.worst == pytest.approx(np.tan(np.radians(10)), rel=0.02)
    assert slope.slope[len(slope.slope) // 2] < 0.004


def test_the_raster_is_the_field_at_its_nodes():
    """Row and column stand for y and x; angles stay within 90 degrees of the slab's heading."""
    one = SLABS[3]
    raster = grain_raster(one, slab_grid(one, 20.0))
    field = grain_field(one)
    x = raster.grid.origin_mm[0] + 20.0 * 7
    y = raster.grid.origin_mm[1] + 20.0 * 4
    angle, sure = field.at(np.array([x, y]))
    assert raster.angle_deg[4, 7] == angle
    assert raster.confidence[4, 7] == sure
    assert np.abs(raster.angle_deg - raster.heading_deg).max() <= 90
    assert not raster.angle_deg.flags.writeable


@settings(max_examples=20, deadline=None)
@given(st.floats(-180, 180), st.integers(0, len(SLABS) - 1))
def test_turning_the_slab_turns_the_grain(turn_deg, k):
    """The field is a property of the wood, not of the axes it is drawn in."""
    one = SLABS[k]
    t = np.radians(turn_deg)
    turn = np.array([[np.cos(t), np.sin(t)], [-np.sin(t), np.cos(t)]])
    turned = replace(
        one,
        top_mm=one.top_mm @ turn,
        grain_mm=tuple(line @ turn for line in one.grain_mm),
        flaws=tuple(
            replace(f, outline_mm=f.outline_mm @ turn) for f in one.flaws if f.kind != "knot"
        ),
    )
    here = replace(one, flaws=tuple(f for f in one.flaws if f.kind != "knot"))
    points = one.top_mm[::3]
    a, sure = grain_field(here).at(points)
    b, sure_too = grain_field(turned).at(points @ turn)
    assert apart(a + turn_deg, b).max() < 1e-6
    np.testing.assert_allclose(sure, sure_too, atol=1e-9)


def test_reach_and_crossings_on_a_square():
    """A unit square: reach to both sides of its middle, no crossing; a bow tie crosses once."""
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], float)
    left, right = reach_across(square, np.array([[0.5, 0.25]]), np.array([[0.0, 1.0]]))
    assert (left[0], right[0]) == (0.75, 0.25)
    assert len(crossings(square)) == 0
    assert signed_area_mm2(square) == 1
    np.testing.assert_allclose(crossings(square[[0, 2, 1, 3]]), [[0.5, 0.5]])
