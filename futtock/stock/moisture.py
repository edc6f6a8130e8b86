"""Moisture: where wood comes to rest, how much it shrinks, and what that does to a size.

Moisture is percent of the oven-dry mass throughout. Formulas and coefficients are those of the
Wood Handbook (FPL-GTR-190, 2010), kept in ``reference/wood_formulas.toml`` with how each was got.
Wood neither shrinks nor swells above fibre saturation, taken as 30 percent.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from futtock import reference
from futtock.errors import Misused
from futtock.stock.species import Species

FIBRE_SATURATION = 30.0
_EMC_KEYS = ("W", "K", "K1", "K2")
Sawn = Literal["flat", "quarter", "not known"]


def equilibrium_percent(temperature_c: float, humidity_percent: float) -> float:
    """Moisture at which wood comes to rest in air of so many degrees and relative humidity.

    The handbook's equation in degrees Celsius (chapter 4); it keeps to the printed table within
    0.05 of a point. ``humidity_percent`` from 0 to 100, else :class:`Misused`.

    >>> round(equilibrium_percent(21.11, 65), 1)
    12.0
    """
    if not 0.0 <= humidity_percent <= 100.0:
        raise Misused(f"relative humidity of {humidity_percent:g} %: expected 0 to 100")
    form = reference.block("wood_formulas")["emc_celsius"]
    t = temperature_c
    w, k, k1, k2 = (sum(c * t**n for n, c in enumerate(form[key])) for key in _EMC_KEYS)
    kh = k * humidity_percent / 100.0
    both = k1 * kh + k1 * k2 * kh * kh
    twice = k1 * kh + 2.0 * k1 * k2 * kh * kh
    return float(1800.0 / w * (kh / (1.0 - kh) + twice / (1.0 + both)))


def coefficient(shrinkage_percent: float) -> float:
    """Change of size for one percent of moisture near 10 percent, as a fraction of the size there.

    From the shrinkage green to oven-dry, percent of the green size. It reproduces the handbook's
    printed coefficients (Table 13-5) from its printed shrinkages (Table 4-3).

    >>> round(coefficient(4.9), 5)
    0.00169
    """
    share = shrinkage_percent / 100.0 / FIBRE_SATURATION
    return share / (1.0 - (FIBRE_SATURATION - 10.0) * share)


def shrinkage_of(per_percent: float) -> float:
    """Shrinkage green to oven-dry, percent, from the change per percent: ``coefficient`` undone."""
    return 100.0 * FIBRE_SATURATION * per_percent / (1.0 + (FIBRE_SATURATION - 10.0) * per_percent)


def size_at(
    size_mm: float, shrinkage_percent: float, now_percent: float, then_percent: float
) -> float:
    """What a size of wood becomes when its moisture goes from now to then (equation 13-3).

    >>> round(size_at(100.0, 10.5, 30.0, 0.0), 3)
    89.5
    """
    now, then = (min(max(m, 0.0), FIBRE_SATURATION) for m in (now_percent, then_percent))
    share = shrinkage_percent / 100.0 / FIBRE_SATURATION
    green = size_mm / (1.0 - share * (FIBRE_SATURATION - now))
    return green * (1.0 - share * (FIBRE_SATURATION - then))


@dataclass(frozen=True, slots=True)
class Allowance:
    """How much to leave on a size sawn now, so that it is right in service.

    ``least_mm`` and ``most_mm`` differ where how the slab was sawn from the log is not known: the
    size may then lie along the rings' radius or across it. Negative where the wood will swell.
    """

    wanted_mm: float
    now_percent: float
    service_percent: float
    least_mm: float
    most_mm: float

    @property
    def saw_to_mm(self) -> float:
        """The size to saw: the wanted size and the most that may be lost."""
        return self.wanted_mm + self.most_mm


def allowance(
    wood: Species,
    size: Literal["moulded", "sided"],
    wanted_mm: float,
    now_percent: float,
    service_percent: float,
    sawn: Sawn = "not known",
) -> Allowance | None:
    """What to leave on a moulded or sided size; None where the wood's shrinkage is not known.

    A flat-sawn slab lies with its rings along its width: its moulded size shrinks as the tangent,
    its sided size as the radius; a quarter-sawn one the other way about. Slabs sawn through and
    through are flat near the bark and quartered near the heart, so "not known" gives both.
    """
    radial, tangential = shrinkages(wood)
    if radial is None or tangential is None:
        return None
    across = {"moulded": tangential, "sided": radial}
    along = {"moulded": radial, "sided": tangential}
    used = {
        "flat": (across[size],),
        "quarter": (along[size],),
        "not known": (radial, tangential),
    }[sawn]
    left = [size_at(wanted_mm, s, service_percent, now_percent) - wanted_mm for s in used]
    return Allowance(wanted_mm, now_percent, service_percent, min(left), max(left))


def shrinkages(wood: Species) -> tuple[float | None, float | None]:
    """Radial and tangential shrinkage, percent; from the coefficients where only those stand."""
    radial = wood.radial.value if wood.radial else None
    if radial is None and wood.radial_per_pct:
        radial = shrinkage_of(wood.radial_per_pct.value)
    tangential = wood.tangential.value if wood.tangential else None
    if tangential is None and wood.tangential_per_pct:
        tangential = shrinkage_of(wood.tangential_per_pct.value)
    return radial, tangential


def bent_angle_deg(angle_deg: float, radial_change_percent: float) -> float:
    """The angle that a grown crook subtends after its radial size changed by so many percent.

    Grain that follows the curve: drying sharpens the bend by as much as the wood shrinks in its
    depth (ANC-19, 1943, p. 64-65): 100 degrees become 101 for one percent of shrinkage.
    """
    return angle_deg * (1.0 - radial_change_percent / 100.0)
