"""A table of offsets to a fair hull, every figure with its residual and its doubt."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from futtock.errors import Unsolvable
from futtock.findings import Finding
from futtock.lines import kinds
from futtock.lines.curves import Bounds, LineOverX, bounds_of
from futtock.lines.figures import Figure, Readings, diagonal_axes, figures_of, wild
from futtock.lines.fitting import CANDIDATES, Fit, fit_field
from futtock.lines.heightfield import HeightField, Turn
from futtock.lines.hydrostatics import Hydrostatics, hydrostatics
from futtock.lines.settings import FairSettings
from futtock.lines.slips import Slip, likely_slip
from futtock.lines.surface import Hull, Profile
from futtock.lines.surface_readings import surface_readings
from futtock.lines.trim import trim_of
from futtock.progress import Progress, Report, quiet
from futtock.vessel.table import OffsetTable

Array = NDArray[np.float64]
_LEAST = 12


@dataclass(frozen=True, slots=True)
class FairPoint:
    """One figure of the table beside the fair hull.

    Attributes
    ----------
    line, station
        As the table has them.
    given_mm, fair_mm, off_mm
        The figure, what the fair hull has there, and fair less given.
    doubtful
        True where the figure contradicts its neighbours.
    likely
        The likely slip in words; None where there is none to name.
    mend_mm
        What the figure should read, if one slip explains it; else None.
    studentised
        Residual against what the others say, in its own standard errors; nan where not judged.
    spread_mm
        Standard error of what the others say along the measuring direction; nan where not judged.
    at_mm : (x, y, z)
        The place on the fair hull.
    """

    line: str
    station: str
    given_mm: float
    fair_mm: float
    off_mm: float
    doubtful: bool
    likely: str | None
    mend_mm: float | None
    studentised: float
    spread_mm: float
    at_mm: tuple[float, float, float]


@dataclass(frozen=True)
class Fairing:
    """The fair hull and the account of how the table bears on it.

    ``rms_mm`` is over the figures that are not doubtful. ``fit`` keeps the surface's posterior
    (see :meth:`futtock.lines.fitting.Fit.spread`); ``bounds`` the faired lines.
    """

    hull: Hull
    points: tuple[FairPoint, ...]
    hydrostatics: Hydrostatics | None
    rms_mm: float
    tolerance_mm: float
    findings: tuple[Finding, ...]
    fit: Fit
    bounds: Bounds

    @property
    def doubtful(self) -> tuple[FairPoint, ...]:
        """The doubtful figures, in the table's order."""
        return tuple(p for p in self.points if p.doubtful)


def fair(table: OffsetTable, settings: FairSettings, report: Report = quiet) -> Fairing:
    """Fair a table of offsets.

    Parameters
    ----------
    table
        As read; see :class:`OffsetTable`.
    settings
        What the builder states.
    report
        Told of progress.

    Raises
    ------
    Unsolvable
        Where there are too few figures to hold a batten.
    """
    with threadpool_limits(limits=1, user_api="blas"):
        return _fair(table, settings, report)


def _fair(table: OffsetTable, settings: FairSettings, report: Report) -> Fairing:
    sigma = settings.tolerance_mm
    report(Progress("fair", 0, 4, "reading the table"))
    figures = figures_of(table)
    out = wild(figures)
    bounds = bounds_of(table, figures, sigma, out)
    readings = surface_readings(table, figures, bounds, sigma, out)
    if len(readings) < _LEAST or len(np.unique(np.round(readings.points[:, 0], 3))) < 3:
        raise Unsolvable(
            f"the table gives {len(readings)} figures of the surface; at least {_LEAST} at three "
            "stations are needed to hold a batten"
        )
    report(Progress("fair", 1, 4, f"bending battens to {len(readings)} figures"))
    turn = Turn(settings.angle_deg, settings.plan_deg or 0.0)
    candidates = CANDIDATES[:1] if settings.quick else CANDIDATES
    fit = fit_field(readings, turn, cut=settings.cut, candidates=candidates)
    report(Progress("fair", 2, 4, "trimming at rabbet and sheer"))
    hull = hull_of(table, figures, fit, bounds, settings)
    points = _points(table, figures, fit, bounds, settings, out)
    report(Progress("fair", 3, 4, "weighing the hull"))
    water = settings.waterline_mm
    hydro = hydrostatics(hull, water) if water is not None else None
    good = np.array([p.off_mm for p in points if not p.doubtful and np.isfinite(p.off_mm)])
    findings = [
        kinds.DOUBTFUL.found(
            _doubt_words(p),
            line=p.line,
            column=p.station,
            read=f"{p.given_mm:.1f} mm",
            expected=f"{p.fair_mm:.1f} mm",
        )
        for p in points
        if p.doubtful
    ]
    if water is not None and hydro is None:
        findings.append(kinds.DRY.found(f"The hull does not reach a waterline at {water:.0f} mm."))
    report(Progress("fair", 4, 4, "fair"))
    rms = float(np.sqrt((good**2).mean())) if len(good) else float("nan")
    return Fairing(hull, points, hydro, rms, sigma, tuple(findings), fit, bounds)


def _doubt_words(p: FairPoint) -> str:
    by = f"{abs(p.off_mm):.0f} mm too {'little' if p.off_mm > 0 else 'much'}"
    return f"{p.line} at station {p.station} is {by}" + (f": {p.likely}." if p.likely else ".")


def hull_of(
    table: OffsetTable,
    figures: tuple[Figure, ...],
    fit: Fit,
    bounds: Bounds,
    settings: FairSettings,
) -> Hull:
    """The trimmed hull of a fitted surface."""
    z = [f.at[2] for f in figures if f.what == "waterline"]
    heights = [*z, *(f.at[2] for f in figures if np.isfinite(f.at[2]))]
    floor = min(heights)
    top = max(z) if z else max(heights)
    trim = trim_of(fit.field, bounds, floor, top)
    profiles: dict[str, Profile] = {
        name: line for name, line in bounds.over_x.items() if name != "sheer breadth"
    }
    profiles["sheer breadth"] = _SheerBreadth(fit.field, trim.high, trim.u_range)
    return Hull(fit.field, trim, settings.surface == "inside", trim.u_range, profiles)


@dataclass(frozen=True)
class _SheerBreadth:
    """Half-breadth of the surface at the sheer, over x."""

    field: HeightField
    high: Callable[[Array], Array]
    u_range: tuple[float, float]

    def __call__(self, x: Array) -> Array:
        x = np.asarray(x, float)
        inside = (x >= self.u_range[0]) & (x <= self.u_range[1])
        u = np.clip(x, *self.u_range)
        y = self.field.points(u, self.high(u))[..., 1]
        return np.where(inside, y, np.nan)


def _points(
    table: OffsetTable,
    figures: tuple[Figure, ...],
    fit: Fit,
    bounds: Bounds,
    settings: FairSettings,
    out_of_scale: frozenset[int],
) -> tuple[FairPoint, ...]:
    n = len(figures)
    fair_mm = np.full(n, np.nan)
    z = np.full(n, np.nan)
    spread = np.full(n, np.nan)
    loo = np.full(n, np.nan)
    place = np.array([f.at for f in figures]).reshape(-1, 3)
    doubt = np.zeros(n, bool)
    _judge_lines(figures, bounds, settings, fair_mm, z, loo, place)
    readings, done = fit.readings, fit.settled
    own = readings.figure >= 0
    k = readings.figure[own]
    slope = (fit.gradient * readings.ray).sum(axis=1)
    free = np.linalg.norm(readings.ray, axis=1) == 0
    steep = np.linalg.norm(fit.gradient, axis=1)
    per_mm = np.where(free, steep, np.where(np.abs(slope) < 0.15 * steep, 0.15 * steep, slope))
    reached = _along_rays(fit.field, readings, figures)
    z[k] = done.z[own]
    loo[k] = (done.posterior.loo / per_mm)[own]
    spread[k] = (np.sqrt(done.posterior.spread2) / np.abs(per_mm))[own]
    fair_mm[k] = reached[0][own]
    place[k] = reached[1][own]
    for i in out_of_scale:
        judged = _wild_figure(table, figures[i], fit.field)
        if judged is not None:
            fair_mm[i], place[i] = judged
            loo[i], z[i], spread[i] = figures[i].given_mm - judged[0], np.inf, sigma_of(settings)
    least = 2.5 * settings.tolerance_mm
    doubt = (np.abs(z) > settings.cut) & (np.abs(loo) > least)
    out = []
    for i, f in enumerate(figures):
        slip: Slip | None = None
        if doubt[i] and f.row >= 0:
            slip = likely_slip(table, f, f.given_mm - loo[i], spread[i], settings.tolerance_mm)
        out.append(
            FairPoint(
                f.line,
                f.station,
                f.given_mm,
                float(fair_mm[i]),
                float(fair_mm[i] - f.given_mm),
                bool(doubt[i]),
                slip.words if slip else None,
                slip.value_mm if slip else None,
                float(z[i]),
                float(spread[i]),
                (float(place[i, 0]), float(place[i, 1]), float(place[i, 2])),
            )
        )
    return tuple(out)


def sigma_of(settings: FairSettings) -> float:
    """The tolerance as a spread, for figures that the posterior was not asked about."""
    return 2.0 * settings.tolerance_mm


def _wild_figure(
    table: OffsetTable, figure: Figure, field: HeightField
) -> tuple[float, Array] | None:
    """What the hull has where a figure out of all scale was read, starting from its neighbours."""
    row = table.rows[figure.row]
    if figure.what not in ("waterline", "buttock", "diagonal"):
        return None
    others = np.isfinite(row.values_mm) & (np.arange(len(row.values_mm)) != figure.column)
    if not others.any():
        return None
    x = table.x_mm[others]
    order = np.argsort(x)
    guess = float(np.interp(figure.at[0], x[order], row.values_mm[others][order]))
    ray = np.zeros((1, 3))
    start = np.array([figure.at])
    if figure.what == "waterline":
        ray[0, 1], start[0, 1] = 1.0, guess
    elif figure.what == "buttock":
        ray[0, 2], start[0, 2] = 1.0, guess
    else:
        plane = table.diagonals.get(row.at)
        if plane is None:
            return None
        ray[0, 1:] = diagonal_axes(plane.slope_deg)
        start[0, 1:] = (0.0, plane.height_mm) + guess * ray[0, 1:]
    place, moved = meet_along(field, start, ray)
    return guess + float(moved[0]), place[0]


def _judge_lines(
    figures: tuple[Figure, ...],
    bounds: Bounds,
    settings: FairSettings,
    fair_mm: Array,
    z: Array,
    loo: Array,
    place: Array,
) -> None:
    """Heights of sheer, rabbet, keel and keel top against their own battens, in place."""
    lines: dict[str, LineOverX] = {}
    for name in ("sheer", "rabbet", "keel", "keel top"):
        if name in bounds.over_x:
            lines[name] = bounds.over_x[name]
    for i, f in enumerate(figures):
        if f.row < 0:
            continue
        if f.coordinate == "z" and f.what in lines:
            fair_mm[i] = float(lines[f.what](np.array(f.at[0])))
            if f.what == "rabbet" and bounds.rabbet is not None:
                fair_mm[i] = _rabbet_fair(bounds, i, fair_mm[i], f.at[0])
            place[i, 2] = fair_mm[i]
            breadth = bounds.over_x.get(f"{f.what} breadth")
            place[i, 1] = float(breadth(np.array(f.at[0]))) if breadth else 0.0
        if i in bounds.doubts:
            z[i], loo[i] = bounds.doubts[i]


def _rabbet_fair(bounds: Bounds, figure: int, otherwise: float, x: float) -> float:
    """Height of the faired rabbet at a station, found on the branch its own reading lies on."""
    line = bounds.rabbet
    assert line is not None
    where = np.flatnonzero(line.figures == figure)
    if not len(where):
        return otherwise
    s = float(line.at[where[0]])
    for _ in range(20):
        gap = float(line.x(np.array(s))) - x
        slope = float(line.x(np.array(s), 1))
        step = float(np.clip(gap / (slope if abs(slope) > 0.02 else 0.02), -30, 30))
        s -= step
        if abs(step) < 1e-9:
            break
    return float(line.z(np.array(s)))


def meet_along(field: HeightField, start: Array, ray: Array) -> tuple[Array, Array]:
    """Where rays (n, 3) from points (n, 3) meet the surface, and how far along (n,).

    Newton along each ray; where a ray grazes the surface it goes to the nearest approach. Zero
    rays stay where they are.
    """
    p = start.copy()
    moved = np.zeros(len(p))
    still = np.linalg.norm(ray, axis=1) == 0
    for _ in range(25):
        e, gradient, _ = field.offs(p)
        steep = np.linalg.norm(gradient, axis=1)
        slope = (gradient * ray).sum(axis=1)
        slope = np.where(np.abs(slope) < 0.1 * steep, np.copysign(0.1 * steep, slope), slope)
        step = np.where(still, 0.0, np.clip(e / slope, -150, 150))
        p = p - step[:, None] * ray
        moved = moved - step
        if np.abs(step).max(initial=0) < 1e-9:
            break
    return p, moved


def _along_rays(
    field: HeightField, readings: Readings, figures: tuple[Figure, ...]
) -> tuple[Array, Array]:
    """What the fair hull has along each reading's measuring direction, and where (n, 3)."""
    free = np.linalg.norm(readings.ray, axis=1) == 0
    p, moved = meet_along(field, readings.points, readings.ray)
    given = np.array([figures[k].given_mm if k >= 0 else np.nan for k in readings.figure])
    fair_mm = given + moved
    if free.any():
        _, uv = field.nearest(readings.points[free])
        near = field.points(uv[:, 0], uv[:, 1])
        p[free] = near
        axis = [("xyz".index(figures[k].coordinate)) for k in readings.figure[free]]
        fair_mm[free] = near[np.arange(len(near)), axis]
    return fair_mm, p
