"""The accepted layout as the vessel folder holds it: where each timber lies, and wood spent."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from futtock.errors import Unreadable
from futtock.findings import Kind, Severity

if TYPE_CHECKING:
    from futtock.layout.placement import Placement

ACCEPTED = "layout.json"
SPENT = "spent"
"""Key of ``layout.json``: wood gone with timbers that were spoiled, each with its entry's id."""

BAD_LAYOUT = Kind(
    "J010",
    Severity.FAULT,
    "The accepted layout cannot be read",
    "Mend layout.json or move it away, and lay the timbers out again.",
)


@dataclass(frozen=True, slots=True)
class Accepted:
    """What ``layout.json`` says: placements, and the wood spent, by the spoiling's id."""

    placements: tuple[Placement, ...] = ()
    spent: Mapping[str, Placement] = field(default_factory=dict)


def read_accepted(folder: Path) -> Accepted:
    """The accepted layout of a vessel folder; an empty one where there is no such file.

    Raises
    ------
    Unreadable
        Where the file is no layout.
    """
    from futtock.layout.document import placements_from_json

    path = folder / ACCEPTED
    if not path.is_file():
        return Accepted()
    try:
        document = json.loads(path.read_text("utf-8"))
        spent = document.get(SPENT, ())
        lay_there = placements_from_json({"placements": spent})
        by_id = {str(e["id"]): p for e, p in zip(spent, lay_there, strict=True)}
        return Accepted(placements_from_json(document), by_id)
    except (OSError, ValueError, KeyError, TypeError, IndexError, AttributeError) as error:
        said = f"{ACCEPTED} cannot be read: {error}."
        raise Unreadable(said, [BAD_LAYOUT.found(said, file=ACCEPTED)]) from None
