"""A table of offsets to a fair hull, every figure with its residual and its doubt."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Unsolvable
from futtock.findings import Finding
from futtock.lines import kinds
from futtock.lines.curves import Bounds, beyond, bounds_of
from futtock.lines.fairness import known_over, where_to_measure
from futtock.lines.figures import Figure, Readings, figures_of, wild
from futtock.lines.fitting import CANDIDATES, Side, fit_side
from futtock.lines.heightfield import HeightField
from futtock.lines.hydrostatics import Hydrostatics, hydrostatics
from futtock.lines.judging import FairPoint, judge
from futtock.lines.settings import FairSettings
from futtock.lines.surface import Hull, Profile
from futtock.lines.surface_readings import surface_readings
from futtock.lines.threads import one_thread
from futtock.lines.trim import trim_of
from futtock.measure import Style, close, offset
from futtock.progress import Progress, Report, quiet
from futtock.vessel.table import OffsetTable

Array = NDArray[np.float64]
_LEAST = 12
_LEAST_TOLERANCE = 0.05


@dataclass(frozen=True)
class Fairing:
    """The fair hull and the account of how the table bears on it.

    ``rms_mm`` is over the figures that are not doubtful. ``side`` keeps the surface's posterior
    (see :meth:`futtock.lines.fitting.Side.spread`); ``bounds`` the faired lines.
    """

    hull: Hull
    points: tuple[FairPoint, ...]
    hydrostatics: Hydrostatics | None
    rms_mm: float
    tolerance_mm: float
    findings: tuple[Finding, ...]
    side: Side
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
    with one_thread():
        return _fair(table, settings, report)


def _fair(table: OffsetTable, settings: FairSettings, report: Report) -> Fairing:
    # no tape reads closer than this, and no batten bends to nothing
    settings = replace(settings, tolerance_mm=max(settings.tolerance_mm, _LEAST_TOLERANCE))
    sigma = settings.tolerance_mm
    report(Progress("fair", 0, 4, "reading the table"))
    figures = figures_of(table)
    out = wild(figures)
    bounds = bounds_of(table, figures, sigma, out)
    out |= beyond(figures, bounds.over_x)
    readings = surface_readings(table, figures, bounds, sigma, out)
    if len(readings) < _LEAST or len(np.unique(np.round(readings.points[:, 0], 3))) < 3:
        raise Unsolvable(
            f"the table gives {len(readings)} figures of the surface; at least {_LEAST} at three "
            "stations are needed to hold a batten"
        )
    report(Progress("fair", 1, 4, f"bending battens to {len(readings)} figures"))
    candidates = CANDIDATES[:1] if settings.quick else CANDIDATES
    side = fit_side(
        readings,
        settings.angle_deg,
        settings.plan_deg,
        cut=settings.cut,
        candidates=candidates,
        least_mm=settings.least_slip_mm(float(np.ptp(readings.points[:, 0]))),
        knuckles=bounds.knuckles,
    )
    report(Progress("fair", 2, 4, "trimming at rabbet and sheer"))
    hull = hull_of(figures, side, bounds, settings)
    points = judge(table, figures, side, bounds, settings, out)
    report(Progress("fair", 3, 4, "weighing the hull"))
    water = settings.waterline_mm
    hydro = hydrostatics(hull, water) if water is not None else None
    good = np.array([p.off_mm for p in points if not p.doubtful and np.isfinite(p.off_mm)])
    findings = [
        kinds.DOUBTFUL.found(
            _doubt_words(p, settings.show),
            line=p.line,
            column=p.station,
            read=offset(p.given_mm, settings.show),
            expected=offset(p.fair_mm, settings.show),
        )
        for p in points
        if p.doubtful
    ]
    if water is not None and hydro is None:
        said = f"The hull does not reach a waterline at {offset(water, settings.show)}."
        findings.append(kinds.DRY.found(said))
    findings += _account(table, figures, readings, side, hull, settings)
    report(Progress("fair", 4, 4, "fair"))
    rms = float(np.sqrt((good**2).mean())) if len(good) else float("nan")
    return Fairing(hull, points, hydro, rms, sigma, tuple(findings), side, bounds)


def _account(
    table: OffsetTable,
    figures: tuple[Figure, ...],
    readings: Readings,
    side: Side,
    hull: Hull,
    settings: FairSettings,
) -> list[Finding]:
    """What else is to be said of a fairing: figures without a place, scatter, scanty places."""
    out = []
    placed = {int(k) for k in readings.figure}
    loose = {
        f.line
        for k, f in enumerate(figures)
        if k not in placed and f.coordinate in ("y", "d") and f.what not in ("keel", "bearding")
    }
    judged = {f.line for k, f in enumerate(figures) if k in placed}
    for line in sorted(loose - judged):
        said = f"The row '{line}' has no heights (or no plane) to place it by; it was passed over."
        out.append(kinds.UNPLACED.found(said, file=table.file, line=line))
    scale = max(f.settled.scale for f in side.fits)
    if scale > 1.3:
        said = (
            f"The figures scatter about {scale:.1f} times as widely as the tolerance of "
            f"{close(settings.tolerance_mm, settings.show)} says."
        )
        out.append(kinds.BATTENED.found(said, file=table.file))
    for p in where_to_measure(hull, 3, 4.0, known_over(hull, 20, 8)):
        x, y, z = (offset(v, settings.show) for v in p.at_mm)
        said = (
            f"Near x {x}, half-breadth {y}, height {z} the surface is known to "
            f"{close(p.spread_mm, settings.show)} and {p.lean_deg:.2f} degrees only."
        )
        out.append(kinds.SCANTY.found(said, file=table.file))
    return out


def _doubt_words(p: FairPoint, style: Style) -> str:
    by = f"{close(abs(p.off_mm), style)} too {'little' if p.off_mm > 0 else 'much'}"
    return f"{p.line} at station {p.station} is {by}" + (f": {p.likely}." if p.likely else ".")


def hull_of(
    figures: tuple[Figure, ...], side: Side, bounds: Bounds, settings: FairSettings
) -> Hull:
    """The trimmed hull of a fitted surface."""
    z = [f.at[2] for f in figures if f.what == "waterline"]
    heights = [*z, *(f.at[2] for f in figures if np.isfinite(f.at[2]))]
    floor = min(heights)
    top = max(z) if z else max(heights)
    trim = trim_of(side.field, bounds, floor, top)
    profiles: dict[str, Profile] = {
        name: line for name, line in bounds.over_x.items() if name != "sheer breadth"
    }
    profiles["sheer breadth"] = _SheerBreadth(side.field, trim.high, trim.u_range)
    return Hull(
        side.field, trim, settings.surface == "inside", trim.u_range, profiles, Spread(side)
    )


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


@dataclass(frozen=True)
class Spread:
    """The posterior spread of a hull by its parameters; see :attr:`Hull.spread`."""

    side: Side

    def __call__(self, u: Array, v: Array, across: Array | None = None) -> tuple[Array, Array]:
        """Standard deviations along the normal (mm) and of the lean (degrees), shape of u."""
        u, v = np.broadcast_arrays(np.asarray(u, float), np.asarray(v, float))
        points = self.side.field.points(u.ravel(), v.ravel())
        with one_thread():
            normal, lean = self.side.spread(points, across)
        return normal.reshape(u.shape), lean.reshape(u.shape)
