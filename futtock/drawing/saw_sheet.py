"""The saw's paper: a page a cut with the angle at every mark, and strips to paste on the wood."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from futtock.bench.cautions import cautions
from futtock.bench.cuts import Cut, CutMark, SawSheet, Turn
from futtock.bench.strip import SawStrip
from futtock.drawing.figures import close_length, degrees, length, offset
from futtock.drawing.heading import Heading, Scale, titled
from futtock.drawing.saw_views import end_view, plan_view
from futtock.drawing.signs import arrow
from futtock.moulds.mould import Mould
from futtock.sheet.items import Anchor, Face, Item, Text, path
from futtock.sheet.letters import width_mm, wrapped
from futtock.sheet.sheet import Sheet, fitted
from futtock.sheet.style import BUTT, RULE, SEEN, THIN, Tone

Array = NDArray[np.float64]

_WIDE, _HIGH = 178.0, 240.0
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
    out += end_view(cut, (152.0, y + 3.0))
    out += plan_view(cut, mould, (0.0, y - 11.0))
    y -= 45.0
    rows = cut.in_feeding_order()
    turns = {t.from_mm: t for t in cut.turns}
    below = _below(cut, sheet, heading)
    room = _HIGH + y - 8.6 - sum(step for *_, step in below)
    columns = 1 if room / len(rows) >= 4.4 else 2
    deep = -(-len(rows) // columns)
    size = float(np.clip(room / deep, 3.2, 11.0))
    corrected = any(abs(m.scale_deg - m.set_left_deg) > _SHOWN_DEG for m in rows)
    out.append(path([(0.0, y), (_WIDE, y)], BUTT))
    for k in range(columns):
        some = rows[k * deep : (k + 1) * deep]
        wide = _WIDE if columns == 1 else _WIDE / 2 - 3.0
        corner = (k * (_WIDE / 2 + 3.0), y)
        out += _marks(some, turns, heading, corner, wide, size, corrected=corrected)
    y -= 5.6 + size * deep
    y -= 3.0
    for piece, letter, face, step in below:
        y -= step
        out.append(Text(piece, (0.0, y), letter, face))
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


def _marks(
    rows: Sequence[CutMark],
    turns: Mapping[float, Turn],
    heading: Heading,
    corner: tuple[float, float],
    wide: float,
    size: float,
    *,
    corrected: bool,
) -> list[Item]:
    """A column of marks in the order of feeding, its upper left corner at a point."""
    x0, y = corner
    narrow = wide < 100.0
    shares = (0.16, 0.38, 0.405, 0.72) if narrow else (0.168, 0.472, 0.506, 0.742)
    at, angle, head, scale = (x0 + wide * share for share in shares)
    end, letters = x0 + wide, size * 0.78
    words: list[tuple[str, float, Anchor]] = [("at", at, "end"), ("angle", angle, "end")]
    words.append(("head", head, "start"))
    words.append(("crank on" if narrow else "crank to the next mark", end, "end"))
    out: list[Item] = [
        Text(said, (x, y - 1.2), 3.2, anchor=anchor, rise="top", tone=Tone.PENCIL)
        for said, x, anchor in words
    ]
    if corrected:
        said = Text("set scale to", (scale, y - 1.2), 3.2, anchor="end", rise="top", tone=Tone.RED)
        out.append(said)
    y -= 5.6
    for mark in rows:
        base = y - size * 0.8
        out += [
            Text(offset(mark.at_mm, heading.show), (at, base), letters * 0.8, anchor="end"),
            Text(degrees(mark.deg), (angle, base), letters, Face.FIGURES_BOLD, "end"),
            Text(mark.head.upper(), (head, base), letters * 0.8, Face.FIGURES_BOLD),
        ]
        if corrected:
            out.append(Text(_scale(mark.scale_deg), (scale, base), letters * 0.8, anchor="end"))
        turn = turns.get(mark.at_mm)
        if turn is not None:
            crank = _crank(turn.way, turn.deg, turn.turns, short=narrow)
            out.append(Text(crank, (end, base), letters * 0.7, anchor="end"))
        y -= size
        out.append(path([(x0, y), (end, y)], RULE))
    return out


def _below(cut: Cut, sheet: SawSheet, heading: Heading) -> list[tuple[str, float, Face, float]]:
    """Lines under the marks: words, height of letters, face, and the way down to each."""
    lines = [
        (piece, 3.2, Face.FIGURES, 4.4)
        for piece in wrapped(_pace(cut, heading), 3.2, Face.FIGURES, _WIDE)
    ]
    for line in _warnings(cut, sheet, heading):
        bold = wrapped(line, 3.4, Face.FIGURES_BOLD, _WIDE)
        lines.extend((piece, 3.4, Face.FIGURES_BOLD, 4.6) for piece in bold)
    for c in cautions("sawing"):
        for k, piece in enumerate(wrapped(c.text, 2.8, Face.WORDS, _WIDE - 4)):
            lines.append((("– " if k == 0 else "   ") + piece, 2.8, Face.WORDS, 3.9))
    return lines


def _scale(left_deg: float) -> str:
    """What the saw's own scale must show, to a tenth, with the hand."""
    hand = "" if abs(left_deg) < 0.05 else " L" if left_deg > 0 else " R"
    return f"{abs(left_deg):.1f}°{hand}"


def _crank(way: str, deg: float, turns: float | None, *, short: bool = False) -> str:
    if way == "square" or deg == 0:
        return "still" if short else "stand still"
    said = degrees(deg) if turns is None else f"{turns:g} turns"
    return f"{said} {way[0].upper()}" if short else f"{said} to the {way}"


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
    taken = -1e9
    for m in strip.marks:
        x = m.along_mm
        deep = 4.0 if m.fine else 5.0
        out.append(path([(x, edge), (x, edge + into * deep)], THIN if m.fine else SEEN))
        size = 2.4 if m.fine else 6.0
        face = Face.FIGURES if m.fine else Face.FIGURES_BOLD
        words = degrees(m.deg)
        if not m.fine:
            words += {"left": " L", "right": " R", "square": ""}[m.head]
        if corrected:
            # the strip bears what the crank turns to, the scale's own reading
            words = _scale(m.scale_deg) if not m.fine else f"{abs(m.scale_deg):.1f}°"
        room = h - deep - 2.0
        if turned:
            long = width_mm(words, size, face)
            if long > room:
                size, long = size * room / long, room
            half, deeper = 0.6 * size, 0.5 * long
        else:
            half, deeper = 0.5 * width_mm(words, size, face), 0.5 * size
        x = float(np.clip(x, half + 0.6, n - half - 0.6))
        # figures that would touch those before them stand a row deeper, or aside
        row = 0.0
        if not m.fine:
            if x - half < taken + 1.0:
                row = 0.0 if turned else 1.3 * size
                x = min(taken + 1.0 + half, n - half - 0.6) if turned else x
            taken = x + half if row == 0.0 else taken
        c = edge + into * (deep + 1.0 + deeper + row)
        out.append(
            Text(
                words,
                (x, c),
                size,
                face,
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
