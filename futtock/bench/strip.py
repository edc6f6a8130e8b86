"""The saw strip: a cut's angles at full size, on a strip of paper pasted along the edge.

Paste it, without pins near the cut. The strip is as long as the edge on the face that is up, and
its figures stand upright to the person cranking.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np

from futtock.bench.cuts import Cut, SawSheet
from futtock.bench.saw import Feed, Hand, SawSettings


@dataclass(frozen=True)
class StripMark:
    """A figure on the strip: ``along_mm`` from its left end.

    ``deg`` and ``head`` are the setting there; ``scale_deg`` what the saw's scale must show
    (signed, left positive). Fine ticks have ``fine`` True: the angle between marks by a straight
    line, to the step, for the person cranking to keep pace.
    """

    along_mm: float
    deg: float
    head: Hand
    scale_deg: float
    fine: bool = False


@dataclass(frozen=True)
class SawStrip:
    """One strip, ready to be drawn, as seen from above with the wood travelling to the right.

    The right end meets the teeth first (``right_end`` says which end of the timber that is). The
    feeder's left is up the paper; the strip lies on the wood kept, so the line to be sawn is its
    ``line_side``. Figures' baselines run at ``text_deg`` (0 along the strip, anticlockwise), which
    makes them upright to the person cranking where he stands.
    """

    mark: str
    edge: Literal["outer", "inner"]
    face_up: Literal["forward", "aft"]
    feed: Feed
    kept: Literal["left", "right"]
    length_mm: float
    right_end: Literal["heel", "head"]
    line_side: Literal["top", "bottom"]
    text_deg: float
    marks: tuple[StripMark, ...]
    part_from_mm: float = 0.0


_TEXT_DEG = {"feed": -90.0, "out": 90.0, "left": 180.0, "right": 0.0}


def saw_strips(
    sheet: SawSheet, settings: SawSettings, fine_mm: float = 25.4
) -> tuple[SawStrip, ...]:
    """A strip for each cut of a sheet, outer edge first.

    Parameters
    ----------
    sheet
        The timber's saw sheet.
    settings
        Says where the person at the crank stands, and the saw's own error.
    fine_mm
        Distance of the fine ticks between marks.
    """
    return tuple(_strip(sheet, cut, settings, fine_mm) for cut in sheet.cuts)


def _strip(sheet: SawSheet, cut: Cut, settings: SawSettings, fine_mm: float) -> SawStrip:
    ordered = cut.in_feeding_order()
    leading = ordered[0].at_mm

    def along(at_mm: float) -> float:
        return cut.length_mm - abs(at_mm - leading)

    marks = [StripMark(along(m.at_mm), m.deg, m.head, m.scale_deg) for m in ordered]
    for a, b in pairwise(ordered):
        count = int(abs(b.at_mm - a.at_mm) / fine_mm + 1e-6)
        going: Literal["left", "right"] = "left"
        if b.set_left_deg < a.set_left_deg:
            going = "right"
        for share in np.linspace(0.0, 1.0, count + 1)[1:-1] if count > 1 else ():
            angle = a.set_left_deg + share * (b.set_left_deg - a.set_left_deg)
            angle = float(np.round(angle / settings.step_deg) * settings.step_deg)
            hand: Hand = "square" if angle == 0 else "left" if angle > 0 else "right"
            scale = settings.head.reading(angle, going)
            at = along(a.at_mm + float(share) * (b.at_mm - a.at_mm))
            marks.append(StripMark(at, abs(angle), hand, scale, True))
    return SawStrip(
        sheet.mark,
        cut.edge,
        sheet.face_up,
        cut.feed,
        cut.kept,
        cut.length_mm,
        "heel" if cut.feed == "heel first" else "head",
        "bottom" if cut.kept == "left" else "top",
        _TEXT_DEG[settings.crank_from],
        tuple(sorted(marks, key=lambda m: m.along_mm)),
        cut.marks[0].at_mm,
    )
