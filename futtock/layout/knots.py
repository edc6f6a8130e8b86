"""Timbers that would go without, laid over sound knots of a size the builder allows.

The search keeps clear of every knot: clear wood is always better. Only timbers that then have no
place are tried over knots, and the exact check asks that each knot lie near the middle line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from futtock.findings import Finding
from futtock.layout import kinds
from futtock.layout.exact import Court, laid
from futtock.layout.ground import STEP_MM, Ground, ground_of
from futtock.layout.placement import Placement
from futtock.layout.problem import Problem, prepare
from futtock.stock.slab import Slab
from futtock.stock.sound import FlawRules, small_knots

Array = NDArray[np.float64]
Raster = NDArray[np.float32]

_REACH_MM = 45.0  # how far a pose is shifted to bring its middle line over a knot
_TRIED = 24  # poses tried for one knot


def without_small_knots(slab: Slab, rules: FlawRules) -> Slab:
    """The slab as if the knots that are allowed by their size were not there."""
    small = small_knots(slab, rules)
    if not small:
        return slab
    return replace(slab, flaws=tuple(f for f in slab.flaws if not any(f is s for s in small)))


def widest_ground(problem: Problem) -> Ground:
    """The ground for proofs: knots that are allowed by their size count as sound."""
    rules = problem.settings.rules
    if not any(small_knots(s, rules) for s in problem.slabs):
        return problem.ground
    bare = [without_small_knots(s, rules) for s in problem.slabs]
    most = float(problem.patterns.disc[:, 2].max()) if len(problem.patterns.disc) else 60.0
    reach = max(30.0 + most, 95.0)
    return ground_of(bare, problem.settings, problem.ground.cost, reach_mm=reach)


def laid_over_knots(
    problem: Problem, court: Court, placements: Sequence[Placement], left: Sequence[int]
) -> tuple[list[Placement], list[int], list[Finding]]:
    """Try the moulds left over on slabs with small knots, beside what is placed.

    Returns the placements found, the moulds still left, and a finding for each placed.
    """
    rules = problem.settings.rules
    knotty = [s for s in problem.slabs if small_knots(s, rules)]
    if not left or not knotty:
        return [], list(left), []
    marks = {problem.moulds[j].mark for j in left}
    bare = [without_small_knots(s, rules) for s in knotty]
    settings = replace(problem.settings, forbid=frozenset(), keep_for_later=frozenset())
    relaxed = prepare(problem.moulds, bare, settings, only=marks)
    begun = {p.slab for p in placements}
    order = sorted(
        range(len(relaxed.slabs)),
        key=lambda k: (relaxed.slabs[k].name not in begun, relaxed.ground.cost[k]),
    )
    kept = problem.settings.keep_for_later
    there = list(placements)
    found: list[Placement] = []
    still: list[int] = []
    findings: list[Finding] = []
    for j in sorted(left, key=lambda j: -problem.moulds[j].square_m2):
        placed = None
        for k in order:
            if relaxed.slabs[k].name in kept and relaxed.slabs[k].name not in begun:
                continue
            placed = _on_slab(relaxed, court, j, k, there)
            if placed is not None:
                break
        if placed is None:
            still.append(j)
            continue
        there.append(placed)
        found.append(placed)
        begun.add(placed.slab)
        said = f"{placed.mark} lies on {placed.slab} over a sound knot near its middle line."
        findings.append(kinds.OVER_KNOT.found(said, read=placed.mark))
    return found, sorted(still), findings


def _on_slab(
    relaxed: Problem, court: Court, j: int, k: int, there: Sequence[Placement]
) -> Placement | None:
    """A place for mould j on slab k over one of its small knots that passes the exact check."""
    from futtock.layout import filling

    P, G = relaxed.patterns, relaxed.ground
    i = relaxed.member[j].pattern
    if not relaxed.poses.ok[i, k]:
        return None
    number = {m.mark: n for n, m in enumerate(relaxed.moulds)}
    a, b = G.off[k], G.off[k + 1]
    top, bottom = G.top[a:b].copy(), G.bottom[a:b].copy()
    beside = [p for p in there if p.slab == relaxed.slabs[k].name]
    for p in beside:
        item = relaxed.item(number[p.mark], k, p)
        filling.cut_item(P, G, k, top, bottom, item, relaxed.settings.gap_mm)
    others = [laid(court.moulds[p.mark], p).blank for p in beside]

    def passing(row: Array) -> Placement | None:
        placement = relaxed.placement(j, k, row)
        verdict = court.judge(placement, others)
        if not verdict.passes:
            return None
        return replace(placement, slope_worst=max(placement.slope_worst, verdict.slope_worst))

    slab = court.slabs[relaxed.slabs[k].name]
    half = 0.4 * float(P.area[i]) * 1e6 / max(float(P.long[i]), 1.0)
    for flaw in small_knots(slab, court.settings.rules):
        centre = flaw.outline_mm.mean(axis=0) - (G.x0[k], G.y0[k])
        r, c = np.rint(centre[::-1] / STEP_MM).astype(int)
        if not (0 <= r < G.rows[k] and 0 <= c < G.columns[k]):
            continue
        cell = int(r * G.columns[k] + c)
        if max(top[cell], bottom[cell]) < half:
            continue  # the wood about this knot is taken
        for row in _brought_over(relaxed, i, k, centre, top, bottom):
            if (found := passing(row)) is not None:
                return found
    return None


def _brought_over(
    relaxed: Problem, i: int, k: int, centre: Array, top: Raster, bottom: Raster
) -> list[Array]:
    """Items of pattern i that fit slab k with their middle line brought over a knot."""
    from futtock.layout import feel

    P, G, Q = relaxed.patterns, relaxed.ground, relaxed.poses
    poses = np.asarray(Q.row[Q.start[k, i] : Q.start[k, i + 1]], float)
    line = P.grain[P.grain_off[i] : P.grain_off[i + 1]]
    x, y, ang, variant = poses[:, 0], poses[:, 1], poses[:, 2], poses[:, 4].astype(int)
    sx = np.where((variant == 1) | (variant == 3), -1.0, 1.0)
    sy = np.where((variant == 1) | (variant == 2), -1.0, 1.0)
    u, v = sx[:, None] * line[None, :, 0], sy[:, None] * line[None, :, 1]
    c, s = np.cos(ang)[:, None], np.sin(ang)[:, None]
    dx = centre[0] - (x[:, None] + c * u - s * v)
    dy = centre[1] - (y[:, None] + s * u + c * v)
    near = np.hypot(dx, dy).argmin(axis=1)
    each = np.arange(len(poses))
    heading = ang + sx * sy * line[near, 2]
    normal = np.column_stack([-np.sin(heading), np.cos(heading)])
    off = dx[each, near] * normal[:, 0] + dy[each, near] * normal[:, 1]
    along = np.hypot(dx, dy)[each, near] ** 2 - off**2
    within = np.flatnonzero((np.abs(off) < _REACH_MM) & (along < _REACH_MM**2))
    found = []
    for q in within[np.argsort(np.abs(off[within]), kind="stable")][:_TRIED]:
        up, down = (top, bottom) if variant[q] < 2 else (bottom, top)
        px, py = x[q] + off[q] * normal[q, 0], y[q] + off[q] * normal[q, 1]
        ok, _snug, worst, mean = feel.fits(
            P, i, up, down, 0, G.grain, G.off[k], G.rows[k], G.columns[k],
            sx[q], sy[q], px, py, ang[q], 0.0,
        )  # fmt: skip
        if ok:
            found.append(np.array([i, variant[q], px, py, ang[q], mean, worst], float))
    return found
