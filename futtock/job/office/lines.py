"""The lines page: the plan, and each doubtful figure among its neighbours, to mend or to keep."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from futtock.errors import Misused
from futtock.job.accounts import counted, offset
from futtock.job.office.picture import Pictures, pictures
from futtock.job.office.said import show, show_area
from futtock.job.pen import pen

if TYPE_CHECKING:
    from futtock.job.whole import Job
    from futtock.lines.judging import FairPoint
    from futtock.measure import Style
    from futtock.sheet.sheet import Sheet

MENDS = "mends.csv"
_BESIDE = 2


@dataclass(frozen=True)
class Cell:
    """One figure of the table as it is shown: its text, and whether it is doubtful or mended."""

    text: str
    state: str = ""


@dataclass(frozen=True)
class Neighbours:
    """A row of the table about a doubtful figure."""

    name: str
    stations: tuple[str, ...]
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class Doubt:
    """A doubtful figure: what the table says, what the fair line says, the likely slip."""

    line: str
    says: str
    station: str
    given: str
    fair: str
    mend: str | None
    likely: str | None
    off: str
    sure: str
    rows: tuple[Neighbours, ...]
    nearest: tuple[str, ...]
    picture: Pictures


@dataclass(frozen=True)
class Mended:
    """A mend that is honoured, or a figure kept as it stands."""

    line: str
    station: str
    printed: str
    now: str
    why: str
    kept: bool


@dataclass(frozen=True)
class LinesView:
    """Everything on the lines page that is slow to make."""

    picture: Pictures
    body: Pictures
    doubts: tuple[Doubt, ...]
    mends: tuple[Mended, ...]
    figures: tuple[tuple[str, str, str], ...]
    unsure: tuple[tuple[str, str, str], ...]
    places: tuple[tuple[str, str, str, str, str], ...]
    findings: tuple[str, ...]
    survey: bool


def lines_view(job: Job) -> LinesView:
    """The lines page of a job, kept between runs."""
    points = job.stated.vessel.lines.points
    at = (job.folder / points).stat() if points and (job.folder / points).is_file() else None
    seen = () if at is None else (at.st_mtime_ns, at.st_size)
    files = (*sorted(job.stated.files.items()), seen)
    return job.keep.made("lines-page-4", files, lambda: _made(job))


def _made(job: Job) -> LinesView:
    from futtock.drawing.lines_plan import body_picture, lines_data, profile_picture
    from futtock.job.office.survey import place, surveyed, where_unsure
    from futtock.job.title import heading

    survey = surveyed(job)
    fairing, style, head = job.fairing, job.stated.vessel.show, heading(job)
    data = lines_data(fairing.hull, job.table)
    plan = pictures(lambda wide: profile_picture(data, head, width_mm=wide))
    # never wider than a column, where a tablet has it too
    body = pictures(lambda wide: body_picture(data, head, width_mm=min(wide, 100.0)))
    mends = job.stated.mends
    unit = job.stated.vessel.lines.unit
    kept = {(m.line, m.station) for m in mends if _is_kept(m.printed, m.value_mm, unit)}
    open_ = [p for p in fairing.doubtful if (p.line, p.station) not in kept and not survey]
    doubts = tuple(_doubt(job, p) for p in open_)
    figures = [
        (str(len(fairing.points)), "", f"figures in the {'restored ' if survey else ''}table"),
        (f"{fairing.rms_mm:.2f}", "mm", "rms off the fair hull"),
    ]
    h = fairing.hydrostatics
    if h is not None:
        figures += [
            (f"{h.volume_m3:.2f}", "m³", "under the waterline"),
            (place(h.lcb_mm, style), "", "centre of buoyancy, aft"),
            (show_area(h.waterplane_m2, style), "", "waterplane"),
            (f"{h.cp:.3f}", "", "prismatic coefficient"),
        ]
    said = tuple(
        Mended(
            m.line,
            m.station,
            m.printed,
            "left out" if m.dropped else offset(m.value_mm, style),
            m.why,
            (m.line, m.station) in kept,
        )
        for m in mends
    )
    return LinesView(
        plan, body, doubts, said, tuple(figures),
        () if survey else _unsure(fairing.points, style), where_unsure(job),
        tuple(f.message for f in fairing.findings if not any(f.line == d.line for d in doubts)),
        survey,
    )  # fmt: skip


def spoken(line: str) -> str:
    """A row's name as it is said."""
    return line.replace("halfbreadth", "half-breadth")


def _is_kept(printed: str, value_mm: float, unit: str) -> bool:
    """Whether a mend says what the paper says: the builder looked, and keeps it."""
    from futtock.measure import read_length

    try:
        return abs(float(read_length(printed, unit)) - value_mm) < 1e-6
    except ValueError:
        return False


def _doubt(job: Job, p: FairPoint) -> Doubt:
    style = job.stated.vessel.show
    table = job.sound.table
    assert table is not None
    k = table.stations.index(p.station)
    low, high = max(0, k - _BESIDE), min(len(table.stations), k + _BESIDE + 1)
    stations = table.stations[low:high]
    wrong = {(q.line, q.station) for q in job.fairing.doubtful}
    kind = next(r.what for r in table.rows if r.name == p.line)
    alike = [r for r in table.rows if r.what == kind or r.name == p.line]
    at = next(i for i, r in enumerate(alike) if r.name == p.line)
    rows = tuple(
        Neighbours(
            spoken(r.name).removeprefix("half-breadth ").removeprefix("height "),
            stations,
            tuple(
                Cell(
                    r.texts[j].strip() or "none",
                    "doubt" if (r.name, table.stations[j]) in wrong else "",
                )
                for j in range(low, high)
            ),
        )
        for r in alike[max(0, at - 1) : at + 2]
    )
    slip = (p.likely or "").partition(":")[0]
    return Doubt(
        p.line,
        f"{spoken(p.line).capitalize()} at station {p.station}: "
        + (f"{slip}?" if slip else "does it stand?"),
        p.station,
        offset(p.given_mm, style),
        offset(p.fair_mm, style),
        None if p.mend_mm is None else offset(p.mend_mm, style),
        p.likely,
        show(abs(p.off_mm), style),
        "" if not np.isfinite(p.spread_mm) else show(2 * p.spread_mm, style),
        rows,
        tuple(table.stations[max(k - 1, 0) : k + 2]),
        pictures(lambda wide: _curve(job, p, min(wide, 130.0)))
        if sum(q.line == p.line for q in job.fairing.points) > 1
        else (),
    )


def _curve(job: Job, p: FairPoint, wide: float) -> Sheet:
    """The line's figures over the stations, with the doubtful one ringed: a small drawing."""
    from futtock.drawing.heading import bare
    from futtock.drawing.signs import ring_with
    from futtock.sheet.items import Arc, Item, Text, path
    from futtock.sheet.style import BEHIND, RULE, SEEN, Tone

    points = [q for q in job.fairing.points if q.line == p.line]
    table = job.table
    x = np.array([table.x_mm[table.stations.index(q.station)] for q in points])
    fair = np.array([q.fair_mm for q in points])
    given = np.array([q.given_mm for q in points])
    high = 52.0 if wide > 100.0 else 40.0
    numbered = -1e9
    span = max(float(np.ptp(np.r_[fair, given])), 1.0)
    lowest = float(min(fair.min(), given.min()))

    def put(at: float, mm: float) -> tuple[float, float]:
        along = (at - float(x.min())) / max(float(np.ptp(x)), 1.0) * wide
        return (along, (mm - lowest) / span * high)

    out: list[Item] = [path([(0.0, -6.0), (wide, -6.0)], RULE)]
    out.append(path([put(a, b) for a, b in zip(x, fair, strict=True)], SEEN))
    for q, at in zip(points, x, strict=True):
        here = put(float(at), q.given_mm)
        mine = q.station == p.station
        if mine or here[0] - numbered > (4.6 if wide > 100.0 else 6.0):
            numbered = here[0]
            out.append(Text(q.station, (here[0], -10.5), 3.4, anchor="middle", tone=Tone.PENCIL))
        if mine:
            out.append(path([here, put(float(at), q.fair_mm)], BEHIND))
            out += ring_with(here, "", 3.4)
            left = here[0] > wide * 0.75
            # beside the ring, on the side that the curve leaves free
            k = min(int(np.searchsorted(x, at)), len(fair) - 2)
            rises = float(fair[k + 1] - fair[k]) > 0
            move = (-6.0 if left else 6.0, -5.5 if rises != left else 1.5)
            words = Text(
                f"? {offset(q.given_mm, job.stated.vessel.show)}",
                (here[0] + move[0], here[1] + move[1]), 4.2,
                anchor="end" if left else "start", tone=Tone.RED, halo=Tone.WHITE,
            )  # fmt: skip
            out.append(words)
        out.append(Arc(here, 1.0, None, Tone.INK))
    about = f"{p.line} over the stations; the figure at station {p.station} is ringed."
    return bare(f"doubt-{p.line}-{p.station}", out, f"{p.line} at {p.station}", about)


def _unsure(points: tuple[FairPoint, ...], style: Style) -> tuple[tuple[str, str, str], ...]:
    """Where the others say least about a figure: to measure there more helps most."""
    judged = [p for p in points if np.isfinite(p.spread_mm)]
    worst = sorted(judged, key=lambda p: -p.spread_mm)[:5]
    return tuple((spoken(p.line), p.station, show(2 * p.spread_mm, style)) for p in worst)


def settle(job: Job, line: str, station: str, what: str) -> str:
    """Mend, keep or open again a doubtful figure in ``mends.csv``; what was done, in words.

    Raises
    ------
    Misused
        Where there is no such figure, or nothing to mend it to.
    """
    table = job.sound.table
    row = None if table is None else next((r for r in table.rows if r.name == line), None)
    if table is None or row is None or station not in table.stations:
        raise Misused(f"There is no figure of {line} at station {station}.")
    printed = row.texts[table.stations.index(station)].strip()
    named = f"{spoken(line).capitalize()} at station {station}"
    if what == "open":
        _settled(job, line, station)
        return f"{named} is open again."
    if what == "keep":
        value, why = printed, "kept: looked at and found right"
        said = f"{named} is kept at {printed}."
    elif what == "mend":
        point = next(
            (p for p in job.fairing.points if (p.line, p.station) == (line, station)), None
        )
        if point is None or point.mend_mm is None:
            raise Misused(f"No one slip explains {line} at station {station}; write its mend.")
        value = offset(point.mend_mm, "imperial")
        why = point.likely or "contradicts its neighbours"
        said = f"{named} is mended to {value}."
    else:
        raise Misused(f"'{what}' is none of mend, keep, open.")
    _settled(job, line, station, value, why)
    return said


def _settled(job: Job, line: str, station: str, *now: str) -> None:
    """``mends.csv`` as it stands with this figure's row anew, or without it."""
    with pen(job.folder):
        others = [m for m in _written(job) if (m[0].casefold(), m[1]) != (line.casefold(), station)]
        _write(job, [*others, *([[line, station, *now]] if now else [])])


def _written(job: Job) -> list[list[str]]:
    """The rows of ``mends.csv`` as they stand, those not understood too."""
    said = "\n".join(line for line in _lines(job) if not line.lstrip().startswith("#"))
    rows = [[c.strip() for c in row] for row in csv.reader(io.StringIO(said)) if any(row)]
    body = rows[1:] if rows and rows[0][0].lower() == "line" else rows
    return [(r + [""] * 4)[: max(4, len(r))] for r in body]


def _lines(job: Job) -> list[str]:
    try:
        return (job.folder / MENDS).read_text("utf-8-sig").splitlines()
    except OSError:
        return []


def _write(job: Job, rows: list[list[str]]) -> None:
    from futtock.job.written import Written

    text = io.StringIO()
    text.writelines(f"{line}\n" for line in _lines(job) if line.lstrip().startswith("#"))
    table = csv.writer(text, lineterminator="\n")
    table.writerow(["line", "station", "value", "why"])
    table.writerows(rows)
    Written(job.folder).put(MENDS, text.getvalue())


def answer(view: LinesView) -> str:
    """What the page says first."""
    if view.survey:
        return "Her lines are restored from points taken off her."
    if not view.doubts:
        return "Her lines are fair, and every figure is settled."
    return f"{counted(len(view.doubts), 'figure')} of her table want your eye."
