from __future__ import annotations

import json
from itertools import pairwise

import numpy as np
import pytest
from layout_cases import plank, strip

from futtock.errors import Misused
from futtock.layout.buying import buying_list, fewest
from futtock.layout.drawn import LENT, EnoughSettings, case_of, draw, shares
from futtock.layout.enough import enough, enough_json
from futtock.layout.problem import prepare
from futtock.layout.settings import LaySettings

SETTINGS = LaySettings(kerf_mm=6.0)
SURE = EnoughSettings(spoilage=0.0, drying_loss=0.0, replicates=60)


def straight(mark, long, wide):
    return strip(mark, np.c_[np.linspace(0, long, 31), np.zeros(31)], wide)


def yard(timbers, good, bad):
    """Timbers that just go one on a good slab; ``bad`` slabs are too short for any."""
    moulds = [straight(f"{k}-P-f1", 600, 70) for k in range(timbers)]
    slabs = [plank(f"G{k}", 640, 100, stack="A") for k in range(good)]
    slabs += [plank(f"B{k}", 400, 100, stack="A") for k in range(bad)]
    return prepare(moulds, slabs, SETTINGS)


def test_certain_cases_are_certain():
    """All measured and enough: 1. All measured and one short: 0, and one more slab is wanted."""
    problem = yard(8, 8, 0)
    full = enough(problem, {"A": 0}, SURE)
    assert full.probability == 1.0
    assert full.more_slabs == (0, 0)
    short = enough(yard(9, 8, 0), {"A": 0}, SURE)
    assert short.probability == 0.0
    assert short.missing[0].count == 1.0
    assert short.more_slabs == (1, 1)


def test_chance_is_the_closed_form():
    """Half the measured are good, k of n unmeasured are needed: the beta-binomial chance.

    Under Dirichlet weights the share of good slabs follows Beta(a good, a bad), with a = 1 - 2 / n
    for few slabs, so the number of good among the unmeasured is beta-binomial, in closed form.
    """
    from scipy.stats import betabinom

    good, bad, n, k = 6, 6, 10, 5
    a = 1.0 - 2.0 / (good + bad)
    problem = yard(good + k, good, bad)
    answer = enough(problem, {"A": n}, EnoughSettings(0.0, 0.0, 400), seed=4)
    true = float(betabinom(n, a * good, a * bad).sf(k - 1))
    assert answer.probability == pytest.approx(true, abs=3.5 * answer.error)
    assert answer.measured_slabs == good + bad
    assert answer.unmeasured_slabs == n


def test_shares_spread_as_the_unbiased_variance():
    """The mean of a pile drawn by the shares has the variance s2 / n of a sample mean."""
    problem = yard(4, 6, 4)
    case = case_of(problem, {"A": 5}, SURE, {}, 0)
    x = np.arange(10.0) ** 1.5
    rng = np.random.default_rng(3)
    means = np.array([shares(case, rng)[0] @ x for _ in range(20_000)])
    assert means.mean() == pytest.approx(x.mean(), rel=0.01)
    assert means.var() == pytest.approx(x.var(ddof=1) / len(x), rel=0.04)


def test_stacks_lend_to_each_other():
    """A stack is its own slabs and ``LENT`` slabs' worth of the pile, on the mean of many draws."""
    moulds = [straight("1-P-f1", 600, 70)]
    slabs = [plank(f"A{k}", 640, 100, stack="A") for k in range(9)]
    slabs += [plank("B0", 640, 100, stack="B")]
    case = case_of(prepare(moulds, slabs, SETTINGS), {"A": 3, "B": 3, "C": 1}, SURE, {}, 0)
    rng = np.random.default_rng(5)
    a, b, c = np.mean([shares(case, rng) for _ in range(4000)], axis=0)
    assert a[9] == pytest.approx(LENT * 0.1 / (9 + LENT), rel=0.15)
    assert b[9] == pytest.approx((1 + LENT * 0.1) / (1 + LENT), rel=0.08)
    assert c == pytest.approx(np.full(10, 0.1), abs=0.02)


def test_spoilage_and_loss_lower_the_chance():
    """The chance falls with spoilage and with slabs lost in drying."""
    problem = yard(9, 8, 4)
    plain = enough(problem, {"A": 6}, SURE, seed=1).probability
    spoil = enough(problem, {"A": 6}, EnoughSettings(0.3, 0.0, 60), seed=1).probability
    loss = enough(problem, {"A": 6}, EnoughSettings(0.0, 0.4, 60), seed=1).probability
    assert spoil < plain
    assert loss < plain


def test_same_seed_same_answer():
    """The same seed gives the same answer."""
    problem = yard(10, 8, 4)
    one, two = (enough(problem, {"A": 5}, SURE, seed=7) for _ in range(2))
    assert (one.short == two.short).all()
    assert one.says == two.says


def test_bad_counts_are_told():
    """No slab measured, few measured, a stack with none measured, counts below nought."""
    none = prepare([straight("1-P-f1", 600, 70)], [], SETTINGS)
    answer = enough(none, {"A": 12}, SURE)
    assert np.isnan(answer.probability)
    assert "P501" in {f.code for f in answer.findings}
    assert "measure" in answer.says.lower()
    assert enough_json(answer)["probability"] is None
    few = enough(yard(2, 3, 0), {"A": 2, "Z": 5}, SURE)
    assert {"P501", "P502"} <= {f.code for f in few.findings}
    with pytest.raises(Misused):
        enough(yard(2, 3, 0), {"A": -1}, SURE)
    with pytest.raises(Misused):
        EnoughSettings(spoilage=1.5)


def test_words_rest_on_figures():
    """The sentence states what it rests on; the document has the keys outside checks read."""
    answer = enough(yard(9, 8, 4), {"A": 6}, SURE, seed=1)
    assert "12 slabs measured and 6 not" in answer.says
    assert "60 piles drawn" in answer.says
    document = json.loads(json.dumps(enough_json(answer)))
    assert set(document) >= {
        "measured_slabs",
        "unmeasured_slabs",
        "probability",
        "missing",
        "more_slabs",
        "seconds",
    }
    assert set(document["more_slabs"]) == {"p50", "p90"}


def test_a_small_chance_is_called_cautious():
    """A small chance is said to be told low, save where many are short or all is measured."""
    words = "came true more often than told"
    problem = yard(10, 6, 4)
    near = enough(problem, {"A": 4}, SURE, seed=2)
    assert 0.0 < near.probability < 0.2
    assert words in near.says
    assert words not in enough(yard(40, 6, 4), {"A": 4}, SURE, seed=2).says
    known = enough(problem, {"A": 0}, SURE, seed=2)
    assert known.probability == 0.0
    assert words not in known.says


def test_measuring_all_settles_it():
    """The chance told narrows with every slab measured, and measuring all leaves none or one."""
    answer = enough(yard(15, 8, 8), {"A": 10, "B": 6}, EnoughSettings(0.0, 0.0, 120), seed=3)
    steps = answer.narrowing.steps
    assert [s.further for s in steps] == [5, 10, 16]
    assert all(s.high - s.low <= t.high - t.low + 1e-9 for s, t in pairwise(steps))
    assert [sum(n for _, n in s.measure) for s in steps] == [5, 10, 16]
    assert steps[-1].settled == pytest.approx(1.0)
    assert all(a.settled <= b.settled + 1e-9 for a, b in pairwise(steps))
    assert answer.low <= answer.probability <= answer.high
    assert answer.measure_next == "B"  # of which nothing is known
    assert "P502" in {f.code for f in answer.findings}


def test_no_timber_left_is_enough():
    """With every timber got, any pile is enough."""
    problem = prepare([], [plank("A1", 640, 100, stack="A")], SETTINGS)
    assert enough(problem, {"A": 3}, SURE).probability == 1.0


def test_a_shape_that_nothing_gives_is_told():
    """A timber that no slab measured gives is named; slabs not measured may give it, seldom."""
    moulds = [straight("1-P-f1", 600, 70), straight("2-P-f1", 900, 70)]
    slabs = [plank(f"A{k}", 640, 100, stack="A") for k in range(9)]
    problem = prepare(moulds, slabs, SETTINGS)
    known = enough(problem, {"A": 0}, SURE)
    assert known.probability == 0.0
    assert "less than" in known.says
    assert [f.read for f in known.findings if f.code == "P503"] == ["2-P-f1"]
    answer = enough(problem, {"A": 9}, EnoughSettings(0.0, 0.0, 400))
    # Beta(a, b + 9) for the rate: one of nine gives it with 1 - B(a, b + 18) / B(a, b + 9)
    from scipy.special import betaln

    a, b = case_of(problem, {"A": 9}, SURE, {}, 0).rare
    true = 1.0 - float(np.exp(betaln(a, b + 18) - betaln(a, b + 9)))
    assert answer.probability == pytest.approx(true, abs=3.5 * answer.error)


def test_a_pile_drawn_counts_its_areas():
    """What is laid on the slabs turned over is the area of the timbers got."""
    problem = yard(6, 5, 3)
    case = case_of(problem, {"A": 4}, SURE, {}, 1)
    one = draw(case, 0)
    got = (case.demand - one.short) @ problem.patterns.area
    assert one.laid.sum() == pytest.approx(got)
    assert (one.turned[one.laid > 0] > 0).all()


def test_fewest_slabs_by_hand():
    """Counts worked by hand: the chance asked is reached and no single slab can be spared."""
    table = np.array([[0, 0], [1, 0], [2, 0], [0, 3], [5, 5]])
    assert fewest(table, 0.6).tolist() == [2, 0]
    assert fewest(table, 0.8).tolist() == [2, 3]
    assert fewest(table, 0.2).tolist() == [0, 0]
    rng = np.random.default_rng(2)
    for _ in range(20):
        table = rng.poisson(1.0, (40, 4))
        counts = fewest(table, 0.75)
        assert (table <= counts).all(1).mean() >= 0.75
        for c in np.flatnonzero(counts):
            less = counts.copy()
            less[c] -= 1
            assert (table <= less).all(1).mean() < 0.75


def test_what_the_list_says_brings_the_chance():
    """Slabs made to the list and added to the rack bring the chance to what was asked."""
    problem = yard(9, 6, 4)
    answer = enough(problem, {"A": 4}, SURE, seed=2)
    buy = buying_list(problem, answer, level=0.8, price_per_m2=100.0)
    assert answer.probability < 0.8 <= buy.after
    assert buy.slabs == sum(w.count for w in buy.wanted)
    assert all(w.cost is not None and w.cost > 0 for w in buy.wanted)
    made = [
        plank(f"N{k}", w.length_mm, w.width_mm, stack="N")
        for w in buy.wanted
        for k in range(w.count)
    ]
    moulds = [straight(f"{k}-P-f1", 600, 70) for k in range(9)]
    after = enough(prepare(moulds, [*problem.slabs, *made], SETTINGS), {"A": 4}, SURE, seed=2)
    assert after.probability >= 0.8 - 3 * after.error
    with pytest.raises(Misused):
        buying_list(problem, answer, level=1.0)
