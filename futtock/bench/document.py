"""The bench's figures as the JSON document of ``sheets`` carries them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from futtock.bench.bedding import Bedding
from futtock.bench.calibration import TrialPiece
from futtock.bench.cuts import Cut, SawSheet
from futtock.bench.order import SawingOrder
from futtock.bench.thicknessing import ThicknessPlan
from futtock.bench.treenails import Fastenings, GroupStrength
from futtock.bench.weights import Weights, weigh
from futtock.framing.frame import Frame
from futtock.moulds.mould import Mould


def saw_json(sheets: Sequence[SawSheet]) -> list[dict[str, Any]]:
    """``saw``: one entry a timber."""
    return [
        {
            "mark": sheet.mark,
            "face_up": sheet.face_up,
            "sided_mm": sheet.sided_mm,
            "cuts": [cut_json(cut) for cut in sheet.cuts],
        }
        for sheet in sheets
    ]


def cut_json(cut: Cut) -> dict[str, Any]:
    """One cut; marks from heel to head, turns in the order of feeding."""
    return {
        "edge": cut.edge,
        "feed": cut.feed,
        "kept": cut.kept,
        "head": cut.head,
        "marks": [
            {
                "at_mm": round(m.at_mm, 3),
                "deg": m.deg,
                "head": m.head,
                "exact_left_deg": round(m.left_deg, 4),
                "scale_deg": round(m.scale_deg, 3),
            }
            for m in cut.marks
        ],
        "turns": [
            {
                "from_mm": round(t.from_mm, 3),
                "to_mm": round(t.to_mm, 3),
                "deg": t.deg,
                "turns": None if t.turns is None else round(t.turns, 3),
                "way": t.way,
                "deg_ft": round(t.deg_ft, 3),
            }
            for t in cut.turns
        ],
        "still": [[round(a, 3), round(b, 3)] for a, b in cut.still],
        "length_mm": round(cut.length_mm, 3),
        "deg_ft": round(cut.deg_ft, 3),
        "twist_ok": cut.twist_ok,
        "radius_mm": None if cut.radius_mm == float("inf") else round(cut.radius_mm, 1),
        "blade_radius_mm": round(cut.blade_radius_mm, 1),
        "blade_ok": cut.blade_ok,
        "feed_mm_min": round(cut.feed_mm_min, 1),
        "turns_a_minute": None if cut.turns_a_minute is None else round(cut.turns_a_minute, 2),
        "beyond": [
            {
                "from_mm": round(b.from_mm, 3),
                "to_mm": round(b.to_mm, 3),
                "worst_left_deg": round(b.worst_deg, 3),
                "limit_deg": b.limit_deg,
                "hew_mm": round(b.hew_mm, 2),
                "other_feed": b.other_feed,
            }
            for b in cut.beyond
        ],
    }


def treenails_json(whole: Fastenings) -> dict[str, Any]:
    """``treenails``: counts, lengths, drills, stock and wedges."""
    return {
        "holes": whole.holes,
        "diameter_mm": whole.diameter_mm,
        "bore_mm": round(whole.bore_mm, 4),
        "lengths_mm": [c.length_mm for c in whole.lengths],
        "classes": [
            {
                "length_mm": c.length_mm,
                "grip_mm": c.grip_mm,
                "driven": c.driven,
                "to_make": c.to_make,
            }
            for c in whole.lengths
        ],
        "frames": [{"frame": number, "holes": count} for number, count in whole.per_frame],
        "drills": [
            {"bore_mm": round(bore, 4), "depth_mm": depth, "holes": count}
            for bore, depth, count in whole.drills
        ],
        "stock": {
            "square_mm": whole.stock.square_mm,
            "squares": whole.stock.squares,
            "running_m": round(whole.stock.running_m, 3),
            "volume_m3": round(whole.stock.volume_m3, 6),
            "board_feet": round(whole.stock.board_feet, 2),
        },
        "wedges": {
            "count": whole.wedges.count,
            "wide_mm": whole.wedges.wide_mm,
            "long_mm": whole.wedges.long_mm,
            "thick_mm": round(whole.wedges.thick_mm, 3),
            "rule": whole.wedges.rule,
        },
    }


def strength_json(strength: GroupStrength | None) -> dict[str, Any] | None:
    """``treenails.strength``: of the fewest on one side of a butt; null without a figure."""
    if strength is None:
        return None
    return {
        "treenails": strength.count,
        "newton": round(strength.newton, 1),
        "stress_kpa": round(strength.stress_kpa, 1),
        "source": strength.source,
        "caution": strength.caution,
    }


def mass_json(weights: Weights) -> dict[str, Any]:
    """``mass``: timbers with how to lift them, frames, and the sum."""
    return {
        "total_kg": round(sum(p.mass_kg for p in weights.pieces), 2),
        "limit_kg": round(weights.limit_kg, 2),
        "timbers": [
            {
                "mark": p.mark,
                "mass_kg": round(p.mass_kg, 3),
                "people": p.people or None,
                "lifting_index": round(p.index, 3),
                "slings_mm": [[round(v, 1) for v in point] for point in p.slings_mm.tolist()],
                "ends_kg": [round(v, 2) for v in p.ends_kg],
            }
            for p in weights.pieces
        ],
        "frames": [
            {
                "frame": f.frame,
                "mass_kg": round(f.mass_kg, 2),
                "centre_mm": [round(v, 2) for v in f.centre_mm],
                "timbers": f.timbers,
                "people": f.people or None,
                "slings_mm": [[round(v, 1) for v in p] for p in f.slings_mm],
            }
            for f in weights.frames
        ],
    }


def thickness_json(plan: ThicknessPlan) -> dict[str, Any]:
    """``thickness``: each piece's passes, and those that cannot be brought to size."""
    return {
        "pieces": [
            {
                "name": p.name,
                "first_face": p.first_face,
                "flatness_mm": round(p.flatness_mm, 3),
                "attainable_mm": round(p.attainable_mm, 3),
                "sided_mm": round(p.sided_mm, 3),
                "allowance_mm": round(p.allowance_mm, 3),
                "fits": p.fits,
                "minutes": None if p.minutes is None else round(p.minutes, 1),
                "passes": [
                    {
                        "face": c.face,
                        "depth_mm": round(c.depth_mm, 3),
                        "left_mm": round(c.left_mm, 3),
                    }
                    for c in p.passes
                ],
            }
            for p in plan.pieces
        ],
        "fail": list(plan.fail),
        "minutes": None if plan.minutes is None else round(plan.minutes, 1),
        "shown": plan.shown,
    }


def bedding_json(whole: Bedding) -> dict[str, Any]:
    """``bedding``: joint areas and compound."""
    return {
        "joint_m2": round(whole.joint_m2, 4),
        "litres": round(whole.litres, 3),
        "coverage_m2_per_litre": whole.coverage_m2_per_litre,
        "spare_percent": whole.spare_percent,
        "frames": [{"frame": f.frame, "joint_m2": round(f.joint_m2, 5)} for f in whole.frames],
    }


def order_json(order: SawingOrder) -> dict[str, Any]:
    """``order``: batches of cuts with how far the head is turned before each."""
    return {
        "turn_deg": round(order.turn_deg, 2),
        "unsorted_deg": round(order.unsorted_deg, 2),
        "batches": [
            {
                "sided_mm": b.sided_mm,
                "blade_width_mm": b.blade_width_mm,
                "blade_follows": b.blade_follows,
                "cuts": [
                    {
                        "mark": c.mark,
                        "edge": c.edge,
                        "from_mm": round(c.part_from_mm, 3),
                        "starts_left_deg": c.starts_left_deg + 0.0,  # no minus before nothing
                        "ends_left_deg": c.ends_left_deg,
                    }
                    for c in b.cuts
                ],
            }
            for b in order.batches
        ],
    }


def sheets_json(
    sheets: Sequence[SawSheet],
    whole: Fastenings,
    moulds: Sequence[Mould],
    frames: Sequence[Frame] = (),
    *,
    thickness: ThicknessPlan | None = None,
    bedded: Bedding | None = None,
    order: SawingOrder | None = None,
    strength: GroupStrength | None = None,
    trial: TrialPiece | None = None,
) -> dict[str, Any]:
    """The document of ``sheets``.

    Parameters
    ----------
    sheets, whole, moulds
        Saw sheets, fastenings and the moulds they come from.
    frames
        Frames to be weighed assembled; none leaves ``mass.frames`` empty.
    thickness, bedded, order, strength, trial
        Further parts where they were worked out.
    """
    document: dict[str, Any] = {
        "saw": saw_json(sheets),
        "treenails": treenails_json(whole),
        "thickness": thickness_json(thickness) if thickness else {},
        "mass": mass_json(weigh(frames, moulds)),
    }
    if bedded is not None:
        document["bedding"] = bedding_json(bedded)
    if order is not None:
        document["order"] = order_json(order)
    document["treenails"]["strength"] = strength_json(strength)
    if trial is not None:
        document["saw_test"] = [
            {"read_left_deg": read, "going": way, "at_mm": at} for read, way, at in trial.cuts
        ]
    return document
