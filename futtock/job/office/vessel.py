"""The vessel's page: what she is, what is done, what is next, what needs the builder's eye."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from futtock.findings import Finding, Severity
from futtock.job.accounts import counted
from futtock.job.office.office import NotYet
from futtock.job.office.picture import Pictures, pictures

if TYPE_CHECKING:
    from futtock.job.office.office import Sitting

PLAN_STATES = ("drawn", "moulded", "laid out", "sawn", "fastened", "standing")


@dataclass(frozen=True)
class Eye:
    """One thing that needs the eye: the question, what hangs on it, where to settle it."""

    says: str
    more: str
    href: str
    link: str
    sign: str = "?"


@dataclass(frozen=True)
class VesselView:
    """The vessel's page."""

    says: str
    lead: str
    main: tuple[str, str]
    plan: Pictures
    late: bool
    eyes: tuple[Eye, ...]
    more_eyes: int
    figures: tuple[tuple[str, str, str], ...]
    kind: str


def vessel_view(sitting: Sitting) -> VesselView:
    """The page as things stand now.

    Raises
    ------
    NotYet, FuttockError
        Where her frames are not worked out, or cannot be.
    """
    from futtock.job.office.lines import lines_view
    from futtock.job.office.works import frame_states, laid_here, yard_state

    job = sitting.need("papers", "lines", "frames")
    state = yard_state(job.folder)
    states = frame_states(job, state)
    doubts = sitting.drawn("lines", lambda: lines_view(job)).doubts
    laid = laid_here(job)
    count = {s: sum(v == s for v in states.values()) for s in PLAN_STATES}
    frames = job.framing.frames
    timbers = sum(len(f.timbers) for f in frames)
    eyes = [
        Eye(
            d.says,
            f"The table says {d.given}; the line through its neighbours passes at {d.fair}.",
            "/lines",
            "Settle it",
        )
        for d in doubts
    ]
    eyes += [_eye(f) for f in job.framing.findings if f.severity is not Severity.NOTE]
    eyes += [
        _eye(f)
        for f in (*job.stated_findings, *job.rack.findings)
        if f.severity is not Severity.NOTE
    ]
    doing = [n for n, s in states.items() if s != "standing"]
    plan, late = _plan(sitting, states, {n for n in states if _named(n, job.framing.findings)})
    figures = (
        (str(count["standing"]), f"of {len(frames)}", "frames standing"),
        (str(timbers), "", "timbers"),
        (str(len(laid)), f"of {timbers}", "timbers with a place"),
        (str(len(job.rack.slabs)), "", "slabs on the rack"),
    )
    says, lead, main = _answer(len(frames), count, len(doubts), len(laid), timbers, doing)
    length = job.stated.vessel.name
    return VesselView(
        says, lead, main, plan, late, tuple(eyes[:6]), max(0, len(eyes) - 6), figures,
        "" if length else "no name yet",
    )  # fmt: skip


def _answer(
    frames: int, count: dict[str, int], doubts: int, laid: int, timbers: int, doing: list[int]
) -> tuple[str, str, tuple[str, str]]:
    stands = count["standing"]
    settle = f"{counted(doubts, 'figure')} in the lines wait for you" if doubts else ""
    if not frames:
        return (
            "No frame stands on this hull yet.",
            "State her room and space, sided and moulded sizes.",
            ("Set her frames out", "/frames"),
        )
    if not doing:
        return f"All {frames} frames stand.", "She is framed.", ("Make the shop book", "/book")
    if stands:
        return (
            f"{counted(stands, 'frame stands', 'frames stand')}. Frame {doing[0]} is next.",
            settle + ("; that does not stop the saw." if settle else "Go on at the saw."),
            ("See the yard", "/yard"),
        )
    if doubts:
        return (
            f"Her {frames} frames are drawn. Settle {counted(doubts, 'figure')} of the lines next.",
            "Each shows its neighbours and the likely slip; mending it draws the frames again.",
            ("Settle the lines", "/lines"),
        )
    if laid < timbers:
        left = timbers - laid
        return (
            f"Her {frames} frames are drawn. Lay {left} timbers out next.",
            "A layout gives each timber its slab, with the grain along its curve.",
            ("Lay the timbers out", "/layout"),
        )
    return (
        f"Every one of {timbers} timbers has its place. Begin at the saw.",
        "Print the travellers and the saw sheets, and rough out the first frame.",
        ("Make the sheets", "/book"),
    )


def _eye(f: Finding) -> Eye:
    room = {"J": "/", "S": "/rack", "V": "/", "F": "/frames", "L": "/lines"}.get(f.code[0], "/")
    held = f.severity in (Severity.FAULT, Severity.MISFIT)
    place = ", ".join(str(p) for p in (f.file, f.line, f.column) if p is not None) if f.file else ""
    more = " ".join(t for t in (f"{place}." if place else "", f.remedy or "") if t)
    return Eye(f.message, more, room, "See it", "!" if held else "?")


def _named(number: int, findings: tuple[Finding, ...]) -> bool:
    return any(
        f.severity is not Severity.NOTE and f"rame {number} " in f.message.replace(":", " ")
        for f in findings
    )


def _plan(sitting: Sitting, states: dict[int, str], eyed: set[int]) -> tuple[Pictures, bool]:
    """The framing plan, and whether it is late.

    It is drawn again where a frame's state has changed; the one before stands until then.
    """
    job = sitting.job
    asked = (tuple(sorted(states.items())), tuple(sorted(eyed)))
    files = tuple(sorted(job.stated.files.items()))

    def draw() -> Pictures:
        from futtock.drawing.framing_plan import framing_picture

        water = job.sound.vessel.lines.waterline_mm
        links = {f.number: f"/frames/{f.number}" for f in job.framing.frames}
        hull = sitting.need("hull").fairing.hull
        return pictures(
            lambda width: framing_picture(
                hull,
                job.framing.frames,
                states=states,
                doubtful=tuple(sorted(eyed)),
                waterline_mm=water,
                width_mm=width,
                links=links,
            )
        )

    def kept() -> Pictures:
        return job.keep.made("framing-plan-three", (files, asked), draw)

    before = sitting.views.get("plan before")
    if before is None:
        plan = sitting.drawn(("plan", asked), kept)
    else:
        try:
            plan = sitting.later(("plan", asked), "framing plan", kept)
        except NotYet:
            return before, True
    sitting.views["plan before"] = plan
    return plan, False
