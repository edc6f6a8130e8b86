"""Standing sheets: one page a frame, with all that is measured while she is set up."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from futtock.bench.cautions import cautions
from futtock.drawing.figures import close_length, degrees, level_name, offset
from futtock.drawing.heading import Heading, Scale, bare, scale_to_fit, titled
from futtock.drawing.signs import dimension, tick
from futtock.framing.frame import Frame
from futtock.framing.standing import Place, StandingSheet
from futtock.measure import Style
from futtock.sheet.items import Face, Item, Text, path
from futtock.sheet.labels import Labels
from futtock.sheet.letters import wrapped
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import BEHIND, CENTRE, DIMENSION, EDGE, LEVEL, SEEN, THIN, Tone
from futtock.sheet.table import Table, set_table

Array = NDArray[np.float64]

_WIDE = 178.0
_HIGH = 78.0  # room for the frame's picture


def standing_page(
    frame: Frame,
    sheet: StandingSheet,
    heading: Heading,
    *,
    found: Mapping[str, str] | None = None,
) -> Sheet:
    """One upright A4: the frame as it stands, where its heel comes, and what to measure.

    Parameters
    ----------
    frame, sheet
        A frame and its standing sheet.
    found
        What was measured, by place and column (``"sheer spread"``), written into the blanks.
    """
    n = sheet.frame
    out: list[Item] = [Text(f"Frame {n}", (0.0, 0.0), 13.0, Face.FIGURES_BOLD, rise="top")]
    stance = "square" if not sheet.cant_deg else f"cant {degrees(sheet.cant_deg)}"
    if sheet.cant_deg:
        stance += ", outer end " + ("forward" if sheet.cant_deg > 0 else "aft")
    out.append(Text(stance, (_WIDE, -2.0), 5.0, Face.FIGURES_BOLD, "end", "top"))
    y = -18.0
    for words, figure in _stand(sheet, heading.show):
        out.append(Text(words, (0.0, y), 3.4, Face.WORDS))
        out.append(Text(figure, (_WIDE, y), 3.8, Face.FIGURES_BOLD, "end"))
        y -= 5.6
    y -= 2.0
    out.append(path([(0.0, y), (_WIDE, y)], SEEN))
    out += _picture(frame, sheet, heading.show, y - 8.0)
    y -= _HIGH + 20.0
    measured, tall = set_table(_places(sheet, heading.show, found or {}), (0.0, y), 2.9, _WIDE)
    out += measured
    y -= tall + 4.0
    told = [
        "Both sides alike: hang the bob first, then horn, then spreads, then the diagonals.",
        f"She stands when every figure comes within {close_length(sheet.within_mm, heading.show)}"
        " and both sides agree.",
        *(c.text for c in cautions("lifting")),
    ]
    for words in told:
        for piece in wrapped(words, 2.7, Face.WORDS, _WIDE):
            out.append(Text(piece, (0.0, y), 2.7, Face.WORDS))
            y -= 3.7
    return titled(
        f"frame-{n}-standing",
        out,
        heading,
        f"Standing sheet, frame {n}",
        Scale(0, "not to scale"),
        paper="A4",
        lying=False,
        about=f"Standing sheet of frame {n}: {len(sheet.places)} places to measure.",
        notes=["Sizes are of the inside of planking at the joint face."],
    )


def standing_picture(frame: Frame, sheet: StandingSheet, show: Style) -> Sheet:
    """The frame as it stands with its places, alone, for a page that has their figures beside."""
    about = f"Frame {frame.number} from aft, both sides, with the places that prove it."
    items = _picture(frame, sheet, show, _HIGH, 4.6)
    return bare(f"standing-{frame.number}", items, f"Frame {frame.number} standing", about)


def _stand(sheet: StandingSheet, show: Style) -> list[tuple[str, str]]:
    """Where she stands, in words and figures."""
    fall = sheet.plumb_offset_mm
    way = "aft of" if fall > 0 else "forward of"
    bob = (
        "on the joint at the heel"
        if abs(fall) < 0.5
        else (f"{close_length(abs(fall), show)} {way} the joint at the heel")
    )
    said = [
        ("joint face along the keel's top from frame 1's", close_length(sheet.along_keel_mm, show)),
        ("keel's top there above base", offset(sheet.keel_top_mm, show)),
        (
            "her base as she lies on the blocks",
            "level"
            if not sheet.declivity_deg
            else f"{degrees(sheet.declivity_deg)} down by the"
            + (" stern" if sheet.declivity_deg > 0 else " bow"),
        ),
        ("a bob from the head's level on the centreline falls", bob),
    ]
    if sheet.rake_deg:
        said.append(("the frame's rake", degrees(sheet.rake_deg)))
    said.append(
        ("port heel to starboard head, and the other way", close_length(sheet.diagonal_mm, show))
    )
    if np.isfinite(sheet.to_next_head_mm):
        said.append(
            ("head to the next frame's head, each side", close_length(sheet.to_next_head_mm, show))
        )
    if np.isfinite(sheet.spall_height_mm):
        long = close_length(sheet.spall_length_mm, show)
        said.append(
            ("cross spall: height above base, length inside the frame",
             f"{offset(sheet.spall_height_mm, show)}, {long}")
        )  # fmt: skip
    return said


def _places(sheet: StandingSheet, show: Style, found: Mapping[str, str]) -> Table:
    """Places from head to heel with their figures, and room to write what was found."""
    rows = []
    for p in reversed(sheet.places):
        name = place_name(p, show)
        rows.append(
            (
                name,
                offset(p.height_mm, show),
                close_length(p.half_mm, show),
                close_length(p.spread_mm, show),
                found.get(f"{p.name} spread", "________"),
                close_length(p.horning_mm, show),
                found.get(f"{p.name} port", "_______"),
                found.get(f"{p.name} starboard", "_______"),
            )
        )
    head = ("place", "height", "half", "spread", "found", "horn from pin", "port", "starboard")
    return Table(head, tuple(rows), "lrrrrrrr", "Ribbands, levels and heights")


def place_name(place: Place, show: Style) -> str:
    """A place as the yard calls it: ribbands by their diagonal."""
    if place.kind == "sirmark":
        return f"ribband {place.name}"
    return level_name(place.name, show).replace(" above base", "")


def _picture(
    frame: Frame, sheet: StandingSheet, show: Style, top: float, letters: float = 2.6
) -> list[Item]:
    """The frame seen from aft, both sides, with its places; heel at the foot of the picture."""
    edge, inner = frame.joint.edge_mm, frame.joint.inner_mm
    low, high = float(edge[:, 1].min()), float(edge[:, 1].max())
    wide = float(edge[:, 0].max())
    r = scale_to_fit((2 * wide, high - low), (_WIDE - 64.0, _HIGH), show).ratio
    mid = _WIDE / 2
    base = top - (high - low) / r

    def on_paper(p: Array, side: float) -> Array:
        q = np.asarray(p, float)
        return np.stack([mid + side * q[..., 0] / r, base + (q[..., 1] - low) / r], axis=-1)

    labels = Labels(0.5)
    out: list[Item] = [path([(mid, base - 4), (mid, top + 2.5)], CENTRE)]
    for side in (1.0, -1.0):
        ring = np.concatenate([edge, np.maximum(inner, [0.0, -np.inf])[::-1], heel_of(frame)])
        out.append(path(on_paper(ring, side), EDGE, True, Tone.OAK, layer="FRAME"))
        out.append(path(on_paper(edge, side), SEEN, layer="FRAME"))
    labels.keep_off_items(out)
    heel, head = on_paper(edge[0], -1.0), on_paper(edge[-1], 1.0)
    out.append(path([heel, head], BEHIND, layer="DIAGONAL"))
    labels.keep_off([heel, head])
    for p in sheet.places:
        at = _at(frame, p)
        for side in (1.0, -1.0):
            spot = on_paper(at, side)
            stroke = LEVEL if p.kind in ("level", "sheer", "spall") else DIMENSION
            out.append(tick(spot, (side, 0.0), 3.0, stroke, "PLACES"))
        spot = on_paper(at, 1.0)
        text = Text(place_name(p, show), (0.0, 0.0), letters, halo=Tone.WHITE)
        out += labels.beside(text, (float(spot[0]) + 3.0, float(spot[1])), 0.0)
    ends = [on_paper(edge[-1], s) + np.array([0.0, 2.5]) for s in (-1.0, 1.0)]
    widest = next((p for p in sheet.places if p.kind == "sheer"), None)
    if widest is not None:
        a, b = ((float(e[0]), float(e[1])) for e in ends)
        out += dimension(a, b, close_length(widest.spread_mm, show), size_mm=max(letters, 2.8))
    out.append(Text("from aft: port to the left", (0.0, base), letters, tone=Tone.PENCIL))
    out.append(path([(mid - 14, base), (mid + 14, base)], THIN))
    return out


def heel_of(frame: Frame) -> Array:
    """Corners (k, 2) of a half frame's heel on the joint face, inner edge to outer, if any."""
    own = [t.heel_mm for t in frame.timbers if t.side == "S" and len(t.heel_mm)]
    return own[0] if own else np.empty((0, 2))


def _at(frame: Frame, place: Place) -> Array:
    g = frame.joint.girth_mm
    return np.array([np.interp(place.girth_mm, g, c) for c in frame.joint.edge_mm.T])
