"""The book's page: what can be made to print and to keep, and what is made."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from futtock.job.office.office import Office
    from futtock.job.office.tasks import Running

_KINDS = (
    ("book", "Shop book", "Everything of her in one book: lines, offsets, frames, timbers, log."),
    ("patterns", "Patterns", "Every mould full size: PDF, DXF, SVG, one roll, and tiles."),
    ("sheets", "Working sheets", "Frames, travellers, bevel boards, holes, saw sheets and strips."),
    ("slabs", "Slabs", "A sheet of every slab with what is laid out on it."),
)


@dataclass(frozen=True)
class Paper:
    """One thing that can be made."""

    kind: str
    name: str
    about: str
    running: Running | None
    file: str
    size: str
    stale: bool
    failed: str


def papers_view(office: Office) -> tuple[Paper, ...]:
    """Everything that can be made."""
    sitting = office.sitting()
    revision = sitting.need("papers").revision
    out = []
    for kind, name, about in _KINDS:
        found = office.tasks.outcome(kind)
        document = {} if found is None or found.document is None else found.document
        file = str(document.get("file", ""))
        there = bool(file) and office.tasks.made(file) is not None
        size = f"{int(document.get('bytes', 0)) / 1e6:.1f} MB"
        if "files" in document:
            size = f"{document['files']} files, {size}"
        out.append(
            Paper(
                kind,
                name,
                about,
                office.tasks.running(kind),
                file if there else "",
                size,
                found is not None and found.revision != revision,
                "" if found is None else found.failed,
            )
        )
    return tuple(out)
