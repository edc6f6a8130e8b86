"""The whole job on Marram, an invented smack: every step, and a folder that shows them."""

from __future__ import annotations

import shutil
import time
from collections import Counter
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from futtock.job import accounts, documents
from futtock.job.answer import Answer
from futtock.job.pile import Pile
from futtock.job.title import heading
from futtock.job.whole import Job
from futtock.job.written import Written, file_name, write_pdf, write_picture
from futtock.measure import show, show_angle, show_mass
from futtock.progress import Report

if TYPE_CHECKING:
    from collections.abc import Sequence

    from futtock.layout.placement import Layout
    from futtock.sheet.sheet import Sheet

VESSEL = "vessel"
_SLABS_SHOWN = 12


@dataclass(frozen=True)
class Picture:
    """One drawing of a chapter: its SVG to show, its PDF to print."""

    title: str
    svg: str
    pdf: str
    about: str


@dataclass(frozen=True)
class Chapter:
    """One step of the job on the page: its answer, its figures, its drawings."""

    name: str
    answer: str
    figures: tuple[tuple[str, str, str], ...]
    pictures: tuple[Picture, ...]
    doubts: tuple[str, ...] = ()


def whole_demo(out: Path, report: Report, *, seconds: float) -> Answer:
    """Do the whole job on Marram; write its papers and ``index.html`` into ``out``."""
    from futtock.vessel import write_new

    began = time.perf_counter()
    folder = out / VESSEL
    # the demo's own folder is made afresh, so that what is shown is what was just computed
    if (folder / "vessel.toml").exists():
        shutil.rmtree(folder)
    write_new(folder, demo=True)
    job = Job(folder, report)
    slabs = job.slabs()
    layout = Pile(job, slabs).lay(seconds=seconds)
    written = Written(out)
    chapters = (
        _lines(job, written),
        _frames(job, written),
        _moulds(job, written),
        _layout(job, layout, written),
        _bench(job, written),
    )
    took = time.perf_counter() - began
    _page(job, chapters, layout, took, written)
    style = job.stated.vessel.show
    account = "\n\n".join(
        (
            accounts.faired(job.fairing, style),
            accounts.framed(job.framing, style),
            accounts.moulded(job.moulds, style),
            accounts.laid(layout, len(job.moulds), len(slabs), style),
            accounts.benched(
                job.saw_sheets, job.fastenings, sum(m.mass_kg for m in job.moulds), style
            ),
            f"{written.account} Open {out / 'index.html'} ({took:.0f} s).",
        )
    )
    document = {**documents.demo_document(job, layout, slabs), "files": written.files}
    return Answer(document, account)


def _draw(
    written: Written, name: str, title: str, sheets: Sequence[Sheet], shown: Sheet | None
) -> Picture:
    """Sheets to print, and what of them the page shows: a picture without border or title."""
    picture = shown or sheets[0]
    write_pdf(written, f"drawings/{name}", sheets)
    write_picture(written, f"drawings/{name}", picture)
    return Picture(title, f"drawings/{name}.svg", f"drawings/{name}.pdf", picture.about)


def _lines(job: Job, written: Written) -> Chapter:
    from futtock.drawing.lines_plan import lines_data, lines_picture, lines_plan

    fairing, style = job.fairing, job.stated.vessel.show
    head = heading(job)
    doubts = tuple(
        f"{p.line} at station {p.station}: the table says "
        f"{accounts.offset(p.given_mm, style)}; {p.likely or 'its neighbours say otherwise'}."
        for p in fairing.doubtful
    )
    figures = [
        (str(len(fairing.points)), "", "figures in the table"),
        (str(len(doubts)), "", "doubtful"),
        (f"{fairing.rms_mm:.2f}", "mm", "rms off the fair hull"),
    ]
    hydro = fairing.hydrostatics
    if hydro is not None:
        figures.append((f"{hydro.volume_m3:.2f}", "m³", "under the waterline"))
    data = lines_data(fairing.hull, job.table)
    plan = _draw(
        written, "lines-plan", "Lines plan", [lines_plan(data, head)], lines_picture(data, head)
    )
    answer = f"{accounts.counted(len(doubts), 'figure')} of her table look wrong; the rest is fair."
    return Chapter("Lines", answer, tuple(figures), (plan,), doubts)


def _frames(job: Job, written: Written) -> Chapter:
    from futtock.drawing.frame import frame_drawing, frame_picture
    from futtock.drawing.framing_plan import framing_picture, framing_plan

    framing, head = job.framing, heading(job)
    frames = framing.frames
    holes = {h.frame: h for h in job.holes}
    hull, water = job.fairing.hull, job.sound.vessel.lines.waterline_mm
    plan = framing_plan(hull, frames, head, waterline_mm=water)
    seen = framing_picture(hull, frames, waterline_mm=water)
    pictures = [_draw(written, "framing-plan", "Framing plan", [plan], seen)]
    for frame in (frames[len(frames) // 2], frames[len(frames) // 7]):
        at = [h.at_mm for h in holes[frame.number].holes]
        drawn = frame_drawing(frame, head, holes_mm=at, hole_mm=job.fastenings.bore_mm)
        name = f"frame-{frame.number}"
        pictures.append(
            _draw(written, name, f"Frame {frame.number}", [drawn], frame_picture(frame, head))
        )
    timbers = sum(len(f.timbers) for f in frames)
    figures = (
        (str(len(frames)), "", "double frames"),
        (str(timbers), "", "timbers"),
        (show_angle(framing.largest_lean_deg).rstrip("°"), "°", "largest bevel"),
    )
    answer = f"{accounts.counted(len(frames), 'double frame')} stand square to the base line."
    return Chapter("Frames", answer, figures, tuple(pictures))


def _moulds(job: Job, written: Written) -> Chapter:
    from futtock.drawing.half_pattern import half_pattern
    from futtock.drawing.mould import mould_group, mould_sheet

    head, style = heading(job), job.stated.vessel.show
    frame = job.framing.frames[len(job.framing.frames) // 2]
    mould = max((m for m in job.moulds if m.frame == frame.number), key=lambda m: m.length_mm)
    pictures = (
        _draw(
            written,
            f"mould-{mould.mark}",
            f"Mould {mould.mark}",
            [mould_sheet(mould, head)],
            mould_group(mould, head),
        ),
        _draw(
            written,
            f"pattern-{frame.number}",
            f"Half-frame pattern {frame.number}",
            [half_pattern(frame, head)],
            None,
        ),
    )
    own = sum(m.same_as is None for m in job.moulds)
    figures = (
        (str(own), "", "patterns; the other side is the pattern turned over"),
        (show_mass(sum(m.mass_kg for m in job.moulds), style), "", "finished timbers"),
    )
    answer = "Every timber has its mould, full size, both faces and the bevels of both edges."
    return Chapter("Moulds", answer, figures, pictures)


def _layout(job: Job, layout: Layout, written: Written) -> Chapter:
    from futtock.drawing.slab import slab_picture, slab_sheet

    head = heading(job)
    moulds = {m.mark: m for m in job.moulds}
    on = Counter(p.slab for p in layout.placements)
    fullest = sorted(on, key=lambda n: (-on[n], n))[:_SLABS_SHOWN]
    pictures = tuple(
        _draw(
            written,
            f"slab-{file_name(name)}",
            f"Slab {name}",
            [slab_sheet(job.rack[name], layout.placements, moulds, head)],
            slab_picture(job.rack[name], layout.placements, moulds),
        )
        for name in sorted(fullest)
    )
    placed, all_ = len(layout.placements), len(job.moulds)
    figures = (
        (str(placed), f"of {all_}", "timbers with a place"),
        (str(layout.slabs_used), f"of {len(job.rack.slabs)}", "slabs begun"),
        (f"{100 * layout.yield_:.1f}", "%", "yield of the slabs begun"),
        (f"{layout.bound.value:.1f}", "m²", "no layout can take less than this"),
    )
    answer = (
        f"{placed} of {all_} timbers have a place, on {layout.slabs_used} slabs, "
        "each with the grain along its curve."
    )
    return Chapter("Layout", answer, figures, pictures)


def _bench(job: Job, written: Written) -> Chapter:
    from futtock.drawing.saw_sheet import saw_page

    head, nails = heading(job), job.fastenings
    sheet = max(job.saw_sheets, key=lambda s: max(abs(m.left_deg) for c in s.cuts for m in c.marks))
    mould = next(m for m in job.moulds if m.mark == sheet.mark)
    drawn = saw_page(sheet, mould, head)
    pictures = (_draw(written, f"saw-{sheet.mark}", f"Saw sheet {sheet.mark}", drawn, None),)
    figures = (
        (str(len(job.saw_sheets)), "", "saw sheets"),
        (str(nails.holes), "", f"treenails of {show(nails.diameter_mm, job.stated.vessel.show)}"),
        (str(nails.wedges.count), "", "wedges"),
    )
    return Chapter("Saw and fastenings", "Every cut has its sheet.", figures, pictures)


def _page(
    job: Job,
    chapters: tuple[Chapter, ...],
    layout: Layout,
    took: float,
    written: Written,
) -> None:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    look = files("futtock.drawing") / "look" / "look.css"
    pages = Environment(
        loader=FileSystemLoader(str(files("futtock.job") / "pages")),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    frames = len(job.framing.frames)
    lead = (
        f"An invented 38 ft smack, from a table of offsets to {frames} double frames and the slabs "
        f"they come out of, computed in {took:.0f} seconds. Nobody has typed a result in."
    )
    placed, timbers = len(layout.placements), len(job.moulds)
    title = (
        f"Every one of {timbers} timbers has its place."
        if placed == timbers
        else f"{placed} of {timbers} timbers have a place."
    )
    html = pages.get_template("demo.html").render(
        vessel=job.sound.vessel.name, title=title, lead=lead, chapters=chapters
    )
    written.put("look.css", look.read_text(encoding="utf-8"))
    written.put("index.html", html)
