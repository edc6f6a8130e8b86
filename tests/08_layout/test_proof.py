from __future__ import annotations

import numpy as np
import pytest
from layout_cases import arc, crook, knot, plank, strip
from shapely import Polygon

from futtock.layout.bound import (
    area_bound,
    blank_m2,
    cheapest_cover,
    reach_of,
    swollen_m2,
)
from futtock.layout.lay import lay
from futtock.layout.problem import prepare
from futtock.layout.proof import certify, mixed_bound, prove, shortages
from futtock.layout.settings import LaySettings
from futtock.layout.shortfall import shape_that_would_serve
from futtock.stock.sound import STRICT

SETTINGS = LaySettings(kerf_mm=6.0)


def straight(mark, long, wide, **more):
    return strip(mark, np.c_[np.linspace(0, long, 31), np.zeros(31)], wide, **more)


def demand_of(problem):
    d = np.zeros(len(problem.patterns.area), np.int64)
    for m in problem.member:
        d[m.pattern] += 1
    return d


def test_swollen_areas_are_those_of_a_rectangle():
    """Area of a plank and of a strip swollen by half the gap: closed form for round corners."""
    half = 5.0
    got = swollen_m2(plank("A", 1000, 200), STRICT, half)
    true = (1000 * 200 + 2 * half * 1200 + np.pi * half**2) / 1e6
    assert true <= got <= true * 1.0002
    strip_ = straight("1-P-f1", 400, 80)
    got = blank_m2(strip_.outline_up_mm, strip_.outline_down_mm, half)
    true = (400 * 80 + 2 * half * 480 + np.pi * half**2) / 1e6
    assert true * 0.999 <= got <= true


def test_cheapest_cover_is_the_knapsack_by_hand():
    """Slabs begun in part, best first: worked by hand."""
    price, gives = np.array([1.0, 2.0, 4.0]), np.array([2.0, 2.0, 2.0])
    assert cheapest_cover(price, gives, 3.0) == pytest.approx(1.0 + 2.0 * 0.5)
    assert cheapest_cover(price, gives, 6.0) == pytest.approx(7.0)
    assert cheapest_cover(price, gives, 6.1) == float("inf")


def test_reach_covers_every_face():
    """Every point of a face lies within the stated reach of a disc of the stated size in it."""
    moulds = [strip("1-P-f1", arc(900, 40), 90, over=7.0), straight("2-P-f1", 600, 60)]
    problem = prepare(moulds, [plank("A", 900, 300)], SETTINGS)
    reach = reach_of(problem, [0, 1])
    assert 24.0 < reach.disc_mm < 30.0
    rng = np.random.default_rng(0)
    for m in moulds:
        for ring in (m.outline_up_mm, m.outline_down_mm):
            face = Polygon(ring)
            opened = face.buffer(-reach.disc_mm, quad_segs=64).buffer(reach.disc_mm, quad_segs=64)
            low, high = ring.min(0), ring.max(0)
            points = rng.uniform(low, high, (400, 2))
            from shapely import contains_xy, distance
            from shapely import points as as_points

            inside = points[contains_xy(face, points)]
            assert distance(as_points(inside), opened).max() <= reach.beyond_mm


def test_bounds_hold_for_layouts_found():
    """Area and mixed bounds are never above what any layout found reaches; mixed is the better."""
    moulds = [strip(f"{k}-P-f1", arc(800 + 150 * k, 36), 90) for k in range(1, 7)]
    slabs = [crook(f"C{k}", arc(850 + 150 * k, 70), 260) for k in range(7)]
    problem = prepare(moulds, slabs, SETTINGS)
    papers = certify(problem)
    for seed in range(3):
        layout = lay(moulds, slabs, SETTINGS, seed=seed, rounds=30, problem=problem)
        placed = [j for j, m in enumerate(moulds) if m.mark not in layout.unplaced]
        demand = np.zeros(len(problem.patterns.area), np.int64)
        for j in placed:
            demand[problem.member[j].pattern] += 1
        area = area_bound(problem, placed)
        mixed = mixed_bound(problem, papers.may, demand)
        assert area <= layout.bound.reached + 1e-9
        assert mixed <= layout.bound.reached + 1e-9
        assert mixed >= area_bound(problem, placed) * 0.95


def test_certificates_never_contradict_a_layout():
    """No pair of a checked placement is ever proven impossible, with the poses hidden from it."""
    moulds = [strip(f"{k}-P-f1", arc(700 + 150 * k, 40), 80, over=5.0) for k in range(1, 6)]
    slabs = [
        crook(f"C{k}", arc(800 + 150 * k, 70), 230, flaws=[knot(400, 150, 12)]) for k in range(5)
    ]
    problem = prepare(moulds, slabs, SETTINGS)
    layout = lay(moulds, slabs, SETTINGS, rounds=40, problem=problem)
    hidden = problem.__class__(
        **{
            **{f: getattr(problem, f) for f in problem.__dataclass_fields__},
            "poses": problem.poses._replace(ok=np.zeros_like(problem.poses.ok)),
        }
    )
    papers = certify(hidden)
    number = {m.mark: j for j, m in enumerate(moulds)}
    index = {s.name: k for k, s in enumerate(slabs)}
    assert layout.placements
    for p in layout.placements:
        assert papers.may[problem.member[number[p.mark]].pattern, index[p.slab]]


@pytest.mark.parametrize(
    ("mould", "slab"),
    [
        (straight("1-P-f1", 900, 60), plank("A", 800, 200)),
        (straight("1-P-f1", 500, 120), plank("A", 800, 110)),
        (strip("1-P-f1", arc(500, 60), 60), plank("A", 1200, 300)),
        (straight("1-P-f1", 500, 80), plank("A", 700, 140, flaws=[knot(350, 70, 20)])),
    ],
    ids=["too long", "too wide", "grain too steep", "knot in the way"],
)
def test_what_cannot_be_is_proven(mould, slab):
    """Too long, too wide, too crooked, a knot in the only lane: each is proven to fit nowhere."""
    problem = prepare([mould], [slab], SETTINGS)
    assert not certify(problem).may.any()


def test_hall_set_of_scarce_crooks():
    """Three timbers that only two slabs can give, one each: one goes without, and it is said."""
    bent = [strip(f"{k}-P-f1", arc(500, 60), 80) for k in (1, 2, 3)]
    easy = [straight(f"{k}-P-a1", 500, 60) for k in (1, 2)]
    slabs = [crook(f"C{k}", arc(510, 66), 110) for k in range(2)]
    slabs += [plank(f"P{k}", 900, 200) for k in range(3)]
    problem = prepare(bent + easy, slabs, SETTINGS)
    papers = certify(problem)
    short = shortages(problem, papers.may, demand_of(problem))
    assert len(short) == 1
    assert set(short[0].marks) == {m.mark for m in bent}
    assert set(short[0].slabs) == {"C0", "C1"}
    assert (short[0].places, short[0].short) == (2, 1)
    layout = lay(bent + easy, slabs, SETTINGS, rounds=60, problem=problem)
    proof = prove(problem, layout)
    assert len(layout.unplaced) >= 1
    assert proof.bound.value <= proof.bound.reached
    assert "P202" in {f.code for f in proof.findings}
    assert "m2" in proof.says


def test_shape_that_would_serve_would():
    """A slab made to the words for a timber that fits nowhere takes it."""
    mould = strip("1-P-f1", arc(900, 45), 90)
    problem = prepare([mould], [plank("A", 900, 200)], SETTINGS)
    assert not problem.poses.ok.any()
    says = shape_that_would_serve(problem, "1-P-f1")
    wide = float(says.split(" mm wide")[0].split()[-1])
    assert wide == pytest.approx(92, abs=3)
    made = crook("B", arc(900, 47), wide + 8)
    assert lay([mould], [made], SETTINGS, rounds=10).unplaced == ()
