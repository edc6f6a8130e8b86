"""The tape record as a blank to fill in: its columns, stations and lines, and the same as CSV.

The printed form and the file hold the same headings in the same order, so that a sheet filled in
by hand is typed off line by line.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass

from futtock.errors import Misused
from futtock.measure import feet_inches
from futtock.measure.shown import Style
from futtock.stock.tape import FLAW_HEADING

COLUMNS = (
    "station", "top left", "top right", "bottom left", "bottom right",
    "bark left", "bark right", "thickness", "grain 1", "grain 2",
)  # fmt: skip
LINES = (
    "slab", "species", "unit", "moisture", "moisture date", "stack", "cup", "bow", "twist", "price",
    "note",
)  # fmt: skip
_EVERY_MM: dict[Style, float] = {"imperial": 304.8, "metric": 300.0}


@dataclass(frozen=True, slots=True)
class TapeForm:
    """A blank record for one slab.

    ``lines`` are (key, what is filled in already); ``stations`` the first column as written;
    ``flaws`` how many lines there are for flaws.
    """

    lines: tuple[tuple[str, str], ...]
    stations: tuple[str, ...]
    flaws: int = 6
    columns: tuple[str, ...] = COLUMNS
    flaw_columns: tuple[str, ...] = FLAW_HEADING


def tape_form(
    name: str = "",
    species: str = "",
    style: Style = "imperial",
    length_mm: float = 4000.0,
    stack: str = "",
) -> TapeForm:
    """A blank with stations a foot (or 300 mm) apart, enough for a slab of a length."""
    if not 0 < length_mm <= 12_000:
        raise Misused(f"a form for a slab {length_mm:g} mm long: expected 1 to 12000 mm")
    every = _EVERY_MM[style]
    count = int(length_mm / every + 1e-9) + 2
    feet = style == "imperial"
    at = [k * every for k in range(count - 1)]
    stations = tuple(feet_inches(mm) if feet else f"{mm:.0f}" for mm in at)
    filled = {
        "slab": name,
        "species": species,
        "unit": "in" if feet else "mm",
        "stack": stack,
    }
    return TapeForm(tuple((key, filled.get(key, "")) for key in LINES), (*stations, ""))


def tape_form_text(form: TapeForm) -> str:
    """The blank as CSV, ready for the figures."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerows(form.lines)
    writer.writerow(form.columns)
    writer.writerows(
        [station, *[""] * (len(form.columns) - 1)] for station in form.stations if station
    )
    writer.writerow(form.flaw_columns)
    return out.getvalue()
