"""What a mould shows besides itself."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class MouldLook:
    """What a mould shows besides itself.

    Attributes
    ----------
    offsets_every_mm
        Distance of the tape offsets along the tape line.
    allowance_mm
        Wood left round the blank for the saw and for finishing, drawn as a broken line; 0: none.
    """

    offsets_every_mm: float = 150.0
    allowance_mm: float = 0.0


USUAL = MouldLook()
"""What a yard usually wants."""
