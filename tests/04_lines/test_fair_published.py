"""Published hulls: the canoe of 1889 with her misprints, Series 60, Wigley in eighths."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from line_tables import canoe, series60, summed_mm3, wigley

from futtock.lines.fair import FairSettings, fair
from futtock.vessel.table import OffsetTable


def test_canoe_misprints_are_doubted() -> None:
    """The three sure misprints are doubtful and at most one other figure is.

    Source: W. P. Stephens, Canoe and Boat Building, 4th ed. 1889, Plate XI (public domain), as
    listed in the anomalies file beside the table.
    """
    found = {(p.line, p.station) for p in fair(canoe(), FairSettings(1.6)).doubtful}
    sure = {
        ("halfbreadth waterline 0-6-0", "0"),
        ("halfbreadth waterline 0-2-0", "3"),
        ("halfbreadth sheer", "13"),
    }
    assert sure <= found
    assert len(found - sure) <= 1


def test_series_60_coefficients() -> None:
    """Cp within 0.001 and LCB within 0.05 % of length of the published; her tenfold slip named.

    Source: F. H. Todd, DTMB Report 1712 (1963): Cp 0.614, LCB 1.5 % aft of midship.
    """
    length = 400 * 304.8
    faired = fair(series60(), FairSettings(2.5, waterline_mm=length / 7.5 / 2.5))
    h = faired.hydrostatics
    assert h is not None
    assert h.cp == pytest.approx(0.614, abs=0.001)
    assert h.lcb_mm / length - 0.5 == pytest.approx(0.015, abs=0.0005)
    wrong = [p for p in faired.doubtful if p.given_mm > 50_000]
    assert len(wrong) == 1
    assert abs(wrong[0].fair_mm) < 300.0


WIGLEY = (40 * 304.8, 8 * 304.8, 5 * 304.8)


def _exact_wigley() -> OffsetTable:
    """The table's own places with the closed form's figures in them, unrounded."""
    length, beam, draught = WIGLEY
    table = wigley()
    along = 1 - (2 * table.x_mm / length - 1) ** 2
    rows = []
    for r in table.rows:
        exact = beam / 2 * along * (1 - (1 - r.at_mm / draught) ** 2)
        values = np.where(np.isfinite(r.values_mm), exact, np.nan)
        rows.append(replace(r, values_mm=values))
    return replace(table, rows=tuple(rows))


@pytest.mark.parametrize("kind", ["exact", "eighths"])
def test_wigley(kind: str) -> None:
    """Volume within 0.02 %, LCB within 0.1 mm of the closed form, and no figure doubted.

    Source: W. C. S. Wigley's hull: V = 4LBT/9, A = 2LB/3, KB = 5T/8. The figures in eighths are
    held to the volume that Simpson's rule makes of those same figures: the rule is exact for her
    parabolas, and the rounding alone moves it by 0.033 %.
    """
    length, beam, draught = WIGLEY
    table = _exact_wigley() if kind == "exact" else wigley()
    faired = fair(table, FairSettings(1.0, waterline_mm=draught))
    h = faired.hydrostatics
    assert h is not None
    closed = 4 / 9 * length * beam * draught
    summed = summed_mm3(table)
    assert summed == pytest.approx(closed, rel=1e-9 if kind == "exact" else 4e-4)
    assert h.volume_m3 * 1e9 == pytest.approx(summed, rel=2e-4)
    assert h.lcb_mm == pytest.approx(length / 2, abs=0.1)
    assert h.waterplane_m2 * 1e6 == pytest.approx(2 / 3 * length * beam, rel=5e-4)
    assert h.vcb_mm == pytest.approx(5 / 8 * draught, abs=0.5)
    # transverse second moment: 2/3 (B/2)^3 L 16/35, over the volume (own derivation)
    inertia = 2 / 3 * (beam / 2) ** 3 * length * 16 / 35
    assert h.bm_mm == pytest.approx(inertia / closed, rel=1e-3)
    assert np.sum([p.doubtful for p in faired.points]) == 0
