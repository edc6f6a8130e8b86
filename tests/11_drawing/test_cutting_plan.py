from __future__ import annotations

import numpy as np
import pytest
from layout_cases import arc, crook, plank, strip
from shapely import LineString, Polygon

from futtock.drawing.cutting_plan import cutting_plan_pages, plan_items
from futtock.drawing.figures import offset
from futtock.drawing.heading import Heading
from futtock.drawing.slab import slab_sheet
from futtock.layout.cutting import cutting_plan
from futtock.layout.lay import lay
from futtock.layout.settings import LaySettings
from futtock.sheet.items import Group, Path, Text, flat

HEADING = Heading("Ann", show="metric")


def words_of(sheet):
    return [i.text for i in flat(sheet.items) if isinstance(i, Text)]


@pytest.fixture(scope="module")
def cut():
    """Six timbers laid on two crooks and a plank, and how they are cut."""
    moulds = [strip(f"{k}-P-f1", arc(900 + 60 * k, 24), 80) for k in range(1, 5)]
    moulds += [strip(f"{k}-P-f2", np.c_[np.linspace(0, 450, 21), np.zeros(21)], 70) for k in (1, 2)]
    slabs = [crook("C1", arc(1000, 50), 300), crook("C2", arc(1100, 50), 300)]
    slabs.append(plank("P", 1100, 200))
    settings = LaySettings(kerf_mm=6.0)
    layout = lay(moulds, slabs, settings, rounds=30)
    assert len(layout.placements) >= 5
    return moulds, slabs, layout, cutting_plan(layout, moulds, slabs, settings)


def test_plan_on_paper_tells_every_point(cut):
    """Each slab, timber and point is on the pages with the figures that the tape is to read."""
    _moulds, _slabs, layout, plans = cut
    pages = cutting_plan_pages(plans, HEADING)
    words = [w for page in pages for w in words_of(page)]
    said = " ".join(words)
    for plan in plans:
        assert f"{plan.order}. Slab {plan.slab}" in said
        for laying in plan.layings:
            assert words.count(laying.mark) >= len(laying.corners)
            for c in laying.corners:
                assert offset(c.along_mm, "metric") in words
                assert offset(c.off_mm, "metric") in words
    assert {q.mark for p in plans for q in p.layings} == {p.mark for p in layout.placements}


def test_cuts_drawn_cross_no_timber(cut):
    """The cuts stand on the slab's sheet, by number, and cross no timber that they part."""
    moulds, slabs, layout, plans = cut
    by = {m.mark: m for m in moulds}
    cuts = 0
    for plan in plans:
        slab = next(s for s in slabs if s.name == plan.slab)
        drawn = [i for i in plan_items(plan, 4.0) if isinstance(i, Group)]
        assert [g.name for g in drawn] == [f"cut {n}" for n in range(1, len(plan.cuts) + 1)]
        for group, cut_ in zip(drawn, plan.cuts, strict=True):
            line = next(i for i in group.items if isinstance(i, Path))
            ends = np.asarray(line.points_mm) * 4.0
            parted = {m for part in cut_.parts for m in part}
            for p in layout.placements:
                if p.slab == plan.slab and p.mark in parted:
                    ring = Polygon(p.lay(by[p.mark].outline_up_mm))
                    assert LineString(ends).distance(ring) >= 3.0 - 1e-6
            cuts += 1
        sheet = slab_sheet(slab, layout.placements, by, HEADING, plan=plan)
        words = words_of(sheet)
        assert any(f"Slab number {plan.order} in the order" in w for w in words)
        assert "butt" in words
        assert not plan.cuts or "cut 1" in words
        bare = words_of(slab_sheet(slab, layout.placements, by, HEADING))
        assert "butt" not in bare
    assert cuts > 0
