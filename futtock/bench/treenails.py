"""Treenails of a whole vessel: counts, lengths, drills, stock to turn them from, and wedges."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, pi

from futtock import reference
from futtock.bench import kinds
from futtock.bench.fastening import FasteningSettings, FrameHoles
from futtock.errors import Misused
from futtock.findings import Finding

PSI_KPA = 6.894757
CAUTION_STRENGTH = "For discussion with a surveyor, class society or naval architect; not a design."


@dataclass(frozen=True)
class TreenailClass:
    """Treenails of one length: how many are driven, how many to make, and the class's length."""

    length_mm: float
    grip_mm: float
    driven: int
    to_make: int


@dataclass(frozen=True)
class Stock:
    """Wood to turn treenails from.

    ``square_mm`` is the side of the squares, ``running_m`` their total length with the saw's kerf
    between treenails, ``volume_m3`` of the squares, ``board_feet`` the same with the rip kerf.
    """

    square_mm: float
    squares: int
    running_m: float
    volume_m3: float
    board_feet: float


@dataclass(frozen=True)
class Wedges:
    """Wedges: how many, and their size. Set across the grain of the timber they bear on."""

    count: int
    wide_mm: float
    long_mm: float
    thick_mm: float
    rule: str


@dataclass(frozen=True)
class Fastenings:
    """What the whole vessel's frames take.

    ``drills`` gives (diameter, depth, count); ``per_frame`` the holes of each frame by number.
    """

    holes: int
    diameter_mm: float
    bore_mm: float
    lengths: tuple[TreenailClass, ...]
    per_frame: tuple[tuple[int, int], ...]
    drills: tuple[tuple[float, float, int], ...]
    stock: Stock
    wedges: Wedges
    findings: tuple[Finding, ...] = ()


def fastenings(
    laid: Sequence[FrameHoles], settings: FasteningSettings, kerf_mm: float = 3.2
) -> Fastenings:
    """Everything to be made and bored for the holes laid.

    Parameters
    ----------
    laid
        Holes of each frame.
    settings
        See :class:`FasteningSettings`.
    kerf_mm
        Saw kerf lost between treenails and between squares.
    """
    grips: Counter[float] = Counter()
    for frame in laid:
        for hole in frame.holes:
            grips[round(hole.grip_mm, 6)] += 2
    lengths = []
    for grip, count in sorted(grips.items()):
        step = settings.length_step_mm
        length = ceil((grip + 2.0 * settings.proud_mm) / step - 1e-9) * step
        spare = ceil(count * (1.0 + settings.spoil_percent / 100.0) - 1e-9)
        lengths.append(TreenailClass(length, grip, count, spare))
    total = sum(grips.values())
    findings = [*_once(laid), *_doubts(settings)]
    return Fastenings(
        total,
        settings.diameter_mm,
        settings.bore_mm,
        tuple(lengths),
        tuple((frame.frame, frame.count) for frame in laid),
        tuple((settings.bore_mm, grip, count) for grip, count in sorted(grips.items())),
        stock(lengths, settings, kerf_mm),
        wedges(total, settings),
        tuple(findings),
    )


def stock(
    lengths: Sequence[TreenailClass], settings: FasteningSettings, kerf_mm: float = 3.2
) -> Stock:
    """Squares to turn the treenails from; a square a treenail, spoilt ones counted."""
    side = settings.diameter_mm + settings.square_allowance_mm
    count = sum(c.to_make for c in lengths)
    running = sum(c.to_make * (c.length_mm + kerf_mm) for c in lengths)
    volume = running * side * side * 1e-9
    sawn = running * (side + kerf_mm) ** 2 * 1e-9
    per_m3 = reference.block("wood_formulas")["board_foot"]["per_cubic_metre"]
    return Stock(side, count, running * 1e-3, volume, sawn * per_m3)


def squares_of_board(
    long_mm: float,
    wide_mm: float,
    thick_mm: float,
    length_mm: float,
    settings: FasteningSettings,
    kerf_mm: float = 3.2,
) -> int:
    """Treenail squares of one length out of one board (0 where it is too small any way)."""
    if min(long_mm, wide_mm, thick_mm, length_mm) <= 0:
        raise Misused("A board and a treenail have sizes greater than nothing.")
    side = settings.diameter_mm + settings.square_allowance_mm

    def fit(size: float, piece: float) -> int:
        return int((size + kerf_mm + 1e-9) // (piece + kerf_mm))

    return fit(long_mm, length_mm) * fit(wide_mm, side) * fit(thick_mm, side)


def wedges(treenails: int, settings: FasteningSettings) -> Wedges:
    """Wedges for the treenails driven, with the spoil rate; own sizes, common practice.

    As wide as the treenail, twice as long, a sixth as thick at the butt: common practice, no
    source. Set across the grain: Curtis (1919), rule T05.
    """
    d = settings.diameter_mm
    count = ceil(treenails * settings.wedges * (1.0 + settings.spoil_percent / 100.0) - 1e-9)
    return Wedges(
        count, d, 2.0 * d, d / 6.0, "across the grain of the timber at the treenail's head (T05)"
    )


def _once(laid: Sequence[FrameHoles]) -> list[Finding]:
    """What the frames' holes give to notice; want of room at the edges is told once for all."""
    found = [f for frame in laid for f in frame.findings if f.code != kinds.NO_ROOM.code]
    tight = [f for frame in laid for f in frame.findings if f.code == kinds.NO_ROOM.code]
    if not tight:
        return found
    worst = min(tight, key=lambda f: float((f.read or "0").split()[0]))
    if len(tight) > 1:
        said = f"{len(tight)} of {len(laid)} frames have no room at some holes. {worst.message}"
        worst = replace(worst, message=said)
    return [worst, *found]


def _doubts(settings: FasteningSettings) -> list[Finding]:
    found = []
    if settings.drift_mm <= 0:
        found.append(
            kinds.DRIFT.found(
                f"A {settings.diameter_mm:.1f} mm treenail in a {settings.bore_mm:.1f} mm hole."
                " Curtis (1919), T02: the hole 1/16 in smaller, for planks on frames."
            )
        )
    peg, frame = settings.moisture_percent, settings.frame_moisture_percent
    if peg is not None and frame is not None and peg >= frame:
        found.append(
            kinds.TREENAIL_WET.found(
                f"Treenails at {peg:.0f} % in a frame at {frame:.0f} % moisture."
            )
        )
    for name, value, code in (
        ("edge", settings.edge, "T23-red-edge"),
        ("end", settings.end, "T23-red-end"),
        ("spacing", settings.spacing, "T23-red-spacing"),
    ):
        row = next(r for r in reference.rows("treenail_rules") if r["id"] == code)
        least = float(row["value"])
        if value < least * settings.diameter_mm - 1e-9:
            found.append(
                kinds.BELOW_PUBLISHED.found(
                    f"The {name} distance is {value / settings.diameter_mm:.2f} diameters;"
                    f" {row['source']} gives {least:g} for {row['what']}"
                    f" ({row['joint']}; {row['how']}).",
                    read=f"{value / settings.diameter_mm:.2f} d",
                    expected=f"{least:g} d",
                )
            )
    return found


@dataclass(frozen=True)
class GroupStrength:
    """Ultimate single-shear strength of a group of treenails in one plane, and its caution."""

    count: int
    newton: float
    stress_kpa: float
    source: str
    caution: str = CAUTION_STRENGTH


_PIN_SHEAR_PSI = {"locust": 7176.0, "oak": 4425.0, "live oak": 8480.0, "ash": 6280.0}


def group_strength(
    count: int, diameter_mm: float, species: str, stress_kpa: float | None = None
) -> GroupStrength:
    """Ultimate strength in shear across the pins, count x section x stress.

    Parameters
    ----------
    count, diameter_mm
        Treenails crossing one joint plane.
    species
        Looked up among the pins of rule T27 (Record 1914, two seasoned specimens each, 1880) where
        no stress is given.
    stress_kpa
        The user's own figure, which replaces it.

    Raises
    ------
    Misused
        Where neither a figure nor a published one is to be had: none is made up.
    """
    if stress_kpa is None:
        psi = _PIN_SHEAR_PSI.get(species)
        if psi is None:
            raise Misused(
                f"No shear figure for pins of {species} was found published"
                f" (there are {', '.join(sorted(_PIN_SHEAR_PSI))}); state your own."
            )
        stress_kpa = psi * PSI_KPA
        source = "S. J. Record (1914) Table VIII: ultimate, two seasoned specimens each (1880); T27"
    else:
        source = "the user's own figure"
    area_m2 = pi / 4.0 * diameter_mm**2 * 1e-6
    return GroupStrength(count, count * area_m2 * stress_kpa * 1e3, stress_kpa, source)
