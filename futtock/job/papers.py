"""What the job writes into folders: drawings through the three writers, and small tables."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from futtock.errors import Unwritable
from futtock.job.accounts import counted, offset
from futtock.job.title import heading
from futtock.job.written import Written, file_name, write_pdf, write_sheet
from futtock.progress import Progress

if TYPE_CHECKING:
    from futtock.drawing.heading import Heading
    from futtock.framing.frame import Frame
    from futtock.job.whole import Job
    from futtock.layout.cutting import SlabPlan
    from futtock.layout.placement import Layout
    from futtock.lines.fair import Fairing
    from futtock.sheet.sheet import Sheet
    from futtock.stock.slab import Slab

DOUBTFUL = "doubtful.csv"


def write_doubtful(folder: Path, fairing: Fairing) -> None:
    """Write ``doubtful.csv``: each doubtful figure, what is likely, and the mend to consider.

    A folder that cannot be written is left as it is: the figures are in the answer too.
    """
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(["line", "station", "given", "fair", "mend", "why"])
    for p in fairing.doubtful:
        mend = "" if p.mend_mm is None else offset(p.mend_mm, "imperial")
        table.writerow(
            [
                p.line,
                p.station,
                offset(p.given_mm, "imperial"),
                offset(p.fair_mm, "imperial"),
                mend,
                p.likely or "",
            ]
        )
    try:
        Written(folder).put(DOUBTFUL, text.getvalue())
    except Unwritable:
        return


def write_lines(job: Job, out: Path) -> Written:
    """The lines plan, how the lines bend, where to measure more, and the faired table and ends."""
    from futtock.drawing.fairness import bend_sheet, measure_sheet, offsets_sheet
    from futtock.drawing.lines_plan import lines_data, lines_plan
    from futtock.lines.fairness import bends_of, known_over, where_to_measure
    from futtock.lines.sampled import Grid, sample_table, write_ends, write_table

    head, style = heading(job), job.sound.vessel.show
    written = Written(out)
    hull = job.fairing.hull
    data, known = lines_data(hull, job.table), known_over(hull)
    write_sheet(written, "lines-plan", [lines_plan(data, head)])
    write_sheet(written, "bends", [bend_sheet(bends_of(hull, job.table), data, head)])
    if known is not None:
        sheet = measure_sheet(known, where_to_measure(hull, most=3, times=1.0), data, head)
        write_sheet(written, "measure-more", [sheet])
    faired = sample_table(hull, Grid.of(job.table))
    write_sheet(written, "offsets-faired", [offsets_sheet(faired, head)])
    written.put("offsets-faired.csv", write_table(faired, style))
    if job.table.ends:
        written.put("ends-faired.csv", write_ends(job.table.ends, style))
    return written


def write_moulds(job: Job, out: Path, stretch: tuple[float, float] | None = None) -> Written:
    """Every timber full size as DXF, SVG and PDF, a roll of them all, and tiles of them all.

    ``stretch`` is what a check line printed here measures over its true length, across and up the
    page; None: as the vessel's folder states it.
    """
    from futtock.drawing.mould_look import MouldLook
    from futtock.drawing.mould_papers import every_half_pattern, every_mould, roll_and_tiles
    from futtock.moulds.sides import by_sides

    head, vessel = heading(job), job.sound.vessel
    look = MouldLook(allowance_mm=vessel.timber.rough_allowance_mm)
    written = Written(out)
    groups: list[Sheet] = []
    moulds, frames = job.moulds, by_sides(job.framing.frames, job.port_frames)
    steps = len(moulds) + len(frames)
    for done, paper in enumerate(every_mould(moulds, head, look=look)):
        if not job.report(Progress("patterns", done, steps, paper.mark)):
            return written
        name = file_name(paper.mark)
        written.put(f"{name}.dxf", paper.dxf)
        written.put(f"{name}.svg", paper.svg)
        written.put(f"{name}.pdf", paper.pdf)
        if paper.group is not None:
            groups.append(paper.group)
    for k, half in enumerate(every_half_pattern(frames, head)):
        if not job.report(Progress("patterns", len(moulds) + k, steps, f"frame {half.number}")):
            return written
        written.put(f"{half.name}.pdf", half.pdf)
        written.put(f"{half.name}.dxf", half.dxf)
    if not groups:
        return written
    asked = vessel.moulds
    many = roll_and_tiles(
        groups,
        asked.roll_mm,
        asked.paper,
        stretch=stretch or asked.stretch,
        report=job.report,
    )
    written.put("roll.pdf", many.roll)
    written.put("tiles.pdf", many.tiles)
    written.notes.append(
        f"The roll takes {many.roll_m:.1f} m of paper {asked.roll_mm:.0f} mm wide for "
        f"{counted(len(groups), 'mould')}; the tiles {many.tile_count} pages of {asked.paper}."
    )
    return written


def write_slabs(
    job: Job, out: Path, slabs: Sequence[Slab], layout: Layout | None = None
) -> Written:
    """A sheet of each slab with what is laid on it, over its portrait where it has one.

    With a layout, only of slabs begun, with the cutting plan drawn on each and written beside them.
    """
    from futtock.drawing.cutting_plan import cutting_plan_pages
    from futtock.drawing.slab import slab_sheet
    from futtock.job.pile import Pile
    from futtock.job.portraits import ground

    head = heading(job)
    moulds = {m.mark: m for m in job.moulds} if layout is not None else {}
    written = Written(out)
    plans: tuple[SlabPlan, ...] = ()
    if layout is not None:
        begun = {p.slab for p in layout.placements}
        slabs = [s for s in slabs if s.name in begun]
        plans = Pile(job, tuple(slabs)).cutting_plan(layout)
        if plans:
            write_pdf(written, "cutting-plan", cutting_plan_pages(plans, head))
    plan_of = {p.slab: p for p in plans}
    for done, slab in enumerate(slabs):
        if not job.report(Progress("slabs", done, len(slabs), slab.name)):
            break
        slab, portrait = ground(job.folder, slab)
        here = layout.placements if layout else ()
        plan = plan_of.get(slab.name)
        drawn = slab_sheet(slab, here, moulds, head, portrait=portrait, plan=plan)
        write_sheet(written, file_name(f"slab-{slab.name}"), [drawn])
    return written


def write_sheets(job: Job, out: Path) -> Written:
    """The working sheets: of each frame its drawing, traveller, bevel board and holes; saw sheets
    and strips in the order of sawing.
    """
    from futtock.bench.strip import saw_strips
    from futtock.drawing.saw_sheet import saw_page, strip_sheets
    from futtock.job.bench import write_lists
    from futtock.job.settings import saw_settings

    head = heading(job)
    written = Written(out)
    frames = job.framing.frames
    for done, frame in enumerate(frames):
        if not job.report(Progress("sheets", done, len(frames) + 2, f"frame {frame.number}")):
            return written
        for name, sheets in frame_sheets(job, frame, head, job.slab_names):
            write_sheet(written, f"frame-{frame.number}/{name}", sheets)
    moulds = {m.mark: m for m in job.moulds}
    pages = [page for s in job.saw_sheets for page in saw_page(s, moulds[s.mark], head)]
    write_pdf(written, "saw-sheets", pages)
    if not job.report(Progress("sheets", len(frames) + 1, len(frames) + 2, "saw strips")):
        return written
    saw = saw_settings(job.sound.vessel)
    strips = [strip for s in job.saw_sheets for strip in saw_strips(s, saw)]
    write_pdf(written, "saw-strips", strip_sheets(strips, head))
    write_lists(job, written)
    return written


def write_frames(job: Job, out: Path) -> Written:
    """Framing plan, body plan, bevel map, cants proposed, rabbet lines; of each frame its drawing
    and its standing sheet.
    """
    import numpy as np

    from futtock.drawing.body import frames_body
    from futtock.drawing.frame import frame_drawing
    from futtock.drawing.framing_plan import bevel_map, framing_plan
    from futtock.drawing.rabbet import rabbet_sheets
    from futtock.drawing.standing import standing_page
    from futtock.framing.rabbet import rabbet_lines
    from futtock.framing.standing import standing_sheets
    from futtock.moulds.sides import by_sides

    head, vessel = heading(job), job.sound.vessel
    written = Written(out)
    hull, frames, asked = job.fairing.hull, job.framing.frames, job.framing_settings
    plan = framing_plan(hull, frames, head, waterline_mm=vessel.lines.waterline_mm)
    write_sheet(written, "framing-plan", [plan])
    body = frames_body(frames, head, levels_mm=asked.levels_mm, diagonals=asked.diagonals)
    write_sheet(written, "body-plan", [body])
    write_sheet(written, "bevel-map", [bevel_map(frames, head)])
    if job.framing.cants:
        write_sheet(written, "cants", [_cants(job, head)])
    at = np.array([f.plane.x_mm for f in frames])
    rabbet = rabbet_lines(hull, at, asked.planking_mm, asked.strakes)
    write_pdf(written, "rabbet", rabbet_sheets(rabbet, head, names=[str(f.number) for f in frames]))
    standing = standing_sheets(frames, hull, asked)
    for done, (frame, sheet) in enumerate(zip(frames, standing, strict=True)):
        if not job.report(Progress("frames", done, len(frames), f"frame {frame.number}")):
            break
        for own, side in by_sides([frame], job.port_frames):
            drawn = frame_drawing(own, head, side=side)
            write_sheet(written, drawn.name, [drawn])
        write_pdf(written, f"standing-{frame.number}", [standing_page(frame, sheet, head)])
    return written


def _cants(job: Job, head: Heading) -> Sheet:
    """The frames from above as they stand square and as they would stand canted."""
    from dataclasses import replace

    from futtock.drawing.cants import cants_plan
    from futtock.framing.build import frame_hull
    from futtock.framing.cants import plan_views

    cants = job.framing.cants
    turned = replace(job.framing_settings, cants=tuple((c.frame, c.angle_deg) for c in cants))
    canted = frame_hull(job.fairing.hull, turned, job.report)
    return cants_plan(plan_views(job.framing.frames), plan_views(canted.frames), cants, head)


def frame_sheets(
    job: Job, frame: Frame, head: Heading, slabs: Mapping[str, str] | None = None
) -> Iterator[tuple[str, list[Sheet]]]:
    """The sheets that belong to one frame, by name; ``slabs`` by piece mark where laid out."""
    from futtock.drawing.bevel_board import bevel_board
    from futtock.drawing.code import code_text
    from futtock.drawing.floor import floor_drawing, hole_template
    from futtock.drawing.frame import frame_drawing
    from futtock.drawing.traveller import traveller
    from futtock.measure import show_angle
    from futtock.moulds.sides import by_sides
    from futtock.yard.stages import STAGES

    holes = next(h for h in job.holes if h.frame == frame.number)
    bore = job.fastenings.bore_mm
    at = [h.at_mm for h in holes.holes]
    drawn = [
        frame_drawing(own, head, holes_mm=at, hole_mm=bore, side=side)
        for own, side in by_sides([frame], job.port_frames)
    ]
    lean = max(float(abs(f.lean_deg).max()) for f in (frame.forward, frame.joint, frame.aft))
    cards = [
        traveller(
            frame,
            head,
            link=code_text(str(frame.number), job.revision, head.link),
            stages=STAGES,
            side=side,
            weight_kg=next(w.mass_kg for w in job.weights.frames if w.frame == frame.number),
            largest_bevel=show_angle(lean),
        )
        for side in job.travellers(frame, slabs or {})
    ]
    yield "drawing", drawn
    yield "traveller", cards
    yield "bevel-board", [bevel_board(frame, head)]
    checks = job.checks(frame)
    yield "floor", [floor_drawing(frame, head, holes, bore_mm=bore, checks=checks)]
    yield "holes", [hole_template(frame, holes, head, bore)]
