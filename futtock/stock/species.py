"""Woods: what is published of each, with the source beside every figure.

Figures come from the tables of ``futtock.reference``; one that was written down from memory is
marked, so that nobody takes it for proof. A wood is found by the name the yard uses.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from futtock import reference

if TYPE_CHECKING:
    from collections.abc import Mapping

_PSI_KPA = 6.894757


@dataclass(frozen=True, slots=True)
class Figure:
    """One published figure: ``value`` in ``unit``, where it stands, and whether it was remembered.

    ``remembered`` is True where it was written down from memory and not read again: it must be
    checked before anything rests on it.
    """

    value: float
    unit: str
    source: str
    remembered: bool = False


@dataclass(frozen=True, slots=True)
class Species:
    """A wood.

    Attributes
    ----------
    key, name
        Its key in the reference tables, and what the trade calls it.
    gravity_green
        Oven-dry mass over green volume, against water.
    gravity_12
        Oven-dry mass over volume at 12 percent moisture.
    radial, tangential, volumetric
        Shrinkage from green to oven-dry, percent of the green size.
    radial_per_pct, tangential_per_pct
        Change of size for one percent of moisture between 6 and 14 percent, as a fraction.
    strength
        Clear-wood averages by "green" and "12" and property; never design values.
    """

    key: str
    name: str
    gravity_green: Figure | None = None
    gravity_12: Figure | None = None
    radial: Figure | None = None
    tangential: Figure | None = None
    volumetric: Figure | None = None
    radial_per_pct: Figure | None = None
    tangential_per_pct: Figure | None = None
    strength: Mapping[tuple[str, str], Figure] = field(default_factory=dict)

    @property
    def figures(self) -> dict[str, Figure]:
        """Every figure there is, by what it is."""
        named = {
            "specific gravity, green volume": self.gravity_green,
            "specific gravity, volume at 12 %": self.gravity_12,
            "radial shrinkage": self.radial,
            "tangential shrinkage": self.tangential,
            "volumetric shrinkage": self.volumetric,
            "radial change per 1 %": self.radial_per_pct,
            "tangential change per 1 %": self.tangential_per_pct,
        }
        strong = {f"{what}, {wet}": figure for (wet, what), figure in self.strength.items()}
        return {what: f for what, f in named.items() if f is not None} | strong


_NAMES = {
    "white oak": "oak-white-white",
    "oak": "oak-white-white",
    "live oak": "oak-white-live",
    "post oak": "oak-white-post",
    "overcup oak": "oak-white-overcup",
    "red oak": "oak-red-northern-red",
    "northern red oak": "oak-red-northern-red",
    "european oak": "oak-european-sessile",
    "sessile oak": "oak-european-sessile",
    "english oak": "oak-european-sessile",
    "white ash": "ash-white",
    "ash": "ash-white",
    "black locust": "locust-black",
    "locust": "locust-black",
    "robinia": "locust-black",
    "osage orange": "osage-orange",
    "beech": "beech-american",
    "american beech": "beech-american",
    "northern white cedar": "cedar-northern-white",
    "atlantic white cedar": "cedar-atlantic-white",
    "douglas fir": "douglas-fir-coast",
    "western larch": "larch-western",
    "larch": "larch-western",
    "tamarack": "tamarack",
    "hackmatack": "tamarack",
    "longleaf pine": "pine-longleaf",
    "slash pine": "pine-slash",
    "sitka spruce": "spruce-sitka",
    "angelique": "angelique",
    "greenheart": "greenheart",
    "iroko": "iroko",
    "mahogany": "mahogany-true",
    "purpleheart": "purpleheart",
    "azobe": "azobe",
    "ekki": "azobe",
    "opepe": "opepe",
    "teak": "teak",
}
"""What the yard calls a wood -> its key in the tables. Plain "oak" is taken for white oak."""

_COMMERCIAL = {
    "oak-white-white": "oak-white-commercial",
    "oak-red-northern-red": "oak-red-commercial",
}
"""Where the handbook prints coefficients for the trade's group alone."""

_STRENGTHS = {
    "modulus of rupture": ("mor_psi", 1.0, "psi"),
    "modulus of elasticity": ("moe_million_psi", 1e6, "psi"),
    "compression along the grain": ("comp_parallel_psi", 1.0, "psi"),
    "compression across the grain": ("comp_perp_psi", 1.0, "psi"),
    "shear along the grain": ("shear_parallel_psi", 1.0, "psi"),
    "side hardness": ("side_hardness_lbf", 1.0, "lbf"),
}

_FPL_STRENGTH = "Wood Handbook FPL-GTR-282 (2021) Table"
_SHRINKAGE_SOURCES = {
    "S3": "Wood Handbook FPL-GTR-190 (2010) Table 4-3",
    "S4": "Wood Handbook FPL-GTR-190 (2010) Table 4-4",
    "S13": "Wood Handbook FPL-GTR-190 (2010) Table 13-5",
    "R14": "S. J. Record, The Mechanical Properties of Wood (1914) Table XIV",
}
_OSAGE = ("osage orange", "specific gravity (ovendry wt / green vol)")
_SESSILE = ("oak sessile (European)", "specific gravity")
_RECORD = "S. J. Record, The Mechanical Properties of Wood (1914)"


def species(name: str) -> Species | None:
    """The wood of that name or key, or None where no table has it.

    Capitals, hyphens and blanks do not matter: ``White-Oak`` is white oak.
    """
    plain = " ".join(name.lower().replace("-", " ").replace("_", " ").split())
    for key, one in woods().items():
        if plain in (key.replace("-", " "), one.name):
            return one
    key_of = _NAMES.get(plain)
    return woods().get(key_of) if key_of else None


def known_names() -> tuple[str, ...]:
    """The names by which woods are known, sorted."""
    return tuple(sorted(_NAMES))


@cache
def woods() -> Mapping[str, Species]:
    """Every wood of the tables, by its key."""
    strong, shrink = _strength_rows(), {r["species_id"]: r for r in _shrinkage_rows()}
    keys = [k for k in (*strong, *shrink, "osage-orange") if not k.endswith("-commercial")]
    called: dict[str, str] = {}
    for name, key in _NAMES.items():
        called.setdefault(key, name)
    made: dict[str, Species] = {}
    for key in dict.fromkeys(keys):
        rows = strong.get(key, {})
        parts = _shrinkage(shrink.get(key), shrink.get(_COMMERCIAL.get(key, "")))
        others = _other(key)
        made[key] = Species(
            key=key,
            name=called.get(key, key.replace("-", " ")),
            gravity_green=_gravity(rows.get("green")) or others.get("green"),
            gravity_12=_gravity(rows.get("12")) or others.get("12"),
            radial=parts.get("radial_pct"),
            tangential=parts.get("tangential_pct"),
            volumetric=parts.get("volumetric_pct"),
            radial_per_pct=parts.get("cr_per_pct_mc"),
            tangential_per_pct=parts.get("ct_per_pct_mc"),
            strength=MappingProxyType(_strengths(rows)),
        )
    return MappingProxyType(made)


def _shrinkage_rows() -> tuple[Mapping[str, str], ...]:
    return reference.rows("wood_shrinkage")


def _strength_rows() -> dict[str, dict[str, Mapping[str, str]]]:
    found: dict[str, dict[str, Mapping[str, str]]] = {}
    for row in reference.rows("wood_strength_fpl"):
        found.setdefault(row["species_id"], {})[row["mc"]] = row
    return found


def _remembered(how: str) -> bool:
    return "from memory" in how


def _gravity(row: Mapping[str, str] | None) -> Figure | None:
    if not row or not row["specific_gravity"]:
        return None
    source = f"{_FPL_STRENGTH} {row['table']}"
    return Figure(float(row["specific_gravity"]), "", source, _remembered(row["how"]))


def _strengths(rows: Mapping[str, Mapping[str, str]]) -> dict[tuple[str, str], Figure]:
    found: dict[tuple[str, str], Figure] = {}
    for wet, row in rows.items():
        for what, (column, times, unit) in _STRENGTHS.items():
            if not row[column]:
                continue
            value, shown = float(row[column]) * times, unit
            if unit == "psi":
                value, shown = value * _PSI_KPA / 1000.0, "MPa"
            source = f"{_FPL_STRENGTH} {row['table']}"
            found[wet, what] = Figure(value, shown, source, _remembered(row["how"]))
    return found


def _shrinkage(row: Mapping[str, str] | None, group: Mapping[str, str] | None) -> dict[str, Figure]:
    found: dict[str, Figure] = {}
    for given, note in ((row, ""), (group, " (the trade's group)")):
        if not given:
            continue
        source = _SHRINKAGE_SOURCES.get(given["source"], given["source"])
        for column in ("radial_pct", "tangential_pct", "volumetric_pct"):
            if given[column] and column not in found:
                memory = _remembered(given["how"])
                found[column] = Figure(float(given[column]), "%", source + note, memory)
        for column in ("cr_per_pct_mc", "ct_per_pct_mc"):
            if given[column] and column not in found:
                memory = _remembered(given["how_coeff"])
                where = _SHRINKAGE_SOURCES["S13"] + note
                found[column] = Figure(float(given[column]), "per %", where, memory)
    return found


def _other(key: str) -> dict[str, Figure]:
    """Specific gravities of woods that the handbook's strength tables leave out."""
    found: dict[str, Figure] = {}
    for row in reference.rows("wood_other_species"):
        which = row["species"], row["property"]
        if key == "osage-orange" and which == _OSAGE:
            found["green"] = Figure(float(row["value"]), "", f"{_RECORD} Table XIV")
        elif key == "oak-european-sessile" and which == _SESSILE:
            source = "species card for Quercus petraea (secondary, not a handbook)"
            for wet, value in zip(("green", "12"), row["value"].split("/"), strict=True):
                found[wet] = Figure(float(value), "", source)
    return found
