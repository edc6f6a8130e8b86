"""The bench's lists in large letters: order of sawing, thicknessing, fastening, weights, lifts."""

from __future__ import annotations

from collections.abc import Sequence

from futtock.bench.bedding import Bedding
from futtock.bench.cautions import Sheet as About
from futtock.bench.cautions import cautions
from futtock.bench.fastening import FasteningSettings, published
from futtock.bench.order import SawingOrder
from futtock.bench.thicknessing import Thicknessing, ThicknessPlan
from futtock.bench.treenails import Fastenings, GroupStrength
from futtock.bench.weights import Weights
from futtock.drawing.figures import close_length, degrees, length, mass, offset
from futtock.drawing.heading import Heading
from futtock.sheet.flow import Block, Head, Look, Para, flowed
from futtock.sheet.sheet import Sheet
from futtock.sheet.table import Table

_LOOK = Look(body_mm=4.0, table_mm=3.5)
_BOX = "[  ]"


def order_list(order: SawingOrder, heading: Heading) -> tuple[Sheet, ...]:
    """Cuts in the order that turns the head least, batch by batch, with a box to tick."""
    blocks: list[Block] = [
        Head("Order of sawing"),
        Para(
            f"Between cuts the head is turned {order.turn_deg:.0f}° in all, against"
            f" {order.unsorted_deg:.0f}° in the order of the marks. Each batch is one thickness and"
            " one blade; set the head square before and after it."
        ),
    ]
    for k, batch in enumerate(order.batches, 1):
        thick, blade = (length(v, heading.show) for v in (batch.sided_mm, batch.blade_width_mm))
        blocks.append(Head(f"Batch {k}: {thick} thick, blade {blade}", 1))
        if not batch.blade_follows:
            blocks.append(Para("No blade follows these turns: saw wide of the line and trim."))
        rows = tuple(
            (
                str(n),
                c.mark,
                c.edge
                + (f" from {offset(c.part_from_mm, heading.show)}" if c.part_from_mm else ""),
                _hand(c.starts_left_deg),
                _hand(c.ends_left_deg),
                degrees(c.turn_before_deg),
                _BOX,
            )
            for n, c in enumerate(batch.cuts, 1)
        )
        head = ("no.", "timber", "edge", "head begins", "and ends", "turn first", "sawn")
        blocks.append(Table(head, rows, "rllrrrl"))
    return _pages("order-of-sawing", "Order of sawing", blocks, heading, "sawing")


def _hand(left_deg: float) -> str:
    if left_deg == 0:
        return "square"
    return f"{degrees(left_deg)} {'L' if left_deg > 0 else 'R'}"


def thickness_list(plan: ThicknessPlan, heading: Heading) -> tuple[Sheet, ...]:
    """Each piece from rough to sided: face first, passes and depths, what remains."""
    show = heading.show
    time = ""
    if plan.minutes is not None:
        by = (
            f"as {plan.shown} entries of planing have shown"
            if plan.shown
            else "at the rates stated"
        )
        time = f" About {plan.minutes / 60:.1f} hours, {by}."
    blocks: list[Block] = [
        Head("Thicknessing"),
        Para(
            "First face on the sled with planer or router, the hollow face down on its edges; the"
            f" second by the thicknesser. Depths are for each pass, the last one light.{time}"
        ),
    ]
    if plan.fail:
        blocks.append(Para("! Too thin or too warped: " + ", ".join(plan.fail) + ".", bold=True))
    sizes = sorted({round(p.sided_mm, 1) for p in plan.pieces})
    head = (
        "piece", "up", "out of flat, mm", "first face, mm", "second face, mm", "plane to, mm",
        "spare, mm", "done",
    )  # fmt: skip
    for size in sizes:
        here = [p for p in plan.pieces if round(p.sided_mm, 1) == size]
        shrink = max(p.allowance_mm for p in here)
        more = f", {close_length(shrink, show)} of it to shrink" if shrink > 0.1 else ""
        blocks.append(Head(f"To {close_length(size, show)} ({size:.1f} mm){more}", 1))
        rows = tuple(
            (
                p.name,
                p.first_face,
                f"{p.flatness_mm:.1f}",
                _cuts(p, "first"),
                _cuts(p, "second"),
                f"{p.sided_mm:.1f}",
                f"{p.spare_mm:.1f}" if p.fits else "too thin",
                _BOX,
            )
            for p in here
        )
        blocks.append(Table(head, rows, "llrllrrl"))
    blocks.append(
        Para("Figures of passes in millimetres: so many passes of so much, then the last.")
    )
    return _pages("thicknessing", "Thicknessing", blocks, heading, "thicknessing")


def _cuts(p: Thicknessing, face: str) -> str:
    """``3 x 1.4, 0.5``: alike passes told together."""
    depths = [round(c.depth_mm, 1) for c in p.passes if c.face == face]
    if not depths:
        return "none"
    *many, last = depths
    if not many:
        return f"{last:g}"
    return f"{len(many)} x {many[0]:g}, {last:g}"


def fastening_list(
    whole: Fastenings,
    settings: FasteningSettings,
    bedded: Bedding,
    heading: Heading,
    strength: GroupStrength | None = None,
    compound: str = "bedding compound",
) -> tuple[Sheet, ...]:
    """Holes, drills, treenails, the stock to turn them from, wedges and bedding of the vessel."""
    show, d = heading.show, settings.diameter_mm
    s, w = whole.stock, whole.wedges
    blocks: list[Block] = [
        Head("Fastening the layers"),
        Para(
            f"{whole.holes} holes of {whole.bore_mm:.1f} mm, {settings.drift_mm:.1f} mm under the"
            f" treenails of {close_length(d, show)} ({whole.diameter_mm:.1f} mm),"
            f" of {settings.species}; bored square to the joint face through both layers, each"
            " frame by its template."
        ),
        Table(
            ("bore", "deep", "holes"),
            tuple(
                (f"{bore:.1f} mm", close_length(deep, show), str(n))
                for bore, deep, n in whole.drills
            ),
            "rrr",
            "Drills",
        ),
        Table(
            ("length", "through", "driven", "to make"),
            tuple(
                (
                    close_length(c.length_mm, show),
                    close_length(c.grip_mm, show),
                    str(c.driven),
                    str(c.to_make),
                )
                for c in whole.lengths
            ),
            "rrrr",
            f"Treenails, {close_length(settings.proud_mm, show)} left proud at each end",
        ),
        Table(
            ("what", "how much"),
            (
                (
                    f"squares of {close_length(s.square_mm, show)}, spoilt ones counted",
                    str(s.squares),
                ),
                ("running length, kerfs counted", f"{s.running_m:.1f} m"),
                ("volume", f"{s.volume_m3:.4f} m3, {s.board_feet:.1f} board feet sawn"),
                (
                    f"wedges {close_length(w.wide_mm, show)} wide, {close_length(w.long_mm, show)}"
                    f" long, {close_length(w.thick_mm, show)} thick",
                    str(w.count),
                ),
                (f"{compound}, {bedded.spare_percent:.0f} % spare", f"{bedded.litres:.1f} litres"),
                (
                    f"joint faces, at {bedded.coverage_m2_per_litre:g} m2 a litre",
                    f"{bedded.joint_m2:.2f} m2",
                ),
            ),
            "lr",
            "Stock",
        ),
        Para(f"Wedges are set {w.rule}."),
    ]
    wet, frame = settings.moisture_percent, settings.frame_moisture_percent
    if wet is not None and frame is not None:
        blocks.append(
            Para(f"Treenails at {wet:g} % moisture in frames at {frame:g} %: they swell and hold.")
            if wet < frame
            else Para("! The treenails are not drier than the frames: dry them first.", bold=True)
        )
    if strength is not None:
        blocks.append(
            Para(
                f"{strength.count} treenails on one side of a butt: ultimate"
                f" {strength.newton / 1e3:.1f} kN in shear, from"
                f" {strength.stress_kpa / 1e3:.1f} MPa ({strength.source})."
                f" {strength.caution}"
            )
        )
    else:
        blocks.append(
            Para(
                f"No published shear figure for pins of {settings.species} was found; state your"
                " own (shear_kpa in [treenails]) to have the strength of a group. Not a design."
            )
        )
    areas = {f.frame: f.joint_m2 for f in bedded.frames}
    blocks += [
        Head("Frame by frame", 1),
        Table(
            ("frame", "holes", "wedges", "joint m2", "bored", "driven", "wedged"),
            tuple(
                (str(f), str(n), str(n * settings.wedges), f"{areas.get(f, 0.0):.3f}", *[_BOX] * 3)
                for f, n in whole.per_frame
            ),
            "rrrrlll",
        ),
        Head("Published values, for other joints than this one", 1),
        Para(
            f"In use here: {settings.edge / d:.2g} diameters to an edge, {settings.end / d:.2g} to"
            f" a butt or end, {settings.spacing / d:.2g} along the girth. No published rule for a"
            " frame's own two layers was found."
        ),
        *(
            Para(f"{p.joint}: {p.what}, {p.value} {p.unit}. {p.source}.", p.code)
            for p in published()
        ),
    ]
    return _pages("fastening", "Fastening", blocks, heading, "fastening", "bedding")


def weight_list(weights: Weights, heading: Heading) -> tuple[Sheet, ...]:
    """What each frame and timber weighs, who or what lifts it, and where to sling it."""
    show = heading.show
    blocks: list[Block] = [
        Head("Weights and lifts"),
        Para(
            f"All frames together {mass(weights.total_kg, show)}. One person may lift"
            f" {mass(weights.limit_kg, show)} so (NIOSH, the lift as stated); the index is what"
            " each bears over that, and above 1 more hands or tackle are wanted."
        ),
        Table(
            ("frame", "weighs", "lift", "centre above base", "slings, out and up from base"),
            tuple(
                (
                    str(f.frame),
                    mass(f.mass_kg, show),
                    f"{f.people} people" if f.people else "tackle",
                    offset(f.centre_mm[2], show),
                    "; ".join(
                        f"{offset(abs(a), show)}, {offset(b, show)}" for a, b in f.slings_mm[-1:]
                    )
                    + " each side",
                )
                for f in weights.frames
            ),
            "rrlrl",
            "Frames, assembled",
        ),
        Table(
            ("timber", "weighs", "lift", "index", "at its ends", "slings"),
            tuple(
                (
                    p.mark,
                    mass(p.mass_kg, show),
                    _people(p.people),
                    f"{p.index:.2f}",
                    " and ".join(mass(v, show) for v in p.ends_kg),
                    "at its centre" if len(p.slings_mm) == 1 else "two, off the wood's middle",
                )
                for p in sorted(weights.pieces, key=lambda p: -p.mass_kg)
            ),
            "lrlrll",
            "Timbers, heaviest first",
        ),
    ]
    return _pages("weights-and-lifts", "Weights and lifts", blocks, heading, "lifting")


def _people(count: int) -> str:
    if count == 0:
        return "tackle"
    return "one person" if count == 1 else f"{count} people"


def _pages(
    name: str, title: str, blocks: Sequence[Block], heading: Heading, *sheets: About
) -> tuple[Sheet, ...]:
    told = dict.fromkeys(c.text for sheet in sheets for c in cautions(sheet))
    last: list[Block] = [Head("Cautions", 1), *(Para(text, "–") for text in told)]
    foot = " ".join(w for w in (heading.date, f"revision {heading.revision or 'none'}") if w)
    made = flowed(
        name,
        title,
        [*blocks, *last],
        running=f"{heading.vessel}: {title.lower()}",
        foot=foot,
        look=_LOOK,
        contents=False,
    )
    return made.pages
