"""Moulds as the JSON documents carry them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from futtock.moulds.doubt import noticed
from futtock.moulds.mould import Mould

Array = NDArray[np.float64]


def mould_json(mould: Mould) -> dict[str, Any]:
    """One mould: lengths to 1e-5 mm, angles to 1e-6 degrees."""
    return {
        "mark": mould.mark,
        "up": mould.up,
        "outline_up": _points(mould.outline_up_mm),
        "outline_down": _points(mould.outline_down_mm),
        "grain": _points(mould.grain_mm),
        "marks": [
            {
                "at_mm": round(m.at_mm, 5),
                "outer_deg": round(m.outer_deg, 6),
                "inner_deg": round(m.inner_deg, 6),
            }
            for m in mould.marks
        ],
        "square_m2": round(mould.square_m2, 8),
        "mass_kg": round(mould.mass_kg, 4),
        "same_as": mould.same_as,
        "frame": mould.frame,
        "layer": mould.layer,
        "side": mould.side,
        "sided_mm": mould.sided_mm,
        "volume_m3": round(mould.volume_m3, 10),
        "centre_mm": [round(v, 4) for v in mould.centre_mm],
        "edges": {
            e.name: {"up": _points(e.up_mm), "down": _points(e.down_mm)} for e in mould.edges
        },
        "labels": [
            {
                "kind": p.kind,
                "text": p.text,
                "at": [round(v, 5) for v in p.at_mm],
                "direction_deg": round(p.direction_deg, 6),
            }
            for p in mould.labels
        ],
        "work": [{"kind": w.kind, "points": _points(w.points_mm)} for w in mould.work],
        "departure_mm": round(mould.departure_mm, 5),
        "doubt_mm": round(mould.doubt_mm, 4),
        "doubt_deg": round(mould.doubt_deg, 4),
        "leave_mm": round(mould.leave_mm, 3),
        "doubts": [
            {
                "edge": d.edge,
                "face": d.face,
                "at": [
                    {"at_mm": round(at, 5), "mm": round(mm, 4), "deg": round(deg, 4)}
                    for at, mm, deg in zip(
                        d.at_mm.tolist(), d.mm.tolist(), d.deg.tolist(), strict=True
                    )
                ],
            }
            for d in mould.doubts
        ],
    }


def moulds_json(moulds: Iterable[Mould]) -> dict[str, Any]:
    """The document of ``moulds``: every timber has an entry, ``same_as`` naming a twin."""
    every = tuple(moulds)
    return {
        "moulds": [mould_json(m) for m in every],
        "square_m2": round(sum(m.square_m2 for m in every), 6),
        "mass_kg": round(sum(m.mass_kg for m in every), 3),
        "findings": [f.as_json() for f in noticed(every)],
    }


def _points(points: Array) -> list[list[float]]:
    rounded: list[list[float]] = np.round(points, 5).tolist()
    return rounded
