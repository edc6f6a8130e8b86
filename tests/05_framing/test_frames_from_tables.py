"""Frames from tables of offsets: Marram against her exact truth, and a rounded ellipsoid."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from exact_surfaces import TAU

from futtock.framing.build import frame_hull
from futtock.framing.curve import at, meet, tangents
from futtock.framing.settings import FramingSettings
from futtock.lines.fair import fair
from futtock.lines.settings import FairSettings
from futtock.vessel.folder import read_folder
from futtock.vessel.table import OffsetTable, Row

FT = 304.8
MARRAM = FramingSettings(
    first_mm=2.75 * FT,
    room_and_space_mm=1.25 * FT,
    count=27,
    sided_mm=1.875 * 25.4,
    moulded_mm=((0.0, 127.0), (1.0, 82.55)),
    planking_mm=TAU,
    longest_mm=4.5 * FT,
    butt_shift_mm=14 * 25.4,
    diagonals=(("A", 6.5 * FT, -35.0), ("B", 4.75 * FT, -35.0)),
)


def off_edge(face, points):
    """Distance square to the edge and lean of the face at given (out, up); nan beyond its ends."""
    edge = face.edge_mm[None]
    t = tangents(edge)
    k = np.hypot(*(face.edge_mm[None] - points[:, None]).transpose(2, 0, 1)).argmin(axis=1)
    square = t[:, k]
    w = meet(edge, t, points[None], square, k[None].astype(float))
    for _ in range(4):  # the foot of each point: the edge's tangent there is square to the way
        place, slope = at(edge, t, w)
        square = slope / np.hypot(slope[..., 0], slope[..., 1])[..., None]
        w = meet(edge, t, points[None], square, w)
    place, slope = at(edge, t, w)
    away = points - place[0]
    run = slope[0] / np.hypot(*slope[0].T)[:, None]
    off = away[:, 0] * run[:, 1] - away[:, 1] * run[:, 0]
    inside = (w[0] > 0) & (w[0] < len(face.lean_deg) - 1)
    lean = np.interp(w[0], np.arange(len(face.lean_deg)), face.lean_deg)
    return np.where(inside, off, np.nan), np.where(inside, lean, np.nan)


@pytest.fixture(scope="module")
def marram(marram_dir, root):
    folder = root / "futtock" / "demo"
    stated = read_folder(folder if (folder / "vessel.toml").exists() else marram_dir)
    hull = fair(stated.table, FairSettings(25.4 / 16)).hull
    truth = json.loads((marram_dir / "truth.json").read_text())
    off, lean = [], []
    for one in truth["frames"]:
        cants = ((one["number"], one["cant_deg"]),) if one["cant_deg"] else "none"
        frame = frame_hull(hull, replace(MARRAM, cants=cants)).frame(one["number"])
        points = np.array([[p["out_mm"], p["up_mm"]] for p in one["points"]])
        d, there = off_edge(frame.joint, points)
        off.append(d)
        lean.append(there - np.array([p["lean_deg"] for p in one["points"]]))
    return hull, np.concatenate(off), np.concatenate(lean)


def test_marrams_inside_of_planking_is_within_the_stated_targets(marram):
    """From figures read to an eighth, two of them wrong: 98 % within 1.5 mm, rms under 0.6 mm.

    Leans: 95 in 100 within 0.15 degrees (0.10 is reached).
    """
    _, off, lean = marram
    known = np.isfinite(off)
    assert known.sum() >= 85
    assert (np.abs(off[known]) < 1.5).mean() >= 0.98
    assert np.sqrt((off[known] ** 2).mean()) < 0.6
    assert np.percentile(np.abs(lean[known]), 95) < 0.15


def test_marram_framed_is_what_a_shipwright_expects(marram):
    """Most bevels amidships lie under 10 degrees and the ends reach 30 (common practice)."""
    hull, _, _ = marram
    framing = frame_hull(hull, replace(MARRAM, cants="propose"))
    assert len(framing.frames) == 27
    assert framing.largest_lean_deg == pytest.approx(33.8, abs=0.5)
    middle = np.concatenate([np.abs(f.joint.lean_deg) for f in framing.frames[8:22]])
    assert (middle < 10.0).mean() > 0.85
    assert max(t.length_mm for t in framing.timbers) <= 4.5 * FT + 0.5
    assert [c.frame for c in framing.cants] == [1, 2, 3, 4]
    assert all(c.angle_deg > 0 and c.kept for c in framing.cants)
    assert {f.code for f in framing.findings} <= {"F002", "F006"}
    halves = {(t.layer, t.side) for t in framing.frames[10].timbers}
    assert halves == {("f", "S"), ("f", "P"), ("a", "S"), ("a", "P")}


def ellipsoid_table():
    """A patch of an ellipsoid as a table read to 0.1 mm: waterlines, sheer and rabbet."""
    a, b, c, x_c, z_c = 6000.0, 1900.0, 1700.0, 5000.0, 2600.0
    x = np.linspace(1400.0, 8600.0, 17)

    def breadth(x, z):
        inside = 1 - ((x - x_c) / a) ** 2 - ((z - z_c) / c) ** 2
        return b * np.sqrt(np.where(inside > 0, inside, np.nan))

    def row(line, at, what, at_mm, values):
        values = np.round(np.broadcast_to(values, x.shape), 1)
        texts = tuple("" if np.isnan(v) else f"{v:.1f} mm" for v in values)
        return Row(line, at, what, at_mm, values, texts, 1)

    sheer, half = np.full_like(x, 2550.0), 60.0
    rabbet = z_c - c * np.sqrt(1 - ((x - x_c) / a) ** 2 - (half / b) ** 2)
    rows = [
        row("height", "sheer", "sheer", np.nan, sheer),
        row("height", "rabbet", "rabbet", np.nan, rabbet),
        row("halfbreadth", "sheer", "sheer", np.nan, breadth(x, 2550.0)),
        row("halfbreadth", "rabbet", "rabbet", np.nan, half),
    ]
    for z in np.arange(1000.0, 2500.0, 150.0):
        values = breadth(x, z)
        rows.append(
            row("halfbreadth", f"waterline {z:g} mm", "waterline", z,
                np.where(z > rabbet + 20, values, np.nan))
        )  # fmt: skip
    for y in (300.0, 600.0, 900.0, 1200.0, 1500.0):
        under = 1 - ((x - x_c) / a) ** 2 - (y / b) ** 2
        height = z_c - c * np.sqrt(np.where(under > 0, under, np.nan))
        rows.append(
            row(
                "height",
                f"buttock {y:g} mm",
                "buttock",
                y,
                np.where(height < 2540.0, height, np.nan),
            )
        )
    names = tuple(str(k) for k in range(len(x)))
    return OffsetTable("ellipsoid", names, x, tuple(rows)), (a, b, c, x_c, z_c)


def test_a_rounded_table_of_an_ellipsoid_is_framed_to_a_millimetre_and_a_tenth_of_a_degree():
    """99 % of edge points within 1 mm and of leans within 0.1 degrees of the exact ellipsoid."""
    table, (a, b, c, x_c, z_c) = ellipsoid_table()
    hull = fair(table, FairSettings(0.1 / np.sqrt(12))).hull
    framing = frame_hull(
        hull, replace(MARRAM, first_mm=2000.0, room_and_space_mm=500.0, count=13, diagonals=())
    )
    off, lean = [], []
    for frame in framing.frames:
        for face, s in ((frame.forward, -1), (frame.joint, 0), (frame.aft, 1)):
            x = frame.plane.x_mm + s * frame.plane.sided_mm
            p = np.stack([np.full(len(face.edge_mm), x - x_c), face.edge_mm[:, 0],
                          face.edge_mm[:, 1] - z_c], axis=1)  # fmt: skip
            axes = np.array([a, b, c])
            t = np.zeros(len(p))
            for _ in range(60):  # nearest point of the outside: Lagrange's equation (Eberly 2013)
                q = axes * p / (axes**2 + t[:, None])
                f = (q**2).sum(axis=1) - 1
                t += f / (2 * (q**2 / (axes**2 + t[:, None])).sum(axis=1))
            foot = axes**2 * p / (axes**2 + t[:, None])
            n = foot / axes**2
            n /= np.linalg.norm(n, axis=1)[:, None]
            off.append(((foot - p) * n).sum(axis=1) - TAU)
            lean.append(face.lean_deg + np.degrees(np.arcsin(n[:, 0])))
    off, lean = np.concatenate(off), np.concatenate(lean)
    assert np.percentile(np.abs(off), 99) < 1.0
    assert np.percentile(np.abs(lean), 99) < 0.1
