"""Each figure of the table beside the fair hull: its residual, its doubt, its likely slip."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.lines.curves import Bounds
from futtock.lines.figures import Figure, Readings, diagonal_axes
from futtock.lines.fitting import EDGE_TIMES, Fit, Side
from futtock.lines.heightfield import HeightField
from futtock.lines.settings import FairSettings
from futtock.lines.slips import Slip, likely_slip
from futtock.vessel.table import OffsetTable

Array = NDArray[np.float64]
_SOONER = 0.85
_KNOWN = 2.5


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


def judge(
    table: OffsetTable,
    figures: tuple[Figure, ...],
    side: Side,
    bounds: Bounds,
    settings: FairSettings,
    out_of_scale: frozenset[int],
) -> tuple[FairPoint, ...]:
    """Every figure judged, in the table's order.

    Parameters
    ----------
    table, figures
        The table and its figures.
    side, bounds
        The fair surface and the lines faired before it.
    settings
        What the builder states.
    out_of_scale
        Figures that were kept out of the fit from the start.
    """
    n = len(figures)
    fair_mm = np.full(n, np.nan)
    z = np.full(n, np.nan)
    spread = np.full(n, np.nan)
    loo = np.full(n, np.nan)
    place = np.array([f.at for f in figures]).reshape(-1, 3)
    scatter = np.ones(n)
    left_out = np.zeros(n, bool)
    _judge_lines(table, figures, bounds, fair_mm, z, loo, left_out, place)
    for which, fit in enumerate(side.fits):
        judged = _judge_surface(fit, figures)
        use = judged.ours & (side.which(judged.x) == which)
        k = fit.readings.figure[use]
        z[k], loo[k], spread[k] = judged.z[use], judged.loo[use], judged.spread[use]
        fair_mm[k], place[k] = judged.fair_mm[use], judged.place[use]
        left_out[k], scatter[k] = ~fit.settled.kept[use], fit.settled.scale
    for i in out_of_scale:
        met = _wild_figure(table, figures[i], side.field)
        if met is not None:
            fair_mm[i], place[i] = met
            loo[i], z[i], spread[i] = figures[i].given_mm - met[0], np.inf, sigma_of(settings)
            left_out[i] = True
    least = np.full(n, settings.least_slip_mm(side.field.length))
    least[[f.row < 0 for f in figures]] *= EDGE_TIMES
    doubt = left_out & (np.abs(loo) > least)
    # a known slip that explains a figure makes it doubtful a little sooner, where others know
    nearly = ~doubt & (np.abs(z) > _SOONER * settings.cut * scatter) & (np.abs(loo) > least)
    nearly &= spread < _KNOWN * settings.tolerance_mm
    out = []
    for i, f in enumerate(figures):
        slip: Slip | None = None
        if (doubt[i] or nearly[i]) and f.row >= 0:
            slip = likely_slip(table, f, f.given_mm - loo[i], spread[i], settings.tolerance_mm)
            doubt[i] |= slip is not None and slip.value_mm is not None
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


@dataclass(frozen=True)
class _Judged:
    """What one fit says of its readings, in the direction each was measured in."""

    ours: NDArray[np.bool_]
    x: Array
    z: Array
    loo: Array
    spread: Array
    fair_mm: Array
    place: Array


def _judge_surface(fit: Fit, figures: tuple[Figure, ...]) -> _Judged:
    readings, done = fit.readings, fit.settled
    slope = (fit.gradient * readings.ray).sum(axis=1)
    free = np.linalg.norm(readings.ray, axis=1) == 0
    steep = np.linalg.norm(fit.gradient, axis=1)
    least = 0.15 * steep
    slope = np.where(np.abs(slope) < least, np.copysign(least, slope), slope)
    per_mm = np.where(free, steep, slope)
    fair_mm, place = _along_rays(fit.field, readings, figures)
    loo = done.posterior.loo / per_mm
    # a figure left out may lie far from the hull: then what the others say is where its ray meets
    far = ~done.kept & ~free & (readings.figure >= 0)
    given = np.array([figures[k].given_mm for k in readings.figure[far]])
    loo[far] = given - fair_mm[far]
    there = (fit.field.offs(place[far])[1] * readings.ray[far]).sum(axis=1)
    per_mm[far] = np.where(np.abs(there) < least[far], least[far], there)
    return _Judged(
        readings.figure >= 0,
        readings.points[:, 0],
        done.z,
        loo,
        np.sqrt(done.posterior.spread2) / np.abs(per_mm),
        fair_mm,
        place,
    )


def _judge_lines(
    table: OffsetTable,
    figures: tuple[Figure, ...],
    bounds: Bounds,
    fair_mm: Array,
    z: Array,
    loo: Array,
    left_out: NDArray[np.bool_],
    place: Array,
) -> None:
    """Heights of sheer, rabbet, keel and keel top against their own battens, in place."""
    lines = {k: v for k, v in bounds.over_x.items() if not k.endswith(" breadth")}
    rabbet = _rabbet_fair(bounds, figures)
    groups: dict[str, list[int]] = {}
    for i, f in enumerate(figures):
        if f.row < 0:
            continue
        name = table.rows[f.row].at if f.what == "knuckle" else f.what
        if f.coordinate == "z" and name in lines:
            groups.setdefault(name, []).append(i)
        if i in bounds.doubts:
            z[i], loo[i], kept = bounds.doubts[i]
            left_out[i] = not kept
    for name, members in groups.items():
        x = np.array([figures[i].at[0] for i in members])
        fair_mm[members] = lines[name](x)
        breadth = bounds.over_x.get(f"{name} breadth")
        place[members, 1] = breadth(x) if breadth else 0.0
        for i in members:
            fair_mm[i] = rabbet.get(i, fair_mm[i])
        place[members, 2] = fair_mm[members]


def _rabbet_fair(bounds: Bounds, figures: tuple[Figure, ...]) -> dict[int, float]:
    """Heights of the faired rabbet at her stations, each on the branch its own reading lies on."""
    out: dict[int, float] = {}
    for line in bounds.rabbet:
        mine = [k for k, i in enumerate(line.figures) if i >= 0 and figures[i].row >= 0]
        if not mine:
            continue
        x = np.array([figures[i].at[0] for i in line.figures[mine]])
        height = line.at_x(x, line.at[mine])[1][:, 2]
        for i, z in zip(line.figures[mine], height, strict=True):
            out.setdefault(int(i), float(z))
    return out


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
