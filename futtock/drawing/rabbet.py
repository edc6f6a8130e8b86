"""Rabbet, apex and bearding lines: a table by frame, and the rabbet's section drawn full size."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from futtock.drawing.figures import close_length, degrees
from futtock.drawing.heading import FULL, Heading, Scale, titled
from futtock.framing.rabbet import RabbetLines
from futtock.sheet.items import Anchor, Face, Item, Text, path
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import CENTRE, EDGE, SEEN, THIN, Tone
from futtock.sheet.table import Table, set_table

Array = NDArray[np.float64]

_ROWS = 30
_WIDE = 186.0


def rabbet_sheets(
    lines: RabbetLines, heading: Heading, *, names: Sequence[str] = (), sections: int = 3
) -> list[Sheet]:
    """The table on as many upright A4 as it needs, and a page of sections full size.

    Parameters
    ----------
    lines
        The three lines.
    names
        What each section is called (a frame's number); its x where not given.
    sections
        How many sections are drawn, evenly from those that are met.
    """
    table = rabbet_table(lines, heading, names=names)
    pages = []
    parts = max(1, int(np.ceil(len(table.rows) / _ROWS)))
    for k in range(parts):
        rows = slice(k * _ROWS, (k + 1) * _ROWS)
        items, _ = set_table(table, (0.0, 0.0), 3.0, _WIDE, rows)
        pages.append(
            titled(
                f"rabbet-{k + 1}",
                items,
                heading,
                "Rabbet and bearding" + (f", {k + 1} of {parts}" if parts > 1 else ""),
                Scale(0, "none"),
                paper="A4",
                lying=False,
                about="Rabbet, apex and bearding lines by frame.",
                notes=[
                    "Heights above base, half-breadths from the centre line.",
                    "Angle: between the plank's outside and the keel's side.",
                ],
            )
        )
    met = np.flatnonzero(np.isfinite(lines.bearding_up_mm) & np.isfinite(lines.apex_up_mm))
    if len(met):
        chosen = met[np.unique(np.linspace(0, len(met) - 1, min(sections, len(met))).astype(int))]
        pages.append(_sections(lines, chosen.tolist(), heading, names))
    return pages


def rabbet_table(lines: RabbetLines, heading: Heading, *, names: Sequence[str] = ()) -> Table:
    """The lines by section, in the vessel's units; a dash where a line is not met."""
    show = heading.show

    def said(mm: float) -> str:
        return close_length(mm, show) if np.isfinite(mm) else "–"

    rows = []
    for k, (x, half, rabbet, out, up, bearding, bevel) in enumerate(lines.rows()):
        name = names[k] if k < len(names) else said(x)
        angle = degrees(bevel) if np.isfinite(bevel) else "–"
        rows.append((name, said(half), said(rabbet), said(out), said(up), said(bearding), angle))
    head = ("frame", "half siding", "rabbet", "apex half", "apex height", "bearding", "angle")
    return Table(head, tuple(rows), "rrrrrrr", "Rabbet, apex and bearding lines")


def _sections(
    lines: RabbetLines, chosen: Sequence[int], heading: Heading, names: Sequence[str]
) -> Sheet:
    """The rabbet's cut at some sections, full size, the keel's side upright."""
    out: list[Item] = []
    x = 0.0
    for k in chosen:
        half, rabbet = float(lines.half_siding_mm[k]), float(lines.rabbet_up_mm[k])
        apex = np.array([lines.apex_out_mm[k] - half, lines.apex_up_mm[k] - rabbet])
        beard = float(lines.bearding_up_mm[k]) - rabbet
        name = names[k] if k < len(names) else close_length(float(lines.x_mm[k]), heading.show)
        left = min(float(apex[0]), 0.0)
        at = np.array([x - left + 8.0, 0.0])
        foot, head = np.array([0.0, -25.0]), np.array([0.0, beard + 25.0])
        top, reach = at + np.array([0.0, beard]), np.array([1.2, 0.0])
        low, high = at + foot, at + head
        wood = [(at[0] + left - 6.0, low[1]), low, at, at + apex, top, high,
                (at[0] + left - 6.0, high[1])]  # fmt: skip
        out += [
            path(wood, None, True, Tone.OAK, layer="KEEL"),
            path([low, at], SEEN, layer="KEEL"),
            path([at, at + apex, top], SEEN, layer="RABBET"),
            path([top, high], SEEN, layer="KEEL"),
            path([at, top], CENTRE, layer="KEEL-SIDE"),
        ]
        way = at + apex - at
        plank = np.array([way[1], -way[0]]) / max(float(np.hypot(*way)), 1e-9)
        for start in (at, at + apex):
            out.append(path([start, start + plank * 45.0], EDGE, layer="PLANK"))
        for word, spot in (
            ("rabbet", at), ("apex", at + apex), ("bearding", top),
        ):  # fmt: skip
            side: Anchor = "end" if word == "apex" else "start"
            push = (-2.0, 0.0) if word == "apex" else (2.5, 1.0 if word == "bearding" else -3.5)
            where = spot + push
            out.append(path([spot - reach, spot + reach], THIN))
            out.append(
                Text(word, (float(where[0]), float(where[1])), 2.6, Face.FIGURES, side, "middle",
                     halo=Tone.WHITE)
            )  # fmt: skip
        label = Text(f"frame {name}" if names else name, (float(at[0]), float(high[1]) + 4.0), 3.4,
                     Face.FIGURES_BOLD, "middle")  # fmt: skip
        out.append(label)
        x = float(at[0]) + 62.0
    return titled(
        "rabbet-sections",
        out,
        heading,
        "Rabbet, sections",
        FULL,
        about=f"The rabbet's cut at {len(chosen)} sections, full size.",
        notes=[
            "Full size, square across her: cut to a rod of the plank's",
            "own thickness, square to its face.",
        ],
    )
