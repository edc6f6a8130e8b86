"""Lines and washes by meaning: weight on paper, width on screen, pattern, tone, class, layer.

Weights follow the look: butts and level marks are the heaviest ink, what needs the eye is red and
always thicker than its neighbours (so that it also reads in black), construction is the lightest.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Tone(StrEnum):
    """Ink, pencil and wash. ``WHITE`` is the paper itself."""

    INK = "ink"
    PENCIL = "pencil"
    FAINT = "faint"
    RED = "red"
    RED_WASH = "red-wash"
    OAK = "oak"
    OAK_DEEP = "oak-deep"
    WHITE = "white"


SCREEN: dict[Tone, str] = {
    Tone.INK: "#14212b",
    Tone.PENCIL: "#485762",
    Tone.FAINT: "#a9b7b2",
    Tone.RED: "#a4122f",
    Tone.RED_WASH: "#f6e4e4",
    Tone.OAK: "#ecdfc3",
    Tone.OAK_DEEP: "#bfa676",
    Tone.WHITE: "#f5f8f5",
}
"""Tones on screen."""

PRINT: dict[Tone, str] = {
    **SCREEN,
    Tone.INK: "#000000",
    Tone.PENCIL: "#303a42",
    Tone.WHITE: "#ffffff",
    Tone.RED_WASH: "#ffffff",
}
"""Tones on paper: ink is pure black, since a plotter breaks any other tone of it into dots."""

BLACK: dict[Tone, str] = {
    Tone.INK: "#000000",
    Tone.PENCIL: "#000000",
    Tone.FAINT: "#8c8c8c",
    Tone.RED: "#000000",
    Tone.RED_WASH: "#ffffff",
    Tone.OAK: "#ffffff",
    Tone.OAK_DEEP: "#8c8c8c",
    Tone.WHITE: "#ffffff",
}
"""Tones for a printer with black alone: washes go, red is told by its weight and its sign."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line by its meaning.

    ``pattern_mm`` is dashes and gaps on paper, ``pattern_px`` on screen; both empty for a solid
    line. ``css`` is its class on a page, ``layer`` its layer in a DXF where the item names none.
    """

    css: str
    layer: str
    weight_mm: float
    screen_px: float
    tone: Tone = Tone.INK
    pattern_mm: tuple[float, ...] = ()
    pattern_px: tuple[float, ...] = ()
    round_ends: bool = False


CASING = Stroke("l-case", "CASING", 1.60, 5.0, Tone.WHITE, round_ends=True)
"""Light beneath a line that lies on a photograph, so that it is seen on dark wood."""
BUTT = Stroke("butt", "BUTT", 0.70, 3.2)
EYE = Stroke("l-acc", "EYE", 0.60, 2.4, Tone.RED, round_ends=True)
SEEN = Stroke("l-seen", "SEEN", 0.50, 2.0)
TICK = Stroke("l-tick", "TICK", 0.50, 2.0)
BEHIND = Stroke("l-hid", "BEHIND", 0.35, 1.5, Tone.INK, (2.5, 2.0), (5, 4))
EDGE = Stroke("l-base", "EDGE", 0.35, 1.4)
CENTRE = Stroke("l-centre", "CENTRE", 0.25, 1.0, Tone.INK, (9.0, 2.0, 1.5, 2.0), (18, 4, 3, 4))
LEVEL = Stroke("l-level", "LEVEL", 0.25, 1.0, Tone.INK, (6.0, 2.0), (12, 4))
WANE = Stroke("l-wane", "WANE", 0.25, 1.6, Tone.INK, (0.01, 1.25), (0.1, 5), round_ends=True)
FREE = Stroke("l-free", "FREE", 0.35, 1.8, Tone.INK, (3.5, 2.5), (7, 5))
GRAIN = Stroke("l-grain", "GRAIN", 0.18, 1.0, Tone.OAK_DEEP)
DIMENSION = Stroke("l-dim", "DIMENSION", 0.18, 1.0, Tone.PENCIL)
THIN = Stroke("l-thin", "CONSTRUCTION", 0.18, 1.0, Tone.PENCIL)
RULE = Stroke("l-rule", "RULE", 0.18, 1.0, Tone.FAINT)

STROKES: tuple[Stroke, ...] = (
    CASING, BUTT, EYE, SEEN, TICK, BEHIND, EDGE, CENTRE, LEVEL, WANE, FREE, GRAIN, DIMENSION, THIN,
    RULE,
)  # fmt: skip
"""Every stroke there is, heaviest meanings first."""
