"""The rack at the command line: slabs by tape and by photograph, the pile counted, forms, pictures.

What a person measured is added to ``slabs.json`` whole or not at all; what has happened to a slab
is the journal's and is folded in by name.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from futtock.errors import Misused, Unreadable
from futtock.findings import Finding
from futtock.job import accounts, bench, by_hand, documents, wood
from futtock.job.answer import Answer
from futtock.job.pen import pen
from futtock.job.title import heading
from futtock.job.whole import Job
from futtock.job.written import Written, file_name, write_pdf, write_picture
from futtock.progress import Progress, Report

if TYPE_CHECKING:
    from collections.abc import Mapping

    from futtock.stock.photo.lens import Lens
    from futtock.stock.pile import Pile, State
    from futtock.stock.rack import Rack
    from futtock.stock.slab import Slab
    from futtock.yard.state import SlabState

FILE = "slabs.json"
PHOTOS = "photos"
LENS = f"{PHOTOS}/lens.json"


@dataclass(frozen=True)
class Said:
    """What is said of a slab beside its record or its picture; None leaves the record's own."""

    name: str | None = None
    species: str | None = None
    thickness: str | None = None
    moisture_percent: float | None = None
    stack: str | None = None
    price: float | None = None


def add_tape(folder: str, report: Report, *, file: str, said: Said) -> Answer:
    """Put the slabs of a tape record on the rack: all of them, or none where one has a fault."""
    from futtock.stock.adding import add_taped
    from futtock.stock.rack import Rack, added
    from futtock.vessel.papers import Papers

    job = Job(folder, report)
    rack = _sound(job)
    path = Path(file)
    papers = Papers(path.parent if path.parent.is_dir() else Path(folder))
    addition = add_taped(Rack(()), papers, path.name, job.stated.vessel.lines.unit)
    noticed = (*papers.findings, *addition.findings)
    if not addition.complete or not addition.slabs or _left_off(noticed):
        raise Unreadable(f"'{file}' cannot be put on the rack as it stands.", noticed)
    if said.name is not None and len(addition.slabs) > 1:
        names = ", ".join(s.name for s in addition.slabs)
        raise Misused(f"One name for {len(addition.slabs)} slabs ({names}): name them in the file.")
    new = tuple(_as_said(slab, said) for slab in addition.slabs)
    for slab in new:
        rack = added(rack, slab)
    keep(job.folder, rack, len(new))
    return _added(job, rack.slabs[-len(new) :], noticed)


def add_photo(
    folder: str,
    report: Report,
    *,
    file: str,
    said: Said,
    taped: str | None = None,
    lie: str | None = None,
    accept: bool = False,
    below: str | None = None,
    wane: str | None = None,
    butt: int | None = None,
    corrections: str | None = None,
) -> Answer:
    """Put a photographed slab on the rack, its portrait into ``photos/``.

    Parameters
    ----------
    taped
        ``ID-ID=LENGTH``: the tape's distance between the middles of two cards.
    lie
        Where the cards lie: ``face`` or ``floor``.
    accept
        Take the flaws proposed as decided.
    below
        A photograph of the other face.
    wane
        In its stead a tape record with the columns ``wane left`` and ``wane right``.
    butt
        With ``wane``: the card nearest the end where the tape began.
    corrections
        A file of corrections, in the axes of the portrait.
    """
    import numpy as np

    from futtock.stock.adding import add_photographed
    from futtock.stock.photo.photograph import PhotoSettings
    from futtock.stock.slab import Slab
    from futtock.vessel.papers import Papers

    if said.name is None or said.thickness is None:
        raise Misused("A photograph shows neither: give --name and --thickness.")
    if lie not in (None, "face", "floor"):
        raise Misused(f"--cards-on {lie}: expected face or floor.")
    if wane is not None and below is not None:
        raise Misused("The other face is known by --below FILE or by --wane FILE: give one.")
    if butt is not None and wane is None:
        raise Misused("--butt says where the tape of --wane began: it goes with it.")
    job = Job(folder, report)
    rack = _sound(job)
    thick = _length(said.thickness, job, "--thickness")
    content = _picture(file)
    other = (Path(below).name, _picture(below)) if below is not None else None
    hand = by_hand.corrections_from(corrections) if corrections is not None else None
    widths, amiss = None, tuple[Finding, ...]()
    if wane is not None:
        path = Path(wane)
        papers = Papers(path.parent if path.parent.is_dir() else job.folder)
        unit = job.stated.vessel.lines.unit
        widths, amiss = by_hand.wane_from(papers, path.name, said.name, unit)
    portrait = f"{PHOTOS}/{file_name(said.name)}.jpg"
    nothing = np.zeros((0, 2))
    named = Slab(
        said.name, said.species or job.stated.vessel.timber.species, thick, said.moisture_percent,
        nothing, nothing, (), (), stack=said.stack or "", price=said.price, portrait=portrait,
    )  # fmt: skip
    asked = PhotoSettings(
        taped=_taped(taped, job) if taped else None,
        lie="face" if lie == "face" else "floor" if lie == "floor" else None,
        thickness_mm=thick,
        accept=accept,
        lens=kept_lens(job.folder),
    )
    got = add_photographed(
        rack, content, named, asked, hand, Path(file).name, report, other, widths, butt
    )
    Written(job.folder).put(portrait, got.portrait_jpeg)
    keep(job.folder, got.rack, 1)
    answer = _added(job, (got.slab,), (*amiss, *got.findings))
    if not got.other:
        return answer
    return replace(answer, account=f"{answer.account}\nIts other face is {got.other}.")


def lens(folder: str, report: Report, *, files: Sequence[str]) -> Answer:
    """Measure the camera's lens from photographs of flat cards; kept, and used from now on."""
    from dataclasses import asdict

    from futtock.stock.photo.decode import open_picture
    from futtock.stock.photo.lens import lens_of_shots, lens_text

    job = Job(folder, report)
    pictures: list[Any] = []
    noticed: list[Finding] = []
    for done, file in enumerate(files):
        report(Progress("lens", done, len(files), Path(file).name))
        opened = open_picture(_picture(file), Path(file).name)
        pictures.append(opened.picture)
        noticed += opened.findings
    found = lens_of_shots(pictures)
    Written(job.folder).put(LENS, lens_text(found))
    account = (
        f"The lens bends by {found.coefficient:+.4f}, to {found.spread:.4f}, from {found.shots} "
        f"photographs.\nIt is kept in {LENS} and used for photographs of the same shape."
    )
    return Answer(asdict(found), account, tuple(noticed))


def kept_lens(folder: Path) -> Lens | None:
    """The lens that was measured; None where none was. :class:`Misused` where its file is none."""
    from futtock.stock.photo.lens import lens_from_text

    try:
        text = (folder / LENS).read_text("utf-8")
    except FileNotFoundError:
        return None
    except (OSError, UnicodeDecodeError):
        text = ""
    try:
        return lens_from_text(text)
    except Misused as error:
        raise Misused(f"{LENS}: {error}, or take the file away.") from None


def _picture(file: str) -> bytes:
    try:
        return Path(file).read_bytes()
    except OSError as error:
        from futtock.stock.kinds import PHOTO_FILE

        words = f"'{file}' cannot be opened: {error.strerror}."
        raise Unreadable(words, [PHOTO_FILE.found(words, file=file)]) from None


def keep(folder: Path, rack: Rack, count: int) -> None:
    """Put the rack's last ``count`` slabs into ``slabs.json``; its other files stay.

    Raises
    ------
    Unreadable
        Where one of them has been put there meanwhile by another.
    """
    from futtock.stock.rack import added, read_rack, write_rack

    folder.mkdir(parents=True, exist_ok=True)
    with pen(folder):
        now = read_rack(folder)
        for slab in rack.slabs[-count:]:
            now = added(now, slab)
        own = tuple(e for e in now.entries if e.file == FILE)
        names = {e.name for e in own}
        old = tuple(s for s in now.slabs[:-count] if s.name in names)
        write_rack(folder / FILE, replace(now, slabs=(*old, *now.slabs[-count:]), entries=own))


def offcuts(folder: str, report: Report, *, slab: str) -> Answer:
    """Put what is left of a slab back on the rack, with its own true outlines.

    What was sawn out is what the accepted layout places on it and the journal shows as roughed.
    """
    from futtock.job.pile import Pile as Layouts
    from futtock.stock.offcut import offcuts as left_of
    from futtock.stock.rack import added

    job = Job(folder, report)
    rack = _sound(job)
    whole, pile = rack[slab], Layouts(job, rack.slabs)
    moulds = {m.mark: m for m in job.moulds}
    out = [p for p in pile.accepted if p.slab == slab and p.mark in pile.shown.cut]
    if not out:
        raise Misused(
            f"No timber laid out on slab {slab} is roughed yet: 'futtock did MARK roughed' first."
        )
    rings = [
        p.lay(ring)
        for p in out
        for ring in (moulds[p.mark].outline_up_mm, moulds[p.mark].outline_down_mm)
    ]
    left = left_of(whole, rings, job.sound.vessel.timber.kerf_mm)
    for piece in left:
        rack = added(rack, piece)
    if left:
        keep(job.folder, rack, len(left))
    sawn = ", ".join(p.mark for p in out)
    account = f"Out of slab {slab}: {sawn}.\n"
    if not left:
        account += "Nothing is left that is worth keeping.\n"
    account += f"Next: futtock did {folder} {slab} consumed --who NAME"
    from futtock.stock.entry import slab_entry

    entries = [slab_entry(s) for s in rack.slabs[-len(left) :]] if left else []
    document = {"slab": slab, "sawn": [p.mark for p in out], "slabs": entries}
    if left:
        names = ", ".join(s.name for s in left)
        account = f"On the rack: {names}.\n" + account
    return Answer(document, account)


def count(folder: str, report: Report) -> Answer:
    """The slabs and the pile: stacks, counts, volume, value, moisture, what has become of them."""
    from futtock.stock.pile import count_pile

    job = Job(folder, report)
    rack, states = job.rack, slab_states(job)
    slabs = tuple(_metered(s, states.get(s.name)) for s in rack.slabs)
    pile = count_pile(slabs, _become(states))
    document = documents.rack_document(replace(rack, slabs=slabs))
    document |= documents.pile_document(pile)
    left = {s.name: wood.to_leave(job, s) for s in slabs}
    for entry in document["slabs"]:
        state = states.get(entry["name"])
        entry["state"] = state.state if state else "whole"
        entry["place"] = state.place if state else ""
        entry["to_leave"] = wood.leave_document(left[entry["name"]])
    squares, amiss = bench.pin_stock(job)
    document["pins"] = [{**asdict(s), "volume_m3": round(s.volume_m3, 6)} for s in squares]
    account = accounts.racked(replace(rack, slabs=slabs), job.stated.vessel.show)
    if slabs:
        account += "\n" + accounts.piled(pile, job.stated.vessel.show)
    wettest = max((v for v in left.values() if v), key=lambda v: v[0].now_percent, default=None)
    if wettest is not None:
        account += f"\n  the wettest: {wood.leave_words(wettest, job.stated.vessel.show)}"
    for s in squares:
        account += (
            f"\n  {s.use} stock {s.name}: {s.count} squares of {s.species}, {s.square_mm:.0f} mm, "
            f"{s.length_mm:.0f} mm long"
        )
    return Answer(document, account, (*rack.findings, *amiss, *_together(pile)))


def form(folder: str, report: Report, *, out: str, said: Said, length: str | None = None) -> Answer:
    """The form to measure a slab by tape: to print and fill in, and the same as a file to type."""
    from futtock.drawing.tape_form import tape_form_sheet
    from futtock.stock.tape_form import tape_form, tape_form_text

    job = Job(folder, report)
    vessel = job.stated.vessel
    blank = tape_form(
        said.name or "",
        said.species or vessel.timber.species,
        vessel.show,
        _length(length, job, "--length") if length else 4000.0,
        said.stack or "",
    )
    written = Written(Path(out))
    name = file_name(f"slab-{said.name}" if said.name else "slab-by-tape")
    write_pdf(written, name, [tape_form_sheet(blank, heading(job))])
    written.put(f"{name}.csv", tape_form_text(blank))
    said_next = f"Fill it in, then: futtock rack add {folder} --tape {Path(out) / name}.csv"
    return Answer({"files": written.files}, f"{written.account}\n{said_next}")


def cards(folder: str, report: Report, *, out: str, count: int) -> Answer:
    """The marker cards that lie on a slab while it is photographed, full size."""
    from futtock.drawing.cards import card_sheets

    job = Job(folder, report)
    written = Written(Path(out))
    write_pdf(written, "cards", card_sheets(tuple(range(count)), heading(job)))
    return Answer({"files": written.files, "cards": list(range(count))}, written.account)


def draw(folder: str, report: Report, *, out: str, names: Sequence[str] = ()) -> Answer:
    """Every slab drawn, or those named: the slab with its offsets, and the way its grain runs."""
    from futtock.drawing.grain import grain_sheet
    from futtock.drawing.slab import slab_sheet
    from futtock.stock.strength import CAUTION

    job = Job(folder, report)
    head, written = heading(job), Written(Path(out))
    slope = job.stated.vessel.timber.grain_slope
    strength = [f"where the grain slopes 1 in {slope:g}, the steepest allowed, there is left by"]
    strength += [*wood.strength_words(slope), CAUTION]
    slabs = [job.rack[n] for n in names] if names else list(job.slabs())
    for done, slab in enumerate(slabs):
        if not report(Progress("slabs", done, len(slabs), slab.name)):
            break
        name = file_name(f"slab-{slab.name}")
        left = wood.to_leave(job, slab)
        said = [] if left is None else [wood.leave_words(left, head.show)]
        pages = [slab_sheet(slab, (), {}, head), grain_sheet(slab, head, said=[*said, *strength])]
        write_pdf(written, name, pages)
        write_picture(written, name, pages[0])
        write_picture(written, f"{name}-grain", pages[1])
    return Answer({"files": written.files}, written.account, job.rack.findings)


def slab_states(job: Job) -> dict[str, SlabState]:
    """What the journal says of the slabs it has met; nothing where there is no journal."""
    from futtock.yard import Journal, place_of

    place = place_of(job.folder)
    if isinstance(place, Path) and not place.exists():
        return {}
    with Journal(place, create=False) as journal:
        return dict(journal.state().slabs)


def _become(states: Mapping[str, SlabState]) -> dict[str, State]:
    from futtock.stock.pile import State

    return {name: State(s.state) for name, s in states.items()}


def _metered(slab: Slab, state: SlabState | None) -> Slab:
    """The slab with the journal's last reading of its moisture, where that is the later."""
    if state is None or not state.moisture:
        return slab
    at, percent = state.moisture[-1]
    day = str(at)[:10]
    if slab.moisture_date and slab.moisture_date > day:
        return slab
    return replace(slab, moisture_percent=percent, moisture_date=day)


def _sound(job: Job) -> Rack:
    """The rack, where its files can be written back without losing anything.

    Raises
    ------
    Unreadable
        Where a rack file cannot be opened, or is no list of slabs.
    """
    from futtock.stock import kinds

    rack = job.rack
    read = {e.file for e in rack.entries}
    lost = [
        f
        for f in rack.findings
        if f.code in (kinds.NO_FILE.code, kinds.NOT_JSON.code)
        or (f.code == kinds.NOT_A_SLAB.code and f.file not in read)
    ]
    if lost:
        raise Unreadable("The rack cannot be added to until its file is mended.", lost)
    return rack


def _left_off(findings: Iterable[Finding]) -> bool:
    """Whether a slab of the file was left off the rack for what was found."""
    from futtock.stock import kinds
    from futtock.stock.inspect import SETS_ASIDE

    return any(f.code in {*SETS_ASIDE, kinds.NAME_TWICE.code} for f in findings)


def _as_said(slab: Slab, said: Said) -> Slab:
    given: dict[str, Any] = {
        "name": said.name,
        "species": said.species,
        "moisture_percent": said.moisture_percent,
        "stack": said.stack,
        "price": said.price,
    }
    return replace(slab, **{key: value for key, value in given.items() if value is not None})


def _added(job: Job, slabs: Sequence[Slab], noticed: Iterable[Finding]) -> Answer:
    """One slab answers with its entry, several with a list of them."""
    from futtock.stock.entry import slab_entry
    from futtock.stock.pile import count_pile

    entries = [slab_entry(s) for s in slabs]
    pile = count_pile(slabs)
    document = entries[0] if len(entries) == 1 else {"slabs": entries}
    names = ", ".join(s.name for s in slabs)
    account = f"On the rack: {names}.\n" + accounts.piled(pile, job.stated.vessel.show)
    return Answer(document, account, (*noticed, *pile.findings))


def _together(pile: Pile) -> tuple[Finding, ...]:
    """The pile's findings; slabs beyond a lift are told once, the heaviest by name."""
    from futtock.stock.kinds import HEAVY

    heavy = [f for f in pile.findings if f.code == HEAVY.code]
    if len(heavy) < 2:
        return pile.findings
    worst = max(heavy, key=lambda f: float((f.read or "0").split()[0]))
    said = f"{len(heavy)} slabs are beyond one person's lift; the heaviest: {worst.message}"
    rest = tuple(f for f in pile.findings if f.code != HEAVY.code)
    return (*rest, replace(worst, message=said))


def _length(text: str, job: Job, flag: str) -> float:
    from futtock.measure import read_length

    try:
        return float(read_length(text, job.stated.vessel.lines.unit))
    except ValueError as error:
        raise Misused(f"{flag}: {error}") from None


def _taped(text: str, job: Job) -> dict[tuple[int, int], float]:
    ids, _, distance = text.partition("=")
    pair = ids.split("-")
    if len(pair) != 2 or not all(p.strip().isdecimal() for p in pair) or not distance:
        raise Misused(f"--taped {text}: expected ID-ID=LENGTH, as 0-3=2450 mm.")
    return {(int(pair[0]), int(pair[1])): _length(distance, job, "--taped")}
