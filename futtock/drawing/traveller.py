"""The traveller: a card that goes with a frame, its code to scan and its stages to tick."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from futtock.drawing.code import CODE_MM, code
from futtock.drawing.figures import kilograms, offset
from futtock.drawing.floor import check_table
from futtock.drawing.frame import frame_items
from futtock.drawing.heading import Heading, Scale, titled
from futtock.framing.frame import Frame
from futtock.sheet.items import Face, Item, Move, Text, box_of, moved, path
from futtock.sheet.letters import shortened, wrapped
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import RULE, SEEN, Tone
from futtock.sheet.table import Table, set_table

_WIDE = 178.0


@dataclass(frozen=True, slots=True)
class TimberLine:
    """What a traveller says of one timber: its slab and how it is to be lifted."""

    mark: str
    slab: str
    mass_kg: float
    lift: str = ""


def traveller(
    frame: Frame,
    heading: Heading,
    *,
    link: str,
    stages: Sequence[str],
    timbers: Sequence[TimberLine] = (),
    done: Mapping[str, str] | None = None,
    cautions: Sequence[str] = (),
    weight_kg: float = 0.0,
    largest_bevel: str = "",
) -> Sheet:
    """A frame's card on upright A4.

    Parameters
    ----------
    link
        What the code says when scanned.
    stages
        Stages to tick, in order.
    done
        What is written beside a stage already done (a name and a date).
    weight_kg
        Of the whole frame.
    """
    done = done or {}
    n = frame.plane.number
    out: list[Item] = [Text(f"Frame {n}", (0.0, 0.0), 20.0, Face.FIGURES_BOLD, rise="top")]
    out.append(code(link, (_WIDE - CODE_MM - 4.0, -CODE_MM - 2.0)))
    lines = [
        f"{heading.vessel}, {len(frame.timbers)} timbers",
        f"joint face {offset(frame.plane.x_mm, heading.show)} aft of the forward perpendicular",
    ]
    if largest_bevel:
        lines.append(f"largest bevel {largest_bevel}")
    if weight_kg:
        lines.append(f"whole frame {kilograms(weight_kg)}: lift with tackle")
    y = -21.0
    for line in lines:
        out.append(Text(shortened(line, 3.8, Face.FIGURES, 138.0), (0.0, y), 3.8, rise="top"))
        y -= 5.4
    y = min(y, -CODE_MM - 10.0) - 2.0
    out.append(path([(0.0, y), (_WIDE, y)], SEEN))
    top = y - 3.0
    out += _mini(frame, heading, (0.0, top), 84.0)
    low = (box_of(out) or (0.0, 0.0, 0.0, 0.0))[1]
    left_end = low - 2.0
    if timbers:
        table = Table(
            ("timber", "slab", "weight", "lift"),
            tuple((t.mark, t.slab or "none yet", kilograms(t.mass_kg), t.lift) for t in timbers),
            "llrl",
            "Timbers",
        )
        rows, tall = set_table(table, (0.0, left_end - 3.0), 2.9, 88.0)
        out += rows
        left_end -= 3.0 + tall
    x, y = 96.0, top
    # many stages stand closer, so that all of it stays on one page
    step = min(8.4, 126.0 / max(len(stages), 1))
    for stage in stages:
        y -= step
        b = step - 2.2
        box = [(x, y), (x + b, y), (x + b, y + b), (x, y + b)]
        said = done.get(stage, "")
        out.append(path(box, SEEN, True, Tone.INK if said else Tone.WHITE))
        out.append(
            Text(stage, (x + 9.0, y + 1.2), 3.6, Face.FIGURES_BOLD if said else Face.FIGURES)
        )
        note = shortened(said, 2.9, Face.FIGURES, 44.0) if said else ""
        out.append(Text(note, (_WIDE, y + 1.2), 2.9, anchor="end", tone=Tone.PENCIL))
        out.append(path([(x, y - 1.0), (_WIDE, y - 1.0)], RULE))
    y = min(y, left_end) - 4.0
    measured, tall = set_table(check_table(frame, heading), (0.0, y), 2.9, _WIDE)
    out += measured
    y -= tall + 3.0
    for caution in cautions:
        for k, piece in enumerate(wrapped(caution, 2.7, Face.WORDS, _WIDE - 4)):
            y -= 3.7
            out.append(Text(("– " if k == 0 else "   ") + piece, (0.0, y), 2.7, Face.WORDS))
    return titled(
        f"frame-{n}-traveller",
        out,
        heading,
        f"Traveller, frame {n}",
        Scale(0, "none"),
        paper="A4",
        lying=False,
        about=f"Traveller card of frame {n} with {len(stages)} stages.",
    )


def _mini(frame: Frame, heading: Heading, at: tuple[float, float], wide: float) -> list[Item]:
    """The frame small, its upper left corner at a point."""
    real = 2 * float(frame.joint.edge_mm[:, 0].max())
    drawn = frame_items(frame, heading, Scale(real / 120.0, ""), 1e9)
    keep = [i for i in drawn if not isinstance(i, Text) and not _wordy(i)]
    box = box_of(keep)
    assert box is not None
    grow = wide / (box[2] - box[0])
    by = Move(at[0] - box[0] * grow, at[1] - box[3] * grow, 0.0, grow, grow)
    return [moved(i, by) for i in keep]


def _wordy(item: Item) -> bool:
    return getattr(item, "layer", "") in ("BEVEL-MARKS", "TEXT", "DIMENSION")
