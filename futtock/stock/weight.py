"""What a piece of wood weighs at its moisture, and what that means for who lifts it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from futtock import reference
from futtock.errors import Misused
from futtock.stock.moisture import FIBRE_SATURATION
from futtock.stock.outline import signed_area_mm2
from futtock.stock.slab import Slab
from futtock.stock.species import Species, species

_VOLUME_SHRINKAGE = 0.265  # of green gravity: equation 4-11
_CONTRADICT = 0.1
_GREEN_GUESS = 60.0  # percent, where a slab's moisture was never metered: green oak is 60 to 80

LIFT_CAUTION = (
    "The figure is for one person in the best posture, close to the body; local rules and a "
    "competent person come first. Use a hoist, rollers or more hands."
)


def gravity_at(green: float, moisture_percent: float) -> float:
    """Oven-dry mass over volume at a moisture, from that over green volume (equation 4-11)."""
    dry = max(0.0, 1.0 - moisture_percent / FIBRE_SATURATION)
    return green / (1.0 - _VOLUME_SHRINKAGE * green * dry)


def green_gravity(at_12: float) -> float:
    """Oven-dry mass over green volume from that over volume at 12 percent: 4-11 undone."""
    dry = 1.0 - 12.0 / FIBRE_SATURATION
    return at_12 / (1.0 + _VOLUME_SHRINKAGE * at_12 * dry)


def density_kg_m3(wood: Species, moisture_percent: float) -> float | None:
    """Mass of a cubic metre at a moisture, water and all; None where no gravity is known.

    The gravity printed at 12 percent holds there, that on green volume from 30 percent up, each
    carried along equation 4-11; between the two moistures they are blended. Where they contradict
    each other by more than a tenth (as one source of European oak does) the green one stands.
    """
    if moisture_percent < 0:
        raise Misused(f"moisture of {moisture_percent:g} %: expected 0 or more")
    green = wood.gravity_green.value if wood.gravity_green else None
    dry = green_gravity(wood.gravity_12.value) if wood.gravity_12 else None
    if green is not None and dry is not None and abs(dry / green - 1.0) > _CONTRADICT:
        dry = None
    if green is None or dry is None:
        base = green if dry is None else dry
    else:
        share = min(max((moisture_percent - 12.0) / (FIBRE_SATURATION - 12.0), 0.0), 1.0)
        base = dry + share * (green - dry)
    if base is None:
        return None
    return 1000.0 * gravity_at(base, moisture_percent) * (1.0 + moisture_percent / 100.0)


def volume_m3(slab: Slab, whole: bool = True) -> float:
    """Volume of a slab between its faces, m3.

    Of the whole faces within the bark where they are known (``whole``), else of the sound
    outlines, which leaves the sapwood and wane out. Between the faces it is taken as a frustum:
    t (A + B + sqrt(AB)) / 3.
    """
    top, bottom = slab.top_mm, slab.bottom_mm
    if whole:
        top = slab.face_top_mm if slab.face_top_mm is not None else top
        bottom = slab.face_bottom_mm if slab.face_bottom_mm is not None else bottom
    a, b = abs(signed_area_mm2(top)), abs(signed_area_mm2(bottom))
    return slab.thickness_mm * (a + b + math.sqrt(a * b)) / 3.0 / 1e9


@dataclass(frozen=True, slots=True)
class Weight:
    """What a slab weighs, and how sure that is.

    ``moisture_guessed`` is True where it was never metered; ``bark_left_out`` where only the sound
    outline is known, so that sapwood and wane are missing from the figure.
    """

    kg: float
    density_kg_m3: float
    moisture_percent: float
    moisture_guessed: bool
    bark_left_out: bool


def weight(slab: Slab, wood: Species | None = None) -> Weight | None:
    """The weight of a slab at its moisture; None where its wood is in no table.

    A slab that was never metered is taken as green: better to call for one hand too many.
    """
    wood = wood or species(slab.species)
    if wood is None:
        return None
    guessed = slab.moisture_percent is None
    wet = _GREEN_GUESS if slab.moisture_percent is None else max(slab.moisture_percent, 0.0)
    density = density_kg_m3(wood, wet)
    if density is None:
        return None
    bare = slab.face_top_mm is None or slab.face_bottom_mm is None
    return Weight(volume_m3(slab) * density, density, wet, guessed, bare)


@dataclass(frozen=True, slots=True)
class Lift:
    """A mass against the NIOSH lifting constant: the best case for one person.

    ``index`` is mass over the constant: above 1 the risk is raised, above 3 it is high. ``hands``
    is how many people would share it to stay at 1, before reach, height and turning count.
    """

    kg: float
    limit_kg: float
    index: float
    hands: int
    source: str

    @property
    def says(self) -> str:
        """One sentence for the sheet."""
        if self.index <= 1.0:
            return f"{self.kg:.0f} kg: within one person's best-case lift of {self.limit_kg:g} kg."
        much = "far beyond" if self.index > 3.0 else "beyond"
        return (
            f"{self.kg:.0f} kg: {much} one person's best-case lift of {self.limit_kg:g} kg "
            f"({self.source}); {self.hands} people or a hoist. {LIFT_CAUTION}"
        )


def lift(kg: float) -> Lift:
    """What lifting a mass by hand asks for."""
    row = next(r for r in reference.rows("safety_limits") if r["id"] == "L01")
    limit = float(row["value"])
    return Lift(kg, limit, kg / limit, max(1, math.ceil(kg / limit - 1e-9)), row["source"])
