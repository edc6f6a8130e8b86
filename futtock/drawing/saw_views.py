"""Small pictures on a saw sheet: what the feeder sees, and the timber from above as it is fed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from futtock.bench.cuts import Cut
from futtock.drawing.signs import arrow
from futtock.moulds.mould import Mould
from futtock.sheet.items import Item, Text, path
from futtock.sheet.style import BEHIND, BUTT, EDGE, SEEN, Tone

Array = NDArray[np.float64]


def end_view(cut: Cut, at: tuple[float, float]) -> list[Item]:
    """What the feeder sees, facing the teeth: table, blade as it leans, the wood that is kept."""
    x, y = at
    lean = 0.0 if cut.head == "square" else float(np.clip(cut.largest_deg, 12.0, 40.0))
    t = np.tan(np.radians(lean)) * (-1.0 if cut.head == "left" else 1.0)
    side, thick = (-1.0 if cut.kept == "left" else 1.0), 9.0
    ring = [(x, y), (x + side * 17, y), (x + side * 17, y + thick), (x + t * thick, y + thick)]
    return [
        path(ring, EDGE, True, Tone.OAK, "END-WOOD"),
        path([(x - 22, y), (x + 22, y)], SEEN),
        path([(x - t * 5, y - 5.0), (x + t * 19, y + 19.0)], BUTT, layer="END-BLADE"),
        Text("kept", (x + side * 10, y + thick / 2), 3.0, anchor="middle", rise="middle"),
        Text("left", (x - 22, y - 4.6), 3.0, tone=Tone.PENCIL),
        Text("right", (x + 22, y - 4.6), 3.0, anchor="end", tone=Tone.PENCIL),
        Text("facing the teeth", (x, y - 8.6), 2.8, anchor="middle", tone=Tone.PENCIL),
    ]


def plan_view(cut: Cut, mould: Mould, at: tuple[float, float]) -> list[Item]:
    """The timber small, as it lies; the line to be sawn heavy, the blade at the end fed first."""
    ring = mould.outline_up_mm
    scale = min(136.0 / float(np.ptp(ring[:, 0])), 22.0 / float(np.ptp(ring[:, 1])))
    low = ring.min(axis=0)
    high = float(np.ptp(ring[:, 1])) * scale
    x0, y0 = at[0] + 18.0, at[1] - high - 3.0

    def put(p: Array) -> Array:
        placed: Array = (p - low) * scale + np.array([x0, y0])
        return placed

    edge = mould.edges[0] if cut.edge == "outer" else mould.edges[1]
    mine = (edge.at_mm >= cut.marks[0].at_mm - 1e-6) & (edge.at_mm <= cut.marks[-1].at_mm + 1e-6)
    line = put(edge.up_mm[mine])
    out: list[Item] = [
        path(put(ring), EDGE, True, Tone.OAK, "PLAN-WOOD"),
        path(put(mould.outline_down_mm), BEHIND, True),
        path(line, BUTT, layer="PLAN-LINE"),
    ]
    grain = put(mould.grain_mm)
    for name, share in (("heel", 0.06), ("head", 0.94)):
        spot = _point(grain[round(share * (len(grain) - 1))])
        out.append(Text(name, spot, 3.0, anchor="middle", rise="middle", tone=Tone.PENCIL))
    # the wood travels towards its leading end, where the blade waits in the line
    tip, behind = (line[0], line[1]) if cut.feed == "heel first" else (line[-1], line[-2])
    way = (tip - behind) / np.hypot(*(tip - behind))
    out.append(path([tip + 1.5 * way, tip + 9.0 * way], BUTT, layer="PLAN-BLADE"))
    out.append(
        Text("teeth", _point(tip + 9.0 * way + (0.0, 1.6)), 3.0, anchor="middle", tone=Tone.PENCIL)
    )
    middle = np.array([x0 + 0.5 * float(np.ptp(ring[:, 0])) * scale, y0 + high + 5.5])
    heading = float(np.degrees(np.arctan2(way[1], way[0])))
    level = 180.0 if abs(heading) > 90.0 else 0.0
    out += arrow(middle - 8.0 * np.array([np.cos(np.radians(level)), 0.0]), level, 16.0, SEEN)
    out.append(Text("feed", (float(middle[0]), float(middle[1]) + 1.4), 3.0, anchor="middle"))
    return out


def _point(p: Array) -> tuple[float, float]:
    return float(p[0]), float(p[1])
