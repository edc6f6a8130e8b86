"""Cants from above: every frame on the keel's line, those proposed beside those that stand."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from futtock.drawing.figures import close_length, degrees
from futtock.drawing.heading import Heading, room_on, scale_to_fit, titled
from futtock.framing.cants import PlanView, cants_toml
from futtock.framing.frame import Cant
from futtock.sheet.check import scale_bar
from futtock.sheet.items import Face, Group, Item, Text, path
from futtock.sheet.letters import wrapped
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import BEHIND, CENTRE, EDGE, SEEN, Tone
from futtock.sheet.table import Table, set_table

Array = NDArray[np.float64]


def cants_plan(
    standing: Sequence[PlanView],
    canted: Sequence[PlanView],
    cants: Sequence[Cant],
    heading: Heading,
    *,
    paper: str = "A3",
) -> Sheet:
    """Frames from above, starboard below the centre line: as they stand, and as proposed.

    Parameters
    ----------
    standing
        Plan views of the frames as they stand: broken lines where another is proposed.
    canted
        Plan views with the proposal carried out; the same as ``standing`` where there is none.
    cants
        The proposal, for the list and the line that accepts it.
    """
    every = np.concatenate([v.corners for v in (*standing, *canted)])
    (x0, _), (x1, wide) = every.min(axis=0).tolist(), every.max(axis=0).tolist()
    room = room_on(paper)
    table = _table(cants, canted, heading)
    tall = 5.0 * (min(len(table.rows), 14) + 2)
    scale = scale_to_fit((x1 - x0, wide), (room[0] - 16.0, room[1] - tall - 44.0), heading.show)
    r = scale.ratio
    turned = {c.frame for c in cants}
    out: list[Item] = [path([(x0 / r - 5, 0.0), (x1 / r + 5, 0.0)], CENTRE)]
    out += [
        path(v.corners / r * (1, -1), BEHIND, True, layer="AS-THEY-STAND")
        for v in standing
        if v.number in turned
    ]
    last = -1e9
    for v in canted:
        ring = v.corners / r * (1, -1)
        items: list[Item] = [path(ring, SEEN if v.number in turned else EDGE, True, layer="FRAMES")]
        at = float(v.joint[0, 0]) / r
        if at - last > 4.6 or v.number in turned:
            number = Text(str(v.number), (at, 3.0), 2.6, Face.FIGURES_BOLD, "middle", "middle")
            items.append(number)
            last = at
        out.append(Group(tuple(items), name=str(v.number), kind="frame"))
    crossing = [v for v in canted if np.isfinite(v.gap_mm) and v.gap_mm < 0]
    for v in crossing:
        x, y = (float(c) for c in v.joint[1] / r)
        out.append(Text("×", (x, -y), 6.0, Face.FIGURES_BOLD, "middle", "middle", tone=Tone.RED))
    low = -wide / r - 10.0
    unit = 304.8 * 2 if heading.show == "imperial" else 1000.0
    words = [f"{2 * k} ft" if heading.show == "imperial" else f"{k} m" for k in range(5)]
    out.append(scale_bar((x0 / r, low), unit / r, 4, words))
    out.append(Text("forward to the left; starboard", (x0 / r, 8.0), 2.6, tone=Tone.PENCIL))
    low -= 8.0
    rows, height = set_table(table, (x0 / r, low), 2.8)
    out += rows
    if cants:
        said = f"To accept, write into [framing] of vessel.toml: {cants_toml(cants)}"
        low -= height + 3.0
        for piece in wrapped(said, 2.6, Face.FIGURES, room[0] - 16.0):
            out.append(Text(piece, (x0 / r, low), 2.6))
            low -= 3.8
    notes = ["Broken: as they stand. Heavy: as proposed, the outer end swung to the nearer end."]
    if crossing:
        notes.append("× frames that would cross: lessen a cant or move one.")
    return titled(
        "cants",
        out,
        heading,
        "Cants from above",
        scale,
        paper=paper,
        about=f"Plan of {len(canted)} frames, {len(cants)} of them proposed to be canted.",
        notes=notes if cants else ["No cant is proposed: no bevel is beyond what was stated."],
    )


def _table(cants: Sequence[Cant], canted: Sequence[PlanView], heading: Heading) -> Table:
    by_number = {v.number: v for v in canted}
    rows = []
    for c in cants:
        v = by_number.get(c.frame)
        heel = v.heel_gap_mm if v is not None else float("nan")
        rows.append(
            (
                str(c.frame),
                degrees(c.angle_deg) + (" forward" if c.angle_deg > 0 else " aft"),
                degrees(c.largest_deg),
                degrees(c.canted_largest_deg) + ("" if c.kept else ", still beyond"),
                close_length(heel, heading.show) if np.isfinite(heel) else "none",
            )
        )
    head = ("frame", "turn, outer end", "bevel as she stands", "canted", "heel to the next")
    return Table(head, tuple(rows), "rrrrr", "Cants proposed")
