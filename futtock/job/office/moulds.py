"""The moulds' pages: every timber, and one of them with its patterns to print."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from futtock.findings import Finding
from futtock.job.accounts import counted
from futtock.job.office.files import PAPERS, mould_of
from futtock.job.office.picture import Pictures, pictures
from futtock.job.office.said import show, show_angle, show_mass

if TYPE_CHECKING:
    from futtock.job.office.office import Sitting
    from futtock.job.whole import Job
    from futtock.moulds.mould import Mould
    from futtock.sheet.sheet import Sheet


ON_A_PAGE = 100


@dataclass(frozen=True)
class MouldRow:
    """One timber in the list."""

    mark: str
    length: str
    wide: str
    sweep: str
    mass: str
    slab: str
    turned: str


@dataclass(frozen=True)
class MouldsView:
    """The timbers of some frames."""

    says: str
    lead: str
    frames: tuple[int, ...]
    chosen: int
    page: int
    pages: int
    rows: tuple[MouldRow, ...]


@dataclass(frozen=True)
class MouldView:
    """One timber's mould."""

    mark: str
    frame: int
    picture: Pictures
    figures: tuple[tuple[str, str, str], ...]
    marks: tuple[tuple[str, str, str], ...]
    papers: tuple[str, ...]
    turned: str
    slab: str
    findings: tuple[Finding, ...]


def moulds_view(sitting: Sitting, frame: int, page: int = 1) -> MouldsView:
    """Timbers of one frame, or of all where the frame is 0."""
    from futtock.job.office.works import laid_on

    job = sitting.need("papers", "frames", "moulds")
    style, laid = job.stated.vessel.show, laid_on(job)
    frames = tuple(f.number for f in job.framing.frames)
    shown = [m for m in job.moulds if not frame or m.frame == frame]
    pages = max(1, -(-len(shown) // ON_A_PAGE))
    page = min(page, pages)
    shown = shown[(page - 1) * ON_A_PAGE : page * ON_A_PAGE]
    own = sum(m.same_as is None for m in job.moulds)
    total = show_mass(sum(m.mass_kg for m in job.moulds), style)
    return MouldsView(
        f"{counted(len(job.moulds), 'timber')}, {counted(own, 'pattern')} to cut.",
        f"The other side is the pattern turned over. Finished, they weigh {total} together.",
        frames,
        frame,
        page,
        pages,
        tuple(
            MouldRow(
                m.mark,
                show(m.length_mm, style),
                show(m.wide_mm, style),
                show(m.sweep_mm, style),
                show_mass(m.mass_kg, style),
                laid.get(m.mark, ""),
                m.same_as or "",
            )
            for m in shown
        ),
    )


def mould_view(sitting: Sitting, mark: str) -> MouldView:
    """One mould."""
    from futtock.job.office.works import laid_on

    job = sitting.need("papers", "frames", "moulds")
    mould = mould_of(job, mark)
    slab = laid_on(job).get(mark, "")
    return sitting.drawn(("mould", mark, slab), lambda: _mould(job, mould, slab))


def _mould(job: Job, mould: Mould, slab: str) -> MouldView:
    style = job.stated.vessel.show
    piece = next((p for p in job.weights.pieces if p.mark == mould.mark), None)
    people = piece.people if piece is not None else 0
    lift = {0: "finished", 1: "one person lifts it"}.get(people, f"{people} people lift it")
    figures = (
        (show(mould.length_mm, style), "", "long over all"),
        (show(mould.wide_mm, style), "", "wide, both faces"),
        (show(mould.sweep_mm, style), "", "sweep"),
        (show(mould.sided_mm, style), "", "sided"),
        (show_mass(mould.mass_kg, style), "", lift),
    )
    marks = tuple(
        (show(m.at_mm, style), show_angle(m.outer_deg), show_angle(m.inner_deg))
        for m in mould.marks
    )
    return MouldView(
        mould.mark,
        mould.frame or 0,
        pictures(lambda wide: mould_picture(mould, wide)),
        figures,
        marks,
        PAPERS,
        mould.same_as or "",
        slab,
        mould.findings,
    )


def mould_picture(mould: Mould, wide_mm: float) -> Sheet:
    """A mould for a page: both faces, its middle line, marks with their bevels outside the edge."""
    from futtock.drawing.heading import bare
    from futtock.drawing.signs import tick, unit
    from futtock.sheet.items import Face, Item, Text, path
    from futtock.sheet.style import BEHIND, GRAIN, SEEN, Tone

    ratio = mould.length_mm / (wide_mm - 20.0)
    up, down = mould.outline_up_mm / ratio, mould.outline_down_mm / ratio
    out: list[Item] = [
        path(up, SEEN, closed=True, fill=Tone.OAK),
        path(down, BEHIND, closed=True),
        path(mould.grain_mm / ratio, GRAIN),
    ]
    outer, middle = mould.edges[0], up.mean(axis=0)
    shown = [m for k, m in enumerate(mould.marks) if wide_mm > 100 or k % 2 == 0]
    last = -1e9
    for m in shown:
        at = np.array([np.interp(m.at_mm, outer.at_mm, outer.up_mm[:, k]) for k in (0, 1)]) / ratio
        way = unit(at - (at @ [1, 0], middle[1]))
        out.append(tick(at, way, 3.0))
        if abs(float(at[0]) - last) < 13.0:
            continue
        last = float(at[0])
        far = at + way * 6.5
        text = Text(
            show_angle(m.outer_deg), (float(far[0]), float(far[1])), 3.2, Face.FIGURES_BOLD,
            "middle", "middle",
        )  # fmt: skip
        out.append(text)
    line = mould.grain_mm / ratio
    k = len(line) // 2
    out.append(
        Text(
            mould.mark, (float(line[k, 0]), float(line[k, 1])), 4.4, Face.FIGURES_BOLD, "middle",
            "middle", halo=Tone.OAK,
        )
    )  # fmt: skip
    for words, end in (("heel", line[0]), ("head", line[-1])):
        left = bool(end[0] < middle[0])
        edge = float(up[:, 0].min() if left else up[:, 0].max())
        beside = (edge + (-3.0 if left else 3.0), float(end[1]))
        side: Literal["start", "end"] = "end" if left else "start"
        out.append(Text(words, beside, 3.0, anchor=side, rise="middle", tone=Tone.PENCIL))
    about = f"Mould {mould.mark} seen from above its {mould.up} face; the face below is broken."
    return bare(f"mould-{mould.mark}", out, f"Mould {mould.mark}", about)
