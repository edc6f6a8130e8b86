"""Hull to frames: all planes cut together, then edges matched, divided and marked."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from futtock.errors import Interrupted
from futtock.framing.bevels import unfair
from futtock.framing.cants import propose_cants
from futtock.framing.checks import check_frames
from futtock.framing.divide import Division, divide
from futtock.framing.frame import Cant, Frame, Framing, LayerName, Side
from futtock.framing.heels import heel_works
from futtock.framing.plan import frame_planes
from futtock.framing.settings import FramingSettings
from futtock.framing.stand import limits_of, stand_frames
from futtock.framing.timbers import cut_timbers
from futtock.lines.surface import Hull
from futtock.progress import Progress, Report, quiet


def frame_hull(hull: Hull, settings: FramingSettings, report: Report = quiet) -> Framing:
    """Frame a hull: every frame of the plan with its faces, bevels, layers, timbers and marks.

    Parameters
    ----------
    hull
        The fair hull; planking is taken off her surface unless it is the inside already.
    settings
        The frame plan and its rules.
    report
        Told of progress a frame at a time.

    Raises
    ------
    Interrupted
        Where the report says stop.
    Unsolvable
        Where no frame of the plan cuts the hull.
    """
    planes = frame_planes(hull, settings)
    standing = stand_frames(hull, planes, settings)
    frames = _halves(standing.frames, hull, settings)
    if not report(Progress("frames", 0, len(frames), "edges and bevels")):
        raise Interrupted("Framing was stopped before it was done.")
    works = heel_works(frames, hull, settings)
    frames = tuple(replace(f, heel=work) for f, work in zip(frames, works, strict=True))
    timbers = cut_timbers(frames, divide(frames, settings), settings)
    done = tuple(replace(f, timbers=t) for f, t in zip(frames, timbers, strict=True))
    largest = max(
        float(np.abs(f.lean_deg).max()) for fr in frames for f in (fr.forward, fr.joint, fr.aft)
    )
    findings = [*standing.findings, *check_frames(done, settings), *unfair(done)]
    cants: tuple[Cant, ...] = ()
    if settings.cants == "propose" and largest > settings.largest_bevel_deg:
        cants = propose_cants(hull, done, limits_of(hull, settings), settings)
    report(Progress("frames", len(frames), len(frames), f"{len(done)} frames"))
    return Framing(done, tuple(findings), largest, cants)


def redivided(frame: Frame, division: Division, settings: FramingSettings) -> Frame:
    """The frame with its timbers cut afresh by another division; nothing else changes."""
    return replace(frame, timbers=cut_timbers([frame], [division], settings)[0])


def division_of(frame: Frame) -> Division:
    """The division that a frame's timbers were cut by."""

    def butts(layer: LayerName, side: Side) -> tuple[float, ...]:
        own = [t for t in frame.timbers if t.layer == layer and t.side in (side, "C")]
        return tuple(t.girth_mm[1] for t in sorted(own, key=lambda t: t.number)[:-1])

    starboard = Division(butts("f", "S"), butts("a", "S"))
    port = Division(butts("f", "P"), butts("a", "P"))
    return starboard if port == starboard else replace(starboard, port=port)


def _halves(frames: tuple[Frame, ...], hull: Hull, settings: FramingSettings) -> tuple[Frame, ...]:
    """Frames with those that land on high deadwood made half frames, where that is asked for."""
    rabbet = hull.profiles.get("rabbet")
    if settings.half_frames != "propose" or rabbet is None:
        return frames
    high = 2 * dict(settings.moulded_mm)[min(f for f, _ in settings.moulded_mm)]
    x = np.array([f.plane.x_mm for f in frames])
    above = np.array([f.joint.edge_mm[0, 1] for f in frames]) - rabbet(x)
    return tuple(
        replace(f, plane=replace(f.plane, full=not a > high))
        for f, a in zip(frames, above.tolist(), strict=True)
    )
