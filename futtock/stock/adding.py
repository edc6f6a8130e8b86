"""Adding to the rack what was measured by tape or photographed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from futtock.errors import Unreadable
from futtock.findings import Finding, Severity
from futtock.progress import Report, quiet
from futtock.stock.rack import Rack, added
from futtock.stock.slab import Slab
from futtock.stock.tape import read_tape
from futtock.stock.taped import taped_slab
from futtock.vessel.papers import Papers

if TYPE_CHECKING:
    from futtock.stock.photo.correction import Touch
    from futtock.stock.photo.photograph import Photographed, PhotoSettings

_QUALITY = 88


@dataclass(frozen=True, slots=True)
class Addition:
    """A rack with what was added to it, and what was noticed on the way."""

    rack: Rack
    slabs: tuple[Slab, ...]
    findings: tuple[Finding, ...]

    @property
    def complete(self) -> bool:
        """True where nothing in the file was left off the rack."""
        return not any(f.severity is Severity.FAULT for f in self.findings)


def add_taped(rack: Rack, papers: Papers, file: str, unit: str = "mm") -> Addition:
    """The rack with the slabs of a tape record added.

    A slab that cannot be made, or whose name is taken, is left off with its findings; the others
    are added. Nothing is written.
    """
    records, findings = read_tape(papers, file, unit)
    noticed, new = list(findings), []
    for record in records:
        slab, found = taped_slab(record)
        noticed += found
        if slab is None:
            continue
        try:
            more = added(rack, slab)
        except Unreadable as trouble:
            noticed += trouble.findings
            continue
        noticed += more.findings[len(rack.findings) :]
        rack = more
        new.append(more.slabs[-1])
    return Addition(rack, tuple(new), tuple(noticed))


@dataclass(frozen=True, slots=True)
class PhotoAddition:
    """A slab by photograph, the rack with it, its portrait as a JPEG file, and what was noticed.

    ``tied_by`` are the cards that tied its other face; None where none was photographed.
    """

    rack: Rack
    slab: Slab
    portrait_jpeg: bytes
    photographed: Photographed
    findings: tuple[Finding, ...]
    tied_by: tuple[int, ...] | None = None


def add_photographed(
    rack: Rack,
    content: bytes,
    named: Slab,
    settings: PhotoSettings | None = None,
    touches: Iterable[Touch] = (),
    file: str = "photo",
    report: Report = quiet,
    below: tuple[str, bytes] | None = None,
) -> PhotoAddition:
    """The rack with a photographed slab added.

    Parameters
    ----------
    content
        The picture file.
    named
        What is known of the slab apart from the picture: name, species, thickness, moisture,
        stack, the file its portrait will be kept under. Its outlines are not used.
    touches
        Corrections, in the axes of the portrait, applied before it is added.
    below
        Name and content of a photograph of the other face, the slab turned over. The taped
        distance is not its own: cards laid anew lie elsewhere.

    Raises
    ------
    Unreadable
        As :func:`futtock.stock.photo.photograph.photograph`, or where the name is taken. Nothing
        is written either way.
    """
    import cv2

    from futtock.stock.photo.correction import corrected
    from futtock.stock.photo.faces import both_faces, tie_by_cards
    from futtock.stock.photo.photograph import PhotoSettings, photo_slab, photograph

    settings = settings or PhotoSettings()
    got = photograph(content, settings, file, report)
    marks, refused = corrected(got.marks(settings.accept), touches, got.portrait)
    noticed = [*got.findings, *refused]
    bottom = whole = tied_by = None
    if below is not None:
        other = photograph(below[1], replace(settings, taped=None, by_hand=None), below[0], report)
        under = other.marks(settings.accept)
        tie, tied_by, untied = tie_by_cards(
            other.cards_mm, got.cards_mm, under.whole_mm, marks.whole_mm
        )
        bottom, whole, flaws = both_faces(marks, under, tie)
        marks = replace(marks, flaws=flaws)
        noticed += [*other.findings, *untied]
    origin, scale = got.portrait.origin_mm, got.portrait.mm_per_px
    slab = photo_slab(
        named.name,
        named.species,
        named.thickness_mm,
        marks,
        bottom,
        whole,
        moisture_percent=named.moisture_percent,
        moisture_date=named.moisture_date,
        stack=named.stack,
        price=named.price,
        note=named.note,
        portrait=named.portrait,
        portrait_at=(origin[0], origin[1], scale) if named.portrait else None,
    )
    more = added(rack, slab)
    noticed += more.findings[len(rack.findings) :]
    done, packed = cv2.imencode(".jpg", got.portrait.picture, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])
    jpeg = packed.tobytes() if done else b""
    return PhotoAddition(more, more.slabs[-1], jpeg, got, tuple(noticed), tied_by)
