from __future__ import annotations

import numpy as np
import pytest
from layout_cases import arc, crook, knot, plank, strip
from shapely import LineString, Polygon

from futtock.errors import Misused
from futtock.layout.cutting import base_line, cutting_plan
from futtock.layout.exact import Court, laid
from futtock.layout.hand import best_for_slab, best_places, judge_by_hand
from futtock.layout.heal import gain_of, heal
from futtock.layout.lay import lay
from futtock.layout.placement import Placement
from futtock.layout.problem import prepare
from futtock.layout.settings import LaySettings

SETTINGS = LaySettings(kerf_mm=6.0)


def straight(mark, long, wide):
    return strip(mark, np.c_[np.linspace(0, long, 31), np.zeros(31)], wide)


@pytest.fixture(scope="module")
def yard():
    """Eight bent and six straight timbers; crooks and planks, two of them spare."""
    moulds = [strip(f"{k}-P-f1", arc(900 + 100 * k, 34), 90) for k in range(1, 9)]
    moulds += [straight(f"{k}-P-a1", 500 + 40 * k, 70) for k in range(1, 7)]
    slabs = [crook(f"C{k}", arc(950 + 100 * k, 62), 250, stack="C") for k in range(6)]
    slabs += [plank(f"P{k}", 1500, 230, flaws=[knot(700, 100, 15)], stack="P") for k in range(4)]
    problem = prepare(moulds, slabs, SETTINGS)
    layout = lay(moulds, slabs, SETTINGS, rounds=60, problem=problem)
    assert layout.unplaced == ()
    return moulds, slabs, problem, layout


def test_best_places_are_places(yard):
    """The ten best places pass the exact check, lie apart, and come best first."""
    moulds, slabs, problem, _ = yard
    found = best_places(moulds[2], slabs, SETTINGS, problem=problem)
    assert 3 <= len(found) <= 10
    court = Court(moulds, slabs, SETTINGS)
    assert all(court.judge(f.placement).passes for f in found)
    scores = [f.snug_mm + 60 * f.placement.slope_mean for f in found]
    assert scores == sorted(scores)
    alone = best_places(moulds[2], slabs, SETTINGS)
    assert {f.placement.slab for f in alone} == {f.placement.slab for f in found}


def test_best_places_beside_what_is_taken(yard):
    """Places beside others leave them the gap."""
    moulds, slabs, problem, layout = yard
    court = Court(moulds, slabs, SETTINGS)
    found = best_places(
        moulds[0], slabs, SETTINGS, problem=problem, taken=layout.placements, moulds=moulds
    )
    for f in found:
        others = [
            laid(court.moulds[p.mark], p).blank
            for p in layout.placements
            if p.slab == f.placement.slab and p.mark != moulds[0].mark
        ]
        assert court.judge(f.placement, others).passes


def test_by_hand_gives_the_verdict(yard):
    """A placement by hand is judged at once; a name that is not there is told."""
    moulds, slabs, _, layout = yard
    p = layout.placements[0]
    assert judge_by_hand(moulds, slabs, SETTINGS, p, layout.placements).passes
    off = Placement(p.mark, p.slab, p.turn_deg, (p.shift_mm[0] + 4000, 0.0), p.mirrored, 0, 0)
    assert "inside" in {f.what for f in judge_by_hand(moulds, slabs, SETTINGS, off).faults}
    with pytest.raises(Misused):
        judge_by_hand(moulds, slabs, SETTINGS, Placement("no", p.slab, 0, (0, 0), False, 0, 0))


def test_slab_on_the_forks(yard):
    """A slab's answer passes the exact check, and what only she can give is told."""
    moulds, slabs, problem, _ = yard
    answer = best_for_slab(problem, "P0")
    court = Court(moulds, slabs, SETTINGS)
    assert answer.placements
    assert all(v.passes for v in court.judge_all(answer.placements))
    assert {p.slab for p in answer.placements} == {"P0"}
    area = sum(Polygon(court.moulds[p.mark].outline_up_mm).area for p in answer.placements)
    assert answer.yield_ == pytest.approx(area / Polygon(slabs[6].bottom_mm).area, rel=1e-3)
    done = [p.mark for p in answer.placements]
    assert not set(done) & {p.mark for p in best_for_slab(problem, "P0", done=done).placements}
    with pytest.raises(Misused):
        best_for_slab(problem, "nowhere")


def test_spoiled_timber_moves_alone(yard):
    """After a spoil the timber has a new place, clear of the spoiled wood; nothing else moves."""
    moulds, slabs, problem, layout = yard
    spoiled = layout.placements[0]
    healed = heal(problem, layout, spoiled=[spoiled.mark])
    assert [c.mark for c in healed.changes] == [spoiled.mark]
    now = {p.mark: p for p in healed.layout.placements}
    court = Court(moulds, slabs, SETTINGS)
    assert all(v.passes for v in court.judge_all(healed.layout.placements))
    for p in layout.placements[1:]:
        assert (now[p.mark].slab, now[p.mark].shift_mm) == (p.slab, p.shift_mm)
    if spoiled.mark in now and now[spoiled.mark].slab == spoiled.slab:
        old = laid(court.moulds[spoiled.mark], spoiled).blank
        assert laid(court.moulds[spoiled.mark], now[spoiled.mark]).blank.distance(old) >= 6.0


def test_lost_slab_moves_what_lay_on_it(yard):
    """With a slab lost, its timbers go elsewhere; cut timbers stay; the changes say so."""
    moulds, slabs, problem, layout = yard
    lost = layout.placements[0].slab
    there = {p.mark for p in layout.placements if p.slab == lost}
    healed = heal(problem, layout, lost=[lost])
    assert lost not in {p.slab for p in healed.layout.placements}
    assert there <= {c.mark for c in healed.changes}
    assert all(v.passes for v in Court(moulds, slabs, SETTINGS).judge_all(healed.layout.placements))
    one = sorted(there)[0]
    kept = heal(problem, layout, lost=[lost], cut=[one])
    assert one in {p.mark for p in kept.layout.placements if p.slab == lost}


def test_new_slab_gives_what_was_missing(yard):
    """A slab newly measured gives a timber that had no place."""
    moulds, slabs, problem, layout = yard
    used = {p.slab for p in layout.placements}
    free = next(s.name for s in slabs if s.name not in used)
    short = [p for p in layout.placements if p.mark != layout.placements[-1].mark]
    poor = layout.__class__(tuple(short), (layout.placements[-1].mark,), 0, 0.0, layout.bound, 0.0)
    gain = gain_of(problem, poor, free)
    fits = {
        f.placement.slab
        for f in best_places(
            next(m for m in moulds if m.mark == layout.placements[-1].mark),
            slabs,
            SETTINGS,
            problem=problem,
            n=50,
        )
    }
    assert (gain.got == (layout.placements[-1].mark,)) == (free in fits)


def test_cutting_plan_parts_without_touching(yard):
    """Rough cuts keep half the kerf from every blank; all slabs come once; figures go back."""
    moulds, slabs, _, layout = yard
    mould = {m.mark: m for m in moulds}
    slab = {s.name: s for s in slabs}
    plans = cutting_plan(layout, moulds, slabs, SETTINGS, first=["3-P-f1"])
    assert [p.order for p in plans] == list(range(1, layout.slabs_used + 1))
    assert "3-P-f1" in {q.mark for q in plans[0].layings}
    for plan in plans:
        here = [p for p in layout.placements if p.slab == plan.slab]
        blanks = {p.mark: laid(mould[p.mark], p).blank for p in here}
        assert {q.mark for q in plan.layings} == set(blanks)
        for cut in plan.cuts:
            line = LineString(cut.line_mm)
            for mark in cut.parts[0] + cut.parts[1]:
                assert line.distance(blanks[mark]) >= 3.0 - 1e-6
        loose = {m for group in plan.follow for m in group}
        parted = len(plan.cuts) + sum(len(g) - 1 for g in plan.follow)
        assert parted == len(here) - 1
        assert loose <= set(blanks)
        for q in plan.layings:
            p = next(p for p in here if p.mark == q.mark)
            assert q.face == ("bottom" if p.mirrored else "top")
            for corner in q.corners:
                f = plan.base.figures(np.array(corner.at_mm))
                assert corner.along_mm == pytest.approx(f[0])
                assert corner.off_mm == pytest.approx(-f[1] if p.mirrored else f[1])
                assert (
                    blanks[q.mark]
                    .buffer(0.1)
                    .covers(
                        Polygon(np.array(corner.at_mm) + 1e-3 * np.array([[0, 0], [1, 0], [0, 1]]))
                    )
                )
        for piece in plan.offcuts:
            ring = Polygon(piece.top_mm)
            assert Polygon(slab[plan.slab].top_mm).buffer(1.0).covers(ring)
            assert all(ring.intersection(b).area < 1.0 for b in blanks.values())


def test_base_line_starts_at_the_butt():
    """The base line runs the long way from the broader end."""
    s = plank("A", 1000, 200)
    ring = np.array([[0.0, 50.0], [1000, 0], [1000, 200], [0, 150]])
    object.__setattr__(s, "top_mm", ring)
    base = base_line(s)
    assert base.start_mm[0] > 900
    assert abs(abs(base.heading_deg) - 180.0) < 5.0
