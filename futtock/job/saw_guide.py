"""The guide for the person at the crank: every mark of every cut of a timber, as it is shown."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from futtock.bench.cuts import Cut
    from futtock.job.office.office import Sitting
    from futtock.job.whole import Job
    from futtock.measure import Style

_LEFT, _RIGHT, _APART = 6.0, 994.0, 74.0


@dataclass(frozen=True)
class GuideMark:
    """One mark: the angle and hand to have when it reaches the teeth, and the way to the next.

    ``tangent`` leans the drawn blade, positive to the feeder's left. ``scale`` is what the saw's
    scale must read, empty where that is the angle itself. ``ruled`` is where it stands on the
    progress rule, ``lettered`` whether its angle has room there. ``ahead``, ``turn`` speak of the
    stretch to the next mark, empty at the last.
    """

    number: int
    at: str
    angle: str
    whole: str
    part: str
    hand: str
    yours: str
    tangent: float
    scale: str
    ruled: float
    lettered: bool
    ahead: str
    turn: str


@dataclass(frozen=True)
class GuideCut:
    """One cut: what it is called, how the timber is fed, what is kept, and its marks."""

    name: str
    feed: str
    kept: str
    length: str
    marks: tuple[GuideMark, ...]
    wrong: tuple[str, ...]


@dataclass(frozen=True)
class GuideView:
    """A timber's guide."""

    mark: str
    face_up: str
    revision: str
    cuts: tuple[GuideCut, ...]
    told: tuple[str, ...]
    cautions: tuple[str, ...]
    before: str
    after: str
    last: int


@dataclass(frozen=True)
class SawRow:
    """A timber to be sawn, in the list."""

    mark: str
    largest: str
    sawn: bool
    ready: bool


@dataclass(frozen=True)
class SawList:
    """The timbers of the vessel for the saw, those ready for it first."""

    says: str
    rows: tuple[SawRow, ...]
    last: int


def saw_list(sitting: Sitting) -> SawList:
    """Every timber, those that the journal says are ready for the saw first."""
    from futtock.job.accounts import counted
    from futtock.job.office.said import show_angle
    from futtock.job.office.works import yard_state

    job = sitting.need("papers", "frames", "moulds")
    state = yard_state(job.folder)
    largest = sitting.drawn(
        "saw list",
        lambda: [
            (s.mark, show_angle(max((c.largest_deg for c in s.cuts), default=0.0)))
            for s in job.saw_sheets
        ],
    )
    rows = []
    for mark, angle in largest:
        sawn = state.has(mark, "bevelled")
        ready = not sawn and state.has(mark, "thicknessed")
        rows.append(SawRow(mark, angle, sawn, ready))
    rows.sort(key=lambda r: (r.sawn, not r.ready))
    waiting = sum(r.ready for r in rows)
    done = sum(r.sawn for r in rows)
    says = f"{counted(waiting, 'timber is', 'timbers are')} ready for the saw; {done} are sawn."
    return SawList(says, tuple(rows), state.last)


def guide_view(sitting: Sitting, mark: str) -> GuideView:
    """The guide of one timber.

    Raises
    ------
    Misused
        Where there is no such timber.
    """
    from futtock.bench.cautions import cautions
    from futtock.job.office.files import mould_of
    from futtock.job.office.works import yard_state

    job = sitting.need("papers", "frames", "moulds")
    mould_of(job, mark)
    marks = [s.mark for s in job.saw_sheets]
    k = marks.index(mark)
    sheet = job.saw_sheets[k]
    names = [c.edge for c in sheet.cuts]
    cuts = []
    for n, cut in enumerate(sheet.cuts):
        same = [i for i, e in enumerate(names) if e == cut.edge]
        part = f", part {same.index(n) + 1} of {len(same)}" if len(same) > 1 else ""
        cuts.append(_cut(job, cut, f"{cut.edge} cut{part}"))
    return GuideView(
        mark,
        sheet.face_up,
        job.revision,
        tuple(cuts),
        tuple(f.message for f in sheet.findings),
        tuple(c.text for c in cautions("sawing")),
        marks[k - 1] if k else "",
        marks[k + 1] if k + 1 < len(marks) else "",
        yard_state(job.folder).last,
    )


def _cut(job: Job, cut: Cut, name: str) -> GuideCut:
    from math import radians, tan

    from futtock.job.office.said import show, show_angle
    from futtock.job.settings import saw_settings

    style: Style = job.stated.vessel.show
    saw = saw_settings(job.sound.vessel)
    ordered = cut.in_feeding_order()
    first = ordered[0].at_mm
    long = max(cut.length_mm, 1.0)
    between = [
        (abs(b.at_mm - a.at_mm), b.set_left_deg - a.set_left_deg) for a, b in pairwise(ordered)
    ]
    by_stretch = {frozenset((t.from_mm, t.to_mm)): t for t in cut.turns}
    made: list[GuideMark] = []
    lettered_at = -_APART
    for n, m in enumerate(ordered):
        ruled = _LEFT + (_RIGHT - _LEFT) * abs(m.at_mm - first) / long
        roomy = ruled - lettered_at >= _APART
        if roomy:
            lettered_at = ruled
        angle = _angle(m.deg, saw.step_deg).rstrip("°")
        whole = angle.rstrip("¼½¾")
        ahead = turn = ""
        if n < len(between):
            gap, change = between[n]
            ahead = show(gap, style)
            t = by_stretch.get(frozenset((m.at_mm, ordered[n + 1].at_mm)))
            turn = _turn(change, t.turns if t else None, _angle(abs(change), saw.step_deg))
        scale = ""
        if abs(m.scale_deg - m.set_left_deg) > 1e-6:
            scale = f"{_angle(abs(m.scale_deg), saw.step_deg)} {_hand(m.scale_deg)}"
        made.append(
            GuideMark(
                n + 1,
                show(abs(m.at_mm - first), style),
                f"{angle}°",
                whole,
                angle[len(whole) :],
                _hand(m.set_left_deg),
                _yours(m.set_left_deg, saw.crank_from),
                round(tan(radians(m.set_left_deg)), 5),
                scale,
                round(ruled, 1),
                roomy,
                ahead,
                turn,
            )
        )
    wrong = []
    if not cut.blade_ok:
        wrong.append(
            f"The blade follows {show(cut.blade_radius_mm, style)}; the tightest turn is "
            f"{show(cut.radius_mm, style)}."
        )
    if not cut.twist_ok:
        wrong.append("The angle changes faster than the blade bears: it may bind.")
    wrong += [
        f"{show_angle(abs(b.worst_deg))} is past the head's {show_angle(b.limit_deg)}: "
        + ("feed the other end first." if b.other_feed else f"hew {show(b.hew_mm, style)} by hand.")
        for b in cut.beyond
    ]
    return GuideCut(
        name,
        "heel to head" if cut.feed == "heel first" else "head to heel",
        cut.kept,
        show(cut.length_mm, style),
        tuple(made),
        tuple(wrong),
    )


def _angle(deg: float, step: float) -> str:
    """An angle as it was rounded: in quarters where the step is one of them, else in decimals."""
    from futtock.job.office.said import show_angle

    quarters = abs(step * 4 - round(step * 4)) < 1e-9
    return show_angle(deg) if quarters else f"{round(deg, 2):g}°"


def _hand(left_deg: float) -> str:
    return "LEFT" if left_deg > 0 else "RIGHT" if left_deg < 0 else "SQUARE"


def _yours(left_deg: float, crank: str) -> str:
    """Which way that is for the person at the crank, from where he stands."""
    if left_deg == 0:
        return "upright"
    left = left_deg > 0
    if crank == "feed":
        return "your left" if left else "your right"
    if crank == "out":
        return "your right" if left else "your left"
    return "towards you" if left == (crank == "left") else "away from you"


def _turn(change: float, turns: float | None, by: str) -> str:
    """What the crank does to the next mark."""
    if change == 0:
        return "keep it there"
    hand = "left" if change > 0 else "right"
    if turns is None:
        return f"{by} more to the {hand}, evenly"
    from fractions import Fraction

    from futtock.drawing.figures import lettered

    quarters = Fraction(round(turns * 4), 4)
    whole, rest = divmod(quarters, 1)
    text = f"{whole} {rest}" if whole and rest else str(rest or whole)
    return f"{lettered(text)} turn{'' if quarters == 1 else 's'} to the {hand}, evenly"
