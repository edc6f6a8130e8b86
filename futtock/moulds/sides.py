"""Port moulds of their own, where a part that stays as found makes the two sides unlike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from futtock.framing.frame import Frame
from futtock.lines.as_found import Sides
from futtock.moulds import kinds
from futtock.moulds.flat import moulds
from futtock.moulds.mould import Mould
from futtock.moulds.settings import MouldSettings
from futtock.progress import Report, quiet

_ALIKE_MM = 0.5


def sides_apart(
    made: Sequence[Mould],
    frames: Sequence[Frame],
    port: Sequence[Frame],
    settings: MouldSettings,
    report: Report = quiet,
) -> tuple[Mould, ...]:
    """Moulds in which port timbers have port's own shape where it is not starboard's.

    Parameters
    ----------
    made, frames
        Moulds of both sides with the frames they come from, starboard's.
    port
        The same frames cut from the port side (given as if it were starboard), with the same
        timbers. A frame that is alike within half a millimetre keeps its twins.
    """
    theirs = {f.number: f for f in port}
    apart = [theirs[f.number] for f in frames if f.number in theirs and unlike(f, theirs[f.number])]
    own = {m.mark: replace(m, same_as=None) for m in moulds(apart, settings, report)}
    out, told = [], set()
    for mould in made:
        mine = own.get(mould.mark) if mould.side == "P" else None
        if mine is None:
            out.append(mould)
            continue
        if mould.frame not in told:
            told.add(mould.frame)
            said = f"Port of frame {mould.frame} is not starboard's twin: it has moulds of its own."
            mine = replace(mine, findings=(*mine.findings, kinds.SIDES_APART.found(said)))
        out.append(mine)
    return tuple(out)


def by_sides(
    frames: Sequence[Frame], port: Sequence[Frame] = ()
) -> tuple[tuple[Frame, Sides], ...]:
    """Each frame with whose shape it is; where port is not starboard's twin, both, port second."""
    theirs = {f.number: f for f in port}
    out: list[tuple[Frame, Sides]] = []
    for f in frames:
        other = theirs.get(f.number)
        if other is not None and unlike(f, other):
            out += [(f, "starboard"), (other, "port")]
        else:
            out.append((f, "both"))
    return tuple(out)


def unlike(a: Frame, b: Frame) -> bool:
    """Whether two frames' edges differ by more than half a millimetre anywhere."""
    for name in ("forward", "joint", "aft"):
        one, two = a.face(name).edge_mm, b.face(name).edge_mm
        if one.shape != two.shape or np.hypot(*(one - two).T).max() > _ALIKE_MM:
            return True
    return False
