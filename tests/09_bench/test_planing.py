"""Rates of planing learned from the work itself."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from futtock.bench.planing import Planed, shown_rates
from futtock.bench.thicknessing import Rates

BATCHES = [(0.4, 1), (1.5, 2), (3.0, 1), (6.0, 9), (2.2, 4), (9.0, 3)]


def _work(per_m2: float, each: float, off: tuple[float, ...] = ()) -> list[Planed]:
    luck = off or (1.0,) * len(BATCHES)
    return [
        Planed(a, n, (per_m2 * a + each * n) * f) for (a, n), f in zip(BATCHES, luck, strict=True)
    ]


@given(st.floats(0.5, 20.0), st.floats(0.0, 15.0))
def test_exact_work_gives_its_rates_back(per_m2, each):
    """From times without error both the minutes a square metre and a setting come back."""
    got = shown_rates(Rates(), _work(per_m2, each))
    assert got.minutes_m2 == pytest.approx(per_m2, rel=1e-6)
    assert got.set_minutes == pytest.approx(each, rel=1e-6, abs=1e-6)
    assert got.shown == len(BATCHES)


def test_luck_is_evened_out():
    """Times a fifth over and under give rates within a tenth, whatever the size of the batch."""
    got = shown_rates(Rates(), _work(4.0, 3.0, (1.2, 0.8, 1.2, 0.8, 1.2, 0.8)))
    for area, pieces in BATCHES:
        truth = 4.0 * area + 3.0 * pieces
        assert got.minutes_m2 * area + got.set_minutes * pieces == pytest.approx(truth, rel=0.2)


def test_what_is_stated_stands():
    """A stated rate is not learned over; a stated setting is taken off before the planing."""
    assert shown_rates(Rates(minutes_m2=2.0), _work(4.0, 3.0)) == Rates(minutes_m2=2.0)
    got = shown_rates(Rates(set_minutes=3.0), _work(4.0, 3.0))
    assert (got.minutes_m2, got.set_minutes) == (pytest.approx(4.0), 3.0)


def test_few_or_alike_entries_count_as_planing():
    """Where setting and planing cannot be told apart all of the time is planing."""
    one = shown_rates(Rates(), [Planed(2.0, 1, 12.0)])
    assert (one.minutes_m2, one.set_minutes, one.shown) == (6.0, 0.0, 1)
    alike = shown_rates(Rates(), [Planed(2.0 * n, n, 12.0 * n) for n in range(1, 7)])
    assert (alike.minutes_m2, alike.set_minutes) == (pytest.approx(6.0), 0.0)
    assert shown_rates(Rates(), []) == Rates()
    assert shown_rates(Rates(), [Planed(0.0, 1, 12.0)]) == Rates()
