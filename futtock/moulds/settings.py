"""What the yard chooses about its moulds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class MouldSettings:
    """Choices for :func:`futtock.moulds.flat.moulds`.

    Attributes
    ----------
    up
        Which face lies up: ``"joint"`` (aft for the forward layer, forward for the after layer), or
        ``"forward"`` or ``"aft"`` for every timber.
    marks_every_mm
        Even distance of the bevel marks along the outer edge; 6 in.
    density_kg_m3
        Of the finished timber. 760 is white oak at 12 % (specific gravity 0.68 of the Wood
        Handbook, Table 5-3b, times 1.12); green it is nearer 1000.
    doubt_shown_mm
        Standard error of the lines beyond which a mould says how much wood to leave; 1/16 in.
    """

    up: Literal["joint", "forward", "aft"] = "joint"
    marks_every_mm: float = 152.4
    density_kg_m3: float = 760.0
    doubt_shown_mm: float = 1.5875
