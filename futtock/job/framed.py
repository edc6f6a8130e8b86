"""What goes with the frames: standing sheets, rabbet lines, the bevel map, cants as proposed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from futtock.errors import Misused

if TYPE_CHECKING:
    from futtock.findings import Finding
    from futtock.framing.cants import PlanView
    from futtock.framing.rabbet import RabbetLines
    from futtock.framing.standing import StandingSheet
    from futtock.job.whole import Job


@dataclass(frozen=True)
class FramingTables:
    """Tables of all frames, forward to aft.

    ``rabbet`` is None where she was measured inside her planking and the half-breadth of her rabbet
    is not known. ``views`` are her frames from above as they stand, ``canted`` as they would with
    the cants proposed; empty where none is.
    """

    standing: tuple[StandingSheet, ...]
    rabbet: RabbetLines | None
    views: tuple[PlanView, ...]
    canted: tuple[PlanView, ...]


def framing_tables(job: Job) -> FramingTables:
    """The tables of a job's frames, kept between runs."""
    if not job.framing.frames:
        return FramingTables((), None, (), ())
    kept: FramingTables = job.keep.made("framing-tables", job.inputs, lambda: _tables(job))
    return kept


def _tables(job: Job) -> FramingTables:
    import numpy as np

    from futtock.framing.build import frame_hull
    from futtock.framing.cants import plan_views
    from futtock.framing.rabbet import rabbet_lines
    from futtock.framing.standing import standing_sheets

    hull, frames, asked = job.fairing.hull, job.framing.frames, job.framing_settings
    at = np.array([f.plane.x_mm for f in frames])
    try:
        rabbet = rabbet_lines(hull, at, asked.planking_mm, asked.strakes)
    except Misused:
        rabbet = None
    canted: tuple[PlanView, ...] = ()
    if job.framing.cants:
        turned = tuple((c.frame, c.angle_deg) for c in job.framing.cants)
        canted = plan_views(frame_hull(hull, replace(asked, cants=turned), job.report).frames)
    return FramingTables(standing_sheets(frames, hull, asked), rabbet, plan_views(frames), canted)


def framed_document(job: Job) -> dict[str, Any]:
    """The document of ``frames``, but for ``seconds``."""
    from futtock.framing.bevels import bevel_map
    from futtock.framing.json import framing_json
    from futtock.framing.offered import offers
    from futtock.framing.sheets_json import (
        bevel_map_json,
        cants_json,
        rabbet_json,
        rules_json,
        standing_json,
    )
    from futtock.job.as_built import learned, learned_document

    tables, frames = framing_tables(job), job.framing.frames
    return {
        **framing_json(job.framing),
        "standing": standing_json(tables.standing),
        "rabbet": [] if tables.rabbet is None else rabbet_json(tables.rabbet),
        "bevel_map": bevel_map_json(bevel_map(frames)) if frames else None,
        "cants": cants_json(job.framing.cants, tables.canted or tables.views),
        "rules": rules_json(offers(frames, job.framing_settings)) if frames else [],
        "as_built": learned_document(learned(job)),
    }


def framed_findings(job: Job) -> tuple[Finding, ...]:
    """What the rack and the measured frames make of the frames.

    Timbers wider than any slab, and measured points of which no use can be made.
    """
    import numpy as np
    import shapely

    from futtock.framing.checks import too_wide
    from futtock.job.as_built import learned

    known = learned(job)
    found = () if known is None else known.findings
    slabs = job.rack.slabs
    if not slabs:
        return found
    faces = [shapely.Polygon(ring) for s in slabs for ring in (s.top_mm, s.bottom_mm)]
    boxes = shapely.get_coordinates(shapely.oriented_envelope(faces)).reshape(-1, 5, 2)
    sides = np.hypot(*np.moveaxis(np.diff(boxes[:, :3], axis=1), -1, 0))
    widest = float(sides.min(axis=1).max())
    return (*found, *too_wide(job.framing.frames, widest, job.stated.vessel.show))
