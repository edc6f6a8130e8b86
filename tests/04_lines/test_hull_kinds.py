"""Kinds of hull that try the surface: knuckles, bluff bows, and composed fields' derivatives."""

from __future__ import annotations

import numpy as np
import pytest

from futtock.lines.batten import lay_batten
from futtock.lines.bspline import Axis
from futtock.lines.composed import ForeAndAft, Knuckle, Knuckled, SeenPlain
from futtock.lines.fair import FairSettings, fair
from futtock.lines.heightfield import HeightField, Turn
from futtock.vessel.table import OffsetTable, Row


def _row(line: str, at: str, what: str, at_mm: float, values: np.ndarray) -> Row:
    texts = tuple("" if np.isnan(v) else f"{v:.0f}" for v in values)
    return Row(line, at, what, at_mm, values, texts, 0)  # type: ignore[arg-type]


def _chined(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Half-breadth and height of an invented chine over x."""
    s = x / 12000
    return 200 + 1100 * np.sin(np.pi * s * 0.8 + 0.1), 700 + 2000 * (s - 0.55) ** 2


def _chined_section(x: np.ndarray, p: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    yc, zc = _chined(x)
    y0, z0 = 80.0, 300 + 150 * np.exp(-x / 1500)
    y1, z1 = yc + 250, 2300 + 450 * ((x - 7400) / 7400) ** 2
    low, q = p < 0.5, np.where(p < 0.5, 2 * p, 2 * p - 1)
    belly = q * (1 - q)
    y = np.where(low, y0 + (yc - y0) * q - 60 * belly, yc + (y1 - yc) * q + 25 * belly)
    z = np.where(low, z0 + (zc - z0) * q + 40 * belly, zc + (z1 - zc) * q)
    return y, z


def chined_table(knuckle: bool) -> OffsetTable:
    """A chined hull's table to the millimetre, with or without its knuckle rows."""
    x = np.linspace(200, 11800, 17)
    p = np.linspace(0, 1, 2001)
    y, z = _chined_section(x[:, None], p[None, :])
    rows = [
        _row("height", "sheer", "sheer", np.nan, np.round(z[:, -1])),
        _row("height", "rabbet", "rabbet", np.nan, np.round(z[:, 0])),
        _row("halfbreadth", "sheer", "sheer", np.nan, np.round(y[:, -1])),
        _row("halfbreadth", "rabbet", "rabbet", np.nan, np.round(y[:, 0])),
    ]
    for b in (250.0, 450.0, 700.0, 950.0, 1200.0):
        pairs = zip(y, z, strict=True)
        met = [np.interp(b, yy, zz) if yy[0] < b < yy[-1] else np.nan for yy, zz in pairs]
        rows.append(_row("height", f"buttock {b:.0f}", "buttock", b, np.round(met)))
    for w in np.arange(500.0, 2400.0, 200.0):
        pairs = zip(y, z, strict=True)
        met = [np.interp(w, zz, yy) if zz[0] < w < zz[-1] else np.nan for yy, zz in pairs]
        rows.append(_row("halfbreadth", f"waterline {w:.0f}", "waterline", w, np.round(met)))
    if knuckle:
        yc, zc = _chined(x)
        rows.append(_row("height", "knuckle", "knuckle", np.nan, np.round(zc)))
        rows.append(_row("halfbreadth", "knuckle", "knuckle", np.nan, np.round(yc)))
    names = tuple(str(k) for k in range(len(x)))
    return OffsetTable("chined.csv", names, x, tuple(rows))


def test_a_knuckle_row_keeps_the_fold() -> None:
    """With its knuckle given a chined hull is met within 2 mm; without, it is rounded off."""
    x, p = (g.ravel() for g in np.meshgrid(np.linspace(400, 11600, 60), np.linspace(0, 1, 41)))
    y, z = _chined_section(x, p)
    points = np.column_stack([x, y, z])
    off = {}
    for knuckle in (False, True):
        faired = fair(chined_table(knuckle), FairSettings(0.5))
        off[knuckle] = np.abs(faired.side.field.nearest(points)[0])
    # the nearest point by Newton may stop on the wrong side of the fold: judge by the bulk
    assert np.percentile(off[True], 98) < 2.0
    assert np.sqrt((off[True] ** 2).mean()) < 0.4 * np.sqrt((off[False] ** 2).mean())


def _field(seed: int, plan: float = 0.0) -> HeightField:
    rng = np.random.default_rng(seed)
    along, across = Axis(-1000, 400, 16), Axis(-600, 200, 18)
    coef = np.cumsum(np.cumsum(rng.normal(0, 4, (along.size, across.size)), axis=0), axis=1) * 0.2
    return HeightField(along, across, coef, Turn(45, plan), 0.3, 0.0, 4500.0)


def _composed(which: str) -> HeightField:
    base = _field(1)
    args = (base.along, base.across, base.coef, base.turn, base.warp, base.origin, base.length)
    if which == "seen":
        return SeenPlain(*args, turned=_field(1, 20.0))
    if which == "eased":
        return ForeAndAft(*args, fore=_field(2), aft=_field(3), ease=(1500.0, 2600.0))
    s = np.linspace(0, 4500, 12)
    one = np.ones(12)
    at = lay_batten(s, 1200 + 100 * np.sin(s / 900), one)
    turn = lay_batten(s, 0.2 + 0.1 * np.cos(s / 1100), 0.001 * one)
    return Knuckled(*args, knuckles=(Knuckle(at, turn),))


@pytest.mark.parametrize("which", ["seen", "eased", "knuckled"])
def test_composed_fields_differentiate_themselves(which: str) -> None:
    """First and second derivatives of each composed field are those of central differences."""
    field = _composed(which)
    u, v, e = np.linspace(900, 3300, 9), np.linspace(400, 2100, 9), 0.1
    h = field.heights(u, v)
    fore, aft = field.heights(u + e, v), field.heights(u - e, v)
    up, down = field.heights(u, v + e), field.heights(u, v - e)
    for got, near, far in (
        (h[:, 1], fore[:, 0], aft[:, 0]),
        (h[:, 2], up[:, 0], down[:, 0]),
        (h[:, 3], fore[:, 1], aft[:, 1]),
        (h[:, 4], up[:, 1], down[:, 1]),
        (h[:, 5], up[:, 2], down[:, 2]),
    ):
        np.testing.assert_allclose(got, (near - far) / (2 * e), atol=2e-6, rtol=1e-5)


def test_seen_plain_is_the_same_surface() -> None:
    """Points of a turned field seen plainly lie on the turned field."""
    seen = _composed("seen")
    assert isinstance(seen, SeenPlain)
    assert seen.turned is not None
    points = seen.points(np.linspace(900, 3300, 20), np.linspace(400, 2100, 20))
    off, _, _ = seen.turned.offs(points)
    assert np.abs(off).max() < 1e-6


def apple_table() -> tuple[OffsetTable, np.ndarray]:
    """A bow like half an ellipsoid on a long body, and true points of it."""
    length, breadth, top, depth = 10000.0, 1500.0, 2400.0, 2000.0

    def half(x: np.ndarray, z: np.ndarray) -> np.ndarray:
        round_in = np.clip(1 - (1 - np.clip(x / 2500, 0, 1)) ** 2, 0, None)
        low = ((top - z) / depth) ** 2
        return breadth * np.sqrt(np.clip(round_in - low, 0, None))

    x = np.array([30, 80, 160, 300, 500, 800, 1200, 1700, 2300, 3200, 4500, 6000, 7500, 9000, 1e4])
    levels = np.arange(600.0, 2401.0, 200.0)
    rows = [_row("height", "sheer", "sheer", np.nan, np.full(len(x), top))]
    rows.append(_row("halfbreadth", "sheer", "sheer", np.nan, np.round(half(x, np.full(15, top)))))
    for z in levels[:-1]:
        y = half(x, np.full(len(x), z))
        rows.append(
            _row(
                "halfbreadth",
                f"waterline {z:.0f}",
                "waterline",
                z,
                np.round(np.where(y > 0, y, np.nan)),
            )
        )
    stem_z = np.linspace(top, 800, 9)
    reach = 1 - ((top - stem_z) / depth) ** 2
    stem_x = 2500 * (1 - np.sqrt(reach))
    stem = np.column_stack([stem_x, 0 * stem_x, stem_z])
    foot = np.array([[2500.0, 0.0, top - depth]])
    table = OffsetTable(
        "apple.csv",
        tuple(str(k) for k in range(len(x))),
        x,
        tuple(rows),
        ends={"stem rabbet": np.round(np.vstack([stem, foot]))},
        ends_file="ends.csv",
    )
    gx, gz = (g.ravel() for g in np.meshgrid(np.linspace(5, 2400, 80), np.linspace(900, 2350, 30)))
    y = half(gx, gz)
    keep = y > 60
    assert length > gx.max()
    return table, np.column_stack([gx, y, gz])[keep]


def test_a_bluff_bow_is_met_where_it_is_square() -> None:
    """Waterlines that meet the stem square are met; the plain projection cannot."""
    table, points = apple_table()
    turned = fair(table, FairSettings(0.5))
    plain = fair(table, FairSettings(0.5, plan_deg=0.0))
    assert len(turned.side.fits) == 2
    near = points[:, 0] < 300
    off = np.abs(turned.side.fits[0].field.nearest(points)[0])
    flat = np.abs(plain.side.field.nearest(points)[0])
    assert np.percentile(off[near], 95) < 3.0
    assert np.percentile(off[near], 95) < 0.5 * np.percentile(flat[near], 95)
