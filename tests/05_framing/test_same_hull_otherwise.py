"""What must not matter does not: base line, zero station, order of rows, size she is built to."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
from exact_surfaces import settings as asked_of
from hypothesis import given, settings
from hypothesis import strategies as st
from line_tables import marram

from futtock.framing.build import frame_hull
from futtock.framing.settings import FramingSettings
from futtock.lines import RestoreSettings, Survey, Zone, fair_survey
from futtock.lines.fair import fair
from futtock.lines.settings import FairSettings
from futtock.vessel.table import Diagonal, OffsetTable

FT = 304.8
TOLERANCE = 25.4 / 16
FRAMED = FramingSettings(
    first_mm=6 * FT,
    room_and_space_mm=7.5 * FT,
    count=4,
    sided_mm=48.0,
    moulded_mm=((0.0, 127.0), (1.0, 82.0)),
    planking_mm=32.0,
    longest_mm=4.5 * FT,
    butt_shift_mm=14 * 25.4,
    diagonals=(("A", 6.5 * FT, -35.0),),
)


def moved(table: OffsetTable, aft_mm: float, up_mm: float, size: float = 1.0) -> OffsetTable:
    """The same hull measured from elsewhere, or built to another size."""
    rows = []
    for row in table.rows:
        height = up_mm if row.line == "height" else 0.0
        level = up_mm if row.what == "waterline" else 0.0
        rows.append(
            replace(row, values_mm=row.values_mm * size + height, at_mm=row.at_mm * size + level)
        )
    off = np.array([aft_mm, 0.0, up_mm])
    return replace(
        table,
        x_mm=table.x_mm * size + aft_mm,
        rows=tuple(rows),
        ends={k: v * size + off for k, v in table.ends.items()},
        diagonals={
            k: Diagonal(k, d.height_mm * size + up_mm, d.slope_deg)
            for k, d in table.diagonals.items()
        },
    )


def framed(table: OffsetTable, asked: FramingSettings, tolerance_mm: float = TOLERANCE):
    """Edge and lean of every face of every frame."""
    hull = fair(table, FairSettings(tolerance_mm)).hull
    frames = frame_hull(hull, asked).frames
    return [getattr(f, name) for f in frames for name in ("forward", "joint", "aft")]


@cache
def plain():
    return framed(marram(), FRAMED)


def apart(faces, others, size: float = 1.0, up_mm: float = 0.0) -> tuple[float, float]:
    """How far any edge lies apart, square to it, in mm of the plain hull, and any lean."""
    off = lean = 0.0
    for one, two in zip(faces, others, strict=True):
        edge = (two.edge_mm - [0.0, up_mm]) / size
        ends = np.r_[0.0, np.cumsum(np.hypot(*np.diff(edge, axis=0).T))]
        mine = np.r_[0.0, np.cumsum(np.hypot(*np.diff(one.edge_mm, axis=0).T))]
        on = np.clip(mine / mine[-1] * ends[-1], 0.0, ends[-1])
        there = np.c_[[np.interp(on, ends, edge[:, k]) for k in (0, 1)]].T
        run = np.gradient(one.edge_mm, axis=0)
        run /= np.hypot(*run.T)[:, None]
        away = there - one.edge_mm
        off = max(off, float(np.abs(away[:, 0] * run[:, 1] - away[:, 1] * run[:, 0]).max()))
        lean = max(lean, float(np.abs(np.interp(on, ends, two.lean_deg) - one.lean_deg).max()))
    return off, lean


@settings(max_examples=5, deadline=None)
@given(up=st.floats(-3000.0, 3000.0), aft=st.floats(-9000.0, 9000.0))
def test_base_and_zero_station_do_not_matter(up: float, aft: float) -> None:
    """Heights from another base line and stations from another zero give the same frames.

    To 0.1 mm and 0.01 degrees: 0.03 and 0.002 is what rounding in the fit leaves.
    """
    diagonals = (("A", 6.5 * FT + up, -35.0),)
    asked = replace(FRAMED, first_mm=FRAMED.first_mm + aft, diagonals=diagonals)
    off, lean = apart(plain(), framed(moved(marram(), aft, up), asked), up_mm=up)
    assert off < 0.1
    assert lean < 0.01


@settings(max_examples=5, deadline=None)
@given(size=st.floats(0.4, 2.5))
def test_a_hull_built_larger_has_frames_as_much_larger(size: float) -> None:
    """Table, tolerance and scantlings times a number: edges times that number, the same leans.

    To 0.5 mm of the plain hull and 0.1 degrees (0.3 and 0.05 is reached at 0.4 of the size): some
    length in the fit is a number of millimetres and no share of hers; which was not found out.
    """
    asked = replace(
        FRAMED,
        **{
            name: getattr(FRAMED, name) * size
            for name in (
                "first_mm", "room_and_space_mm", "sided_mm", "planking_mm", "longest_mm",
                "butt_shift_mm",
            )
        },
        moulded_mm=tuple((at, m * size) for at, m in FRAMED.moulded_mm),
        diagonals=(("A", 6.5 * FT * size, -35.0),),
    )  # fmt: skip
    off, lean = apart(
        plain(), framed(moved(marram(), 0.0, 0.0, size), asked, TOLERANCE * size), size=size
    )
    assert off < 0.5
    assert lean < 0.1


@settings(max_examples=4, deadline=None)
@given(st.randoms(use_true_random=False))
def test_the_order_of_rows_does_not_matter(order) -> None:
    """A table whose rows stand in another order gives the same frames."""
    table = marram()
    rows = list(table.rows)
    order.shuffle(rows)
    off, lean = apart(plain(), framed(replace(table, rows=tuple(rows)), FRAMED))
    assert off < 1e-3
    assert lean < 1e-3


def test_port_for_starboard_gives_the_mirrored_frames() -> None:
    """A worn hull whose sides differ by 30 mm, surveyed and then surveyed in a mirror: what was the
    starboard frame is the port one, and the other way round, to the last bit.
    """
    rng = np.random.default_rng(9)
    n, length = 5000, 10_000.0
    x, a = rng.uniform(100, length - 100, n), rng.uniform(0, 1, n)
    s = 2 * x / length - 1
    y = 60 + 1500 * (1 - 0.75 * s**2) * np.sin(a * np.pi / 2) ** 1.2
    foot = 300 + 500 * s**4
    z = foot + (2000 + 250 * s**2 - foot) * (1 - np.cos(a * np.pi / 2)) ** 0.9
    port = rng.random(n) < 0.5
    y = np.where(port, -(y + 30 * np.exp(-(((x - 5000) / 900) ** 2))), y)

    def halves(mirror: float, trust: str):
        still = RestoreSettings(hog=False, bend=False, twist=False, trust=trust)
        points = np.column_stack([x, mirror * y, z])
        got = fair_survey(
            Survey(points), FairSettings(1.0), still, (Zone("clamp", 4600.0, 5400.0),)
        )
        asked = asked_of(
            cants="none", first_mm=4500.0, room_and_space_mm=500.0, count=3, longest_mm=1500.0
        )
        return [frame_hull(h, asked).frames for h in (got.fairing.hull, got.port)]

    (starboard, larboard), (other_starboard, other_port) = (
        halves(1.0, "starboard"),
        halves(-1.0, "port"),
    )
    for mine, mirrored in ((starboard, other_port), (larboard, other_starboard)):
        for one, two in zip(mine, mirrored, strict=True):
            for name in ("forward", "joint", "aft"):
                face, other = getattr(one, name), getattr(two, name)
                np.testing.assert_array_equal(face.edge_mm, other.edge_mm)
                np.testing.assert_array_equal(face.lean_deg, other.lean_deg)
    apart_mm = [
        np.abs(a.joint.edge_mm - b.joint.edge_mm).max()
        for a, b in zip(starboard, larboard, strict=True)
    ]
    assert max(apart_mm) > 20.0  # her sides are not alike, so that the swap is a swap
