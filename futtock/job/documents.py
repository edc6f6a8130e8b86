"""The JSON documents of the rooms that do not write their own."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from futtock.job.whole import Job
    from futtock.layout.placement import Layout
    from futtock.lines.fair import Fairing
    from futtock.lines.fairness import Bend, Patch
    from futtock.lines.standing import StandingHull
    from futtock.stock.pile import Pile, StackCount
    from futtock.stock.rack import Rack
    from futtock.stock.slab import Slab


def fair_document(
    fairing: Fairing, seconds: float, bends: Sequence[Bend] = (), scanty: Sequence[Patch] = ()
) -> dict[str, Any]:
    """The document of ``fair``; with each line's inflections and the places to measure more."""
    return {
        "tolerance_mm": fairing.tolerance_mm,
        "rms_mm": _number(fairing.rms_mm),
        "points": [
            {
                "line": p.line,
                "station": p.station,
                "given_mm": _number(p.given_mm),
                "fair_mm": _number(p.fair_mm),
                "off_mm": _number(p.off_mm),
                "doubtful": p.doubtful,
                "likely": p.likely,
                "mend_mm": _number(p.mend_mm),
                "spread_mm": _number(p.spread_mm),
            }
            for p in fairing.points
        ],
        "hydrostatics": _hydrostatics(fairing),
        "fairness": [
            {
                "line": f"{b.kind} {b.at}",
                "inflections_at_mm": b.inflections.tolist(),
                "smallest_radius_mm": _number(1000.0 * b.quickest_m),
            }
            for b in bends
        ],
        "measure_more": [
            {"at_mm": list(p.at_mm), "spread_mm": p.spread_mm, "lean_deg": p.lean_deg}
            for p in scanty
        ],
        "seconds": round(seconds, 3),
    }


def _hydrostatics(fairing: Fairing) -> dict[str, float | None] | None:
    h = fairing.hydrostatics
    if h is None:
        return None
    return {
        "waterline_mm": h.waterline_mm,
        "volume_m3": h.volume_m3,
        "lcb_mm": h.lcb_mm,
        "vcb_mm": h.vcb_mm,
        "waterplane_m2": h.waterplane_m2,
        "wetted_m2": h.wetted_m2,
        "cb": h.cb,
        "cp": h.cp,
        "cm": h.cm,
        "cw": h.cw,
        "lcf_mm": h.lcf_mm,
        "bm_mm": h.bm_mm,
        "bml_mm": h.bml_mm,
        "length_mm": h.length_mm,
        "breadth_mm": h.breadth_mm,
        "depth_mm": h.depth_mm,
        "section_m2": h.section_m2,
    }


def restoration_document(standing: StandingHull) -> dict[str, Any]:
    """What was taken out of a worn hull: each choice with its effect, and zones as found."""
    done = standing.restoration
    return {
        "choices": [
            {
                "choice": e.choice,
                "value": e.value,
                "stated": e.stated,
                "moves_mm": _number(e.moves_mm),
            }
            for e in done.effects
        ],
        "side_off_mm": [_number(v) for v in done.side_off_mm],
        "as_found": [
            {
                "zone": z.zone,
                "side": z.side,
                "least_mm": _number(z.least_mm),
                "most_mm": _number(z.most_mm),
                "rms_mm": _number(z.rms_mm),
            }
            for z in standing.steps
        ],
    }


def rack_document(rack: Rack) -> dict[str, Any]:
    """The document of ``rack list``: every slab's entry without its outlines, and the sums."""
    from futtock.stock.rack import areas_m2
    from futtock.stock.weight import volume_m3

    top, bottom = areas_m2(rack.slabs)
    return {
        "slabs": [
            {
                "name": s.name,
                "species": s.species,
                "thickness_mm": s.thickness_mm,
                "moisture_percent": s.moisture_percent,
                "stack": s.stack,
                "measured": s.measured,
                "grain_guessed": s.grain_guessed,
                "flaws": len(s.flaws),
                "volume_m3": round(volume_m3(s), 6),
            }
            for s in rack.slabs
        ],
        "set_aside": list(rack.set_aside),
        "top_m2": round(top, 4),
        "bottom_m2": round(bottom, 4),
    }


def pile_document(pile: Pile) -> dict[str, Any]:
    """``stacks`` and ``pile``: what lies in each stack, and in all of them."""
    return {"stacks": [_stack(s) for s in pile.stacks], "pile": _stack(pile.whole)}


def _stack(s: StackCount) -> dict[str, Any]:
    wet = s.moisture_percent
    return {
        "stack": s.name,
        "slabs": s.slabs,
        "measured": s.measured,
        "unmeasured": s.unmeasured,
        "begun": s.begun,
        "consumed": s.consumed,
        "spoiled": s.spoiled,
        "volume_m3": round(s.volume_m3, 6),
        "board_feet": round(s.board_feet, 2),
        "sound_m2": round(s.sound_m2, 4),
        "mass_kg": round(s.kg, 1),
        "weighed": s.weighed,
        "value": round(s.value, 2),
        "priced": s.priced,
        "moisture_percent": list(wet) if wet else None,
        "oldest_reading": s.oldest_reading,
    }


def _number(value: float | None) -> float | None:
    """JSON has no word for what is not a number."""
    return None if value is None or not math.isfinite(value) else value


def demo_document(job: Job, layout: Layout, slabs: Sequence[Slab]) -> dict[str, Any]:
    """The document of ``demo``: the figures of its short account."""
    fairing, framing = job.fairing, job.framing
    return {
        "doubtful": [f"{p.line} at {p.station}" for p in fairing.doubtful],
        "rms_mm": _number(fairing.rms_mm),
        "frames": len(framing.frames),
        "largest_lean_deg": framing.largest_lean_deg,
        "timbers": len(job.moulds),
        "placed": len(layout.placements),
        "slabs": len(slabs),
        "slabs_used": layout.slabs_used,
        "yield": layout.yield_,
        "treenails": job.fastenings.holes,
        "mass_kg": sum(m.mass_kg for m in job.moulds),
    }
