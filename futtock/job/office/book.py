"""The shop book of everything that is known of a job."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from futtock.job.whole import Job


def made_book(job: Job) -> bytes:
    """The shop book as PDF."""
    from futtock.drawing.book import Book, shop_book
    from futtock.drawing.lines_plan import lines_data
    from futtock.job.office.rack import accepted
    from futtock.job.title import heading
    from futtock.layout.placement import Bound, Layout
    from futtock.sheet.pdf import pdf

    fairing = job.fairing
    laid = accepted(job)
    used = {p.slab for p in laid}
    marks = {p.mark for p in laid}
    layout = Layout(
        laid,
        tuple(m.mark for m in job.moulds if m.mark not in marks),
        len(used),
        0.0,
        Bound("", 0.0, 0.0),
        0.0,
    )
    book = Book(
        heading=heading(job),
        hull=fairing.hull,
        lines=lines_data(fairing.hull, job.table),
        points=fairing.points,
        hydrostatics=fairing.hydrostatics,
        frames=job.framing.frames,
        moulds=job.moulds,
        layout=layout if laid else None,
        slabs={s.name: s for s in job.rack.slabs},
        holes={h.frame: h for h in job.holes},
        fastenings=job.fastenings,
        findings=(*job.stated_findings, *job.lines_findings, *job.framing.findings),
        stated=_stated(job.sound.vessel.model_dump(by_alias=True)),
        log=_log(job),
    )
    flowed = shop_book(book, job.report)
    return pdf(flowed.pages, title=flowed.pages[0].title, contents=flowed.contents)


def _stated(tree: dict[str, Any], before: str = "") -> tuple[tuple[str, str], ...]:
    out: list[tuple[str, str]] = []
    for key, value in tree.items():
        name = f"{before}{key}"
        if isinstance(value, dict):
            out += _stated(value, f"{name}.")
        elif value not in (None, "", (), []):
            out.append((name, str(value)))
    return tuple(out)


def _log(job: Job) -> tuple[tuple[str, str, str, str, str], ...]:
    from futtock.job.office.works import events

    return tuple(
        (e.mark, str(e.body.get("slab", "")), e.stage, e.who, e.at[:10]) for e in events(job.folder)
    )
