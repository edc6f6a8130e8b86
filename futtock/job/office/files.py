"""Files that the pages hand out: sheets to print, patterns, the vessel in space."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from futtock.errors import Misused

if TYPE_CHECKING:
    from futtock.drawing.heading import Heading
    from futtock.job.office.office import Sitting
    from futtock.job.whole import Job
    from futtock.moulds.mould import Mould
    from futtock.sheet.sheet import Sheet

PDF, DXF, SVG, GLB = "application/pdf", "image/vnd.dxf", "image/svg+xml", "model/gltf-binary"
PAPERS = ("A4", "A3", "A2", "A1", "A0", "Letter", "Tabloid")


@dataclass(frozen=True)
class Made:
    """A file made: its name, what kind it is, its content."""

    name: str
    kind: str
    content: bytes


def mould_of(job: Job, mark: str) -> Mould:
    """The mould of that mark; Misused where there is none."""
    for mould in job.moulds:
        if mould.mark == mark:
            return mould
    raise Misused(f"There is no timber {mark[:40]}.")


def frame_pdf(sitting: Sitting, number: int) -> Made:
    """Drawing, traveller, bevel board, floor and holes of one frame."""
    from futtock.job.office.frames import frame_of
    from futtock.job.office.works import laid_on
    from futtock.job.papers import frame_sheets
    from futtock.job.title import heading
    from futtock.sheet.pdf import pdf

    job = sitting.need("papers", "frames", "moulds")
    frame = frame_of(job, number)
    with sitting.drawing:
        named = frame_sheets(job, frame, heading(job), laid_on(job))
        pages = [sheet for _, sheets in named for sheet in sheets]
        return Made(f"frame-{number}.pdf", PDF, pdf(pages))


def slab_pdf(sitting: Sitting, name: str) -> Made:
    """A slab's sheet with what is laid out on it."""
    from futtock.drawing.slab import slab_sheet
    from futtock.job.office.rack import accepted
    from futtock.job.portraits import ground
    from futtock.job.title import heading
    from futtock.job.written import file_name
    from futtock.sheet.pdf import pdf

    job = sitting.need("papers", "frames", "moulds")
    slab = job.rack[name]
    moulds = {m.mark: m for m in job.moulds}
    here = [p for p in accepted(job) if p.slab == name and p.mark in moulds]
    with sitting.drawing:
        slab, portrait = ground(job.folder, slab)
        sheet = slab_sheet(slab, here, moulds, heading(job), portrait=portrait)
        return Made(f"slab-{file_name(name)}.pdf", PDF, pdf([sheet]))


def cards_pdf(sitting: Sitting) -> Made:
    """Eight cards to lay beside a slab that is photographed."""
    from futtock.drawing.cards import card_sheets
    from futtock.job.title import heading
    from futtock.sheet.pdf import pdf

    job = sitting.need("papers")
    return Made("cards.pdf", PDF, pdf(card_sheets(tuple(range(8)), heading(job))))


def mould_file(sitting: Sitting, mark: str, form: str, scale: float = 1.0, paper: str = "") -> Made:
    """One mould as ``pdf``, ``dxf``, ``svg`` or ``tiles``, at full size or 1 to ``scale``.

    Raises
    ------
    Misused
        For a form, a scale or a paper that is not known.
    """
    from futtock.drawing.mould import mould_group, mould_outline, mould_sheet
    from futtock.job.title import heading
    from futtock.job.written import file_name
    from futtock.sheet.dxf import dxf
    from futtock.sheet.pdf import pdf
    from futtock.sheet.svg import svg
    from futtock.sheet.tiles import tiled

    job = sitting.need("papers", "frames", "moulds")
    mould, head = mould_of(job, mark), heading(job)
    if not 1.0 <= scale <= 100.0:
        raise Misused(f"A scale of 1 to {scale:g}: expected 1 to 100.")
    name = file_name(mark)
    with sitting.drawing:
        if form == "tiles":
            if paper not in PAPERS:
                raise Misused(f"Paper '{paper[:20]}': expected one of {', '.join(PAPERS)}.")
            stretch = job.sound.vessel.moulds.stretch
            pages = tiled(mould_group(mould, head), paper, stretch=stretch).pages
            return Made(f"{name}-{paper}-tiles.pdf", PDF, pdf(pages))
        if form == "dxf":
            return Made(f"{name}.dxf", DXF, dxf(mould_outline(mould, head)))
        if form == "svg":
            return Made(f"{name}.svg", SVG, svg(mould_outline(mould, head)).encode())
        if form == "pdf":
            sheet = mould_sheet(mould, head)
            if scale == 1.0:
                return Made(f"{name}.pdf", PDF, pdf([sheet]))
            return Made(f"{name}-1-to-{scale:g}.pdf", PDF, pdf([_smaller(mould, head, scale)]))
    raise Misused(f"'{form[:20]}' is none of pdf, dxf, svg, tiles.")


def _smaller(mould: Mould, head: Heading, scale: float) -> Sheet:
    from futtock.drawing.heading import Scale, titled
    from futtock.drawing.mould import mould_items
    from futtock.sheet.items import Move, moved

    by = Move(sx=1.0 / scale, sy=1.0 / scale)
    items = [moved(i, by) for i in mould_items(mould, head)]
    said = Scale(scale, f"1 to {scale:g}, not for use as a pattern")
    return titled(mould.mark, items, head, f"Mould {mould.mark}", said)


def glb(sitting: Sitting, frame: int = 0, wood: bool = False) -> Made:
    """The hull with her frames' timbers, or one frame's timbers alone.

    With ``wood`` the timbers that are laid out know where they lie on their slabs' pictures.
    """
    from futtock.export.gltf import glb as written
    from futtock.job.office.frames import frame_of
    from futtock.job.office.rack import accepted
    from futtock.job.office.wood import wood_of

    job = sitting.need("papers", "frames", "moulds", "hull")

    def make() -> bytes:
        if frame:
            one = frame_of(job, frame)
            return written([one], [m for m in job.moulds if m.frame == frame], on_wood=on)
        return written(job.framing.frames, job.moulds, job.fairing.hull, on_wood=on)

    laid = tuple((p.mark, p.slab, p.turn_deg, p.shift_mm) for p in accepted(job)) if wood else ()
    on = wood_of(job) if wood else None
    return Made("vessel.glb", GLB, sitting.drawn(("glb", frame, laid), make))
