"""A frame's bench page: thicknessing, boring and fastening, heel, standing, what was measured."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import isfinite
from typing import TYPE_CHECKING

from futtock.findings import Finding

if TYPE_CHECKING:
    from futtock.framing.frame import Frame
    from futtock.framing.standing import StandingSheet
    from futtock.job.as_built import Learned
    from futtock.job.floor import Check, Stage, TimberWork
    from futtock.job.office.office import Sitting
    from futtock.job.whole import Job
    from futtock.measure import Style
    from futtock.yard import YardState

WORK: Mapping[str, tuple[str, ...]] = {
    "thick": ("flattened", "thicknessed"),
    "boring": ("bedded", "bored", "treenailed", "wedged", "faired"),
    "heel": ("heel-cut",),
    "standing": ("spalled", "standing", "horned", "ribbanded"),
}
"""The stages that are entered at each part of the page; the first part's are its timbers'."""


@dataclass(frozen=True)
class Planed:
    """How one timber comes to its sided size: each face's passes in order."""

    mark: str
    first: str
    first_cuts: str
    second_cuts: str
    ends_at: str
    spare: str
    fits: bool


@dataclass(frozen=True)
class Bored:
    """A hole: how far from the heel along the joint's edge and in from it, and how long a nail."""

    number: int
    girth: str
    inward: str
    through: str
    grip: str


@dataclass(frozen=True)
class Part:
    """One part of the page: what it opens with, its figures, and its cautions."""

    says: str
    figures: tuple[tuple[str, str, str], ...]
    cautions: tuple[str, ...]
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class BenchView:
    """The page."""

    frame: int
    before: int | None
    after: int | None
    thick: Part
    planed: tuple[Planed, ...]
    boring: Part
    bored: tuple[Bored, ...]
    heel: Part
    standing: Part
    places: tuple[tuple[str, ...], ...]
    picture: str
    heel_picture: str
    measured: tuple[str, ...] = ()
    checks: tuple[Check, ...] = ()
    timbers: tuple[TimberWork, ...] = ()
    stages: Mapping[str, tuple[Stage, ...]] = field(default_factory=dict)
    contested: tuple[str, ...] = ()
    last: int = 0


def bench_view(sitting: Sitting, number: int) -> BenchView:
    """A frame's bench page, once the fair hull is there.

    Raises
    ------
    Misused
        Where there is no such frame.
    """
    from futtock.job.floor import checks_of, contested_of, stages_of, timber_work
    from futtock.job.office.frames import frame_of
    from futtock.job.office.works import yard_state

    job = sitting.need("papers", "frames", "moulds", "hull")
    frame = frame_of(job, number)
    sheets = sitting.drawn("standing sheets", lambda: _standing_sheets(job))
    drawn = sitting.drawn(("bench", number), lambda: _bench(job, frame, sheets))
    state, mark, own = yard_state(job.folder), str(number), [t.mark for t in frame.timbers]
    return replace(
        drawn,
        measured=_measured(_learned(sitting, job, state), job, frame),
        checks=checks_of(sitting, job, state, number, mark),
        timbers=tuple(timber_work(state, m, "", WORK["thick"]) for m in own),
        stages={part: stages_of(state, mark, words) for part, words in WORK.items()},
        contested=contested_of(state, mark, own),
        last=state.last,
    )


def _bench(job: Job, frame: Frame, sheets: Mapping[int, StandingSheet]) -> BenchView:
    numbers = [f.number for f in job.framing.frames]
    at = numbers.index(frame.number)
    thick, planed = _thick(job, frame)
    boring, bored = _boring(job, frame)
    standing, places, picture = _standing(job, frame, sheets[frame.number])
    return BenchView(
        frame.number,
        numbers[at - 1] if at else None,
        numbers[at + 1] if at + 1 < len(numbers) else None,
        thick,
        planed,
        boring,
        bored,
        _heel(job, frame),
        standing,
        places,
        picture,
        _heel_picture(job, frame),
    )


def _thick(job: Job, frame: Frame) -> tuple[Part, tuple[Planed, ...]]:
    from futtock.bench.cautions import cautions
    from futtock.job.accounts import counted
    from futtock.job.office.said import show

    style: Style = job.stated.vessel.show
    marks = {t.mark for t in frame.timbers}
    plan = job.thicknessing
    own = [p for p in plan.pieces if p.name in marks] if plan is not None else []
    rows = []
    for p in sorted(own, key=lambda p: p.name):
        cuts = {
            face: _passes([c.depth_mm for c in p.passes if c.face == face])
            for face in ("first", "second")
        }
        rows.append(
            Planed(
                p.name,
                p.first_face,
                cuts["first"],
                cuts["second"],
                show(p.sided_mm, style),
                show(p.spare_mm, style),
                p.fits,
            )
        )
    fail = [r.mark for r in rows if not r.fits]
    if not rows:
        says = "No rough thickness is known for its timbers yet."
    elif fail:
        says = f"{', '.join(fail)} cannot come to size: choose other wood before planing."
    else:
        says = f"All {counted(len(rows), 'timber')} come to size."
    told = tuple(f for p in own for f in p.findings)
    words = tuple(c.text for c in cautions("thicknessing"))
    return Part(says, (), words, told), tuple(rows)


def _passes(depths_mm: list[float]) -> str:
    """Depths in their order, equal ones together: ``4 × 1.5 mm, 0.5 mm``.

    In millimetres whatever the vessel's unit: a light pass is less than a sixteenth.
    """
    from itertools import groupby

    runs = [(d, len(list(same))) for d, same in groupby(f"{d:.1f} mm" for d in depths_mm)]
    return ", ".join(f"{n} × {d}" if n > 1 else d for d, n in runs)


def _boring(job: Job, frame: Frame) -> tuple[Part, tuple[Bored, ...]]:
    from futtock.bench.cautions import cautions
    from futtock.job.office.said import show

    style: Style = job.stated.vessel.show
    holes = next(h for h in job.holes if h.frame == frame.number)
    card = job.travellers(frame, {})[0]
    figures = [
        (show(card.bore_mm, style), "", "bore"),
        (str(2 * card.wedges), "", "wedges"),
    ]
    figures += [
        (str(t.driven), "", f"treenails {show(t.length_mm, style)} long") for t in card.treenails
    ]
    rows = tuple(
        Bored(
            h.number,
            show(h.girth_mm, style),
            show(h.in_mm, style),
            " into ".join(h.through),
            show(h.grip_mm, style),
        )
        for h in holes.holes
    )
    says = f"{holes.count} holes in all, {len(holes.holes)} a side."
    words = tuple(c.text for c in (*cautions("bedding")[:-1], *cautions("fastening")))
    return Part(says, tuple(figures), words, holes.findings), rows


def _heel(job: Job, frame: Frame) -> Part:
    from futtock.job.office.said import show, show_angle

    heel = frame.heel
    if heel is None:
        return Part("Nothing is cut at this heel.", (), ())
    style: Style = job.stated.vessel.show
    rise = "square to the joint"
    if abs(heel.top_bevel_deg) >= 0.125:
        rise = "rises going aft" if heel.top_bevel_deg > 0 else "falls going aft"
    figures = (
        (show(2 * heel.half_siding_mm, style), "", "keel's siding under the joint"),
        (show_angle(abs(heel.top_bevel_deg)), "", f"keel's top: {rise}"),
        (show_angle(abs(heel.side_bevel_deg)), "", "keel's side to the centreline"),
    )
    when = (
        "Its notch is part of the half timbers' outlines."
        if heel.with_timber
        else "Its notch is sawn when the frame is assembled."
    )
    return Part(when, figures, ())


def _heel_picture(job: Job, frame: Frame) -> str:
    from futtock.drawing.heel import heel_picture
    from futtock.job.office.picture import inline

    if frame.heel is None:
        return ""
    return inline(heel_picture(frame, frame.heel, job.stated.vessel.show))


def _standing_sheets(job: Job) -> dict[int, StandingSheet]:
    from futtock.framing.standing import standing_sheets

    made = standing_sheets(job.framing.frames, job.fairing.hull, job.framing_settings)
    return {sheet.frame: sheet for sheet in made}


def _standing(
    job: Job, frame: Frame, sheet: StandingSheet
) -> tuple[Part, tuple[tuple[str, ...], ...], str]:
    from futtock.bench.cautions import cautions
    from futtock.drawing.figures import level_name
    from futtock.drawing.standing import standing_picture
    from futtock.job.office.picture import inline
    from futtock.job.office.said import show, show_angle

    style: Style = job.stated.vessel.show
    falls = "a bob from the head falls on the joint"
    if abs(sheet.plumb_offset_mm) >= 0.5:
        way = "aft of" if sheet.plumb_offset_mm > 0 else "forward of"
        falls = f"a bob from the head falls {way} the heel's joint"
    figures = [
        (show(sheet.along_keel_mm, style), "", "along the keel's top from the first frame"),
        (show(abs(sheet.plumb_offset_mm), style), "", falls),
        (show(sheet.diagonal_mm, style), "", "port heel to starboard head, both ways"),
        (show_angle(abs(sheet.declivity_deg)), "", "she lies down by the stern"),
    ]
    if isfinite(sheet.spall_length_mm):
        figures.append((show(sheet.spall_length_mm, style), "", "cross spall between the sides"))
    if isfinite(sheet.to_next_head_mm):
        figures.append((show(sheet.to_next_head_mm, style), "", "head to the next frame's head"))
    rows = tuple(
        (
            level_name(p.name, style),
            show(p.height_mm, style),
            show(2 * p.half_mm, style),
            show(p.horning_mm, style),
        )
        for p in sheet.places
    )
    says = f"It stands true where every length comes within {show(sheet.within_mm, style)}."
    words = tuple(c.text for c in cautions("lifting"))
    picture = inline(standing_picture(frame, sheet, style))
    return Part(says, tuple(figures), words), rows, picture


def _learned(sitting: Sitting, job: Job, state: YardState) -> Learned | None:
    """What standing frames teach, reckoned anew where more is measured, stands or is sawn."""
    from futtock.job.as_built import learned

    marks = [t.mark for f in job.framing.frames for t in f.timbers]
    key = (
        "learned",
        len(state.checks),
        state.checks[-1].seq if state.checks else 0,
        tuple(f.number for f in job.framing.frames if state.has(str(f.number), "standing")),
        sum(state.has(m, "bevelled") for m in marks),
    )
    return sitting.drawn(key, lambda: learned(job))


def _measured(known: Learned | None, job: Job, frame: Frame) -> tuple[str, ...]:
    """What was measured of standing frames, and what it means for this one."""
    from futtock.job.office.said import show

    if known is None:
        return ()
    style: Style = job.stated.vessel.show
    within_mm = job.framing_settings.stands_within_mm
    run, number = known.ribbands, frame.number
    k = run.numbers.index(number)
    said = [
        a.words[0].upper() + a.words[1:] + "." for a in known.advice if abs(a.frame - number) <= 1
    ]
    mine = sum(p.frame == number for p in known.points)
    if mine:
        return (f"{mine} points were measured on this frame.", *said)
    for share, off in zip(run.share, run.batten_mm[:, k], strict=True):
        if isfinite(off) and abs(off) > within_mm:
            way = "outside" if off > 0 else "inside"
            size = show(abs(float(off)), style)
            said.append(
                f"At {share:.0%} of its girth the standing frames run {size} {way} the drawing:"
                " stand this one to their batten."
            )
    if any(f.number == number for f in known.amended):
        said.append("It is not sawn yet: saw it by its amended moulds (futtock frames --as-built).")
    said += [w for w in known.words if w.startswith(f"Frame {number} is sawn already")]
    measured = ", ".join(str(n) for n in sorted({p.frame for p in known.points}))
    return tuple(said) or (f"Frames {measured} are measured: this one can stand as drawn.",)
