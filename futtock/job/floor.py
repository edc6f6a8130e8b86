"""What the floor pages show and enter: the saw guide, the traveller, the journal's answers."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from futtock.errors import Misused, Unreadable
from futtock.job.office.works import laid_on, yard_state

if TYPE_CHECKING:
    from pathlib import Path

    from futtock.bench.traveller import Measurement
    from futtock.job.office.office import Sitting
    from futtock.job.whole import Job
    from futtock.measure import Style
    from futtock.yard import YardState

LONGEST_WAIT = timedelta(days=90)
"""An entry may have waited so long in a browser; an older age is taken for a wrong clock."""
_REACH = 48
"""Steps to either side of a wanted length that are offered by touch: three inches."""
_PHOTOGRAPHS = 24


@dataclass(frozen=True)
class Stage:
    """One stage of a mark: its word, what it is called, whether it is done, when and by whom."""

    word: str
    label: str
    done: bool
    by: str


@dataclass(frozen=True)
class TimberWork:
    """One timber of a frame: its stages, and the slab it comes from."""

    mark: str
    slab: str
    spoiled: bool
    stages: tuple[Stage, ...]

    @property
    def next(self) -> Stage | None:
        """The first stage that is not done."""
        return next((s for s in self.stages if not s.done), None)


@dataclass(frozen=True)
class Check:
    """A length to prove a frame by: what is wanted, what was found last, and lengths near it.

    ``near`` runs in steps of the finest that is shown, the wanted one in its middle.
    """

    name: str
    label: str
    wanted: str
    wanted_mm: float
    within: str
    found: str
    near: tuple[str, ...]

    @property
    def middle(self) -> int:
        """Where in ``near`` the wanted length stands."""
        return len(self.near) // 2


@dataclass(frozen=True)
class Photograph:
    """A photograph of the work: its file's name, and what stands under it."""

    name: str
    says: str


@dataclass(frozen=True)
class TravellerView:
    """The traveller of a frame, of half of one, or of a timber."""

    mark: str
    frame: int
    timber: bool
    says: str
    lead: str
    stale: str
    slab: str
    spoiled: bool
    stages: tuple[Stage, ...]
    timbers: tuple[TimberWork, ...]
    checks: tuple[Check, ...]
    cautions: tuple[str, ...]
    contested: tuple[str, ...]
    notes: tuple[str, ...]
    photographs: tuple[Photograph, ...]
    last: int

    @property
    def next(self) -> Stage | None:
        """The first stage that is not done."""
        return next((s for s in self.stages if not s.done), None)


@dataclass(frozen=True)
class Sent:
    """An entry as a floor page sends it.

    ``age`` is how long ago it was entered there, by that browser's own clock: so it does not
    matter what that clock shows. ``undo`` is the id of the entry to undo, else empty.
    """

    id: str
    mark: str
    stage: str
    who: str
    because: str = ""
    text: str = ""
    name: str = ""
    found: str = ""
    wanted_mm: float | None = None
    slab: str = ""
    seen: int | None = None
    age: timedelta = timedelta()
    undo: str = ""
    sender: str = ""
    file: str = ""


@dataclass(frozen=True)
class Kept:
    """The journal's answer: the entry's number, whether it was there before, what is told."""

    id: str
    seq: int
    known: bool
    told: tuple[str, ...]
    says: str


def vessel_code(folder: Path) -> str:
    """What tells this folder's waiting entries from another's in the same browser."""
    return hashlib.sha256(str(folder.resolve()).encode()).hexdigest()[:12]


def mark_asked(job: Job, text: str) -> tuple[str, str]:
    """Mark and revision of what was scanned or typed.

    Raises
    ------
    Misused
        Where the vessel has no such timber or frame.
    """
    from futtock.yard.event import read_code
    from futtock.yard.stages import frame_of, mark_of

    mark, _, revision = read_code(text)
    kind, number = mark_of(mark), frame_of(mark)
    frame = next((f for f in job.framing.frames if f.number == number), None)
    marks = {t.mark for t in frame.timbers} if frame is not None else set()
    if not marks or kind == "slab" or (kind == "timber" and mark not in marks):
        raise Misused(f"The vessel has no timber and no frame '{mark[:40]}'.")
    return mark, revision


def traveller_view(sitting: Sitting, text: str, revision: str = "") -> TravellerView:
    """The traveller of a mark, or of a scanned code, as the journal has it now."""
    from futtock.bench.cautions import cautions
    from futtock.bench.traveller import CAUTION_OF_STAGE
    from futtock.yard.stages import FRAME_STAGES, TIMBER_STAGES, frame_of, mark_of

    job = sitting.need("papers", "frames", "moulds")
    mark, scanned = mark_asked(job, text)
    revision = revision or scanned
    state = yard_state(job.folder)
    laid = laid_on(job)
    timber = mark_of(mark) == "timber"
    number = frame_of(mark)
    assert number is not None  # every asked mark has a frame
    frame = job.framing.frame(number)
    half = mark.partition("-")[2] if not timber else ""
    own = [t.mark for t in frame.timbers if not half or t.side in (half, "C")]
    piece = state.pieces.get(mark)
    stages = stages_of(state, mark, TIMBER_STAGES if timber else FRAME_STAGES)
    following = next((s for s in stages if not s.done), None)
    what = "Timber" if timber else "Frame"
    says = f"{what} {mark}: {following.label} next." if following else f"{what} {mark} is done."
    sheet = CAUTION_OF_STAGE.get(following.word) if following else None
    slab = (piece.slab if piece else None) or laid.get(mark, "")
    stale = ""
    if revision and revision != job.revision:
        stale = (
            f"The print that you scanned is of revision {revision[:20]}; the drawings are now "
            f"{job.revision}. Compare it with the drawing before you cut by it."
        )
    lead = f"From slab {slab}." if slab else "No slab is chosen for it yet." if timber else ""
    return TravellerView(
        mark,
        number,
        timber,
        says,
        lead or f"{len(own)} timbers.",
        stale,
        slab,
        piece is not None and piece.to_make_anew,
        stages,
        () if timber else tuple(timber_work(state, m, laid.get(m, ""), TIMBER_STAGES) for m in own),
        () if timber else checks_of(sitting, job, state, number, mark),
        tuple(c.text for c in cautions(sheet)) if sheet else (),
        contested_of(state, mark, () if timber else own),
        tuple(
            f"{_when(e.at)}, {e.who}: {e.body.get('text', '')}"
            for e in state.notes
            if e.mark == mark
        ),
        _photographs(state, {mark, *(() if timber else own)}),
        state.last,
    )


def timber_work(state: YardState, mark: str, slab: str, words: tuple[str, ...]) -> TimberWork:
    """A timber of a frame as the journal has it."""
    piece = state.pieces.get(mark)
    slab = (piece.slab if piece else None) or slab
    return TimberWork(
        mark, slab, piece is not None and piece.to_make_anew, stages_of(state, mark, words)
    )


def stages_of(state: YardState, mark: str, words: tuple[str, ...]) -> tuple[Stage, ...]:
    """A mark's stages as the journal has them."""
    made = []
    for word in words:
        done = state.has(mark, word)
        record = state.record(mark, word) if done else None
        by = f"{_when(record.at)}, {record.who}" if record is not None else ""
        made.append(Stage(word, word.replace("-", " "), done, by))
    return tuple(made)


def checks_of(
    sitting: Sitting, job: Job, state: YardState, number: int, mark: str
) -> tuple[Check, ...]:
    """The lengths that prove a frame, with what was found last."""
    from futtock.drawing.figures import level_name
    from futtock.job.office.said import show

    style = job.stated.vessel.show
    measures = measures_of(sitting, job, number)
    last = {e.body.get("name"): e for e in state.checks if e.mark == mark}
    made = []
    for m in measures:
        found = last.get(m.name)
        said = ""
        if found is not None and "found_mm" in found.body:
            said = f"{_verdict(found.body, m.tolerance_mm, style)} ({found.who})"
        within = show(m.tolerance_mm, style)
        label = re.sub(r"level [\d.]+", lambda found: level_name(found[0], style), m.name)
        wanted = round(m.mm, 3)
        made.append(
            Check(m.name, label, show(m.mm, style), wanted, within, said, _near(m.mm, style))
        )
    return tuple(made)


def prepare(sitting: Sitting) -> None:
    """Work out beforehand what the first look at each floor page would wait for."""
    from futtock.job.bench_page import bench_view
    from futtock.job.saw_guide import saw_list

    saw_list(sitting)
    for frame in sitting.job.framing.frames:
        bench_view(sitting, frame.number)


def measures_of(sitting: Sitting, job: Job, number: int) -> tuple[Measurement, ...]:
    """The lengths that prove a frame."""
    frame = job.framing.frame(number)
    return sitting.drawn(("checks", number), lambda: job.travellers(frame, {})[0].checks)


@lru_cache(4096)
def _near(mm: float, style: Style) -> tuple[str, ...]:
    """Lengths about this one, to choose from by touch."""
    middle = round(mm / _step_mm(style))
    reach = min(_REACH, middle)
    return tuple(_stepped(middle + k, style) for k in range(-reach, reach + 1))


def _step_mm(style: Style) -> float:
    return 1.0 if style == "metric" else 25.4 / 16


@lru_cache(65_536)
def _stepped(steps: int, style: Style) -> str:
    """So many of the finest steps that are shown; frames share most of them."""
    from futtock.job.office.said import show

    return show(steps * _step_mm(style), style)


def _photographs(state: YardState, marks: set[str]) -> tuple[Photograph, ...]:
    """The newest photographs of these marks, newest first."""
    own = [e for e in state.photographs if e.mark in marks][-_PHOTOGRAPHS:]
    made = []
    for e in reversed(own):
        text = e.body.get("text", "")
        says = f"{e.mark}, {_when(e.at)}, {e.who}" + (f": {text}" if text else "")
        made.append(Photograph(str(e.body.get("file", "")), says))
    return tuple(made)


def _verdict(body: Any, tolerance_mm: float, style: Any) -> str:
    """What a found length means beside the wanted one."""
    from futtock.job.office.said import show

    found = float(body["found_mm"])
    wanted = body.get("wanted_mm")
    if wanted is None:
        return f"found {show(found, style)}"
    off = found - float(wanted)
    if abs(off) <= tolerance_mm:
        return f"found {show(found, style)}: within {show(tolerance_mm, style)}"
    way = "over" if off > 0 else "short"
    return f"found {show(found, style)}: {show(abs(off), style)} {way}, true it before you go on"


def contested_of(state: YardState, mark: str, own: tuple[str, ...] | list[str]) -> tuple[str, ...]:
    """Entries of a mark and its timbers that another one was before, in words."""
    marks = {mark, *own}
    return tuple(
        f"{c.event.mark} {c.event.stage} by {c.event.who} ({_when(c.event.at)}) does not count: "
        f"{c.first.who} entered {c.first.mark} {c.first.stage} first ({_when(c.first.at)})."
        for c in state.contested
        if c.event.mark in marks
    )


def _when(at: str) -> str:
    moment = datetime.fromisoformat(at)
    return f"{moment:%-d %b} {moment:%H:%M} UTC"


def enter(sitting: Sitting, sent: Sent) -> Kept:
    """Keep an entry of a floor page in the journal; sending it again changes nothing.

    Raises
    ------
    Misused
        Where it cannot be meant; nothing is kept.
    Unwritable, Unreadable, NotYet
        Where it cannot be kept now; it may be sent again.
    """
    from futtock.yard import Entry, Journal, place_of
    from futtock.yard.event import read_code

    folder = sitting.job.folder
    now = datetime.now(UTC)
    if not timedelta() <= sent.age <= LONGEST_WAIT:
        raise Misused("It has waited too long, or that browser's clock was changed: enter it anew.")
    if not (folder / "vessel.toml").is_file():
        raise Misused("There is no vessel.toml here, so nothing can be entered.")
    with Journal(place_of(folder)) as journal:
        if sent.undo:
            done = journal.undo(sent.who, now, id=sent.undo, because=sent.because, new_id=sent.id)
            says = "undone"
        else:
            mark = read_code(sent.mark)[0]
            entry = Entry(
                mark,
                sent.stage,
                sent.who,
                _body(sitting, sent),
                at=now - sent.age,
                id=sent.id,
                sender=sent.sender,
                seen=sent.seen,
            )
            marks = None
            if sitting.has("frames"):
                marks = [t.mark for f in sitting.job.framing.frames for t in f.timbers]
            done = journal.enter(entry, now, known_marks=marks)
            says = f"{done.event.mark} {done.event.stage.replace('-', ' ')}"
    told = [f.message for f in done.findings]
    if done.event.stage == "checked" and "found_mm" in done.event.body:
        style, tolerance = sitting.need("papers").stated.vessel.show, 3.0
        numbers = (
            [f.number for f in sitting.job.framing.frames]
            if sitting.has("frames", "moulds")
            else []
        )
        if done.event.frame in numbers:
            measures = measures_of(sitting, sitting.job, done.event.frame)
            tolerance = measures[0].tolerance_mm if measures else tolerance
        says += f", {sent.name}: {_verdict(done.event.body, tolerance, style)}"
    return Kept(done.event.id, done.event.seq, done.known, tuple(told), says)


def slab_for(sitting: Sitting, mark: str, stage: str) -> str:
    """The slab that an entry of a laid out timber names: its place in the accepted layout."""
    return laid_on(sitting.job).get(mark, "") if stage == "laid-out" else ""


def _body(sitting: Sitting, sent: Sent) -> dict[str, Any]:
    """The particulars of an entry; of a length both what was typed and its millimetres."""
    body: dict[str, Any] = {}
    for key in ("because", "text", "name", "slab", "file"):
        value = getattr(sent, key).strip()
        if value and (key != "slab" or sent.stage == "laid-out"):
            body[key] = value
    if body.get("slab") and body["slab"] == laid_on(sitting.job).get(sent.mark):
        # timbers that one layout puts on a slab together do not dispute it
        body["layout"] = "accepted"
    if sent.stage != "checked":
        return body
    if not sent.found.strip():
        raise Misused(f"What was found for '{sent.name[:60]}' is not given.")
    body["found_mm"] = round(_typed_mm(sitting, sent.found), 3)
    body["typed"] = sent.found.strip()
    if sent.wanted_mm is not None:
        body["wanted_mm"] = sent.wanted_mm
    return body


def _typed_mm(sitting: Sitting, text: str) -> float:
    """A typed length in mm; a bare figure would be in the vessel's own small unit."""
    from futtock.measure.length import read_length

    style = sitting.need("papers").stated.vessel.show
    try:
        return float(read_length(text, "mm" if style == "metric" else "in"))
    except Unreadable as error:
        raise Misused(f"'{text[:40]}' is no length: {error}") from None
