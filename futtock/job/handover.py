"""What the yard hands over: the shop book, the workbook, the 3-D model."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from futtock import reference
from futtock.job.accepted import read_accepted
from futtock.job.title import heading
from futtock.job.written import Written

if TYPE_CHECKING:
    from futtock.drawing.book import Book
    from futtock.findings import Finding
    from futtock.job.whole import Job
    from futtock.layout.placement import Layout

_CITED = ("treenail_rules", "hull_rules", "bandsaw", "safety_limits")


def write_book(job: Job, written: Written, findings: Sequence[Finding]) -> None:
    """The shop book, ``shop-book.pdf``."""
    from futtock.drawing.book import shop_book
    from futtock.sheet.pdf import pdf

    made = shop_book(_book(job, tuple(findings)), job.report)
    title = f"{job.sound.vessel.name}: shop book"
    written.put("shop-book.pdf", pdf(made.pages, title=title, contents=made.contents))


def write_workbook(job: Job, written: Written) -> None:
    """Framing list, bevels, timbers and moulds as ``workbook.xlsx``."""
    from futtock.export.workbook import workbook

    holes = {h.frame: h for h in job.holes}
    frames, head = job.framing.frames, heading(job)
    written.put(
        "workbook.xlsx", workbook(frames, job.moulds, head, layout=accepted(job), holes=holes)
    )


def write_models(job: Job, written: Written) -> None:
    """Hull and framed timbers as ``framed.glb``; with the ``cad`` extra the timbers as STEP too."""
    from futtock.export import step
    from futtock.export.gltf import glb

    frames, head = job.framing.frames, heading(job)
    written.put("framed.glb", glb(frames, job.moulds, job.fairing.hull, job.report))
    if step.available():
        solids = step.step(
            frames, job.moulds, vessel=head.vessel, date=head.date, report=job.report
        )
        written.put("timbers.step", solids)


def accepted(job: Job) -> Layout | None:
    """The accepted layout of ``layout.json`` for what is only shown; None where there is none."""
    from futtock.layout.placement import Bound, Layout

    hers = {m.mark for m in job.moulds}
    placements = tuple(p for p in read_accepted(job.folder).placements if p.mark in hers)
    if not placements:
        return None
    placed = {p.mark for p in placements}
    left = tuple(m.mark for m in job.moulds if m.mark not in placed)
    used = len({p.slab for p in placements})
    return Layout(placements, left, used, 0.0, Bound("", 0.0, 0.0), 0.0)


def _book(job: Job, findings: tuple[Finding, ...]) -> Book:
    from futtock.drawing.book import Book
    from futtock.drawing.lines_plan import lines_data

    fairing = None if job.from_patterns else job.fairing
    layout = accepted(job)
    return Book(
        heading(job),
        hull=fairing.hull if fairing else None,
        lines=lines_data(fairing.hull, job.table) if fairing else None,
        points=fairing.points if fairing else (),
        hydrostatics=fairing.hydrostatics if fairing else None,
        frames=job.framing.frames,
        moulds=job.moulds,
        layout=layout,
        slabs={s.name: s for s in job.rack.slabs},
        holes={h.frame: h for h in job.holes},
        fastenings=job.fastenings,
        findings=findings,
        stated=_stated(job),
        sources=_sources(),
        log=_log(job),
    )


def _stated(job: Job) -> tuple[tuple[str, str], ...]:
    """The builder's own statements as vessel.toml has them."""
    import tomllib

    text = (job.folder / "vessel.toml").read_text("utf-8")
    rows: list[tuple[str, str]] = []

    def walk(name: str, value: Any) -> None:
        if isinstance(value, dict):
            for key, inner in value.items():
                walk(f"{name} {key}".strip(), inner)
        else:
            rows.append((name, str(value)))

    walk("", tomllib.loads(text))
    return tuple(rows)


def _sources() -> tuple[str, ...]:
    """Sources of the published figures behind the sheets, each once."""
    seen: dict[str, None] = {}
    for table in _CITED:
        for row in reference.rows(table):
            source = row.get("source", "")
            if source and not source.lower().startswith("as "):
                seen.setdefault(source)
    return tuple(seen)


def _log(job: Job) -> tuple[tuple[str, str, str, str, str], ...]:
    from futtock.yard import Journal, place_of

    place = place_of(job.folder)
    if isinstance(place, Path) and not place.exists():
        return ()
    with Journal(place, create=False) as journal:
        events = journal.events()
    return tuple((e.mark, e.slab or "", e.stage, e.who, e.at[:10]) for e in events)
