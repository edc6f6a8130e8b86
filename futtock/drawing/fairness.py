"""How the lines bend, where they are known least, and the faired table: sheets to read them by.

In the bend sheet every waterline, buttock and diagonal is laid out straight along the hull, one
above the other, and its curvature stands on it as a ridge: a fair line is a smooth ridge, a bump in
it is a bump in the planking. Where a ridge falls below its line the line is hollow.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from futtock.drawing.figures import length, offset
from futtock.drawing.heading import Heading, Scale, room_on, scale_to_fit, titled
from futtock.drawing.lines_plan import LinesData
from futtock.lines.fairness import Bend, Known, Patch
from futtock.sheet.items import Arc, Face, Item, Text, path
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import EDGE, EYE, RULE, SEEN, THIN, Tone
from futtock.sheet.table import Table, set_table
from futtock.vessel.table import OffsetTable, Row

Array = NDArray[np.float64]
_RIDGE = 8.0
_ROW = 13.0
_DOT = 2.2


def bend_sheet(bends: Sequence[Bend], data: LinesData, heading: Heading) -> Sheet:
    """Every line laid straight with its curvature on it, and a ring where it turns over."""
    x0, x1, _, _ = data.box
    scale = scale_to_fit((x1 - x0, 0.0), (room_on("A2")[0] - 90.0, 1.0), heading.show)
    r = scale.ratio
    every = np.concatenate([np.zeros(0), *(np.abs(b.curvature_per_m[2:-2]) for b in bends)])
    most = max(float(np.percentile(every, 97)) if len(every) else 1.0, 1e-6)
    unit = _RIDGE / most
    down = -_ROW * max(len(bends), 1)
    items: list[Item] = []
    for name, at in data.stations.items():
        items.append(path([(at / r, down), (at / r, 8.0)], RULE, layer="GRID"))
        items.append(Text(name, (at / r, 10.5), 2.6, anchor="middle", rise="middle"))
    for k, b in enumerate(bends):
        y = -_ROW * (k + 0.75)
        x = b.points[:, 0] / r
        up = y + np.clip(b.curvature_per_m * unit, -0.35 * _ROW, 1.15 * _RIDGE)
        ridge = np.column_stack([np.r_[x, x[::-1]], np.r_[up, np.full(len(x), y)]])
        items.append(path(ridge, None, closed=True, fill=Tone.OAK, layer="BEND"))
        items.append(path(np.column_stack([x, up]), SEEN, layer="BEND"))
        items.append(path([(x[0], y), (x[-1], y)], EDGE, layer="LINES"))
        items += [Arc((float(p[0]) / r, y), 1.3, EYE, layer="TURNS") for p in b.inflections]
        said = f"{b.kind} {b.at}" if heading.show == "imperial" else f"{b.kind} {b.at} mm"
        said = f"diagonal {b.at}" if b.kind == "diagonal" else said
        items.append(
            Text(said, (x0 / r - 4.0, y), 2.8, anchor="end", rise="middle", tone=Tone.PENCIL)
        )
        least = length(1000 * b.quickest_m, heading.show)
        items.append(Text(f"radius {least} at least", (x1 / r + 4.0, y), 2.4, rise="middle"))
    turning = sum(len(b.inflections) > 0 for b in bends)
    return titled(
        "bends", items, heading, "How the lines bend", scale, paper="A2",
        about=f"Curvature of {len(bends)} lines along the hull; {turning} of them turn over.",
        notes=[
            "Each line is laid straight and its curvature stands on it: fair is a smooth ridge.",
            f"A ridge of {_RIDGE:.0f} mm: bent to a radius of {length(1000 / most, heading.show)}."
            " What is quicker is cut off. Red ring: the line turns over.",
        ],
    )  # fmt: skip


def measure_sheet(
    known: Known, scanty: Sequence[Patch], data: LinesData, heading: Heading
) -> Sheet:
    """Her side with a disc at each place as large as its doubt, and where to measure more."""
    x0, x1, _, high = data.box
    scale = scale_to_fit(
        (x1 - x0, high), (room_on("A3")[0] - 20, room_on("A3")[1] - 50), heading.show
    )
    r = scale.ratio
    items: list[Item] = []
    for name in ("rabbet", "sheer"):
        if name in data.bounds:
            c = data.bounds[name]
            items.append(path(np.column_stack([c[:, 0] / r, c[:, 2] / r]), SEEN, layer="LINES"))
    for name, x in data.stations.items():
        items.append(path([(x / r, 0.0), (x / r, high / r + 4)], RULE, layer="GRID"))
        items.append(Text(name, (x / r, high / r + 6.5), 2.6, anchor="middle", rise="middle"))
    most = max(float(np.percentile(known.spread_mm, 99)), 1e-6)
    for p, spread in zip(known.points, known.spread_mm, strict=True):
        size = max(_DOT * min(float(spread) / most, 1.3), 0.05)
        items.append(Arc((p[0] / r, p[2] / r), size, THIN, layer="DOUBT"))
    low = -8.0
    for k, patch in enumerate(scanty, 1):
        x, y, z = patch.at_mm
        items.append(Arc((x / r, z / r), 3.4, EYE, layer="MEASURE"))
        items.append(
            Text(
                str(k), (x / r, z / r), 3.2, Face.FIGURES_BOLD, "middle", "middle", halo=Tone.WHITE
            )
        )
        where = ", ".join(
            f"{offset(v, heading.show)} {way}" for v, way in ((x, "aft"), (y, "out"), (z, "up"))
        )
        said = f"{k}  {where}: known to {patch.spread_mm:.1f} mm and {patch.lean_deg:.1f}°"
        items.append(Text(said, (x0 / r, low), 3.0))
        low -= 5.0
    if not scanty:
        items.append(Text("No place is known much less well than the rest.", (x0 / r, low), 3.0))
    return titled(
        "measure-more", items, heading, "Where to measure more", scale, paper="A3",
        about="Her side with a disc at each place, as large as the surface's doubt there.",
        notes=[
            f"A disc of {2 * _DOT:.1f} mm: the surface is known to {most:.1f} mm (standard error).",
            "Red rings: one more figure would help most here.",
        ],
    )  # fmt: skip


def _named(row: Row, heading: Heading) -> str:
    """The row's name with its plane's place as the yard writes figures."""
    if row.what in ("waterline", "buttock") and np.isfinite(row.at_mm):
        return f"{row.line} {row.what} {offset(row.at_mm, heading.show)}"
    return row.name


def offsets_sheet(
    table: OffsetTable, heading: Heading, title: str = "Table of offsets, faired"
) -> Sheet:
    """The faired table as the trade prints it, in eighths where the yard works in feet."""
    head = ("line", *table.stations)
    rows = [("from FP", *(offset(float(x), heading.show) for x in table.x_mm))]
    for row in table.rows:
        cells = ("" if np.isnan(v) else offset(float(v), heading.show) for v in row.values_mm)
        rows.append((_named(row, heading), *cells))
    words = Table(head, tuple(rows), "l" + "r" * len(table.stations))
    items, _ = set_table(words, (0.0, 0.0), 2.8)
    unit = "Feet-inches-eighths" if heading.show == "imperial" else "Millimetres"
    return titled(
        "offsets-faired", items, heading, title, Scale(1, "none"), paper=None,
        about=f"Faired offsets of {len(table.rows)} lines at {len(table.stations)} stations.",
        notes=[f"{unit}. Heights above base, half-breadths from centre, diagonals in plane."],
    )  # fmt: skip
