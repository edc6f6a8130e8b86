"""Four kinds of 12 m hull, exact by construction, against tables read off them.

Hollow garboard with a raked transom; flat floor, tumblehome amidships and a transom; canoe stern
with raked ends; bluff bow with a plumb stem. Our own invention: the truth is their formula.
"""

from __future__ import annotations

import sys
from functools import lru_cache

import numpy as np
import pytest
from conftest import ROOT

from futtock.lines.fair import Fairing, FairSettings, fair
from futtock.vessel.table import OffsetTable

sys.path.append(str(ROOT / "benchmarks"))
from invented_hulls import KINDS, Invented, read_off, take_table

LIMITS = {0.0: (0.5, 0.5, 0.98), 3.0: (3.0, 1.75, 0.65)}
"""By noise: the tolerance stated, and what is asked: rms (mm) and share within 1.5 mm.

Clean figures are asked what the surface is to reach; noise of 3 mm what it does reach, with room
for one draw's chance.
"""


@lru_cache(maxsize=4)
def taken(which: int) -> tuple[Invented, OffsetTable]:
    """A hull and her exact table."""
    hull = KINDS[which]()
    return hull, take_table(hull)


@pytest.fixture(scope="module", params=[(k, n) for k in range(4) for n in LIMITS])
def case(request: pytest.FixtureRequest) -> tuple[Invented, float, Fairing]:
    which, noise = request.param
    hull, exact = taken(which)
    table, _ = read_off(exact, np.random.default_rng(42), noise, 1.0)
    return hull, noise, fair(table, FairSettings(LIMITS[noise][0]))


def test_the_surface_lies_on_the_true_hull(case: tuple[Invented, float, Fairing]) -> None:
    """From some 290 figures to a millimetre: rms half a millimetre, 98 % within 1.5 mm."""
    hull, noise, faired = case
    off = np.abs(faired.side.field.nearest(hull.cloud())[0])
    _, rms, share = LIMITS[noise]
    assert np.sqrt((off**2).mean()) < rms
    assert (off < 1.5).mean() >= share
    assert not faired.doubtful


def test_the_surface_knows_how_well_it_is_known(case: tuple[Invented, float, Fairing]) -> None:
    """Nine true points in ten and more lie within two of the standard errors that it states, and it
    does not state twice what is so.
    """
    hull, _, faired = case
    points = hull.cloud()[::4]
    off = faired.side.field.nearest(points)[0]
    spread = faired.side.spread(points)[0]
    assert 0.9 <= (np.abs(off) < 2 * spread).mean() < 1.0
    ratio = np.sqrt((off**2).mean() / (spread**2).mean())
    assert 0.5 < ratio < 1.3
