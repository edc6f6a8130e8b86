from __future__ import annotations

import numpy as np
import pytest
from layout_cases import plank, strip

from futtock.layout.cutting_now import prices, with_cut
from futtock.layout.drawn import EnoughSettings, case_of, draw
from futtock.layout.lay import lay
from futtock.layout.part import part_of
from futtock.layout.problem import prepare
from futtock.layout.settings import LaySettings

SETTINGS = LaySettings(kerf_mm=6.0)
SURE = EnoughSettings(spoilage=0.0, drying_loss=0.0)


def straight(mark, long, wide):
    return strip(mark, np.c_[np.linspace(0, long, 31), np.zeros(31)], wide)


@pytest.fixture(scope="module")
def case():
    """A long timber that only the long slab gives, short ones that any gives; nothing to spare."""
    moulds = [straight("1-P-f1", 1100, 70), *(straight(f"{k}-P-f1", 500, 70) for k in (2, 3))]
    slabs = [plank("LONG", 1150, 95, stack="A"), plank("S1", 550, 95, stack="A")]
    slabs.append(plank("S2", 550, 95, stack="A"))
    return case_of(prepare(moulds, slabs, SETTINGS), {}, SURE, {}, 0)


def placed(case, mark, slab):
    names = [s.name for s in case.problem.slabs]
    marks = [m.mark for m in case.problem.moulds]
    part = part_of(case.problem, [marks.index(mark)], [names.index(slab)])
    done = lay(part.moulds, part.slabs, SETTINGS, rounds=10, problem=part)
    return done.placements[0]


def test_cutting_the_only_place_of_another_costs_all(case):
    """A short timber cut from the one long slab loses the chance; from a short slab it is free."""
    assert not draw(case, 0).short.sum()
    dear = prices(case, [placed(case, "2-P-f1", "LONG")], piles=10)[0]
    assert dear.chance == 1.0
    assert dear.timbers == pytest.approx(1.0)
    assert not dear.free
    cheap = prices(case, [placed(case, "2-P-f1", "S1")], piles=10)[0]
    assert cheap.chance == 0.0
    assert cheap.free


def test_the_cheapest_come_first(case):
    """Prices come in the order in which to cut; each names its slab and timbers."""
    both = [placed(case, "2-P-f1", "LONG"), placed(case, "3-P-f1", "S2")]
    told = prices(case, both, piles=6)
    assert [p.slab for p in told] == ["S2", "LONG"]
    assert [p.marks for p in told] == [("3-P-f1",), ("2-P-f1",)]


def test_a_cut_leaves_the_rest_of_the_slab(case):
    """Cutting changes neither the case nor other slabs, and the timber is no longer wanted."""
    before = case.problem.ground.top.copy()
    cut = with_cut(case, [placed(case, "2-P-f1", "S1")])
    assert (case.problem.ground.top == before).all()
    assert cut.demand.sum() == case.demand.sum() - 1
    off = case.problem.ground.off
    changed = cut.problem.ground.top != before
    assert changed[off[1] : off[2]].any()
    assert not changed[: off[1]].any()
    assert not changed[off[2] :].any()
