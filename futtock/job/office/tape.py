"""Adding a slab by tape on a page: the form as typed, drawn as it is filled in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from futtock.errors import Unreadable
from futtock.findings import Finding, Severity
from futtock.job.office.picture import inline
from futtock.job.office.rack import over_all
from futtock.job.office.said import show

if TYPE_CHECKING:
    from futtock.job.office.office import Sitting

TAPE_COLUMNS = (
    ("station", "along"),
    ("top left", "top, left"),
    ("top right", "top, right"),
    ("bottom left", "bottom, left"),
    ("bottom right", "bottom, right"),
    ("thickness", "thick"),
    ("grain 1", "grain"),
)
FLAW_COLUMNS = ("flaw", "face", "at", "across", "long", "wide")
FLAW_KINDS = ("knot", "check", "shake", "split", "rot", "sapwood", "bark", "pith", "hole", "insect")
_LINES = ("slab", "species", "unit", "moisture", "moisture date", "stack", "price", "note")


@dataclass(frozen=True)
class TapeTyped:
    """A slab by tape as it was typed, what it would be, and what is wrong with it."""

    values: Mapping[str, str]
    rows: tuple[Mapping[str, str], ...]
    flaws: tuple[Mapping[str, str], ...]
    picture: str = ""
    findings: tuple[Finding, ...] = ()
    good: bool = False
    figures: tuple[tuple[str, str, str], ...] = field(default=())


def tape_blank(sitting: Sitting) -> TapeTyped:
    """An empty form, with a station a foot or 300 mm."""
    from futtock.stock.tape_form import tape_form

    job = sitting.need("papers")
    form = tape_form(species=job.stated.vessel.timber.species, style=job.stated.vessel.show)
    rows = tuple({"station": s} for s in form.stations[:12])
    return TapeTyped(dict(form.lines), rows, ({}, {}, {}))


def tape_typed(sitting: Sitting, form: Mapping[str, str], *, keep: bool) -> TapeTyped:
    """The slab that a filled form means, drawn; put on the rack where ``keep`` and it is good.

    What is typed comes back whatever is wrong with it.
    """
    from futtock.drawing.slab import slab_picture
    from futtock.stock.rack import added
    from futtock.stock.tape import read_tape_rows
    from futtock.stock.taped import taped_slab
    from futtock.vessel.grid import GridRow

    job = sitting.need("papers")
    values = {k: form.get(k, "").strip() for k in _LINES}
    rows = _typed(form, "row", [k for k, _ in TAPE_COLUMNS], 40)
    flaws = _typed(form, "flaw", FLAW_COLUMNS, 12)
    grid = [[k, v] for k, v in values.items() if v]
    columns = [k for k, _ in TAPE_COLUMNS if k == "station" or any(r.get(k) for r in rows)]
    grid.append(columns)
    grid += [[r.get(k, "") for k in columns] for r in rows if any(r.get(k) for k in columns[1:])]
    marked = [f for f in flaws if f.get("at")]
    if marked:
        grid.append(list(FLAW_COLUMNS))
        grid += [[f.get(k, "") for k in FLAW_COLUMNS] for f in marked]
    read = [GridRow(k, tuple(row)) for k, row in enumerate(grid, 1)]
    records, found = read_tape_rows(read, "the form", values.get("unit") or "mm")
    findings = list(found)
    slab = None
    if records:
        slab, more = taped_slab(records[0])
        findings += more
    drawn = ""
    figures: tuple[tuple[str, str, str], ...] = ()
    if slab is not None:
        drawn = inline(slab_picture(slab, (), {}, grain=True))
        long, wide = over_all(slab)
        style = job.stated.vessel.show
        figures = (
            (show(long, style), "", "long over all"),
            (show(wide, style), "", "wide over all"),
            (show(slab.thickness_mm, style), "", "thick"),
        )
        try:
            rack = added(job.rack, slab)
        except Unreadable as error:
            findings += error.findings
            slab = None
        else:
            if keep:
                from futtock.job.rack import keep as written

                written(job.folder, rack, 1)
    good = slab is not None and not any(f.severity is Severity.FAULT for f in findings)
    return TapeTyped(values, rows, flaws, drawn, tuple(findings), good, figures)


def _typed(
    form: Mapping[str, str], prefix: str, keys: Sequence[str], most: int
) -> tuple[Mapping[str, str], ...]:
    """The rows of a form's table: fields are called ``row-3-top left``."""
    out = []
    for k in range(most):
        row = {key: form.get(f"{prefix}-{k}-{key}", "").strip() for key in keys}
        if any(f"{prefix}-{k}-{key}" in form for key in keys):
            out.append(row)
    return tuple(out)
