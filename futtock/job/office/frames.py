"""The frames' pages: all of them, the bevel map, and one frame with what concerns it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from futtock.errors import Misused
from futtock.findings import Finding, Severity
from futtock.job.accounts import counted
from futtock.job.office.picture import Pictures, pictures
from futtock.job.office.said import show, show_angle, show_mass

if TYPE_CHECKING:
    from futtock.framing.frame import Frame
    from futtock.job.office.office import Sitting
    from futtock.job.whole import Job
    from futtock.sheet.sheet import Sheet


@dataclass(frozen=True)
class Number:
    """A frame's number, and whether something about it needs the eye."""

    number: int
    eyed: bool


@dataclass(frozen=True)
class FramesView:
    """All frames."""

    says: str
    lead: str
    numbers: tuple[Number, ...]
    bevels: Pictures
    bevel_notes: tuple[str, ...]
    figures: tuple[tuple[str, str, str], ...]
    findings: tuple[Finding, ...]
    cants: tuple[tuple[int, str, str, str], ...]


@dataclass(frozen=True)
class TimberRow:
    """One timber of a frame as its table tells it."""

    mark: str
    length: str
    wide: str
    sweep: str
    mass: str
    slab: str


@dataclass(frozen=True)
class FrameView:
    """One frame."""

    number: int
    says: str
    plane: str
    picture: Pictures
    butts: Pictures
    figures: tuple[tuple[str, str, str], ...]
    timbers: tuple[TimberRow, ...]
    bevel_head: tuple[str, ...]
    bevels: tuple[tuple[str, ...], ...]
    findings: tuple[Finding, ...]
    before: int | None
    after: int | None


def frames_view(sitting: Sitting) -> FramesView:
    """All frames, with the settings' effect on them."""
    job = sitting.need("papers", "frames")
    return sitting.drawn("frames", lambda: _frames(job))


def _frames(job: Job) -> FramesView:
    from futtock.drawing.framing_plan import bevel_picture

    framing = job.framing
    style = job.stated.vessel.show
    frames = framing.frames
    timbers = [t for f in frames for t in f.timbers]
    asked = [f for f in framing.findings if f.severity is not Severity.NOTE]
    eyed = {n for f in asked for n in _frames_of(f)}
    bevels: Pictures = ()
    notes: tuple[str, ...] = ()
    figures: list[tuple[str, str, str]] = []
    if frames:
        files = tuple(sorted(job.stated.files.items()))

        def mapped() -> tuple[Pictures, tuple[str, ...]]:
            def drawn(wide: float) -> Sheet:
                tall = max(0.46 * wide, 70.0)
                return bevel_picture(frames, width_mm=wide - 14.0, height_mm=tall)[0]

            return pictures(drawn), bevel_picture(frames)[1]

        bevels, notes = job.keep.made("bevel-page-three", files, mapped)
        longest = max(timbers, key=lambda t: t.length_mm)
        swept = max(timbers, key=lambda t: t.sweep_mm)
        figures = [
            (str(len(timbers)), "", "timbers"),
            (show_angle(framing.largest_lean_deg), "", "largest bevel"),
            (show(longest.length_mm, style), "", f"longest timber, {longest.mark}"),
            (show(swept.sweep_mm, style), "", f"most sweep, {swept.mark}"),
        ]
    says = f"{counted(len(frames), 'double frame')} are drawn."
    if asked:
        lead = f"{counted(len(asked), 'question')} about them wait below, beside what they concern."
    else:
        lead = "Nothing about them needs your eye."
    cants = tuple(
        (
            c.frame,
            show_angle(c.angle_deg),
            show_angle(c.largest_deg),
            show_angle(c.canted_largest_deg),
        )
        for c in framing.cants
    )
    numbers = tuple(Number(f.number, f.number in eyed) for f in frames)
    return FramesView(says, lead, numbers, bevels, notes, tuple(figures), tuple(asked), cants)


def _frames_of(finding: Finding) -> set[int]:
    """Frames that a finding speaks of."""
    found = {int(n) for n in re.findall(r"[Ff]rame (\d+)", finding.message)}
    found |= {int(n) for n in re.findall(r"\b(\d+)-[PSC]-[fa]\d+", finding.message)}
    return found


def frame_of(job: Job, number: int) -> Frame:
    """The frame of that number; Misused where there is none."""
    try:
        return job.framing.frame(number)
    except KeyError:
        raise Misused(f"There is no frame {number}.") from None


def frame_view(sitting: Sitting, number: int) -> FrameView:
    """One frame's page, with the slabs as they are laid out now."""
    job = sitting.need("papers", "frames", "moulds")
    frame = frame_of(job, number)
    laid = _laid(job)
    key = ("frame", number, tuple(laid.get(t.mark, "") for t in frame.timbers))
    return sitting.drawn(key, lambda: _frame(job, frame, laid))


def _laid(job: Job) -> dict[str, str]:
    from futtock.job.office.works import laid_on

    return laid_on(job)


def _frame(job: Job, frame: Frame, laid: dict[str, str]) -> FrameView:
    from futtock.drawing.bevel_board import bevel_table
    from futtock.drawing.frame import frame_picture, plane_words, unrolled_butts
    from futtock.drawing.heading import bare
    from futtock.job.title import heading

    head, style, number = heading(job), job.stated.vessel.show, frame.number
    moulds = {m.mark: m for m in job.moulds}
    weight = next((w for w in job.weights.frames if w.frame == number), None)
    faces = (frame.forward, frame.joint, frame.aft)
    lean = max(float(abs(f.lean_deg).max()) for f in faces)

    def drawn(wide: float) -> Sheet:
        every = 400.0 if wide > 150.0 else 800.0 if wide > 100.0 else 1600.0
        return frame_picture(
            frame,
            head,
            width_mm=wide,
            height_mm=max(0.65 * wide, 80.0),
            bevels_every_mm=every,
        )

    def unrolled(wide: float) -> Sheet:
        # beside another column on a desk
        items = unrolled_butts(frame, head, width_mm=min(wide, 130.0))
        return bare(f"butts-{number}", items, "Shift of butts", "Both layers")

    table = bevel_table(frame, head)
    figures = [
        (show(frame.plane.sided_mm, style), "", "sided, each layer"),
        (show_angle(lean), "", "largest bevel"),
        (str(len(frame.timbers)), "", "timbers"),
    ]
    if weight is not None:
        lift = f"{weight.people} people can lift it" if weight.people else "lift with tackle"
        figures.append((show_mass(weight.mass_kg, style), "", f"whole frame: {lift}"))
    numbers = [f.number for f in job.framing.frames]
    at = numbers.index(number)
    mine = tuple(
        f
        for f in (
            *job.framing.findings,
            *(x for t in frame.timbers for x in moulds[t.mark].findings),
        )
        if number in _frames_of(f)
    )
    return FrameView(
        number,
        f"Frame {number}" + (", canted" if frame.plane.cant_deg else ""),
        plane_words(frame, head),
        pictures(drawn),
        pictures(unrolled),
        tuple(figures),
        tuple(
            TimberRow(
                t.mark,
                show(t.length_mm, style),
                show(t.wide_mm, style),
                show(t.sweep_mm, style),
                show_mass(moulds[t.mark].mass_kg, style),
                laid.get(t.mark, ""),
            )
            for t in frame.timbers
        ),
        table.head,
        table.rows,
        mine,
        numbers[at - 1] if at else None,
        numbers[at + 1] if at + 1 < len(numbers) else None,
    )
