from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from layout_cases import arc, crook, plank, strip

from futtock.layout.budget import Budget
from futtock.layout.diving import Diver
from futtock.layout.islands import new_island
from futtock.layout.lay import lay
from futtock.layout.prices import Fillings
from futtock.layout.problem import prepare
from futtock.layout.settings import LaySettings

SETTINGS = LaySettings(kerf_mm=6.0)


def items(*patterns):
    rows = np.zeros((len(patterns), 7))
    rows[:, 0] = patterns
    return rows


def test_mix_solves_a_programme_known_by_hand():
    """Two timbers A and one B: A+B costs 3, A alone 2, B alone 2; best is A+B and A, for 5."""
    fillings = Fillings(np.array([3.0, 2.0, 2.0]), np.array([1.0, 1.0]), np.array([2, 1]))
    for k, which in ((0, (0, 1)), (1, (0,)), (2, (1,))):
        assert fillings.add(k, items(*which))
    assert not fillings.add(0, items(1, 0))
    mix = fillings.mix()
    assert mix.cost == pytest.approx(5.0)
    np.testing.assert_allclose(mix.share, [1.0, 1.0, 0.0], atol=1e-9)
    # strong duality, and no filling known is worth more than it costs
    dual = mix.price @ np.array([2, 1]) - mix.slab_price.sum()
    assert dual == pytest.approx(mix.cost)
    worth = fillings.worth(mix.price, np.array([2, 1]))
    assert (worth <= fillings.cost[fillings.slab] + mix.slab_price[fillings.slab] + 1e-9).all()
    fillings.want(np.array([1, 1]), np.array([False, True, True]))
    assert fillings.mix().cost == pytest.approx(4.0)


def bent_yard():
    moulds = [
        strip(f"{k + 1}-{side}-f1", arc(800 + 90 * k, 36 - 2 * k), 80 + 4 * k)
        for k in range(7)
        for side in "PS"
    ]
    slabs = [crook(f"C{k}", arc(950 + 130 * k, 70 - 5 * k), 250 + 12 * k) for k in range(9)]
    return moulds, slabs + [plank(f"P{k}", 1700, 240) for k in "ab"]


def test_dive_keeps_to_what_is_wanted_and_free():
    """A dive places no timber twice, begins no slab that is not free, and each slab once."""
    moulds, slabs = bent_yard()
    problem = prepare(moulds, slabs, SETTINGS)
    demand = np.bincount([m.pattern for m in problem.member])
    free = np.ones(len(slabs), bool)
    free[[2, 5]] = False
    found = []
    for _ in range(2):
        islands = [new_island(problem, demand, q, whole=True) for q in range(2)]
        with ThreadPoolExecutor(2) as pool:
            diver = Diver(problem, islands, pool, demand, seed=4)
            budget = Budget(200, None, None)
            mix = diver.gather(demand, free, budget, lambda: True, 0.6)
            chosen, left = diver.dive(demand, free, budget, lambda: True, 0.95)
        placed = np.zeros_like(demand)
        for rows in chosen.values():
            np.add.at(placed, rows[:, 0].astype(int), 1)
        np.testing.assert_array_equal(placed + left, demand)
        assert placed.sum() > 0
        assert not {2, 5} & set(chosen)
        cost = sum(problem.ground.cost[k] for k in chosen)
        if not left.any():
            assert cost >= 0.9 * mix.cost  # the mix may still fall while diving, but not by much
        # the working ground is left as it was found
        for island in islands:
            np.testing.assert_array_equal(island.all_top, problem.ground.top)
        found.append({k: v.tolist() for k, v in chosen.items()})
    assert found[0] == found[1]


def test_search_by_prices_is_no_worse_and_repeats():
    """With prices a layout repeats for its seed, and begins no more slab than the greedy start."""
    moulds, slabs = bent_yard()
    problem = prepare(moulds, slabs, SETTINGS)
    start = lay(moulds, slabs, SETTINGS, rounds=0, problem=problem)
    one, two = (lay(moulds, slabs, SETTINGS, rounds=150, seed=2, problem=problem) for _ in "ab")
    assert one.placements == two.placements
    assert len(one.unplaced) <= len(start.unplaced)
    if len(one.unplaced) == len(start.unplaced):
        assert one.bound.reached <= start.bound.reached + 1e-9


def test_stopped_while_gathering_still_dives():
    """Stopped long before its dive, a search gives a layout chosen from what was gathered: never
    worse than the greedy one it told of, every timber placed once.
    """
    moulds, slabs = bent_yard()
    problem = prepare(moulds, slabs, SETTINGS)
    start = lay(moulds, slabs, SETTINGS, rounds=0, problem=problem)
    told = []

    def stop(p):
        told.append(p.done)
        return p.done < 100

    layout = lay(moulds, slabs, SETTINGS, stop, rounds=2000, problem=problem)
    assert "P401" in {f.code for f in layout.findings}
    assert max(told) < 300
    assert (len(layout.unplaced), layout.bound.reached) <= (
        len(start.unplaced),
        start.bound.reached + 1e-9,
    )
    marks = [p.mark for p in layout.placements] + list(layout.unplaced)
    assert sorted(marks) == sorted(m.mark for m in moulds)
