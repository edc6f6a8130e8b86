"""Who or what lifts a piece: the NIOSH equation for one person, shares for two or more, slings.

Lifting figures: NIOSH revised lifting equation (1991/1994), rows L01 to L13 of
``safety_limits.csv``. It speaks of one person lifting with both hands, standing; for more people
no published equation was found, and the load is shared by levers about the centre of mass.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused
from futtock.moulds.mould import Mould

Array = NDArray[np.float64]

LOAD_CONSTANT_KG = 23.0
CAUTION_LIFTING = (
    "Lifting: local rules and a competent person come first. Keep clear of the load and its fall,"
    " lift together on a word, and use tackle where the index is above 1."
)


@dataclass(frozen=True)
class Lift:
    """How a piece is taken up (all as NIOSH has them).

    ``hold_mm`` from the ankles to the hands, ``height_mm`` of the hands at the start, ``raise_mm``
    how far, ``twist_deg`` of the body; ``frequency`` and ``coupling`` multipliers, 1 for a single
    lift with a good grip (a poor grip is 0.90: from memory).
    """

    hold_mm: float = 400.0
    height_mm: float = 500.0
    raise_mm: float = 500.0
    twist_deg: float = 0.0
    frequency: float = 1.0
    coupling: float = 0.9


def weight_limit_kg(lift: Lift) -> float:
    """Recommended weight limit of one person: 23 kg times the multipliers (NIOSH).

    HM = 25/H (H in cm, not below 25; 0 beyond 63: from memory), VM = 1 - 0.003 |V - 75| (0 above
    175), DM = 0.82 + 4.5/D (D not below 25; 0 above 175), AM = 1 - 0.0032 A (0 above 135: from
    memory).
    """
    h, v, d = lift.hold_mm / 10.0, lift.height_mm / 10.0, lift.raise_mm / 10.0
    if min(h, d) < 0 or v < 0 or lift.twist_deg < 0:
        raise Misused("Distances and twist of a lift are not negative.")
    horizontal = 0.0 if h > 63.0 else 25.0 / max(h, 25.0)
    vertical = 0.0 if v > 175.0 else 1.0 - 0.003 * abs(v - 75.0)
    travel = 0.0 if d > 175.0 else 0.82 + 4.5 / max(d, 25.0)
    twist = 0.0 if lift.twist_deg > 135.0 else 1.0 - 0.0032 * lift.twist_deg
    return (
        LOAD_CONSTANT_KG * horizontal * vertical * travel * twist * lift.frequency * lift.coupling
    )


@dataclass(frozen=True)
class Hoist:
    """One piece: what it weighs, how many people, and where to sling it.

    ``index`` is the lifting index of each of ``people`` (the load each bears over the limit of
    one); ``people`` is 0 where more than four would be wanted: use tackle. ``slings_mm`` are the
    sling points in the mould's axes: one at the centre of mass where that lies in the wood, else
    two on the middle line that bear alike. ``ends_kg`` is what two people at the ends bear.
    """

    mark: str
    mass_kg: float
    limit_kg: float
    people: int
    index: float
    slings_mm: Array
    ends_kg: tuple[float, float]


def hoist(mould: Mould, lift: Lift | None = None, most: int = 4) -> Hoist:
    """How to lift one timber.

    Parameters
    ----------
    mould
        The timber; its mass and centre.
    lift
        How it is taken up; None for the usual one, from trestle to shoulder of another.
    most
        People beyond whom tackle is wanted.
    """
    lift = lift or Lift()
    limit = weight_limit_kg(lift)
    if limit <= 0:
        raise Misused("A lift like this is outside what the equation allows anyone to lift.")
    grain = mould.grain_mm
    ends = _shares(mould.mass_kg, mould.centre_mm[0], float(grain[0, 0]), float(grain[-1, 0]))
    people = ceil(mould.mass_kg / limit - 1e-9)
    each = mould.mass_kg
    if people == 2:
        each = max(ends)
        if each > limit:
            people = 3
    if people > 2:
        each = mould.mass_kg / people
    if people > most:
        people = 0
    return Hoist(
        mould.mark, mould.mass_kg, limit, max(people, 0), each / limit, slings(mould), ends
    )


def _shares(mass: float, centre: float, first: float, last: float) -> tuple[float, float]:
    """What two people at two places along x bear of a mass at a third, by levers."""
    second = mass * (centre - first) / (last - first)
    return mass - second, second


def slings(mould: Mould) -> Array:
    """Sling points (1 or 2, 2) in the mould's axes.

    One at the centre of mass where it lies within both faces by 10 mm; a crook's lies outside its
    wood, and is slung at two points of the middle line at the same distance along x from it, a
    quarter of the length each way.
    """
    import shapely

    centre = np.array(mould.centre_mm[:2])
    spot = shapely.Point(centre)
    inside = all(
        shapely.Polygon(ring).buffer(-10.0).contains(spot)
        for ring in (mould.outline_up_mm, mould.outline_down_mm)
    )
    if inside:
        return centre[None, :]
    x = mould.grain_mm[:, 0]
    reach = min(0.25 * np.ptp(x), centre[0] - x.min(), x.max() - centre[0])
    at = np.array([centre[0] - reach, centre[0] + reach])
    order = np.argsort(x)
    y = np.interp(at, x[order], mould.grain_mm[order, 1])
    return np.stack([at, y], axis=1)
