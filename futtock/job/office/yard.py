"""The yard's page: frames by stage, the forecast, who did what."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from futtock.job.accounts import counted
from futtock.job.office.picture import Pictures, pictures
from futtock.job.office.works import events, yard_state

if TYPE_CHECKING:
    from futtock.job.office.office import Sitting
    from futtock.yard import Event, YardState
    from futtock.yard.state import Contested

_SHOWN = 40
TO_DO = {
    "moulded": "Mould it",
    "laid-out": "Lay it out",
    "roughed": "Rough it out",
    "rested": "Let it rest",
    "flattened": "Flatten it",
    "thicknessed": "Thickness it",
    "bevelled": "Bevel it",
    "dry-fitted": "Fit it dry",
    "bedded": "Bed it",
    "bored": "Bore it",
    "treenailed": "Treenail it",
    "wedged": "Wedge it",
    "faired": "Fair it",
    "heel-cut": "Cut its heel",
    "spalled": "Spall it",
    "standing": "Stand it",
    "horned": "Horn it",
    "ribbanded": "Ribband it",
}
"""What is done next, by the stage that is not reached yet."""
_RUNS = 400


@dataclass(frozen=True)
class Line:
    """One frame on the board: a box for each stage, what is next, and what holds it."""

    frame: int
    boxes: tuple[str, ...]
    next: str
    more: str


@dataclass(frozen=True)
class Done:
    """One record of the journal."""

    when: str
    who: str
    mark: str
    what: str
    sender: str


@dataclass(frozen=True)
class YardView:
    """The page."""

    says: str
    lead: str
    stages: tuple[str, ...]
    lines: tuple[Line, ...]
    journal: tuple[Done, ...]
    entries: int
    contested: tuple[str, ...]


@dataclass(frozen=True)
class ForecastView:
    """When she will be framed."""

    says: str
    picture: Pictures
    figures: tuple[tuple[str, str, str], ...]
    order: tuple[int, ...]
    gains: tuple[str, ...]
    holdups: tuple[str, ...]


def yard_view(sitting: Sitting) -> YardView:
    """The board as the journal has it now."""
    from futtock.yard.stages import STAGES

    job = sitting.need("papers", "frames")
    state = yard_state(job.folder)
    many = sitting.drawn(("events", state.last), lambda: events(job.folder))
    lines = tuple(
        _line(state, f.number, tuple(t.mark for t in f.timbers), STAGES) for f in job.framing.frames
    )
    stand = sum(state.has(str(f.number), "standing") for f in job.framing.frames)
    begun = sum(any(b != "not begun" for b in line.boxes) for line in lines) - stand
    if stand == len(lines):
        says = f"All {len(lines)} frames stand."
    elif begun or stand:
        says = f"{counted(stand, 'frame stands', 'frames stand')}; {begun} are begun."
    else:
        says = "No frame is begun."
    lead = (
        f"{counted(len(many), 'entry', 'entries')} in the journal."
        if many
        else "Work is entered at the bench, or with 'futtock did MARK STAGE --who NAME'."
    )
    shown = tuple(
        Done(e.at[:16].replace("T", " "), e.who, e.mark, _words(e), e.sender)
        for e in reversed(many[-_SHOWN:])
    )
    contested = tuple(_contested(c) for c in state.contested)
    stages = tuple(s.replace("-", " ") for s in STAGES)
    return YardView(says, lead, stages, lines, shown, len(many), contested)


def _contested(c: Contested) -> str:
    """A record that does not count, and why, in words."""
    said = f"{c.event.mark} {_words(c.event)}, by {c.event.who}, does not count"
    when = f"{c.first.who}, {c.first.at[:16].replace('T', ' ')}"
    slab = c.event.body.get("slab", "")
    if c.why == "given":
        return f"{said}: slab {slab} was given to {c.first.mark} by {when}."
    if c.why == "gone":
        return f"{said}: slab {slab} is used up or spoiled."
    return f"{said}: it was entered first by {when}."


def _words(e: Event) -> str:
    slab = e.body.get("slab")
    because = e.body.get("because")
    words = e.stage.replace("-", " ")
    if slab:
        words += f", slab {slab}"
    return words + (f": {because}" if because else "")


def _line(state: YardState, number: int, marks: tuple[str, ...], stages: tuple[str, ...]) -> Line:
    from futtock.yard.stages import TIMBER_STAGES

    spoiled = [m for m in marks if (p := state.pieces.get(m)) and p.to_make_anew]
    boxes = []
    for stage in stages:
        if stage in TIMBER_STAGES:
            had = sum(state.has(m, stage) for m in marks)
            box = "done" if marks and had == len(marks) else "in hand" if had else "not begun"
        else:
            halves = [state.has(f"{number}-{h}", stage) for h in "PS"]
            whole = state.has(str(number), stage)
            box = "done" if whole else "in hand" if any(halves) else "not begun"
        boxes.append(box)
    at = next((k for k, b in enumerate(boxes) if b != "done"), None)
    if spoiled:
        k = at if at is not None else 0
        boxes[k] = "held"
        return Line(number, tuple(boxes), "Held", f"{', '.join(spoiled)} spoiled")
    if state.has(str(number), "standing"):
        record = state.record(str(number), "standing")
        since = f"since {record.at[:10]}, {record.who}" if record is not None else ""
        return Line(number, tuple(boxes), "Standing", since)
    if at is None:
        return Line(number, tuple(boxes), "Done", "")
    left = [m for m in marks if not state.has(m, stages[at])]
    few = ", ".join(left[:3]) + (f" and {len(left) - 3} more" if len(left) > 3 else "")
    some = stages[at] in TIMBER_STAGES and 0 < len(left) < len(marks)
    return Line(number, tuple(boxes), TO_DO[stages[at]], few if some else "")


def forecast_view(sitting: Sitting) -> ForecastView:
    """When she will be framed; NotYet while it is worked out."""
    job = sitting.need("papers", "frames")
    last = yard_state(job.folder).last
    today = datetime.now(UTC).date().isoformat()
    return sitting.later(("forecast", last, today), "forecast", lambda: _forecast(sitting))


def _forecast(sitting: Sitting) -> ForecastView:
    from futtock.drawing.burn_up import burn_up_picture
    from futtock.job.drying import drying
    from futtock.job.yard import one_more
    from futtock.yard import YardPlan, fold, forecast

    job = sitting.job
    timbers = {f.number: [t.mark for t in f.timbers] for f in job.framing.frames}
    plan = YardPlan.stated(job.sound.vessel.yard)
    now, many = datetime.now(UTC), events(job.folder)
    dry = drying(job, fold(many), now.date()).dry
    found = forecast(many, timbers, plan, now, dry=dry, runs=_RUNS, seed=0)
    if not found.left:
        return ForecastView("She is framed.", (), (), (), (), ())
    says = (
        f"Framed by {found.p50:%-d %B %Y}, likely between {found.p10:%-d %B} and "
        f"{found.p90:%-d %B %Y}."
    )
    figures = (
        (str(found.left), f"of {found.frames}", "frames to do"),
        (f"{found.working_days[1]:.0f}", "days", "of work, in the middle of the runs"),
    )
    return ForecastView(
        says,
        pictures(lambda wide: burn_up_picture(found, wide - 14.0, max(0.5 * wide, 70.0))),
        figures,
        tuple(found.order[:12]),
        tuple(
            f"{one_more(g)} would gain some {g.days:.0f} days."
            for g in found.gains[:3]
            if g.days >= 1
        ),
        tuple(
            f"Work waits {h.waited_hours:.0f} hours in all for {h.what}."
            for h in found.holdups[:3]
            if h.waited_hours >= 1
        ),
    )
