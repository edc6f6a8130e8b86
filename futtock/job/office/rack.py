"""The rack's pages: slabs sorted and filtered by what they can give, and one slab."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused, Unreadable
from futtock.findings import Finding, Severity
from futtock.job.accounts import counted
from futtock.job.office.picture import WIDTHS_MM, Pictures, inline, pictures
from futtock.job.office.said import show, show_area, slope
from futtock.job.office.works import yard_state

if TYPE_CHECKING:
    from futtock.job.office.giving import Giving
    from futtock.job.office.office import Sitting
    from futtock.job.whole import Job
    from futtock.layout.placement import Placement
    from futtock.moulds.mould import Mould
    from futtock.sheet.sheet import Sheet
    from futtock.stock.slab import Slab
    from futtock.yard.state import SlabState

ON_A_PAGE = 18
SORTS = ("name", "longest", "widest", "thickest", "most free", "driest", "gives most")
SHOWN = ("drawings", "portraits")


@dataclass(frozen=True)
class Asked:
    """What is asked of the list."""

    sort: str = "name"
    text: str = ""
    long_mm: float = 0.0
    wide_mm: float = 0.0
    thick_mm: float = 0.0
    measured: bool = False
    free: bool = False
    page: int = 1
    gives: str = ""
    portraits: bool = False


@dataclass(frozen=True)
class SlabCard:
    """One slab in the list."""

    name: str
    species: str
    long: str
    wide: str
    thick: str
    moisture: str
    stack: str
    measured: bool
    placed: tuple[str, ...]
    picture: str
    flaws: int
    portrait: bool
    gives: int | None = None


@dataclass(frozen=True)
class RackView:
    """A page of the rack."""

    says: str
    lead: str
    cards: tuple[SlabCard, ...]
    found: int
    page: int
    pages: int
    sorts: tuple[str, ...]
    aside: tuple[str, ...]
    findings: tuple[Finding, ...]
    empty: bool
    giving: Giving


@dataclass(frozen=True)
class SlabView:
    """One slab."""

    name: str
    says: str
    picture: Pictures
    figures: tuple[tuple[str, str, str], ...]
    placed: tuple[tuple[str, str, str, bool], ...]
    flaws: tuple[tuple[str, str, str], ...]
    note: str
    findings: tuple[Finding, ...]
    guessed: bool
    forbidden: bool
    portrait: bool
    state: str
    readings: tuple[tuple[str, str], ...]
    offcuts: tuple[str, ...]
    roughed: tuple[str, ...]
    """Timbers sawn out of it whose offcuts are not on the rack yet."""
    before: str
    after: str


def over_all(slab: Slab) -> tuple[float, float]:
    """Length and width over all of the lower face, which is the larger."""
    low, high = slab.bottom_mm.min(axis=0), slab.bottom_mm.max(axis=0)
    long, wide = sorted((float(v) for v in high - low), reverse=True)
    return long, wide


def accepted(job: Job) -> tuple[Placement, ...]:
    """The accepted layout's placements; none where it cannot be read."""
    from futtock.job.accepted import read_accepted

    try:
        return read_accepted(job.folder).placements
    except Unreadable:
        return ()


def rack_view(sitting: Sitting, asked: Asked, known: Giving) -> RackView:
    """The slabs that are asked for, so many at once."""
    job = sitting.need("papers")
    rack, style = job.rack, job.stated.vessel.show
    placements = accepted(job)
    on: dict[str, list[Placement]] = {}
    for p in placements:
        on.setdefault(p.slab, []).append(p)
    taken = _taken(sitting, placements)
    free = {s.name: _area(s) - taken.get(s.name, 0.0) for s in rack.slabs}
    kept = [s for s in rack.slabs if _fits(s, asked, on)]
    if asked.gives:
        kept = [s for s in kept if known.gives(s.name, asked.gives)]
    if asked.sort == "gives most":
        kept.sort(key=lambda s: (-known.count(s.name), s.name))
    else:
        kept.sort(key=lambda s: (_order(s, asked.sort, free), s.name))
    pages = max(1, -(-len(kept) // ON_A_PAGE))
    page = min(max(asked.page, 1), pages)
    shown = kept[(page - 1) * ON_A_PAGE : page * ON_A_PAGE]
    cards = tuple(
        replace(
            _card(sitting, s, tuple(on.get(s.name, ())), style),
            gives=known.count(s.name) if known.known else None,
        )
        for s in shown
    )
    measured = sum(s.measured for s in rack.slabs)
    whole = sum(map(_area, rack.slabs)) / 1e6
    says = f"{counted(len(rack.slabs), 'slab')} on the rack, {len(on)} begun."
    lead = (
        f"{measured} measured, {show_area(whole, style)} of sound wood above, "
        f"{show_area(sum(free.values()) / 1e6, style)} of it free."
    )
    return RackView(
        says, lead, cards, len(kept), page, pages, SORTS, rack.set_aside,
        tuple(f for f in rack.findings if f.severity is not Severity.NOTE), not rack.entries,
        known,
    )  # fmt: skip


def _taken(sitting: Sitting, placements: Sequence[Placement]) -> dict[str, float]:
    """Area in mm2 that placed blanks take of each slab."""
    if not sitting.has("moulds"):
        return {}
    areas = {m.mark: m.square_m2 * 1e6 for m in sitting.job.moulds}
    out: dict[str, float] = {}
    for p in placements:
        out[p.slab] = out.get(p.slab, 0.0) + areas.get(p.mark, 0.0)
    return out


def _area(slab: Slab) -> float:
    from futtock.stock.outline import signed_area_mm2

    return abs(float(signed_area_mm2(slab.top_mm)))


def _fits(slab: Slab, asked: Asked, on: Mapping[str, object]) -> bool:
    long, wide = over_all(slab)
    words = f"{slab.name} {slab.species} {slab.stack} {slab.note}".casefold()
    return (
        all(w in words for w in asked.text.casefold().split())
        and long >= asked.long_mm
        and wide >= asked.wide_mm
        and slab.thickness_mm >= asked.thick_mm
        and (slab.measured or not asked.measured)
        and not (asked.free and slab.name in on)
    )


def _order(slab: Slab, sort: str, free: Mapping[str, float]) -> float:
    if sort in ("longest", "widest"):
        return -over_all(slab)[0 if sort == "longest" else 1]
    if sort == "thickest":
        return -slab.thickness_mm
    if sort == "most free":
        return -free[slab.name]
    if sort == "driest":
        return 1e9 if slab.moisture_percent is None else slab.moisture_percent
    return 0.0


def _card(sitting: Sitting, slab: Slab, here: tuple[Placement, ...], style: object) -> SlabCard:
    key = ("card", slab.name, tuple((p.mark, p.turn_deg, p.shift_mm) for p in here))
    return sitting.drawn(key, lambda: _carded(sitting, slab, here))


def _carded(sitting: Sitting, slab: Slab, here: tuple[Placement, ...]) -> SlabCard:
    from futtock.drawing.slab import slab_picture

    style = sitting.job.stated.vessel.show
    moulds = _sketched(sitting)
    drawn = slab_picture(
        slab, [p for p in here if p.mark in moulds], moulds, width_mm=84.0, grain=False,
        letters_mm=3.8, names=False,
    )  # fmt: skip
    long, wide = over_all(slab)
    wet = "" if slab.moisture_percent is None else f"{slab.moisture_percent:.0f} %"
    return SlabCard(
        slab.name,
        slab.species,
        show(long, style),
        show(wide, style),
        show(slab.thickness_mm, style),
        wet,
        slab.stack,
        slab.measured,
        tuple(p.mark for p in here),
        inline(drawn),
        len(slab.flaws),
        slab.portrait is not None,
    )


def _sketched(sitting: Sitting) -> dict[str, Mould]:
    """The moulds with as few points as a picture on a page needs: half a millimetre of wood."""

    def few(ring: NDArray[np.float64]) -> NDArray[np.float64]:
        import shapely

        line = shapely.simplify(shapely.LinearRing(ring), 0.5)
        return np.asarray(shapely.get_coordinates(line))[:-1]

    def sketch() -> dict[str, Mould]:
        return {
            m.mark: replace(
                m, outline_up_mm=few(m.outline_up_mm), outline_down_mm=few(m.outline_down_mm)
            )
            for m in sitting.job.moulds
        }

    # not through `drawn`: it is asked for while something is being drawn
    if not sitting.has("moulds"):
        return {}
    if "sketched" not in sitting.views:
        sitting.views["sketched"] = sketch()
    return dict(sitting.views["sketched"])


def slab_view(sitting: Sitting, name: str) -> SlabView:
    """One slab, with what is laid out on it."""
    job = sitting.need("papers")
    slab = job.rack[name]
    here = tuple(p for p in accepted(job) if p.slab == name)
    has = sitting.has("moulds")
    key = (
        "slab",
        name,
        has,
        yard_state(job.folder).last,
        tuple((p.mark, p.turn_deg, p.shift_mm, p.locked) for p in here),
    )
    return sitting.drawn(key, lambda: _slab(sitting, slab, here))


def _slab(sitting: Sitting, slab: Slab, here: tuple[Placement, ...]) -> SlabView:
    job = sitting.job
    style = job.stated.vessel.show
    long, wide = over_all(slab)
    names = [s.name for s in job.rack.slabs]
    at = names.index(slab.name)
    figures = [
        (show(long, style), "", "long over all"),
        (show(wide, style), "", "wide over all"),
        (show(slab.thickness_mm, style), "", "thick"),
        (show_area(_area(slab) / 1e6, style), "", "sound above"),
    ]
    if slab.moisture_percent is not None:
        on = f", {slab.moisture_date}" if slab.moisture_date else ""
        figures.append((f"{slab.moisture_percent:.0f}", "%", f"moisture{on}"))
    met = yard_state(job.folder).slabs.get(slab.name)
    flaws = tuple(
        (f.kind, f.face, " by ".join(show(v, style) for v in np.ptp(f.outline_mm, axis=0)))
        for f in slab.flaws
    )
    stack = f", {slab.stack}" if slab.stack else ""
    return SlabView(
        slab.name,
        f"{slab.species}{stack}{', measured' if slab.measured else ', not measured yet'}",
        slab_pictures(sitting, slab, here),
        tuple(figures),
        tuple((p.mark, slope(p.slope_worst), slope(p.slope_mean), p.locked) for p in here),
        flaws,
        slab.note,
        tuple(f for f in job.rack.findings if f.line == slab.name),
        slab.grain_guessed,
        slab.name in job.stated.vessel.layout.forbid,
        slab.portrait is not None,
        _become(met),
        tuple((str(at)[:10], f"{percent:g} %") for at, percent in reversed(met.moisture))
        if met is not None
        else (),
        met.offcuts if met is not None else (),
        _roughed(job, slab.name, here, met),
        names[at - 1] if at else "",
        names[at + 1] if at + 1 < len(names) else "",
    )


def _become(met: SlabState | None) -> str:
    """What has become of a slab, in words."""
    if met is None:
        return ""
    words = {"whole": "whole", "begun": "begun", "consumed": "used up", "spoiled": "spoiled"}
    said = words.get(met.state, met.state)
    if met.cut_from:
        said += f", an offcut of {met.cut_from}"
    return said + (f", at {met.place}" if met.place else "")


def _roughed(
    job: Job, name: str, here: Sequence[Placement], met: SlabState | None
) -> tuple[str, ...]:
    """Marks sawn out of a slab that is not used up, so that what is left of it is to be kept."""
    from futtock.job.pile import Pile

    if not here or (met is not None and met.state in ("consumed", "spoiled")):
        return ()
    cut = Pile(job, ()).shown.cut
    return tuple(p.mark for p in here if p.mark in cut)


def keep_offcuts(job: Job, name: str, who: str) -> str:
    """Put what is left of a slab on the rack and enter the slab as used up; in words.

    Raises
    ------
    Misused
        Where no timber is sawn out of it yet, or nobody is named.
    """
    from futtock.job.rack import offcuts
    from futtock.job.yard import did
    from futtock.progress import quiet

    if not who.strip():
        raise Misused("Say who sawed it.")
    left = offcuts(str(job.folder), quiet, slab=name).document["slabs"]
    did(str(job.folder), name, "consumed", who.strip())
    names = ", ".join(str(s["name"]) for s in left)
    return f"On the rack: {names}." if left else f"Nothing of slab {name} is worth keeping."


def enter_moisture(job: Job, name: str, percent: str, who: str) -> str:
    """Enter a reading of a slab's moisture in the journal; in words.

    Raises
    ------
    Misused
        Where it is no percentage, or nobody is named.
    """
    from futtock.job.yard import did

    job.rack[name]
    try:
        reading = float(percent.strip().removesuffix("%"))
    except ValueError:
        raise Misused(f"Moisture '{percent[:20]}' is no number.") from None
    if not 0 <= reading <= 200:
        raise Misused(f"Moisture of {reading:g} %: expected 0 to 200.")
    if not who.strip():
        raise Misused("Say who metered it.")
    did(str(job.folder), name, "measured", who.strip(), body={"moisture_percent": reading})
    return f"Slab {name}: {reading:g} %, entered by {who.strip()}."


def slab_pictures(
    sitting: Sitting, slab: Slab, here: Sequence[Placement], *, quick: bool = False
) -> Pictures:
    """The slab with its placements."""
    from futtock.drawing.slab import slab_picture

    moulds = _sketched(sitting)
    known = [p for p in here if p.mark in moulds]

    def drawn(wide: float) -> Sheet:
        # the whole run of the grain takes a third of a second; its traced lines show at once
        whole = not quick and wide == WIDTHS_MM[0]
        return slab_picture(slab, known, moulds, width_mm=wide, grain=whole, letters_mm=2.9)

    return pictures(drawn)


def forbid(job: Job, name: str, forbidden: bool) -> str:
    """Keep layouts off a slab, or let them use it again, in ``vessel.toml``; in words."""
    from futtock.job.office.stating import state_list

    job.rack[name]
    state_list(
        job.folder,
        "layout.forbid",
        lambda names: [n for n in names if n != name] + [name] * forbidden,
    )
    return f"Layouts keep off slab {name}." if forbidden else f"Layouts may use slab {name} again."


def asked_mm(text: str, style: str) -> float:
    """A length typed into a filter, in mm; 0 where nothing is typed.

    Raises
    ------
    Misused
        Where it is no length.
    """
    from futtock.measure import read_length

    if not text.strip():
        return 0.0
    try:
        return float(read_length(text.strip(), "in" if style == "imperial" else "mm"))
    except ValueError as error:
        raise Misused(str(error)) from None
