"""What proves a mould's print: control diagonals, tape line, and the table of tape offsets."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from futtock.drawing.figures import (
    close_length,
)
from futtock.drawing.heading import Heading
from futtock.drawing.signs import (
    along,
    bearing,
)
from futtock.moulds.mould import Mould
from futtock.sheet.extent import box_of
from futtock.sheet.items import Arc, Face, Item, Text, path
from futtock.sheet.labels import Labels
from futtock.sheet.style import THIN, Tone
from futtock.sheet.table import Table, set_table

Array = NDArray[np.float64]
_TICK_MM = 3.0


def offset_table(mould: Mould, heading: Heading, every_mm: float = 150.0) -> Table:
    """Tape offsets: at each length along the tape line, the height of both edges above it."""
    rows = []
    for x in tape_stations(mould, every_mm):
        low, high = edges_at(mould.outline_up_mm, x)
        rows.append(
            (
                f"{x:.0f} mm",
                f"{low:.1f}",
                f"{high:.1f}",
            )
        )
    title = "Tape offsets, mm above the tape line"
    return Table(("along", "lower edge", "upper edge"), tuple(rows), "rrr", title)


def tape_stations(mould: Mould, every_mm: float) -> list[float]:
    """Lengths along the tape line at which offsets are given, both ends included."""
    x0, x1 = _ends(mould)
    n = int(x1 // every_mm)
    inner = [every_mm * k for k in range(int(x0 // every_mm) + 1, n + 1)]
    return [x for x in inner if x0 + 5 < x < x1 - 5]


def edges_at(ring: Array, x: float) -> tuple[float, float]:
    """Lowest and highest y of a closed ring at x; nan where it does not reach."""
    p, q = ring, np.roll(ring, -1, axis=0)
    between = (np.minimum(p[:, 0], q[:, 0]) <= x) & (np.maximum(p[:, 0], q[:, 0]) >= x)
    between &= p[:, 0] != q[:, 0]
    if not between.any():
        return (float("nan"), float("nan"))
    a, b = p[between], q[between]
    y = a[:, 1] + (b[:, 1] - a[:, 1]) * (x - a[:, 0]) / (b[:, 0] - a[:, 0])
    return (float(y.min()), float(y.max()))


def corners(mould: Mould) -> dict[str, Array]:
    """Corners of the up face: A, B of the outer edge heel and head, C, D of the inner."""
    outer, inner = mould.edges
    return {"A": outer.up_mm[0], "B": outer.up_mm[-1], "C": inner.up_mm[0], "D": inner.up_mm[-1]}


def control_lines(mould: Mould, every: float) -> list[Array]:
    """Both control diagonals, and the tape line with its ticks."""
    c = corners(mould)
    x0, x1 = _ends(mould)
    tape = np.array([[x0, 0.0], [x1, 0.0]])
    ticks = [np.array([(x, 0.0), (x, -_TICK_MM)]) for x in (x0, *tape_stations(mould, every), x1)]
    return [np.array([c["A"], c["D"]]), np.array([c["C"], c["B"]]), tape, *ticks]


def _ends(mould: Mould) -> tuple[float, float]:
    x = mould.outline_up_mm[:, 0]
    return float(x.min()), float(x.max())


def controls(mould: Mould, heading: Heading, labels: Labels, every: float) -> list[Item]:
    """Corners, control diagonals with their lengths, and the tape line with its ticks."""
    out: list[Item] = []
    c = corners(mould)
    out += [path(line, THIN, layer="CONTROL") for line in control_lines(mould, every)]
    for a, b in (("A", "D"), ("C", "B")):
        p, q = c[a], c[b]
        span = float(np.hypot(*(q - p)))
        said = f"{a}–{b} {span:.1f} mm"
        if heading.show == "imperial":
            said += f" ({close_length(span, 'imperial')})"
        line = np.array([p + (q - p) * f for f in np.linspace(0, 1, 41)])
        words = Text(said, (0, 0), 3.0, halo=Tone.WHITE)
        out.append(along(labels, words, line, 0.3 * span if a == "A" else 0.72 * span, 3.0, 15))
    middle = mould.grain_mm[len(mould.grain_mm) // 2]
    for name, p in c.items():
        out.append(Arc((float(p[0]), float(p[1])), 0.9, None, Tone.INK, layer="CONTROL"))
        out += labels.beside(
            Text(name, (0, 0), 4.0, Face.FIGURES_BOLD),
            (float(p[0]), float(p[1])),
            bearing(p - middle),
        )
    x0, x1 = _ends(mould)
    for x in [x0, *tape_stations(mould, every), x1]:
        text = Text(f"{x:.0f}", (x, -5.4), 2.6, anchor="middle", rise="middle", layer="CONTROL")
        out.append(labels.place(text, [(x, -5.4), (x, -8.4), (x, -11.6), (x, -15.0)]))
    return out


def table_beside(mould: Mould, heading: Heading, items: Sequence[Item]) -> list[Item]:
    """The offsets as a small table in the emptiest corner of the mould's own rectangle."""
    table = offset_table(mould, heading)
    probe, height = set_table(table, (0.0, 0.0), 2.6)
    w = (box_of(probe) or (0.0, 0.0, 0.0, 0.0))[2]
    box = box_of(items) or (0.0, 0.0, 0.0, 0.0)
    labels = Labels(gap_mm=3.0)
    labels.keep_off_items(items)
    spot = labels.free_spot(box, (w, height))
    if spot is None:
        return set_table(table, (box[0] + 2, box[1] - 4.0), 2.6)[0]
    return set_table(table, (spot[0], spot[1] + height), 2.6)[0]
