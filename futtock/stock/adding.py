"""Adding to the rack what was measured by tape or photographed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from futtock.errors import Misused, Unreadable
from futtock.findings import Finding, Severity
from futtock.progress import Report, quiet
from futtock.stock.rack import Rack, added
from futtock.stock.slab import Slab
from futtock.stock.tape import read_tape
from futtock.stock.taped import taped_slab
from futtock.vessel.papers import Papers

if TYPE_CHECKING:
    from futtock.stock.photo.by_hand import ByHand
    from futtock.stock.photo.correction import Marks
    from futtock.stock.photo.photograph import Photographed, PhotoSettings
    from futtock.stock.wane import Wane

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

    ``other`` says in words how its other face is known; empty where it is not.
    """

    rack: Rack
    slab: Slab
    portrait_jpeg: bytes
    photographed: Photographed
    findings: tuple[Finding, ...]
    other: str = ""


def add_photographed(
    rack: Rack,
    content: bytes,
    named: Slab,
    settings: PhotoSettings | None = None,
    hand: ByHand | None = None,
    file: str = "photo",
    report: Report = quiet,
    below: tuple[str, bytes] | None = None,
    wane: Wane | None = None,
    butt_card: int | None = None,
) -> PhotoAddition:
    """The rack with a photographed slab added.

    Parameters
    ----------
    content
        The picture file.
    named
        What is known of the slab apart from the picture: name, species, thickness, moisture,
        stack, the file its portrait will be kept under. Its outlines are not used.
    hand
        Corrections, in the axes of each face's portrait, applied before it is added, and cards
        set by hand.
    below
        Name and content of a photograph of the other face, the slab turned over. The taped
        distance is not its own: cards laid anew lie elsewhere.
    wane
        Widths by tape in its stead: how much wider the bottom is.
    butt_card
        With ``wane``: the card nearest the end where the tape began; without it the broader end is
        taken for the butt.

    Raises
    ------
    Misused
        Where no such card is in the picture.
    Unreadable
        As :func:`futtock.stock.photo.photograph.photograph`, or where the name is taken. Nothing
        is written either way.
    """
    from futtock.stock.photo.photograph import PhotoSettings, photograph

    settings = settings or PhotoSettings()
    if hand is not None and hand.cards:
        settings = replace(settings, by_hand={**(settings.by_hand or {}), **hand.cards})
    got, other = photograph(content, settings, file, report), None
    if below is not None:
        other = photograph(below[1], replace(settings, taped=None, by_hand=None), below[0], report)
    return add_read(rack, got, named, hand, other, wane, butt_card, accept=settings.accept)


def add_read(
    rack: Rack,
    got: Photographed,
    named: Slab,
    hand: ByHand | None = None,
    other: Photographed | None = None,
    wane: Wane | None = None,
    butt_card: int | None = None,
    *,
    accept: bool = False,
) -> PhotoAddition:
    """The same from photographs already read: ``got``, and ``other`` of the other face."""
    import cv2

    from futtock.stock.photo.by_hand import ByHand
    from futtock.stock.photo.correction import corrected, named_corners
    from futtock.stock.photo.faces import both_faces, tie_faces
    from futtock.stock.photo.photograph import photo_slab
    from futtock.stock.wane import below_by_wane

    hand = hand or ByHand()
    marks, refused = corrected(got.marks(accept), hand.top, got.portrait)
    noticed = [*got.findings, *refused]
    bottom, whole, how = None, None, ""
    if other is not None:
        under, refused = corrected(other.marks(accept), hand.bottom, other.portrait)
        tie, how, untied = tie_faces(
            under,
            marks,
            (other.cards_mm, got.cards_mm),
            (named_corners(hand.bottom), named_corners(hand.top)),
        )
        how = f"tied {how}, {tie.off_mm:.1f} mm off on the mean"
        bottom, whole, flaws = both_faces(marks, under, tie)
        marks = replace(marks, flaws=flaws)
        noticed += [*other.findings, *refused, *untied]
    elif wane is not None:
        from_right, end = _butt(got, marks, butt_card)
        how = f"by wane widths from the end {end}"
        (bottom, whole), odd = below_by_wane(
            (marks.sound_mm, marks.whole_mm), wane, marks.whole_mm, from_right, named.name
        )
        noticed += odd
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
    return PhotoAddition(more, more.slabs[-1], jpeg, got, tuple(noticed), how)


def _butt(got: Photographed, marks: Marks, card: int | None) -> tuple[bool, str]:
    """Whether the butt is the end at the portrait's right, and which end that is in words."""
    from futtock.stock.outline import middle_line

    low, high = float(marks.whole_mm[:, 0].min()), float(marks.whole_mm[:, 0].max())
    if card is None:
        from_right = bool(middle_line(marks.whole_mm)[0, 0] > (low + high) / 2.0)
        why = ", the broader, taken for the butt"
    elif card in got.cards_mm:
        from_right = bool(got.cards_mm[card][0] > (low + high) / 2.0)
        why = ""
    else:
        seen = ", ".join(map(str, sorted(got.cards_mm)))
        raise Misused(f"there is no card {card} in the picture to tell the butt by; seen: {seen}")
    end = high if from_right else low
    near = min(got.cards_mm, key=lambda n: abs(float(got.cards_mm[n][0]) - end))
    return from_right, f"by card {near}{why}"
