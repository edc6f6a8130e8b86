"""Thicknessing: from rough, cupped and twisted to the finished sided size, pass by pass.

The first face is made flat with the piece shimmed on a sled (planer or router); the second is
brought parallel by the thicknesser. What a warped piece of even thickness can yield is its
thickness less its flatness: the least distance of two parallel planes that hold one of its faces.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import Literal

import numpy as np

from futtock.bench import kinds
from futtock.errors import Misused
from futtock.findings import Finding
from futtock.stock.moisture import Sawn, allowance
from futtock.stock.species import Species


@dataclass(frozen=True)
class Rough:
    """A piece as measured before thicknessing.

    ``thick_mm`` is the least thickness. ``cup_mm`` across the width and ``bow_mm`` along the
    length, of the top face: positive where its middle stands high (crowned), negative where it is
    hollow. ``twist_mm`` is how far one corner lifts when the other three lie down. All over
    ``long_mm`` by ``wide_mm``. ``clean_mm`` is what has to come off a face beyond its hollows to be
    rid of saw marks and grey wood.
    """

    name: str
    thick_mm: float
    long_mm: float
    wide_mm: float
    cup_mm: float = 0.0
    bow_mm: float = 0.0
    twist_mm: float = 0.0
    clean_mm: float = 0.5
    moisture_percent: float | None = None

    def __post_init__(self) -> None:
        """Refuse sizes that mean nothing."""
        if min(self.thick_mm, self.long_mm, self.wide_mm) <= 0:
            raise Misused(f"{self.name}: thickness, length and width must be more than nothing.")
        if self.twist_mm < 0 or self.clean_mm < 0:
            raise Misused(f"{self.name}: twist and cleaning are not negative.")

    def cut_to(self, long_mm: float, wide_mm: float) -> Rough:
        """The same piece cut smaller first: bow goes with the length's square, cup with the
        width's, twist with both.
        """
        along = min(long_mm / self.long_mm, 1.0)
        across = min(wide_mm / self.wide_mm, 1.0)
        return Rough(
            self.name,
            self.thick_mm,
            self.long_mm * along,
            self.wide_mm * across,
            self.cup_mm * across**2,
            self.bow_mm * along**2,
            self.twist_mm * along * across,
            self.clean_mm,
            self.moisture_percent,
        )

    @property
    def flatness_mm(self) -> float:
        """Least distance between two parallel planes that hold the top face.

        The face is cup (1 - 4 v^2) + bow (1 - 4 u^2) + twist u v over u, v from -1/2 to 1/2. Its
        even part and its twist are unchanged by turning half a turn, so no tilt of the planes
        helps, and the range of the face itself is the answer.
        """
        half = np.linspace(-0.5, 0.5, 81)
        u, v = half[:, None], half[None, :]
        face = self.cup_mm * (1 - 4 * v * v) + self.bow_mm * (1 - 4 * u * u) + self.twist_mm * u * v
        return float(np.ptp(face))


@dataclass(frozen=True)
class Rates:
    """What the yard states, or has shown, of its planing.

    ``first_mm``, ``second_mm``: deepest pass on each face; ``finish_mm`` the last, light one.
    ``minutes_m2`` for a pass over a square metre and ``set_minutes`` to set a piece up on each
    face; None where not known, and then no time is given. ``shown`` is how many entries of the
    yard's own work the times rest on; 0 where they are stated.
    """

    first_mm: float = 1.5
    second_mm: float = 2.0
    finish_mm: float = 0.5
    minutes_m2: float | None = None
    set_minutes: float | None = None
    shown: int = 0

    def __post_init__(self) -> None:
        """Refuse passes of no depth."""
        if min(self.first_mm, self.second_mm, self.finish_mm) <= 0:
            raise Misused("A pass takes off more than nothing.")


@dataclass(frozen=True)
class Pass:
    """One pass: which face, how deep, and the greatest thickness left after it."""

    face: Literal["first", "second"]
    depth_mm: float
    left_mm: float


@dataclass(frozen=True)
class Thicknessing:
    """How one piece is brought to its sided size.

    ``first_face`` says which is made flat first (``"top"`` or ``"bottom"``). ``sided_mm`` is aimed
    at now, ``allowance_mm`` of it for shrinkage still to come. ``attainable_mm`` is the most
    the piece can yield flat and parallel; ``fits`` where that is enough.
    """

    name: str
    first_face: Literal["top", "bottom"]
    flatness_mm: float
    attainable_mm: float
    sided_mm: float
    allowance_mm: float
    passes: tuple[Pass, ...]
    minutes: float | None
    fits: bool
    findings: tuple[Finding, ...] = ()

    @property
    def spare_mm(self) -> float:
        """Attainable beyond what is aimed at; negative where the piece falls short."""
        return self.attainable_mm - self.sided_mm


def thickness_piece(
    rough: Rough,
    sided_mm: float,
    rates: Rates | None = None,
    wood: Species | None = None,
    service_percent: float | None = None,
    sawn: Sawn = "not known",
) -> Thicknessing:
    """Passes from rough to sided.

    Parameters
    ----------
    rough
        The piece as measured.
    sided_mm
        Finished sided size, at the moisture in service.
    rates
        Depths of passes and times.
    wood, service_percent, sawn
        Where the piece's moisture, its wood and the moisture in service are known, the size aimed
        at now has the shrinkage still to come added (the larger where how it was sawn is not
        known).

    Notes
    -----
    The crowned face is made flat first, the hollow one down on its edges (common practice, no
    source). What is spare comes off both faces alike, so that a piece that is not dry right through
    stays straighter (common practice, no source).
    """
    rates = rates or Rates()
    if sided_mm <= 0:
        raise Misused(f"{rough.name}: a sided size must be more than nothing, not {sided_mm:g}.")
    extra, findings = 0.0, []
    if wood is not None and rough.moisture_percent is not None and service_percent is not None:
        left = allowance(wood, "sided", sided_mm, rough.moisture_percent, service_percent, sawn)
        extra = max(left.most_mm, 0.0) if left else 0.0
        if extra > 0.1:
            findings.append(
                kinds.WILL_SHRINK.found(
                    f"{rough.name}: at {rough.moisture_percent:.0f} % moisture it is planed to"
                    f" {sided_mm + extra:.1f} mm, {extra:.1f} mm of it to shrink by"
                    f" {service_percent:.0f} %.",
                    line=rough.name,
                )
            )
    aim = sided_mm + extra
    flatness = rough.flatness_mm
    attainable = rough.thick_mm - flatness - 2.0 * rough.clean_mm
    fits = attainable >= aim - 1e-9
    spare = max(attainable - aim, 0.0)
    first = flatness + rough.clean_mm + 0.5 * spare
    passes = _passes("first", first, rates.first_mm, rates.finish_mm, rough.thick_mm)
    # The second face's high spots stand above the first plane by the whole thickness.
    second = flatness + rough.clean_mm + 0.5 * spare
    high = rough.thick_mm + flatness - first
    passes += _passes("second", second, rates.second_mm, rates.finish_mm, high)
    minutes = None
    if rates.minutes_m2 is not None:
        area = rough.long_mm * rough.wide_mm * 1e-6
        minutes = rates.minutes_m2 * area * len(passes) + 2.0 * (rates.set_minutes or 0.0)
    if not fits:
        findings.append(
            kinds.TOO_THIN.found(
                f"{rough.name}: {rough.thick_mm:.1f} mm rough, out of flat by {flatness:.1f} mm and"
                f" {2 * rough.clean_mm:.1f} mm to clean up, yields {attainable:.1f} mm of"
                f" {aim:.1f} mm.",
                line=rough.name,
                read=f"{attainable:.1f} mm",
                expected=f"{aim:.1f} mm",
            )
        )
    crowned = rough.cup_mm + rough.bow_mm >= 0
    return Thicknessing(
        rough.name,
        "top" if crowned else "bottom",
        flatness,
        attainable,
        aim,
        extra,
        tuple(passes),
        minutes,
        fits,
        tuple(findings),
    )


def _passes(
    face: Literal["first", "second"], depth: float, deepest: float, finish: float, high: float
) -> list[Pass]:
    """Equal passes no deeper than the deepest, and a light one to finish; ``high`` is the thickness
    before.
    """
    if depth <= 1e-9:
        return []
    last = min(finish, depth)
    rest = depth - last
    count = ceil(rest / deepest - 1e-9)
    cuts = [rest / count] * count + [last] if count else [last]
    made = []
    for cut in cuts:
        high -= cut
        made.append(Pass(face, cut, high))
    return made


@dataclass(frozen=True)
class ThicknessPlan:
    """All pieces' thicknessing: batches by finished size, pieces that fail, time.

    ``shown`` is how many entries of the yard's own work the time rests on; 0 where it is stated.
    """

    pieces: tuple[Thicknessing, ...]
    minutes: float | None
    shown: int = 0

    @property
    def fail(self) -> tuple[str, ...]:
        """Names of those that cannot be brought to size."""
        return tuple(p.name for p in self.pieces if not p.fits)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Every piece that fails; those that will shrink are told once, the most by name."""
        found = [f for p in self.pieces for f in p.findings if f.code != kinds.WILL_SHRINK.code]
        wet = [p for p in self.pieces if p.allowance_mm > 0.1]
        if wet:
            most = max(wet, key=lambda p: p.allowance_mm)
            found.append(
                kinds.WILL_SHRINK.found(
                    f"{len(wet)} of {len(self.pieces)} pieces are planed fuller than their sided"
                    f" size, to shrink: {most.name} most, by {most.allowance_mm:.1f} mm to"
                    f" {most.sided_mm:.1f} mm.",
                    line=most.name,
                )
            )
        return tuple(found)

    @classmethod
    def of(cls, pieces: Sequence[Thicknessing], shown: int = 0) -> ThicknessPlan:
        """The plan of pieces: those nearest in final size and thickness together, time in all."""
        made = sorted(pieces, key=lambda t: (round(t.sided_mm, 1), -t.attainable_mm))
        times = [t.minutes for t in made]
        total = None if any(t is None for t in times) else float(sum(t or 0.0 for t in times))
        return cls(tuple(made), total, shown)


def thickness_pieces(
    pieces: Sequence[Rough],
    sided_mm: float,
    rates: Rates | None = None,
    wood: Species | None = None,
    service_percent: float | None = None,
    sawn: Sawn = "not known",
) -> ThicknessPlan:
    """:func:`thickness_piece` for many, those nearest in final size and thickness together."""
    return ThicknessPlan.of(
        [thickness_piece(p, sided_mm, rates, wood, service_percent, sawn) for p in pieces],
        rates.shown if rates else 0,
    )
