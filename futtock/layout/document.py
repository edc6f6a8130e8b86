"""A layout as the ``--json`` document, and back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from futtock.layout.placement import Layout, Placement


def placement_json(p: Placement) -> dict[str, Any]:
    """One placement with the keys that outside checks read."""
    return {
        "mark": p.mark,
        "slab": p.slab,
        "turn_deg": p.turn_deg,
        "shift_mm": list(p.shift_mm),
        "mirrored": p.mirrored,
        "slope_mean": p.slope_mean,
        "slope_worst": p.slope_worst,
        "locked": p.locked,
    }


def layout_json(layout: Layout) -> dict[str, Any]:
    """The layout with the keys that outside checks read."""
    return {
        "placements": [placement_json(p) for p in layout.placements],
        "unplaced": list(layout.unplaced),
        "slabs_used": layout.slabs_used,
        "yield": layout.yield_,
        "bound": {
            "what": layout.bound.what,
            "value": layout.bound.value,
            "reached": layout.bound.reached,
            "gap": layout.bound.gap,
        },
        "seconds": layout.seconds,
    }


def placements_from_json(document: Mapping[str, Any]) -> tuple[Placement, ...]:
    """The placements that a layout document holds; raises KeyError or ValueError on a bad one."""
    return tuple(
        Placement(
            str(p["mark"]),
            str(p["slab"]),
            float(p["turn_deg"]),
            (float(p["shift_mm"][0]), float(p["shift_mm"][1])),
            bool(p["mirrored"]),
            float(p.get("slope_mean", 0.0)),
            float(p.get("slope_worst", 0.0)),
            bool(p.get("locked", False)),
        )
        for p in document["placements"]
    )
