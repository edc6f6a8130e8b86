"""The other face of a photographed slab: tied to the first, and put on the rack with it."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Unreadable
from futtock.findings import Finding

if TYPE_CHECKING:
    from futtock.job.whole import Job
    from futtock.stock.photo.correction import Marks
    from futtock.stock.photo.faces import Tie

Array = NDArray[np.float64]

WANE = ("station", "wane left", "wane right")
WANE_ROWS = 6


@dataclass(frozen=True)
class OtherFace:
    """The other face as it lies under the first: its rings as SVG points, and how well it fits."""

    id: str
    whole: str
    sound: str
    says: str
    flaws: int
    findings: tuple[Finding, ...]


def second_of(place: Path) -> str | None:
    """The id of the photograph of the other face; None where there is none."""
    try:
        return str(json.loads((place / "second.json").read_text("utf-8"))["id"])
    except (OSError, ValueError, KeyError):
        return None


def named_corners(touches: Sequence[Mapping[str, Any]]) -> Array:
    """Points that a person named for the tie, in order (n, 2)."""
    from futtock.stock.photo import correction

    return correction.named_corners(correction.read_touches(touches))


def other_face(
    first: Path,
    second: Path,
    marks: Marks,
    touches: Sequence[Mapping[str, Any]],
    line: Callable[[Array], str],
) -> OtherFace:
    """How the other face lies under the first, whose marks and touches these are."""
    below, tie, how, findings = _tied(first, second, marks, touches)
    return OtherFace(
        second.name,
        line(tie.lay(below.whole_mm)),
        line(tie.lay(below.sound_mm)),
        f"The other face is tied {how}, {tie.off_mm:.1f} mm off on the mean.",
        len(below.flaws),
        findings,
    )


def kept(
    first: Path, second: Path, marks: Marks, touches: Sequence[Mapping[str, Any]]
) -> dict[str, Any]:
    """What the other face adds to the slab: its outlines below, and the flaws of both."""
    from futtock.stock.photo.faces import both_faces

    below, tie, _, _ = _tied(first, second, marks, touches)
    sound, whole, flaws = both_faces(marks, below, tie)
    return {"bottom_mm": sound, "face_bottom_mm": whole, "flaws": flaws}


def second_by_tape(
    job: Job, said: Mapping[str, str], name: str, marks: Marks
) -> dict[str, Array] | None:
    """The bottom's outlines by the wane widths of a filled form; None where none was typed.

    ``wane-0-station``, ``wane-0-wane left`` and so on are its cells; ``butt`` says at which end of
    the portrait the tape began, ``left`` or ``right``.

    Raises
    ------
    Unreadable
        Where a cell cannot be read, or the widths cannot be.
    """
    from futtock.job.by_hand import wane_in
    from futtock.stock.tape import read_tape_rows
    from futtock.stock.wane import below_by_wane
    from futtock.vessel.grid import GridRow

    cells = [[said.get(f"wane-{k}-{c}", "").strip() for c in WANE] for k in range(WANE_ROWS)]
    cells = [row for row in cells if any(row[1:])]
    if not cells:
        return None
    unit = "in" if job.stated.vessel.show == "imperial" else "mm"
    rows = [("slab", name), WANE, *map(tuple, cells)]
    records, found = read_tape_rows([GridRow(k, r) for k, r in enumerate(rows)], "wane", unit)
    wane = wane_in(records, found, name)
    rings = (marks.sound_mm, marks.whole_mm)
    turned = said.get("butt") == "right"
    (bottom, whole), odd = below_by_wane(rings, wane, marks.whole_mm, turned, name)
    if odd:
        raise Unreadable(odd[0].message, odd)
    return {"bottom_mm": bottom, "face_bottom_mm": whole}


def _tied(
    first: Path, second: Path, marks: Marks, touches: Sequence[Mapping[str, Any]]
) -> tuple[Marks, Tie, str, tuple[Finding, ...]]:
    """The other face's marks, the tie, what made it, and what was noticed."""
    from futtock.job.office.photo import cards_of, marks_of
    from futtock.stock.photo.faces import tie_faces

    below, theirs = marks_of(second)
    cards = cards_of(second), cards_of(first)
    corners = named_corners(theirs), named_corners(touches)
    return below, *tie_faces(below, marks, cards, corners)
