"""Weights: each timber, each frame with its centre of mass, and the whole vessel's frames."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np

from futtock.bench import kinds
from futtock.bench.lifting import Hoist, Lift, hoist, weight_limit_kg
from futtock.findings import Finding
from futtock.framing.frame import Frame
from futtock.moulds.mould import Mould


@dataclass(frozen=True)
class FrameWeight:
    """One assembled frame.

    ``centre_mm`` is the centre of mass in the frame's (a, out, up): aft of the joint face, to
    starboard, and up. ``people`` would have to lift it, 0 where it wants tackle; ``slings_mm`` are
    the two points (out, up) to sling it by, alike on both sides and above the centre, so that it
    hangs upright.
    """

    frame: int
    mass_kg: float
    centre_mm: tuple[float, float, float]
    timbers: int
    people: int = 0
    slings_mm: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Weights:
    """All weights: pieces with how to lift them, frames, and the sum."""

    pieces: tuple[Hoist, ...]
    frames: tuple[FrameWeight, ...]
    limit_kg: float
    findings: tuple[Finding, ...] = ()

    @property
    def total_kg(self) -> float:
        """All frames together."""
        return sum(f.mass_kg for f in self.frames)


def frame_weight(
    frame: Frame, moulds: Sequence[Mould], lift: Lift | None = None, most: int = 4
) -> FrameWeight:
    """Weight, centre and lift of one frame from the moulds of its timbers.

    Parameters
    ----------
    frame
        The frame.
    moulds
        Moulds of all its timbers (others are passed over).
    lift, most
        How it would be taken up by hand, and by how many people at most.
    """
    mass, moment, count = 0.0, np.zeros(3), 0
    for mould in moulds:
        if mould.frame != frame.number or mould.place is None:
            continue
        out, up = mould.place.to_frame(np.array(mould.centre_mm[:2]))
        side = -1.0 if mould.side == "P" else 1.0
        # The up face of a layer: depth below it runs away from the viewer.
        if mould.layer == "f":
            aft = -mould.centre_mm[2] if mould.up == "aft" else mould.centre_mm[2] - mould.sided_mm
        else:
            aft = (
                mould.centre_mm[2] if mould.up == "forward" else mould.sided_mm - mould.centre_mm[2]
            )
        mass += mould.mass_kg
        moment += mould.mass_kg * np.array([aft, side * out, up])
        count += 1
    centre = moment / mass if mass else moment
    people = ceil(mass / weight_limit_kg(lift or Lift()) - 1e-9)
    return FrameWeight(
        frame.number,
        mass,
        (float(centre[0]), float(centre[1]), float(centre[2])),
        count,
        people if people <= most else 0,
        _slings(frame, float(centre[2])),
    )


def _slings(frame: Frame, centre_up: float) -> tuple[tuple[float, float], ...]:
    """Two points of the joint's middle line, halfway in height from the centre to the heads."""
    middle = 0.5 * (frame.joint.edge_mm + frame.joint.inner_mm)
    head = float(middle[-1, 1])
    above = np.flatnonzero(middle[:, 1] >= centre_up + 0.5 * max(head - centre_up, 0.0))
    k = int(above[0]) if len(above) else len(middle) - 1
    out, up = float(middle[k, 0]), float(middle[k, 1])
    return ((-out, up), (out, up))


def weigh(
    frames: Sequence[Frame], moulds: Sequence[Mould], lift: Lift | None = None, most: int = 4
) -> Weights:
    """Every piece with how to lift it, and every frame."""
    pieces = tuple(hoist(m, lift, most) for m in moulds)
    by_frame: dict[int | None, list[Mould]] = {}
    for mould in moulds:
        by_frame.setdefault(mould.frame, []).append(mould)
    heavy = [p for p in pieces if p.people != 1]
    findings: list[Finding] = []
    if heavy:
        worst = max(heavy, key=lambda p: p.mass_kg)
        tackle = [p.mark for p in heavy if p.people == 0]
        says = f"; {len(tackle)} of them want tackle" if tackle else ""
        findings.append(
            kinds.HEAVY.found(
                f"{len(heavy)} of {len(pieces)} timbers are past {worst.limit_kg:.1f} kg, what one"
                f" person may lift so (NIOSH); the heaviest, {worst.mark}, is"
                f" {worst.mass_kg:.1f} kg{says}.",
                line=worst.mark,
            )
        )
    return Weights(
        pieces,
        tuple(frame_weight(f, by_frame.get(f.number, []), lift, most) for f in frames),
        weight_limit_kg(lift or Lift()),
        tuple(findings),
    )
