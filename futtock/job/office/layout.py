"""The layout's pages: what is accepted and proposed, one timber by hand, its ten best places."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from futtock.errors import Misused, Unreadable
from futtock.findings import Finding, Severity
from futtock.job.accounts import counted
from futtock.job.office.files import mould_of
from futtock.job.office.picture import WIDTHS_MM, Pictures
from futtock.job.office.rack import accepted, slab_pictures
from futtock.job.office.said import show, show_area, show_square, slope
from futtock.job.pen import pen

if TYPE_CHECKING:
    from futtock.job.office.office import Office, Sitting
    from futtock.job.office.tasks import Outcome
    from futtock.job.pile import Pile
    from futtock.job.whole import Job
    from futtock.layout.exact import Verdict
    from futtock.layout.placement import Placement
    from futtock.measure import Style
    from futtock.stock.slab import Slab

_STEPS: dict[Style, tuple[tuple[float, str], ...]] = {
    "imperial": ((25.4, "1 in"), (3.175, "⅛ in")),
    "metric": ((25.0, "25 mm"), (3.0, "3 mm")),
}
"""How far a timber slides by hand at once, and with shift."""


@dataclass(frozen=True)
class Laid:
    """A layout in figures and words."""

    says: str
    bound: str
    figures: tuple[tuple[str, str, str], ...]
    unplaced: tuple[str, ...]
    gone: tuple[str, ...]
    percent: float
    placed: int
    timbers: int


@dataclass(frozen=True)
class UsedSlab:
    """A slab that is begun, with what it gives."""

    name: str
    marks: tuple[str, ...]
    locked: int


@dataclass(frozen=True)
class LayoutView:
    """The layout's page."""

    says: str
    lead: str
    accepted: Laid | None
    proposed: Laid | None
    changes: tuple[tuple[str, str, str, str], ...]
    kind: str
    slabs: tuple[UsedSlab, ...]
    findings: tuple[Finding, ...]
    failed: Outcome | None
    spoiled: tuple[str, ...]
    lost: tuple[str, ...]
    apart: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Pose:
    """Where a timber is tried by hand."""

    slab: str
    turn_deg: float
    x_mm: float
    y_mm: float
    mirrored: bool


@dataclass(frozen=True)
class HandView:
    """One timber on one slab, with the verdict."""

    mark: str
    frame: int
    pose: Pose | None
    picture: Pictures
    good: bool
    verdict: str
    faults: tuple[str, ...]
    figures: tuple[tuple[str, str, str], ...]
    here: bool
    locked: bool
    barred: bool
    scales: tuple[float, ...]
    slabs: tuple[str, ...]
    others: tuple[str, ...]
    steps: tuple[tuple[float, str], ...]


@dataclass(frozen=True)
class PlaceRow:
    """One of the best places."""

    slab: str
    pose: Pose
    worst: str
    snug: str
    turned: bool
    picture: str


def layout_view(office: Office) -> LayoutView:
    """What is accepted, what is proposed."""
    sitting = office.sitting()
    job = sitting.need("papers", "frames", "moulds")
    timbers = len(job.moulds)
    document = _document(job)
    now = None if document is None else _laid(document, job)
    kind, proposal = _proposal(office)
    proposed = None
    changes: tuple[tuple[str, str, str, str], ...] = ()
    findings: tuple[Finding, ...] = ()
    failed = None
    if proposal is not None and proposal.document is not None:
        proposed = _laid(proposal.document, job)
        findings = tuple(f for f in proposal.findings if f.severity is not Severity.NOTE)
        changes = tuple(
            (c["mark"], c["was"] or "no place", c["now"] or "no place", c["why"])
            for c in proposal.document.get("changes", ())
        )
    elif proposal is not None:
        failed = proposal
    placements = accepted(job)
    used: dict[str, list[Placement]] = {}
    for p in placements:
        used.setdefault(p.slab, []).append(p)
    slabs = tuple(
        UsedSlab(name, tuple(p.mark for p in here), sum(p.locked for p in here))
        for name, here in sorted(used.items())
    )
    says, lead = _answer(now, proposed, timbers, len(job.rack.slabs))
    spoiled, lost = _troubles(job, set(used), {p.mark for p in placements})
    return LayoutView(
        says, lead, now, proposed, changes, kind, slabs, findings, failed, spoiled, lost,
        job.stated.vessel.layout.forbid_pairs,
    )  # fmt: skip


def _answer(now: Laid | None, proposed: Laid | None, timbers: int, slabs: int) -> tuple[str, str]:
    if proposed is not None:
        return (
            f"{proposed.placed} of {timbers} timbers have a place. Accept this layout?",
            "Nothing is marked until you accept it; what is locked stays where it lies.",
        )
    if now is None:
        if not slabs:
            return "There is no slab to lay on.", "Put slabs on the rack first."
        return (
            f"Lay {timbers} timbers on {slabs} slabs.",
            "The search tries every timber on every slab, and keeps the best layout it finds.",
        )
    if now.unplaced:
        return (
            f"{now.placed} of {timbers} timbers have a place.",
            f"{counted(len(now.unplaced), 'timber')} go without: see what to buy, or lay again.",
        )
    return f"All {timbers} timbers have a place.", "Print the slabs' sheets, and mark them out."


def _troubles(
    job: Job, slabs: set[str], marks: set[str]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Spoiled timbers and lost slabs of the journal that the accepted layout still counts on."""
    from futtock.job.pile import Pile

    if not slabs:
        return (), ()
    shown = Pile(job, ()).shown
    return tuple(m for m in shown.spoiled if m in marks), tuple(s for s in shown.lost if s in slabs)


def _proposal(office: Office) -> tuple[str, Outcome | None]:
    """What a run or a healing gave and waits to be accepted."""
    waits = [
        (kind, found)
        for kind in ("layout", "heal")
        if (found := office.tasks.outcome(kind)) is not None and not office.tasks.running(kind)
    ]
    # what was stopped or failed does not stand before what can be accepted
    return next((w for w in waits if w[1].document is not None), (*waits, ("layout", None))[0])


def _document(job: Job) -> dict[str, Any] | None:
    from futtock.job.accepted import ACCEPTED

    try:
        found = json.loads((job.folder / ACCEPTED).read_text("utf-8"))
    except FileNotFoundError:
        return None
    except (OSError, ValueError) as error:
        raise Unreadable(f"{ACCEPTED} cannot be read: {error}.") from None
    return found if isinstance(found, dict) else None


def _laid(document: dict[str, Any], job: Job) -> Laid:
    style = job.stated.vessel.show
    marks = [m.mark for m in job.moulds]
    timbers, laid = len(marks), {p["mark"] for p in document["placements"]}
    gone = tuple(sorted(laid.difference(marks)))
    placed = len(laid) - len(gone)
    bound = document.get("bound") or {}
    words = ""
    if bound.get("value"):
        words = (
            "No layout of these timbers can begin less than "
            f"{show_area(bound['value'], style)} of sound wood. This one begins "
            f"{show_area(bound['reached'], style)}, so at most "
            f"{100 * bound['gap']:.0f} % of it could still be saved."
        )
    figures = [(str(document["slabs_used"]), "", "slabs begun")]
    if document.get("yield"):
        figures.append((f"{100 * document['yield']:.1f}", "%", "yield of the slabs begun"))
    slopes = [p["slope_worst"] for p in document["placements"]]
    if slopes:
        figures.append((slope(max(slopes)), "", "steepest grain"))
    return Laid(
        f"{placed} of {timbers} timbers have a place",
        words,
        tuple(figures),
        tuple(m for m in marks if m not in laid),
        gone,
        round(100 * placed / max(timbers, 1), 1),
        placed,
        timbers,
    )


def accept(office: Office) -> str:
    """Take the proposed layout as the accepted one; in words."""
    from futtock.job.accepted import ACCEPTED, SPENT
    from futtock.job.written import Written

    _, proposal = _proposal(office)
    if proposal is None or proposal.document is None:
        raise Misused("There is no layout that waits to be accepted.")
    document = {k: v for k, v in proposal.document.items() if k != "changes"}
    with pen(office.folder):
        before = _document(office.sitting().job) or {}
        spent = {e["id"]: e for e in (*before.get(SPENT, ()), *document.get(SPENT, ()))}
        if spent:
            document[SPENT] = list(spent.values())
        Written(office.folder).put(ACCEPTED, json.dumps(document, indent=1) + "\n")
    office.tasks.forget("layout")
    office.tasks.forget("heal")
    return "The layout is accepted."


def discard(office: Office) -> str:
    """Throw the proposed layout away; in words."""
    for kind in ("layout", "heal"):
        office.tasks.forget(kind)
    return "That layout is thrown away; what was accepted before stands."


def best_places(sitting: Sitting, mark: str) -> tuple[PlaceRow, ...]:
    """The ten best places for a timber beside what is laid out; NotYet while they are sought."""
    job = sitting.need("papers", "frames", "moulds")
    mould_of(job, mark)
    taken = accepted(job)
    key = ("best", mark, tuple((p.mark, p.slab, p.turn_deg, p.shift_mm) for p in taken))
    return sitting.later(key, f"search for places for {mark}", lambda: _best(sitting, mark))


def _best(sitting: Sitting, mark: str) -> tuple[PlaceRow, ...]:
    from futtock.job.pile import Pile

    job = sitting.job
    style = job.stated.vessel.show
    rows = []
    for place in Pile(job).best_places(mark):
        p = place.placement
        narrow = slab_pictures(sitting, job.rack[p.slab], [p], quick=True)[-1]
        rows.append(
            PlaceRow(
                p.slab, _pose(p), slope(p.slope_worst), show(place.snug_mm, style), p.mirrored,
                narrow,
            )
        )  # fmt: skip
    return tuple(rows)


def _pose(p: Placement) -> Pose:
    return Pose(p.slab, p.turn_deg, p.shift_mm[0], p.shift_mm[1], p.mirrored)


def hand_view(sitting: Sitting, mark: str, pose: Pose | None) -> HandView:
    """A timber where it is tried, or where it lies now."""
    job = sitting.need("papers", "frames", "moulds")
    mould = mould_of(job, mark)
    taken = accepted(job)
    mine = next((p for p in taken if p.mark == mark), None)
    if pose is None and mine is not None:
        pose = _pose(mine)
    names = tuple(s.name for s in job.rack.slabs)
    frame = mould.frame or 0
    style = job.stated.vessel.show
    steps = _STEPS[style]
    if pose is None:
        return HandView(
            mark, frame, None, (), False, "", (), (), False, False, False, (), names, (), steps
        )
    tried = placed(sitting, mark, pose)
    slab = job.rack[pose.slab]
    verdict = judged(sitting, tried)
    beside = [p for p in taken if p.slab == pose.slab and p.mark != mark]
    drawn = slab_pictures(sitting, slab, [*beside, tried], quick=True)
    figures = []
    if verdict.readings:  # off the slab there is no grain to read
        figures += [
            (slope(verdict.slope_worst), "", "steepest grain"),
            (slope(verdict.slope_mean), "", "mean"),
        ]
    if verdict.gap_mm < 1e6:
        figures.append((show(verdict.gap_mm, style), "", "to its neighbour"))
    here = mine is not None and _pose(mine) == pose
    words = "It may lie here." if verdict.passes else "It may not lie here."
    return HandView(
        mark, frame, pose, drawn, verdict.passes, words,
        tuple(_in_her_unit(f.says, style) for f in verdict.faults), tuple(figures), here,
        bool(mine and mine.locked), (mark, pose.slab) in job.stated.vessel.layout.forbid_pairs,
        _scales(slab), names, tuple(p.mark for p in beside), steps,
    )  # fmt: skip


def _in_her_unit(says: str, style: Style) -> str:
    """A fault's figures, said in millimetres, in the unit that she is shown in."""
    says = re.sub(r"(\d+) mm2", lambda m: show_square(float(m[1]), style), says)
    says = re.sub(r"([\d.]+) mm\b", lambda m: show(float(m[1]), style), says)
    return re.sub(r", ([\d.]+) needed", lambda m: f", {show(float(m[1]), style)} needed", says)


def _scales(slab: Slab) -> tuple[float, ...]:
    """Millimetres of the slab in one of each picture."""
    import numpy as np

    every = [slab.top_mm, slab.bottom_mm]
    every += [f for f in (slab.face_top_mm, slab.face_bottom_mm) if f is not None]
    span = float(np.ptp(np.vstack(every)[:, 0]))
    return tuple(max(span / wide, 0.1) for wide in WIDTHS_MM)


def placed(sitting: Sitting, mark: str, pose: Pose) -> Placement:
    """The placement that a pose means, its slopes not read yet."""
    from futtock.layout.placement import Placement

    return Placement(
        mark, pose.slab, pose.turn_deg, (pose.x_mm, pose.y_mm), pose.mirrored, 0.0, 0.0
    )


def judged(sitting: Sitting, tried: Placement) -> Verdict:
    """The exact verdict on a placement among the accepted ones."""
    return _pile(sitting).judge(tried)


def _pile(sitting: Sitting) -> Pile:
    """The pile, with what the journal shows of it read again only where something was entered."""
    from futtock.job.office.works import yard_state
    from futtock.job.pile import Pile

    pile = Pile(sitting.job)
    last = yard_state(sitting.job.folder).last
    pile.__dict__["shown"] = sitting.drawn(("shown", last), lambda: pile.shown)
    return pile


def laid_in_middle(sitting: Sitting, mark: str, slab: str) -> Pose:
    """A pose to begin with: along the slab, middle on middle."""
    import numpy as np

    job = sitting.need("papers", "frames", "moulds")
    mould, ring = mould_of(job, mark), job.rack[slab].top_mm
    tried = placed(sitting, mark, Pose(slab, 0.0, 0.0, 0.0, False))
    outline = tried.lay(mould.outline_up_mm)
    middle = (ring.min(axis=0) + ring.max(axis=0)) / 2
    x, y = (middle - (outline.min(axis=0) + outline.max(axis=0)) / 2).tolist()
    assert np.isfinite([x, y]).all()
    return Pose(slab, 0.0, round(x, 1), round(y, 1), False)


def put_by_hand(sitting: Sitting, mark: str, pose: Pose) -> str:
    """Put a timber here in the accepted layout, locked; in words.

    Raises
    ------
    Misused
        Where the verdict is against it.
    """
    tried = placed(sitting, mark, pose)
    if (mark, pose.slab) in sitting.job.stated.vessel.layout.forbid_pairs:
        raise Misused(f"{mark} is kept off slab {pose.slab}: let it lie there first.")
    with pen(sitting.job.folder):  # so that nobody puts another there meanwhile
        verdict = judged(sitting, tried)
        if not verdict.passes:
            style = sitting.job.stated.vessel.show
            said = "; ".join(_in_her_unit(f.says, style) for f in verdict.faults)
            raise Misused(f"{mark} may not lie there: {said}.")
        firm = replace(
            tried, slope_mean=verdict.slope_mean, slope_worst=verdict.slope_worst, locked=True
        )
        _change(sitting.job, lambda many: [*(p for p in many if p.mark != mark), firm])
    return f"{mark} lies on {pose.slab}, locked."


def lock(sitting: Sitting, mark: str, locked: bool) -> str:
    """Lock a timber where it lies, or free it; in words."""
    job = sitting.need("papers", "frames", "moulds")
    if mark not in {p.mark for p in accepted(job)}:
        raise Misused(f"{mark[:40]} has no place yet.")
    _change(job, lambda many: [replace(p, locked=locked) if p.mark == mark else p for p in many])
    return f"{mark} is locked where it lies." if locked else f"{mark} may move again."


def keep_off(sitting: Sitting, mark: str, slab: str, off: bool) -> str:
    """Keep a timber off one slab in every layout, or let it lie there again; in words."""
    from futtock.job.office.stating import state_list

    job = sitting.need("papers")
    if sitting.has("moulds"):
        mould_of(job, mark)
    _ = job.rack[slab]
    state_list(
        job.folder,
        "layout.forbid_pairs",
        lambda pairs: [p for p in pairs if p != [mark, slab]] + [[mark, slab]] * off,
    )
    if not off:
        return f"{mark} may lie on slab {slab} again."
    lies = any(p.mark == mark and p.slab == slab for p in accepted(job))
    more = " It lies there now; the next layout moves it." if lies else ""
    return f"{mark} is kept off slab {slab}.{more}"


def take_off(sitting: Sitting, mark: str) -> str:
    """Take a timber off its slab; in words."""
    job = sitting.need("papers", "frames", "moulds")
    if mark not in {p.mark for p in accepted(job)}:
        raise Misused(f"{mark[:40]} has no place yet.")
    _change(job, lambda many: [p for p in many if p.mark != mark])
    return f"{mark} is taken off its slab."


def _change(job: Job, change: Any) -> None:
    """The accepted layout with its placements changed, its figures made to fit."""
    from futtock.job.accepted import ACCEPTED, SPENT, read_accepted
    from futtock.job.written import Written
    from futtock.layout.document import layout_json
    from futtock.layout.placement import Bound, Layout
    from futtock.stock.rack import areas_m2

    with pen(job.folder):
        before = _document(job) or {}
        many = tuple(change(read_accepted(job.folder).placements))
        moulds = {m.mark: m for m in job.moulds}
        used = {p.slab for p in many}
        begun = areas_m2(s for s in job.rack.slabs if s.name in used)[1]
        got = sum(moulds[p.mark].square_m2 for p in many if p.mark in moulds)
        there = {p.mark for p in many}
        layout = Layout(
            many,
            tuple(m.mark for m in job.moulds if m.mark not in there),
            len(used),
            got / begun if begun else 0.0,
            Bound("", 0.0, 0.0),
            float(before.get("seconds") or 0.0),
        )
        document = {**layout_json(layout), "by_hand": True}
        if SPENT in before:
            document[SPENT] = before[SPENT]
        Written(job.folder).put(ACCEPTED, json.dumps(document, indent=1) + "\n")
