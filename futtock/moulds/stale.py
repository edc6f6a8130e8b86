"""Patterns gone stale: what was printed, laid or sawn against what the lines now give.

A pattern's revision is a short code of its geometry; it changes with any change that could be
measured on the print, and with nothing else.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from futtock.findings import Finding
from futtock.moulds import kinds
from futtock.moulds.mould import Mould

Array = NDArray[np.float64]
_LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # no I, L, O, U: read aloud without doubt


def revision(mould: Mould) -> str:
    """Six letters that name a mould's geometry to 0.01 mm and its bevels to 0.01 degree.

    The same mould gives the same code on every machine.
    """
    parts = [mould.mark.encode(), mould.up.encode()]
    parts += [
        np.round(line * 100.0).astype("<i8").tobytes()
        for line in (mould.outline_up_mm, mould.outline_down_mm)
    ]
    leans = np.concatenate([e.lean_deg for e in mould.edges])
    parts.append(np.round(leans * 100.0).astype("<i8").tobytes())
    parts.append(np.array([round(mould.sided_mm * 100.0)], "<i8").tobytes())
    number = int.from_bytes(hashlib.sha256(b"\x00".join(parts)).digest()[:4], "big")
    return "".join(_LETTERS[(number >> (5 * k)) & 31] for k in range(6))


@dataclass(frozen=True)
class Stale:
    """A pattern that is now wrong.

    ``proud_mm`` is the most by which the old outline stands outside the new (wood that can still
    be taken off), ``short_mm`` the most by which it falls inside it (wood that is missing), on
    either face; ``bevel_deg`` the largest change of a bevel; ``sided_mm`` the change of thickness.
    ``gone`` where the timber is no more.
    """

    mark: str
    was: str
    now: str | None
    proud_mm: float
    short_mm: float
    bevel_deg: float
    sided_mm: float
    gone: bool = False

    def finding(self, state: str = "printed") -> Finding:
        """The finding for a pattern whose timber is in that state."""
        if self.gone:
            return kinds.GONE.found(
                f"{self.mark} ({state}, revision {self.was}): there is no such timber now.",
                line=self.mark,
                read=self.was,
            )
        return kinds.STALE.found(
            f"{self.mark} ({state}, revision {self.was}, now {self.now}): up to"
            f" {self.short_mm:.1f} mm short and {self.proud_mm:.1f} mm proud of the new outline,"
            f" bevels out by {self.bevel_deg:.2f} degrees, sided by {self.sided_mm:+.1f} mm.",
            line=self.mark,
            read=self.was,
            expected=self.now,
        )


def stale_patterns(
    before: Iterable[Mould],
    now: Sequence[Mould],
    least_mm: float = 0.1,
    least_deg: float = 0.1,
) -> tuple[Stale, ...]:
    """Patterns made from ``before`` that differ from ``now`` by more than can be passed over.

    Parameters
    ----------
    before
        Moulds as they were printed, laid out or sawn.
    now
        All moulds as they are.
    least_mm, least_deg
        Differences smaller than both are no difference.

    Notes
    -----
    The old outline is laid on the new by the frame's own axes where both know their place (so a
    timber whose butt moved shows it), else by their middle lines.
    """
    fresh: Mapping[str, Mould] = {m.mark: m for m in now}
    found = []
    for old in before:
        new = fresh.get(old.mark)
        if new is None:
            found.append(Stale(old.mark, revision(old), None, 0.0, 0.0, 0.0, 0.0, True))
            continue
        if revision(old) == revision(new):
            continue
        proud, short = _between(old, new)
        bevel = _bevel_change(old, new)
        sided = new.sided_mm - old.sided_mm
        if max(proud, short, abs(sided)) >= least_mm or bevel >= least_deg:
            found.append(Stale(old.mark, revision(old), revision(new), proud, short, bevel, sided))
    return tuple(found)


def _between(old: Mould, new: Mould) -> tuple[float, float]:
    """Most by which the old faces stand outside the new, and fall inside them."""
    proud = short = 0.0
    for was, line in (
        (old.outline_up_mm, new.outline_up_mm),
        (old.outline_down_mm, new.outline_down_mm),
    ):
        if old.place is not None and new.place is not None:
            was = new.place.to_mould(old.place.to_frame(was))
        else:
            was = _on_middle(was, old, new)
        a, b = shapely.Polygon(was), shapely.Polygon(line)
        proud = max(proud, _reach(was, b))
        short = max(short, _reach(line, a))
    return proud, short


def _reach(points: Array, shape: shapely.Polygon) -> float:
    """The greatest distance of the points that lie outside a shape from it."""
    return float(shapely.distance(shapely.points(points), shape).max())


def _on_middle(points: Array, old: Mould, new: Mould) -> Array:
    """Points of the old mould moved so that the middles of the chords lie on one another."""
    move = 0.5 * (new.grain_mm[[0, -1]] - old.grain_mm[[0, -1]]).sum(axis=0)
    moved: Array = points + move
    return moved


def _bevel_change(old: Mould, new: Mould) -> float:
    """Largest change of lean, at matching shares of each edge's length."""
    share = np.linspace(0.0, 1.0, 101)
    worst = 0.0
    for was, now in zip(old.edges, new.edges, strict=True):
        a = np.interp(share, was.at_mm / was.at_mm[-1], was.lean_deg)
        b = np.interp(share, now.at_mm / now.at_mm[-1], now.lean_deg)
        worst = max(worst, float(np.abs(a - b).max()))
    return worst
