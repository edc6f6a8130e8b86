"""A standing hull's survey to a fair hull: restored, bounded, written out, zones as found."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from futtock.findings import Finding
from futtock.lines import kinds
from futtock.lines.as_found import Sides, Step, Zone, keep_as_found
from futtock.lines.cloud import fit_cloud
from futtock.lines.curves import bounds_of
from futtock.lines.fair import Fairing, Spread, fair, hull_of
from futtock.lines.figures import figures_of
from futtock.lines.heightfield import HeightField
from futtock.lines.restoring import Restoration, RestoreSettings, mirrored, restore
from futtock.lines.sampled import Grid, sample_table
from futtock.lines.settings import FairSettings
from futtock.lines.spacelines import line_over_x
from futtock.lines.surface import Hull
from futtock.lines.survey import Survey
from futtock.progress import Progress, Report, quiet
from futtock.vessel.table import OffsetTable, Row

Array = NDArray[np.float64]
_BINS = 26


@dataclass(frozen=True)
class StandingHull:
    """What comes of a survey.

    Attributes
    ----------
    fairing
        The fair hull, from the restored table; zones as found are in ``fairing.hull``.
    restoration
        The wear taken out, and each choice's effect.
    table
        The restored lines as a table of offsets that the yard can keep (with end lines).
    steps
        How far each zone as found stands off the restored lines, a side at a time.
    port
        The port side, given as if it were starboard, where a zone as found makes it another than
        starboard's; else None. ``fairing.hull`` is starboard's.
    findings
        Everything noticed.
    """

    fairing: Fairing
    restoration: Restoration
    table: OffsetTable
    steps: tuple[Step, ...]
    findings: tuple[Finding, ...]
    port: Hull | None = None


def fair_survey(
    survey: Survey,
    settings: FairSettings,
    restoring: RestoreSettings,
    zones: tuple[Zone, ...] = (),
    *,
    seed: int = 0,
    report: Report = quiet,
) -> StandingHull:
    """Fair a survey of a standing hull.

    Parameters
    ----------
    survey
        As read.
    settings
        What the builder states; the tolerance is that of one point.
    restoring
        What is to be taken out.
    zones
        Parts kept as found.
    seed
        Of every choice of points.

    Raises
    ------
    Unsolvable
        Where the points cannot hold a surface.
    """
    done = restore(survey, settings.tolerance_mm, restoring, seed=seed, report=report)
    field = done.cloud.side.field
    bounding, notes = _bounding(done, field, settings.tolerance_mm, survey.file)
    figures = figures_of(bounding)
    bounds = bounds_of(bounding, figures, settings.tolerance_mm)
    rough = hull_of(figures, done.cloud.side, bounds, settings)
    table = replace(
        sample_table(rough, Grid.over(rough, 25)), ends=bounding.ends, ends_file="ends.csv"
    )
    finer = replace(settings, tolerance_mm=max(0.3, done.cloud.sigma_mm / 10))
    fairing = fair(table, finer, report)
    # the table is taken off the survey's surface, whose doubt is hers
    doubted = replace(fairing.side, under=done.cloud.side)
    hull = replace(fairing.hull, spread=Spread(doubted))
    fairing = replace(fairing, side=doubted, hull=hull)
    steps: tuple[Step, ...] = ()
    port: Hull | None = None
    if zones:
        restored = fairing.hull
        for side, points in _sides(survey):
            report(Progress("as found", 0, 1, "fairing the hull as she stands"))
            mine = tuple(z for z in zones if "both" in (side, z.side) or z.side == side)
            worn = fit_cloud(mirrored(points), settings.tolerance_mm, seed=seed)
            field = worn.side.field
            hull, taken, told = keep_as_found(
                restored, field, mine, restoring.blend_mm, side, settings.show
            )
            steps, notes = (*steps, *taken), (*notes, *told)
            if side == "port":
                port = hull
            else:
                fairing = replace(fairing, hull=hull)
    # the table is sampled from the surface: that it contradicts itself would say nothing
    kept = tuple(f for f in fairing.findings if f.code != kinds.DOUBTFUL.code)
    fairing = replace(fairing, findings=kept)
    return StandingHull(fairing, done, table, steps, (*done.findings, *notes, *kept), port)


def _sides(survey: Survey) -> tuple[tuple[Sides, Array], ...]:
    """The points of starboard and of port; all as one where only one side was measured."""
    if not survey.both_sides:
        return (("both", survey.points),)
    port = survey.points[:, 1] < 0
    return (("starboard", survey.points[~port]), ("port", survey.points[port]))


def _bounding(
    done: Restoration, field: HeightField, sigma: float, file: str
) -> tuple[OffsetTable, tuple[Finding, ...]]:
    """A table of nothing but the lines that bound the hull, surveyed or from the points' edge."""
    notes: list[Finding] = []
    points = mirrored(done.points)[_kept(done)]
    low, high = (float(v) for v in np.percentile(points[:, 0], [0.3, 99.7]))
    named = {k: mirrored(v) for k, v in done.lines.items()}
    ends: dict[str, Array] = {
        str(k): named[k]
        for k in ("stem rabbet", "post rabbet", "sheer forward", "sheer aft", "transom edge")
        if k in named
    }
    if ends:
        every = np.vstack(list(ends.values()))
        low, high = min(low, float(every[:, 0].min())), max(high, float(every[:, 0].max()))
    x = np.linspace(low, high, _BINS)
    rows: list[Row] = []

    def add(line: str, at: str, values: Array) -> None:
        texts = tuple(f"{v:.1f}" for v in values)
        rows.append(Row(line, at, at, float("nan"), values, texts, 0))  # type: ignore[arg-type]

    sheer = named.get("sheer")
    if sheer is None or len(sheer) < 4:
        sheer = _edge(points, low, high, upper=True)
        notes.append(
            kinds.EDGE_TAKEN.found("The sheer is the upper edge of the points.", file=file)
        )
    add("height", "sheer", _over(sheer, 2, x, sigma))
    rabbet = named.get("rabbet")
    if rabbet is None or len(rabbet) < 4:
        rabbet = _edge(points, low, high, upper=False)
        said = "The rabbet is the lower edge of the points."
        notes.append(kinds.EDGE_TAKEN.found(said, file=file))
    # where end lines give the rabbet the stations need not, nor can they abaft the tuck
    fore = float(ends["stem rabbet"][:, 0].max()) if "stem rabbet" in ends else -np.inf
    closing = [float(ends[k][:, 0].min()) for k in ("post rabbet", "transom edge") if k in ends]
    theirs = (x > fore) & (x < min(closing, default=np.inf))
    add("height", "rabbet", np.where(theirs, _over(rabbet, 2, x, sigma), np.nan))
    breadth = np.maximum(_over(rabbet, 1, x, sigma), 0.0)
    add("halfbreadth", "rabbet", np.where(theirs, breadth, np.nan))
    if "keel" in named:
        add("height", "keel", _over(named["keel"], 2, x, sigma))
    names = tuple(str(k) for k in range(len(x)))
    return OffsetTable(file, names, x, tuple(rows), ends=ends, ends_file=file), tuple(notes)


def _kept(done: Restoration) -> NDArray[np.bool_]:
    """Points near the surface, of both sides."""
    e, gradient, _ = done.cloud.side.field.offs(mirrored(done.points))
    off = e / np.linalg.norm(gradient, axis=1)
    return np.asarray(np.abs(off) < max(6 * done.cloud.sigma_mm, 10.0))


def _over(points: Array, coordinate: int, x: Array, sigma: float) -> Array:
    index = np.full(len(points), -1, np.intp)
    line = line_over_x(points[:, 0], points[:, coordinate], sigma, index)
    return line.carried(np.clip(x, line.low, line.high))


def _edge(points: Array, low: float, high: float, *, upper: bool) -> Array:
    """Points along the upper or lower edge of a cloud, one a bin of x."""
    t = (points[:, 1] + points[:, 2]) / np.sqrt(2)
    bins = np.clip((points[:, 0] - low) / max(high - low, 1.0) * _BINS, 0, _BINS - 1).astype(int)
    out = []
    for k in range(_BINS):
        mine = np.flatnonzero(bins == k)
        if len(mine) < 8:
            continue
        order = mine[np.argsort(t[mine])]
        few = max(len(order) // 100, 3)
        pick = order[-few:] if upper else order[:few]
        out.append(np.median(points[pick], axis=0))
    return np.array(out).reshape(-1, 3)
