"""The words of the yard's work: what is done to slabs, timbers, frames, and in which order."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Literal

Of = Literal["timber", "frame", "slab", "vessel"]

TIMBER_STAGES: tuple[str, ...] = (
    "moulded",
    "laid-out",
    "roughed",
    "rested",
    "flattened",
    "thicknessed",
    "bevelled",
)
"""Done to each timber, in order."""

FRAME_STAGES: tuple[str, ...] = (
    "dry-fitted",
    "bedded",
    "bored",
    "treenailed",
    "wedged",
    "faired",
    "heel-cut",
    "spalled",
    "standing",
    "horned",
    "ribbanded",
)
"""Done to a whole frame (or to one half of it), in order."""

STAGES: tuple[str, ...] = TIMBER_STAGES + FRAME_STAGES
"""Every stage a timber goes through until she is framed."""

BESIDE: tuple[str, ...] = ("ends-sealed", "rechecked")
"""Done to a timber at one time or another; no stage waits for them."""

SLAB_EVENTS: tuple[str, ...] = ("measured", "moved", "consumed")
ANY_EVENTS: tuple[str, ...] = ("spoiled", "checked", "note", "photograph")
CORRECTION = "correction"

WORDS: tuple[str, ...] = (*STAGES, *BESIDE, *SLAB_EVENTS, *ANY_EVENTS)
"""Every word that may be entered; corrections are made by undoing or amending."""

NEEDS: dict[str, tuple[str, ...]] = {
    "roughed": ("laid-out",),
    "rested": ("roughed",),
    "ends-sealed": ("roughed",),
    "rechecked": ("rested",),
    "flattened": ("roughed",),
    "thicknessed": ("flattened",),
    "bevelled": ("roughed", "thicknessed"),
    "dry-fitted": ("bevelled",),
    "bedded": ("dry-fitted",),
    "bored": ("bedded",),
    "treenailed": ("bored",),
    "wedged": ("treenailed",),
    "faired": ("treenailed",),
    "heel-cut": ("treenailed",),
    "spalled": ("treenailed",),
    "standing": ("wedged", "heel-cut", "spalled"),
    "horned": ("standing",),
    "ribbanded": ("horned",),
}
"""What must have been done before: the physical order, not the order a yard may prefer."""

_TIMBER = re.compile(r"(\d{1,4})-([PSC])-([fa])(\d{1,2})")
_FRAME = re.compile(r"(\d{1,4})(?:-([PS]))?")


@lru_cache(4096)
def frame_of(mark: str) -> int | None:
    """The frame's number in a timber's or a frame's mark; None for anything else.

    >>> frame_of("12-P-f2"), frame_of("12"), frame_of("12-S"), frame_of("A-07")
    (12, 12, 12, None)
    """
    found = _TIMBER.fullmatch(mark) or _FRAME.fullmatch(mark)
    return int(found[1]) if found else None


@lru_cache(4096)
def mark_of(text: str) -> Of:
    """What a mark marks: a timber, a frame (or half of one), else a slab.

    >>> mark_of("12-P-f2"), mark_of("12-P"), mark_of("A-07"), mark_of("vessel")
    ('timber', 'frame', 'slab', 'vessel')
    """
    if _TIMBER.fullmatch(text):
        return "timber"
    if _FRAME.fullmatch(text):
        return "frame"
    return "vessel" if text == "vessel" else "slab"


def subject(mark: str, word: str) -> Of:
    """What an entry speaks of: slab words of slabs, though one be called by a number."""
    return "slab" if word in SLAB_EVENTS else mark_of(mark)


def tidy_mark(mark: str) -> str:
    """A mark as it is kept: without blanks around it, letters of timbers in their own case.

    >>> tidy_mark(" 12-p-F2 "), tidy_mark("a-07")
    ('12-P-f2', 'a-07')
    """
    text = " ".join(mark.split())
    found = re.fullmatch(r"(\d{1,4})-([pscPSC])(?:-([faFA])(\d{1,2}))?", text)
    if not found or (found[3] is None and found[2] in "cC"):
        return text
    half = f"{int(found[1])}-{found[2].upper()}"
    return f"{half}-{found[3].lower()}{int(found[4])}" if found[3] else half
