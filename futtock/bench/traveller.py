"""The traveller: what goes with a frame from the pile to the keel, one page a side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock.bench.cautions import Caution, Sheet, cautions
from futtock.bench.fastening import FasteningSettings, FrameHoles
from futtock.bench.treenails import TreenailClass, fastenings
from futtock.bench.weights import Weights
from futtock.errors import Misused
from futtock.framing.frame import Frame, Mark
from futtock.moulds.mould import Mould

Array = NDArray[np.float64]

CAUTION_OF_STAGE: Mapping[str, Sheet] = {
    "laid-out": "lifting",
    "roughed": "sawing",
    "flattened": "thicknessing",
    "thicknessed": "thicknessing",
    "bevelled": "sawing",
    "bedded": "bedding",
    "bored": "fastening",
    "treenailed": "fastening",
    "faired": "rebuilding",
    "standing": "lifting",
}
"""Which cautions belong to which stage of the work."""


@dataclass(frozen=True)
class Measurement:
    """A length to take on the assembled frame: between two named points, along a straight tape.

    ``a_mm``, ``b_mm`` are the points in the frame's (out, up), port negative, for the sketch.
    """

    name: str
    kind: Literal["breadth", "diagonal", "height", "cross-spall"]
    mm: float
    tolerance_mm: float
    a_mm: tuple[float, float]
    b_mm: tuple[float, float]


@dataclass(frozen=True)
class TravellerTimber:
    """One timber on a traveller: its slab (None until laid out), size, weight and people."""

    mark: str
    slab: str | None
    length_mm: float
    wide_mm: float
    mass_kg: float
    people: int
    holes: int


@dataclass(frozen=True)
class Traveller:
    """One side of one frame."""

    frame: int
    side: Literal["P", "S"]
    timbers: tuple[TravellerTimber, ...]
    holes: int
    bore_mm: float
    treenails: tuple[TreenailClass, ...]
    wedges: int
    checks: tuple[Measurement, ...]
    mass_kg: float
    cautions: tuple[tuple[str, tuple[Caution, ...]], ...]
    code: str


def travellers(
    frame: Frame,
    moulds: Sequence[Mould],
    holes: FrameHoles,
    weights: Weights,
    settings: FasteningSettings,
    *,
    slabs: Mapping[str, str] | None = None,
    tolerance_mm: float = 3.0,
    cross_spall_mm: float | None = None,
) -> tuple[Traveller, Traveller]:
    """The port and starboard travellers of a frame.

    Parameters
    ----------
    frame, moulds, holes, weights
        The frame with all its figures; moulds and weights may hold other frames' too.
    settings
        Fastening, for bore, wedges and spoil.
    slabs
        Piece mark to slab, from the accepted layout.
    tolerance_mm
        How far the check measurements may be out; 1/8 in.
    cross_spall_mm
        Height of the cross spall above base; None for none.
    """
    own = [m for m in moulds if m.frame == frame.number]
    people = {p.mark: p.people for p in weights.pieces}
    checks = frame_checks(frame, tolerance_mm, cross_spall_mm)
    whole = fastenings([holes], settings)
    stages = {stage: cautions(sheet) for stage, sheet in CAUTION_OF_STAGE.items()}
    made = []
    sides: tuple[Literal["P", "S"], Literal["P", "S"]] = ("P", "S")
    for side in sides:
        timbers = tuple(
            TravellerTimber(
                m.mark,
                (slabs or {}).get(m.mark),
                m.length_mm,
                m.wide_mm,
                m.mass_kg,
                people.get(m.mark, 0),
                len(m.holes_mm),
            )
            for m in own
            if m.side in (side, "C")
        )
        made.append(
            Traveller(
                frame.number,
                side,
                timbers,
                len(holes.holes),
                settings.bore_mm,
                whole.lengths,
                settings.wedges * len(holes.holes),
                checks,
                sum(t.mass_kg for t in timbers),
                tuple(stages.items()),
                f"{frame.number}-{side}",
            )
        )
    return made[0], made[1]


def frame_checks(
    frame: Frame, tolerance_mm: float = 3.0, cross_spall_mm: float | None = None
) -> tuple[Measurement, ...]:
    """Lengths that prove an assembled frame: breadths, both diagonals, heights and cross spall.

    All are between points of the joint face's outer edge, in the vessel's own space (so they hold
    for cants, whose two sides do not lie in one plane). Both diagonals of a name are the same
    length on a true frame; measure both.
    """
    if tolerance_mm <= 0:
        raise Misused("A tolerance must be more than nothing.")
    sheer = _head(frame)
    heel = (0.0, float(frame.joint.edge_mm[0, 1]))
    made = [
        _measure(frame, "breadth at the sheer", "breadth", _over(sheer), sheer, tolerance_mm),
        _measure(
            frame,
            "sheer above heel, on the centreline",
            "height",
            heel,
            (0.0, sheer[1]),
            tolerance_mm,
        ),
        _measure(
            frame, "heel to sheer, port and starboard alike", "diagonal", heel, sheer, tolerance_mm
        ),
    ]
    for mark in frame.marks:
        if mark.kind not in ("sirmark", "level") or abs(mark.at_mm[0]) < 1.0:
            continue
        name = mark.name if mark.kind == "level" else f"sirmark {mark.name}"
        made.append(
            _measure(
                frame, f"breadth at {name}", "breadth", _over(mark.at_mm), mark.at_mm, tolerance_mm
            )
        )
        made.append(
            _measure(
                frame,
                f"{name} to the other side's sheer, both ways",
                "diagonal",
                _over(mark.at_mm),
                sheer,
                tolerance_mm,
            )
        )
    if cross_spall_mm is not None:
        out = _out_at(frame, cross_spall_mm)
        if out is not None:
            at = (out, cross_spall_mm)
            made.append(
                _measure(
                    frame,
                    "cross spall, outside to outside",
                    "cross-spall",
                    _over(at),
                    at,
                    tolerance_mm,
                )
            )
    return tuple(made)


def _head(frame: Frame) -> tuple[float, float]:
    """The sheer mark, or the head's outer corner where there is none."""
    sheer: Mark | None = next((m for m in frame.marks if m.kind == "sheer"), None)
    if sheer is not None:
        return sheer.at_mm
    end = frame.joint.edge_mm[-1]
    return float(end[0]), float(end[1])


def _over(at: tuple[float, float]) -> tuple[float, float]:
    return -at[0], at[1]


def _measure(
    frame: Frame,
    name: str,
    kind: Literal["breadth", "diagonal", "height", "cross-spall"],
    a: tuple[float, float],
    b: tuple[float, float],
    tolerance_mm: float,
) -> Measurement:
    length = float(np.linalg.norm(_in_vessel(frame, a) - _in_vessel(frame, b)))
    return Measurement(name, kind, length, tolerance_mm, a, b)


def _in_vessel(frame: Frame, at: tuple[float, float]) -> Array:
    """A point of either side in the vessel's x, y, z: the port side is starboard's mirror."""
    _, out, up = frame.plane.axes()
    point: Array = frame.plane.origin(0.0) + abs(at[0]) * out + at[1] * up
    side = np.array([1.0, -1.0 if at[0] < 0 else 1.0, 1.0])
    return np.asarray(point * side, float)


def _out_at(frame: Frame, height_mm: float) -> float | None:
    """Outboard distance of the joint's outer edge at a height of the frame; None where it ends."""
    up = frame.joint.edge_mm[:, 1]
    crosses = np.flatnonzero((up[:-1] < height_mm) != (up[1:] < height_mm))
    if not len(crosses):
        return None
    k = int(crosses[-1])
    share = (height_mm - up[k]) / (up[k + 1] - up[k])
    edge = frame.joint.edge_mm[:, 0]
    return float(edge[k] + share * (edge[k + 1] - edge[k]))
