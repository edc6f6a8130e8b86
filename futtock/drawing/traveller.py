"""The traveller: a card that goes with a frame, its code to scan and its stages to tick."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from futtock.bench.cautions import LOCAL, cautions
from futtock.bench.traveller import Traveller
from futtock.drawing.code import CODE_MM, code
from futtock.drawing.figures import close_length, length, lettered, mass, offset, side_name
from futtock.drawing.floor import check_table
from futtock.drawing.frame import frame_items
from futtock.drawing.heading import Heading, Scale, titled
from futtock.framing.frame import Frame
from futtock.sheet.extent import box_of
from futtock.sheet.items import Face, Group, Item, Move, Path, Text, moved, path
from futtock.sheet.letters import shortened, wrapped
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import RULE, SEEN, Tone
from futtock.sheet.table import Table, set_table

_WIDE = 178.0


def traveller(
    frame: Frame,
    heading: Heading,
    *,
    link: str,
    stages: Sequence[str],
    side: Traveller | None = None,
    done: Mapping[str, str] | None = None,
    weight_kg: float = 0.0,
    largest_bevel: str = "",
) -> Sheet:
    """One side of a frame on upright A4.

    Parameters
    ----------
    link
        What the code says when scanned.
    stages
        Stages to tick, in order; one whose step has cautions bears their letter.
    side
        The side's figures: timbers and their slabs, holes, treenails, checks, cautions. Without
        them the card has sketch, stages and checks only.
    done
        What is written beside a stage already done (a name and a date).
    weight_kg
        Of the whole frame.
    """
    n = frame.plane.number
    name = f"Frame {n}" + (f", {side_name(side.side)}" if side else "")
    letters, told = _cautions(side)
    out: list[Item] = [Text(name, (0.0, 0.0), 13.0, Face.FIGURES_BOLD, rise="top")]
    out.append(code(link, (_WIDE - CODE_MM - 4.0, -CODE_MM - 1.0)))
    y = -17.0
    for line in _facts(frame, heading, side, weight_kg, largest_bevel):
        out.append(Text(shortened(line, 3.6, Face.FIGURES, 138.0), (0.0, y), 3.6, rise="top"))
        y -= 5.0
    y = min(y, -CODE_MM - 7.0) - 1.0
    out.append(path([(0.0, y), (_WIDE, y)], SEEN))
    top = y - 3.0
    out += _mini(frame, heading, (0.0, top), 72.0, side.side if side else None)
    low = (box_of(out) or (0.0, 0.0, 0.0, 0.0))[1] - 4.0
    if side is not None:
        for table in (_timbers(side, heading), _treenails(side, heading)):
            rows, tall = set_table(table, (0.0, low), 2.8, 90.0)
            out += rows
            low -= tall + 2.5
    y = top
    step = min(7.6, 92.0 / max(len(stages), 1))
    for stage in stages:
        y -= step
        out += _stage(stage, letters.get(stage, ""), (done or {}).get(stage, ""), (96.0, y), step)
    y = min(y - 1.0, low) - 2.0
    checks = check_table(frame, heading, side.checks if side else None)
    measured, tall = set_table(checks, (0.0, y), 2.8, _WIDE)
    out += measured
    out += _set_cautions(told, y - tall - 2.0)
    return titled(
        f"frame-{n}-traveller" + (f"-{side.side}" if side else ""),
        out,
        heading,
        f"Traveller, {name[0].lower()}{name[1:]}",
        Scale(0, "none"),
        paper="A4",
        lying=False,
        about=f"Traveller card of {name[0].lower()}{name[1:]} with {len(stages)} stages.",
    )


def _facts(
    frame: Frame, heading: Heading, side: Traveller | None, weight_kg: float, largest_bevel: str
) -> list[str]:
    """What the card says beside its code."""
    own = len(side.timbers) if side else len(frame.timbers)
    lines = [
        f"{heading.vessel}, {own} timbers" + (" this side" if side else ""),
        f"joint face {offset(frame.plane.x_mm, heading.show)} aft of the forward perpendicular",
    ]
    if largest_bevel:
        lines.append(f"largest bevel {lettered(largest_bevel)}")
    if weight_kg:
        half = f"this side {mass(side.mass_kg, heading.show)}, " if side else ""
        lines.append(f"{half}whole frame {mass(weight_kg, heading.show)}: lift with tackle")
    return lines


def _timbers(side: Traveller, heading: Heading) -> Table:
    rows = tuple(
        (
            t.mark,
            t.slab or "none yet",
            length(t.length_mm, heading.show),
            mass(t.mass_kg, heading.show),
            "tackle" if t.people == 0 else "" if t.people == 1 else f"{t.people} people",
        )
        for t in side.timbers
    )
    return Table(("timber", "slab", "long", "weight", "lift"), rows, "llrrl", "Timbers")


def _treenails(side: Traveller, heading: Heading) -> Table:
    """Holes and treenails of this side; the lengths are alike on both."""
    show = heading.show
    rows = [("holes", f"{side.holes} of {side.bore_mm:.1f} mm")]
    rows += [
        (f"treenails {close_length(c.length_mm, show)}", f"{c.driven // 2} to drive")
        for c in side.treenails
    ]
    rows.append(("wedges, across the grain", str(side.wedges)))
    return Table(("fastening", "this side"), tuple(rows), "ll", "Fastening")


def _stage(stage: str, letter: str, said: str, at: tuple[float, float], step: float) -> list[Item]:
    """A box to tick, the stage, the letter of its cautions, and who did it when."""
    x, y = at
    b = step - 2.0
    box = [(x, y), (x + b, y), (x + b, y + b), (x, y + b)]
    face = Face.FIGURES_BOLD if said else Face.FIGURES
    out: list[Item] = [
        path(box, SEEN, True, Tone.INK if said else Tone.WHITE),
        Text(stage, (x + 8.0, y + 0.6), 3.3, face),
        path([(x, y - 0.9), (_WIDE, y - 0.9)], RULE),
    ]
    if letter:
        out.append(Text(f"! {letter}", (x + 36.0, y + 1.0), 3.0, Face.FIGURES_BOLD))
    if said:
        note = shortened(said, 2.8, Face.FIGURES, 38.0)
        out.append(Text(note, (_WIDE, y + 1.0), 2.8, anchor="end", tone=Tone.PENCIL))
    return out


def _cautions(side: Traveller | None) -> tuple[dict[str, str], list[str]]:
    """Letters of cautions by stage, and the cautions told once each under their letter."""
    if side is None:
        return {}, [c.text for c in cautions("lifting")]
    letters: dict[str, str] = {}
    by_words: dict[tuple[str, ...], str] = {}
    told: list[str] = []
    for stage, given in side.cautions:
        own = tuple(c.text for c in given if c.text != LOCAL)
        if own not in by_words:
            by_words[own] = chr(ord("A") + len(by_words))
            told.append(f"{by_words[own]}  " + " ".join(own))
        letters[stage] = by_words[own]
    return letters, [*told, LOCAL]


def _set_cautions(told: Sequence[str], y: float) -> list[Item]:
    """Cautions in two columns, small but whole."""
    size, wide = 2.4, _WIDE / 2 - 3.0
    lines = [wrapped(text, size, Face.WORDS, wide) for text in told]
    half = sum(map(len, lines)) / 2
    out: list[Item] = []
    x, base, set_ = 0.0, y, 0
    for part in lines:
        if x == 0.0 and set_ >= half:
            x, base = _WIDE / 2 + 3.0, y
        for piece in part:
            base -= size * 1.32
            out.append(Text(piece, (x, base), size, Face.WORDS))
        base -= 0.8
        set_ += len(part)
    return out


def _mini(
    frame: Frame, heading: Heading, at: tuple[float, float], wide: float, side: str | None
) -> list[Item]:
    """The frame small, seen from forward, its upper left corner at a point; this side in wood."""
    real = 2 * float(frame.joint.edge_mm[:, 0].max())
    drawn = frame_items(frame, heading, Scale(real / 120.0, ""), 1e9)
    keep = [_of_side(i, side) for i in drawn if not isinstance(i, Text) and not _wordy(i)]
    box = box_of(keep)
    assert box is not None
    grow = wide / (box[2] - box[0])
    by = Move(at[0] - box[0] * grow, at[1] - box[3] * grow, 0.0, grow, grow)
    out = [moved(i, by) for i in keep]
    low = at[1] - (box[3] - box[1]) * grow
    for name, share in (("starboard", 0.12), ("port", 0.88)):
        own = side_name(side) == name
        face = Face.FIGURES_BOLD if own else Face.FIGURES
        tone = Tone.INK if own else Tone.PENCIL
        spot = (at[0] + share * wide, low)
        out.append(Text(name, spot, 2.8, face, "middle", "base", tone=tone))
    return out


def _of_side(item: Item, side: str | None) -> Item:
    """The wood of the other side left blank; starboard lies to the left."""
    if isinstance(item, Group):
        return replace(item, items=tuple(_of_side(i, side) for i in item.items))
    if side not in ("P", "S") or not isinstance(item, Path) or item.fill is None:
        return item
    x = float(np.mean(item.points_mm[:, 0]))
    return item if (x < 0) == (side == "S") else replace(item, fill=Tone.WHITE)


def _wordy(item: Item) -> bool:
    return getattr(item, "layer", "") in ("BEVEL-MARKS", "TEXT", "DIMENSION")
