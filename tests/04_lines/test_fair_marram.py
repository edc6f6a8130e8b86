"""The demo vessel: her rounded table with two slips against her exact surface.

Source of the truth: ``truth.json``, computed from the surface behind the table before rounding.
"""

from __future__ import annotations

import csv
import json

import numpy as np
import pytest
from line_tables import DATA, marram

from futtock.lines.fair import Fairing, FairSettings, fair

TOLERANCE = 25.4 / 16


@pytest.fixture(scope="module")
def truth() -> dict:
    return json.loads((DATA / "demo/truth.json").read_text())


@pytest.fixture(scope="module")
def faired() -> Fairing:
    return fair(marram(), FairSettings(TOLERANCE, waterline_mm=1524.0))


def test_only_the_two_slips_are_doubted(faired: Fairing) -> None:
    """Every slip is named with its mend, and no other figure is doubted."""
    rows = list(csv.DictReader((DATA / "demo/slips.csv").read_text().splitlines()))
    slips = {(f"{r['line']} {r['at']}", r["station"]): r["true"] for r in rows}
    found = {(p.line, p.station): p.likely for p in faired.doubtful}
    assert set(found) == set(slips)
    for place, likely in found.items():
        assert likely is not None
        assert likely.endswith(slips[place])


def test_surface_lies_within_the_rounding(faired: Fairing, truth: dict) -> None:
    """The fair surface lies within an eighth of the true one, most of it within 1.5 mm."""
    points = np.array([p["at_mm"] for p in truth["surface"]])
    off, _ = faired.side.field.nearest(points)
    assert np.sqrt((off**2).mean()) < 0.6
    assert (np.abs(off) < 1.5).mean() >= 0.98
    assert np.abs(off).max() < 3.175


def test_normals_serve_for_bevels(faired: Fairing, truth: dict) -> None:
    """Normals at 200 exact points agree within half a degree for nine in ten of them."""
    points = np.array([p["at_mm"] for p in truth["surface"]])
    exact = np.array([p["normal"] for p in truth["surface"]])
    _, uv = faired.side.field.nearest(points)
    got = faired.side.field.normals(uv[:, 0], uv[:, 1])
    angle = np.degrees(np.arccos(np.clip((got * exact).sum(axis=1), -1, 1)))
    assert np.percentile(angle, 90) < 0.5
    assert angle.max() < 1.5


@pytest.mark.parametrize(
    ("key", "share"),
    [
        ("volume_m3", 5e-4),
        ("waterplane_m2", 5e-4),
        ("wetted_m2", 1e-3),
        ("vcb_mm", 5e-4),
        ("cp", 1e-3),
    ],
)
def test_hydrostatics(faired: Fairing, truth: dict, key: str, share: float) -> None:
    """Volume, areas and coefficients of the rounded table are those of the true hull."""
    assert faired.hydrostatics is not None
    got = getattr(faired.hydrostatics, key)
    assert got == pytest.approx(truth["hydrostatics"][key], rel=share)


def test_centre_of_buoyancy(faired: Fairing, truth: dict) -> None:
    """LCB within a millimetre on eleven metres."""
    assert faired.hydrostatics is not None
    assert faired.hydrostatics.lcb_mm == pytest.approx(truth["hydrostatics"]["lcb_mm"], abs=1.0)


def test_every_figure_is_accounted_for(faired: Fairing) -> None:
    """Every figure of the table and every end point comes back, off = fair - given."""
    table = marram()
    figures = sum(int(np.isfinite(r.values_mm).sum()) for r in table.rows)
    assert len(faired.points) == figures + sum(len(p) for p in table.ends.values())
    for p in faired.points:
        assert p.off_mm == pytest.approx(p.fair_mm - p.given_mm)
        assert np.isfinite(p.fair_mm)


def test_trim_meets_rabbet_and_sheer(faired: Fairing) -> None:
    """Between her bounds the surface starts on the rabbet and ends on the sheer."""
    hull, table = faired.hull, marram()
    x = table.x_mm
    low = hull.surface.derivatives(x, hull.trim.low(x))[:, 0, :]
    high = hull.surface.derivatives(x, hull.trim.high(x))[:, 0, :]
    rabbet, sheer = table.row("height", "rabbet"), table.row("height", "sheer")
    assert rabbet is not None
    assert sheer is not None
    assert np.abs(low[:, 2] - rabbet.values_mm).max() < 5.0
    assert np.abs(high[:, 2] - sheer.values_mm).max() < 3.2
