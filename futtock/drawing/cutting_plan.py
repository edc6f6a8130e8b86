"""The cutting plan on paper: slabs in order, with figures for the tape; its lines on a slab."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from futtock.bench.cautions import cautions
from futtock.drawing.figures import length, offset
from futtock.drawing.heading import Heading
from futtock.layout.cutting import SlabPlan
from futtock.sheet.flow import Block, Head, Look, Para, flowed
from futtock.sheet.items import Face, Group, Item, Text, path
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import CENTRE, EYE, FREE, Tone
from futtock.sheet.table import Table

_LOOK = Look(table_mm=3.2)
_WORDS = (
    "Snap the base line through the middles of the slab's two ends, on the face named. Along is "
    "measured on it from the butt; off is square to it, plus to the left as you look from the "
    "butt, minus to the right. Lay the mould to its six points, then look at the grain before "
    "sawing."
)


def plan_items(plan: SlabPlan, ratio: float) -> list[Item]:
    """Base line, rough cuts in order of cutting, and offcuts, at 1 : ``ratio`` in slab axes."""
    t = np.radians(plan.base.heading_deg)
    start = np.asarray(plan.base.start_mm)
    end = start + plan.base.long_mm * np.array([np.cos(t), np.sin(t)])
    butt = (start - (end - start) * 9.0 * ratio / max(plan.base.long_mm, 1.0)) / ratio
    out: list[Item] = [
        path(np.array([start, end]) / ratio, CENTRE, layer="BASE-LINE"),
        _word("butt", butt, Tone.PENCIL),
    ]
    for piece in plan.offcuts:
        ring = piece.top_mm / ratio
        flaws = [shapely.Polygon(f.outline_mm / ratio).buffer(3.0) for f in piece.flaws]
        clear = shapely.Polygon(ring).buffer(0).difference(shapely.union_all(flaws))
        middle = (shapely.Polygon(ring) if clear.is_empty else clear).representative_point()
        out += [
            path(ring, FREE, True, layer="OFFCUT"),
            _word("keep", np.array([middle.x, middle.y]), Tone.PENCIL),
        ]
    for number, cut in enumerate(plan.cuts, 1):
        line = np.asarray(cut.line_mm) / ratio
        way = (line[1] - line[0]) / max(float(np.hypot(*(line[1] - line[0]))), 1e-9)
        at = line[1] + 2.5 * way
        mark = _word(f"cut {number}", at, Tone.RED)
        out.append(Group((path(line, EYE, layer="CUT"), mark), name=f"cut {number}", kind="cut"))
    return out


def _word(words: str, at: NDArray[np.float64], tone: Tone) -> Text:
    spot = (float(at[0]), float(at[1]))
    return Text(words, spot, 2.6, Face.FIGURES_BOLD, "middle", "middle", tone=tone, halo=Tone.WHITE)


def plan_notes(plan: SlabPlan, heading: Heading) -> list[str]:
    """What the lines mean, for the slab's sheet."""
    said = [f"Slab number {plan.order} in the order of cutting."]
    if plan.cuts:
        said.append("Red: rough cuts, by number. Long dashes: the base line.")
    if plan.offcuts:
        said.append(f"Dashed outline: {_offcuts(plan, heading)}.")
    said += [f"Sawn apart along their lines: {', '.join(group)}." for group in plan.follow]
    return said


def _offcuts(plan: SlabPlan, heading: Heading) -> str:
    spans = (np.ptp(piece.top_mm, axis=0) for piece in plan.offcuts)
    sizes = [f"{length(s.max(), heading.show)} by {length(s.min(), heading.show)}" for s in spans]
    return f"keep {len(sizes)} offcut{'s' * (len(sizes) > 1)}, about {', '.join(sizes)}"


def cutting_plan_pages(plans: Sequence[SlabPlan], heading: Heading) -> tuple[Sheet, ...]:
    """All slabs in the order of cutting, each with its timbers' points and its rough cuts."""
    show = heading.show
    blocks: list[Block] = [Head("Cutting plan", 1), Para(_WORDS)]
    for plan in plans:
        blocks.append(Head(f"{plan.order}. Slab {plan.slab}", 2))
        rows = tuple(
            (
                laying.mark,
                laying.face,
                c.name,
                offset(c.along_mm, show),
                offset(c.off_mm, show),
            )
            for laying in plan.layings
            for c in laying.corners
        )
        head = ("timber", "on the", "point", "along", "off")
        blocks.append(Table(head, rows, "lllrr", "Points of the moulds"))
        if plan.cuts:
            cuts = []
            for number, cut in enumerate(plan.cuts, 1):
                figures = plan.base.figures(cut.line_mm)
                ends = [f"{offset(a, show)}, {offset(b, show)}" for a, b in figures.tolist()]
                parts = " from ".join(", ".join(p) for p in cut.parts)
                cuts.append((str(number), *ends, parts))
            blocks.append(Table(("cut", "from", "to", "parts"), tuple(cuts), "rlll", "Rough cuts"))
        blocks += [
            Para(f"No straight cut parts {', '.join(group)}: saw them apart along their lines.")
            for group in plan.follow
        ]
        if plan.offcuts:
            said = _offcuts(plan, heading)
            blocks.append(Para(f"{said[0].upper()}{said[1:]}; chalk the slab's name on each."))
    blocks += [
        Head("Cautions", 1),
        *(Para(c, "–") for c in dict.fromkeys(w.text for w in cautions("sawing"))),
    ]
    foot = " ".join(w for w in (heading.date, f"revision {heading.revision or 'none'}") if w)
    made = flowed(
        "cutting-plan",
        "Cutting plan",
        blocks,
        running=f"{heading.vessel}: cutting plan",
        foot=foot,
        look=_LOOK,
        contents=False,
    )
    return made.pages
