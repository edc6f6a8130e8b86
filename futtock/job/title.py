"""What stands in the title block of every paper, and the letters it is written in."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from futtock.findings import Finding, Kind, Severity
from futtock.job.door import traveller_link

if TYPE_CHECKING:
    from futtock.drawing.heading import Heading
    from futtock.job.whole import Job

UNWRITTEN = Kind(
    "J040",
    Severity.DOUBT,
    "No font at hand writes some signs of a name",
    "Name a TrueType font that does: --font FILE, or font in [moulds].",
)


def heading(job: Job) -> Heading:
    """What the title blocks say: her name, the date of the data, the revision of the papers."""
    from futtock.drawing.heading import Heading

    stated = job.stated
    if stated.vessel.moulds.font:
        use_font(stated.folder / stated.vessel.moulds.font)
    times = [(stated.folder / name).stat().st_mtime for name in stated.files]
    when = datetime.fromtimestamp(max(times), tz=UTC).date().isoformat() if times else ""
    link = traveller_link(job.folder)
    return Heading(stated.vessel.name, when, job.revision, stated.vessel.show, link=link)


def use_font(file: str | Path) -> None:
    """Let a font write what our own faces cannot, on everything drawn from now on.

    Raises
    ------
    Unreadable
        Where the file is no TrueType font.
    """
    from futtock.sheet.letters import add_font

    add_font(file)


def unwritten(job: Job) -> tuple[Finding, ...]:
    """A finding where no font at hand has signs of her name."""
    from futtock.sheet.items import Face
    from futtock.sheet.letters import lacking

    heading(job)
    name = job.stated.vessel.name
    signs = lacking(name, Face.FIGURES_BOLD)
    if not signs:
        return ()
    said = f"No font at hand writes {' '.join(signs)} of her name."
    return (UNWRITTEN.found(said, file="vessel.toml", line="vessel.name", read=name),)
