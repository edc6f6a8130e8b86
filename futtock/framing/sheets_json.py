"""Standing sheets, rabbet lines, bevel map, cants and rules as JSON documents carry them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from futtock.framing.asbuilt import Advice, Ribbands
from futtock.framing.bevels import BevelMap
from futtock.framing.cants import PlanView, cants_toml
from futtock.framing.frame import Cant
from futtock.framing.offered import Offer
from futtock.framing.rabbet import RabbetLines
from futtock.framing.standing import StandingSheet

Array = NDArray[np.float64]


def _figure(value: float, digits: int = 3) -> float | None:
    """The figure rounded; None for what is not known."""
    return round(float(value), digits) if math.isfinite(value) else None


def _figures(values: Array, digits: int = 3) -> list[float | None]:
    return [_figure(v, digits) for v in np.asarray(values, float).tolist()]


def standing_json(sheets: Sequence[StandingSheet]) -> list[dict[str, Any]]:
    """A mapping for each standing sheet; null where a figure has no meaning (the last head)."""
    return [
        {
            "frame": s.frame,
            "cant_deg": s.cant_deg,
            "rake_deg": _figure(s.rake_deg, 6),
            "along_keel_mm": _figure(s.along_keel_mm),
            "keel_top_mm": _figure(s.keel_top_mm),
            "declivity_deg": s.declivity_deg,
            "plumb_offset_mm": _figure(s.plumb_offset_mm),
            "diagonal_mm": _figure(s.diagonal_mm),
            "to_next_head_mm": _figure(s.to_next_head_mm),
            "spall_height_mm": _figure(s.spall_height_mm),
            "spall_length_mm": _figure(s.spall_length_mm),
            "within_mm": s.within_mm,
            "places": [
                {
                    "name": p.name,
                    "kind": p.kind,
                    "height_mm": _figure(p.height_mm),
                    "half_mm": _figure(p.half_mm),
                    "girth_mm": _figure(p.girth_mm),
                    "spread_mm": _figure(p.spread_mm),
                    "horning_mm": _figure(p.horning_mm),
                }
                for p in s.places
            ],
        }
        for s in sheets
    ]


def rabbet_json(lines: RabbetLines) -> list[dict[str, float | None]]:
    """A row for each section; null where a line is not met."""
    names = (
        "x_mm", "half_siding_mm", "rabbet_up_mm", "apex_out_mm", "apex_up_mm", "bearding_up_mm",
        "bevel_deg",
    )  # fmt: skip
    return [dict(zip(names, map(_figure, row), strict=True)) for row in lines.rows()]


def bevel_map_json(found: BevelMap) -> dict[str, Any]:
    """Shares of the girth, frames, and for each frame its leans and jumps heel to head."""
    return {
        "share": _figures(found.share, 4),
        "frames": [
            {
                "number": int(number),
                "x_mm": _figure(x),
                "lean_deg": _figures(found.lean_deg[:, k], 4),
                "jump_deg": _figures(found.jump_deg[:, k], 4),
            }
            for k, (number, x) in enumerate(zip(found.numbers, found.x_mm, strict=True))
        ],
    }


def cants_json(cants: Sequence[Cant], views: Sequence[PlanView]) -> dict[str, Any]:
    """The proposal, the line that accepts it, and every frame seen from above as proposed."""
    return {
        "cants": [
            {
                "frame": c.frame,
                "angle_deg": c.angle_deg,
                "largest_deg": _figure(c.largest_deg, 4),
                "canted_largest_deg": _figure(c.canted_largest_deg, 4),
                "kept": c.kept,
            }
            for c in cants
        ],
        "accept": cants_toml(cants) if cants else None,
        "plan_views": [
            {
                "frame": v.number,
                "cant_deg": v.cant_deg,
                "corners_mm": [_figures(p) for p in v.corners],
                "joint_mm": [_figures(p) for p in v.joint],
                "gap_mm": _figure(v.gap_mm),
                "heel_gap_mm": _figure(v.heel_gap_mm),
            }
            for v in views
        ],
    }


def rules_json(offered: Sequence[Offer]) -> list[dict[str, Any]]:
    """Published rules beside the builder's own settings; null where a rule gives no length."""
    return [
        {
            "rule": o.rule,
            "setting": o.setting,
            "says": o.says,
            "offered_mm": None if o.offered_mm is None else _figure(o.offered_mm),
            "stated_mm": None if o.stated_mm is None else _figure(o.stated_mm),
            "source": o.source,
            "read": o.read,
        }
        for o in offered
    ]


def as_built_json(ribbands: Ribbands, said: Sequence[Advice]) -> dict[str, Any]:
    """What was measured off the drawing, the battens through it, and what to do in words."""
    return {
        "share": _figures(ribbands.share, 4),
        "frames": list(ribbands.numbers),
        "off_mm": [_figures(row) for row in ribbands.off_mm],
        "batten_mm": [_figures(row) for row in ribbands.batten_mm],
        "advice": [
            {"frame": a.frame, "share": a.share, "off_mm": _figure(a.off_mm), "words": a.words}
            for a in said
        ],
    }
