"""The saw's paper: a page a cut with the angle at every mark, and strips to paste on the wood."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from futtock.bench.cautions import cautions
from futtock.bench.cuts import Cut, SawSheet
from futtock.bench.strip import SawStrip
from futtock.drawing.figures import close_length, degrees, length, offset
from futtock.drawing.heading import Heading, Scale, titled
from futtock.drawing.signs import arrow
from futtock.moulds.mould import Mould
from futtock.sheet.items import Face, Item, Text, path
from futtock.sheet.letters import wrapped
from futtock.sheet.sheet import Sheet, fitted
from futtock.sheet.style import BEHIND, BUTT, EDGE, RULE, SEEN, THIN, Tone

Array = NDArray[np.float64]

_WIDE = 178.0
_SHOWN_DEG = 0.05
"""A scale that is out by less than this is read as it stands."""
STRIP_MM = 24.0
"""Width of a saw strip."""


def saw_page(sheet: SawSheet, mould: Mould, heading: Heading) -> list[Sheet]:
    """The pages of one timber: one a cut, upright A4, figures to be read at arm's length."""
    parts = len(sheet.cuts)
    return [
        _page(sheet, cut, mould, heading, f"cut {k + 1} of {parts}")
        for k, cut in enumerate(sheet.cuts)
    ]


def _page(sheet: SawSheet, cut: Cut, mould: Mould, heading: Heading, which: str) -> Sheet:
    out: list[Item] = [Text(sheet.mark, (0.0, 0.0), 18.0, Face.FIGURES_BOLD, rise="top")]
    out.append(
        Text(f"{cut.edge} edge, {which}", (_WIDE, -2.0), 7.0, Face.FIGURES_BOLD, "end", "top")
    )
    y = -21.0
    kept = cut.kept.upper()
    for left, right in (
        ("face up", f"{sheet.face_up} face"),
        ("feed", cut.feed),
        ("wood kept on the feeder's", kept),
        ("head leans", f"{cut.head.upper()}, up to {degrees(cut.largest_deg)}"),
    ):
        out.append(Text(left, (0.0, y), 4.2, tone=Tone.PENCIL, rise="top"))
        out.append(Text(right, (62.0, y + 0.8), 6.0, Face.FIGURES_BOLD, rise="top"))
        y -= 8.2
    out += _end_view(cut, (152.0, y + 3.0))
    out += _picture(cut, mould, (0.0, y - 2.0))
    y -= 38.0
    rows = cut.in_feeding_order()
    turns = {t.from_mm: t for t in cut.turns}
    size = float(np.clip(118.0 / (len(rows) + 1), 4.4, 11.0))
    letters = size * 0.78
    out.append(path([(0.0, y), (_WIDE, y)], BUTT))
    corrected = any(abs(m.scale_deg - m.set_left_deg) > _SHOWN_DEG for m in rows)
    if corrected:
        said = Text("set scale to", (132.0, y - 1.2), 3.2, anchor="end", rise="top", tone=Tone.RED)
        out.append(said)
    for x, words, side in (
        (30.0, "at", "end"),
        (84.0, "angle", "end"),
        (90.0, "head", "start"),
        (_WIDE, "crank to the next mark", "end"),
    ):
        anchor = "end" if side == "end" else "start"
        out.append(Text(words, (x, y - 1.2), 3.2, anchor=anchor, rise="top", tone=Tone.PENCIL))  # type: ignore[arg-type]
    y -= 5.6
    for mark in rows:
        base = y - size * 0.8
        out.append(
            Text(offset(mark.at_mm, heading.show), (30.0, base), letters * 0.8, anchor="end")
        )
        out.append(Text(degrees(mark.deg), (84.0, base), letters, Face.FIGURES_BOLD, "end"))
        out.append(Text(mark.head.upper(), (90.0, base), letters * 0.8, Face.FIGURES_BOLD))
        if corrected:
            out.append(Text(_scale(mark.scale_deg), (132.0, base), letters * 0.8, anchor="end"))
        turn = turns.get(mark.at_mm)
        if turn is not None:
            out.append(
                Text(
                    _crank(turn.way, turn.deg, turn.turns),
                    (_WIDE, base),
                    letters * 0.7,
                    anchor="end",
                )
            )
        y -= size
        out.append(path([(0.0, y), (_WIDE, y)], RULE))
    y -= 3.0
    for piece in wrapped(_pace(cut, heading), 3.2, Face.FIGURES, _WIDE):
        y -= 4.4
        out.append(Text(piece, (0.0, y), 3.2))
    for line in _warnings(cut, sheet, heading):
        for piece in wrapped(line, 3.4, Face.FIGURES_BOLD, _WIDE):
            y -= 4.6
            out.append(Text(piece, (0.0, y), 3.4, Face.FIGURES_BOLD))
    for c in cautions("sawing"):
        for k, piece in enumerate(wrapped(c.text, 2.8, Face.WORDS, _WIDE - 4)):
            y -= 3.9
            out.append(Text(("– " if k == 0 else "   ") + piece, (0.0, y), 2.8, Face.WORDS))
    name = f"{sheet.mark}-saw-{cut.edge}"
    return titled(
        name,
        out,
        heading,
        f"Saw sheet {sheet.mark}, {cut.edge}",
        Scale(0, "none"),
        paper="A4",
        lying=False,
        about=f"Saw sheet of {sheet.mark}, {cut.edge} edge: {cut.feed}, wood kept {cut.kept}.",
        notes=["Lengths along the line on the face that is up, from the heel."],
    )


def _scale(left_deg: float) -> str:
    """What the saw's own scale must show, to a tenth, with the hand."""
    hand = "" if abs(left_deg) < 0.05 else " L" if left_deg > 0 else " R"
    return f"{abs(left_deg):.1f}°{hand}"


def _crank(way: str, deg: float, turns: float | None) -> str:
    if way == "square" or deg == 0:
        return "stand still"
    said = degrees(deg) if turns is None else f"{turns:g} turns"
    return f"{said} to the {way}"


def _pace(cut: Cut, heading: Heading) -> str:
    """Rates of the angle, the feed and the crank, and the tightest turn against the blade."""
    crank = "" if cut.turns_a_minute is None else f", crank {cut.turns_a_minute:.0f} turns a minute"
    tight = "is straight"
    if np.isfinite(cut.radius_mm):
        tight = f"turns in {length(cut.radius_mm, heading.show)}"
    still = ", ".join(
        f"{offset(a, heading.show)} to {offset(b, heading.show)}"
        for a, b in (sorted(pair) for pair in cut.still)
    )
    return (
        f"At most {cut.deg_ft:.1f}° a foot (a blade this wide binds past"
        f" {cut.twist_limit_deg_ft:.1f}°); feed {cut.feed_mm_min / 1000:.1f} m a minute{crank}."
        f" The line {tight}; the blade follows {length(cut.blade_radius_mm, heading.show)}."
        + (f" The head stands still from {still}." if still else "")
    )


def _end_view(cut: Cut, at: tuple[float, float]) -> list[Item]:
    """What the feeder sees, facing the teeth: table, blade as it leans, the wood that is kept."""
    x, y = at
    lean = 0.0 if cut.head == "square" else float(np.clip(cut.largest_deg, 12.0, 40.0))
    t = np.tan(np.radians(lean)) * (-1.0 if cut.head == "left" else 1.0)
    side, thick = (-1.0 if cut.kept == "left" else 1.0), 9.0
    ring = [(x, y), (x + side * 17, y), (x + side * 17, y + thick), (x + t * thick, y + thick)]
    return [
        path(ring, EDGE, True, Tone.OAK),
        path([(x - 22, y), (x + 22, y)], SEEN),
        path([(x - t * 5, y - 5.0), (x + t * 19, y + 19.0)], BUTT),
        Text("kept", (x + side * 10, y + thick / 2), 3.0, anchor="middle", rise="middle"),
        Text("left", (x - 22, y - 4.6), 3.0, tone=Tone.PENCIL),
        Text("right", (x + 22, y - 4.6), 3.0, anchor="end", tone=Tone.PENCIL),
        Text("facing the teeth", (x, y - 8.6), 2.8, anchor="middle", tone=Tone.PENCIL),
    ]


def _warnings(cut: Cut, sheet: SawSheet, heading: Heading) -> list[str]:
    said = []
    if not cut.blade_ok:
        tight, blade = (length(v, heading.show) for v in (cut.radius_mm, cut.blade_radius_mm))
        said.append(f"! The line turns in {tight}; the blade needs {blade}. Saw wide and trim.")
    if not cut.twist_ok:
        said.append(
            f"! The angle changes by {cut.deg_ft:.1f}° a foot; past {cut.twist_limit_deg_ft:.1f}° "
            "a wide blade may bind. Feed slowly."
        )
    for b in cut.beyond:
        hew = close_length(b.hew_mm, heading.show)
        said.append(
            f"! From {offset(b.from_mm, heading.show)} to {offset(b.to_mm, heading.show)} the head "
            f"stops at {degrees(b.limit_deg)}: hew {hew} off the far face."
        )
    said += [f"! {f.message}" for f in sheet.findings if "straight cut" in f.message]
    return said


def _picture(cut: Cut, mould: Mould, at: tuple[float, float]) -> list[Item]:
    """The timber small, as it lies, the edge to be sawn heavy, and the way it is fed."""
    ring = mould.outline_up_mm
    scale = min(150.0 / float(np.ptp(ring[:, 0])), 22.0 / float(np.ptp(ring[:, 1])))
    low = ring.min(axis=0)
    high = float(np.ptp(ring[:, 1])) * scale
    x0, y0 = at[0], at[1] - high - 3.0

    def put(p: Array) -> Array:
        placed: Array = (p - low) * scale + np.array([x0, y0])
        return placed

    edge = mould.edges[0] if cut.edge == "outer" else mould.edges[1]
    out: list[Item] = [
        path(put(ring), EDGE, True, Tone.OAK),
        path(put(mould.outline_down_mm), BEHIND, True),
        path(put(edge.up_mm), BUTT),
        Text("heel", (x0, y0 - 4.0), 3.0, tone=Tone.PENCIL),
        Text(
            "head",
            (x0 + float(np.ptp(ring[:, 0])) * scale, y0 - 4.0),
            3.0,
            anchor="end",
            tone=Tone.PENCIL,
        ),
    ]
    # heel first: the heel (left) goes to the teeth, so the wood travels to the left
    way = 180.0 if cut.feed == "heel first" else 0.0
    tail = (x0 + 174.0, y0 + high / 2) if way else (x0 + 156.0, y0 + high / 2)
    out += arrow(tail, way, 16.0, SEEN)
    out.append(Text("feed", (x0 + 165.0, y0 + high / 2 + 2.0), 3.0, anchor="middle"))
    return out


def strip_sheet(strip: SawStrip, heading: Heading) -> Sheet:
    """One strip full size, to be cut out and pasted on the wood that is kept.

    The wood travels to the right; the line to be sawn runs along the strip's stated side.
    """
    n = strip.length_mm
    h = STRIP_MM
    on_top = strip.line_side == "top"
    edge = h if on_top else 0.0
    into = -1.0 if on_top else 1.0
    out: list[Item] = [
        path([(0, 0), (n, 0), (n, h), (0, h)], THIN, True, layer="CUT"),
        path([(0.0, edge), (n, edge)], SEEN, layer="LINE"),
    ]
    corrected = any(
        abs(m.scale_deg - (m.deg if m.head == "left" else -m.deg)) > _SHOWN_DEG for m in strip.marks
    )
    turned = strip.text_deg % 180.0 != 0.0
    for m in strip.marks:
        x = m.along_mm
        deep = 4.0 if m.fine else 8.0
        out.append(path([(x, edge), (x, edge + into * deep)], THIN if m.fine else SEEN))
        size = 2.4 if m.fine else 6.0
        words = degrees(m.deg)
        if not m.fine:
            words += {"left": " L", "right": " R", "square": ""}[m.head]
        if corrected:
            # the strip bears what the crank turns to, the scale's own reading
            words = _scale(m.scale_deg) if not m.fine else f"{abs(m.scale_deg):.1f}°"
        c = edge + into * (deep + (4.0 if m.fine else 7.0))
        x = float(np.clip(x, size * (0.7 if turned else 1.6), n - size * (0.7 if turned else 1.6)))
        out.append(
            Text(
                words,
                (x, c),
                size,
                Face.FIGURES if m.fine else Face.FIGURES_BOLD,
                "middle",
                "middle",
                strip.text_deg,
            )
        )
    title = ("Scale readings, corrected for the saw. " if corrected else "") + (
        f"{strip.mark} {strip.edge} edge, {strip.face_up} face up, {strip.feed}: "
        f"{strip.right_end} to the teeth, keep {strip.kept}"
    )
    rev = f"  {heading.vessel} {heading.revision} {heading.date}".rstrip()
    out.append(Text(title + "." + rev, (0.0, h + 2.0), 2.8))
    out += arrow((n - 22.0, -4.0), 0.0, 18.0, SEEN)
    out.append(Text("to the teeth", (n - 24.0, -5.0), 2.8, anchor="end"))
    name = f"{strip.mark}-strip-{strip.edge}"
    return fitted(name, out, 5.0, title=f"Saw strip {strip.mark}, {strip.edge}")


def strip_sheets(strips: Sequence[SawStrip], heading: Heading) -> list[Sheet]:
    """A sheet for every strip, in order."""
    return [strip_sheet(s, heading) for s in strips]
