"""A hull drawn to another size is the same hull: no length of the methods' own is left in them.

Check: identity (a table and its tolerance times k fair to k times the surface).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from line_tables import marram

from futtock.lines.fair import Fairing, fair
from futtock.lines.settings import FairSettings
from futtock.vessel.table import OffsetTable

SIXTEENTH = 25.4 / 16


def sized(table: OffsetTable, k: float) -> OffsetTable:
    """The table with every length times k."""
    return replace(
        table,
        x_mm=table.x_mm * k,
        rows=tuple(replace(r, at_mm=r.at_mm * k, values_mm=r.values_mm * k) for r in table.rows),
        ends={name: points * k for name, points in table.ends.items()},
        diagonals={
            name: replace(d, height_mm=d.height_mm * k) for name, d in table.diagonals.items()
        },
    )


@pytest.fixture(scope="module")
def as_drawn() -> Fairing:
    return fair(marram(), FairSettings(SIXTEENTH))


@pytest.mark.parametrize("k", [0.4, 0.999])
def test_a_table_to_another_scale_gives_the_same_hull(as_drawn: Fairing, k: float) -> None:
    """Surface within a thousandth of a millimetre, bounds within a hundredth, the same doubts."""
    other = fair(sized(marram(), k), FairSettings(SIXTEENTH * k))
    u = np.linspace(*as_drawn.hull.u_range, 62)[1:-1]
    low, high = as_drawn.hull.trim.low(u), as_drawn.hull.trim.high(u)
    v = low[:, None] + (high - low)[:, None] * np.linspace(0, 1, 15)
    points = as_drawn.side.field.points(u[:, None], v).reshape(-1, 3)
    off = other.side.field.nearest(points * k)[0] / k
    assert np.abs(off).max() < 1e-3
    assert np.abs(other.hull.trim.low(u * k) / k - low).max() < 0.01
    assert np.abs(other.hull.trim.high(u * k) / k - high).max() < 0.01
    named = [{(p.line, p.station) for p in f.doubtful} for f in (as_drawn, other)]
    assert named[0] == named[1]
    assert other.side.fit.stiffness == as_drawn.side.fit.stiffness
