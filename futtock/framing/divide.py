"""Where the futtocks butt: both layers of a half frame divided together.

Butts of the two layers alternate along the girth. Evenly spaced by d they lie each at the middle of
the other layer's timber, a timber is 2 d long (the first or last of a layer d), and the shift is d:
common practice of double sawn frames (no source). The fewest butts that keep the longest timber are
taken. The layer that starts with the short timber changes from frame to frame, so that a layer's
butts are not in line with the next frame's.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from futtock.framing.frame import LayerName
from futtock.framing.settings import FramingSettings


@dataclass(frozen=True, slots=True)
class Division:
    """Butts of both layers of one half frame: girths in mm from the heel, growing."""

    forward: tuple[float, ...]
    aft: tuple[float, ...]

    def butts(self, layer: LayerName) -> tuple[float, ...]:
        """The butts of layer ``"f"`` or ``"a"``."""
        return self.forward if layer == "f" else self.aft


def even_division(girth_mm: float, number: int, settings: FramingSettings) -> Division:
    """The even division of a half frame of this girth.

    Parameters
    ----------
    girth_mm
        Girth from heel to head, what is left long included.
    number
        The frame's number, which says which layer starts with the short timber.
    """
    if girth_mm <= settings.longest_mm:
        return Division((), ())
    count = int(np.ceil(2 * girth_mm / settings.longest_mm - 1e-9)) - 1
    butts = girth_mm * np.arange(1, count + 1) / (count + 1)
    short, whole = tuple(butts[::2].tolist()), tuple(butts[1::2].tolist())
    starts_short = settings.floor_layer if settings.floors == "in frame" else "fa"[(number + 1) % 2]
    return Division(short, whole) if starts_short == "f" else Division(whole, short)
