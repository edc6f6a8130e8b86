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
from futtock.stock.sound import FlawRules, flaw_rings, small_knots

Array = NDArray[np.float64]
Raster = NDArray[np.float32]


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
    """A place for mould j on slab k that passes the exact check; knots in its way are barred."""
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
    slab = court.slabs[relaxed.slabs[k].name]
    for _ in range(len(small_knots(slab, court.settings.rules)) + 1):
        row = np.empty(7)
        if filling.try_place(P, G, relaxed.poses, k, i, top, bottom, 0.0, 60.0, row) > 1e17:
            return None
        placement = relaxed.placement(j, k, row)
        verdict = court.judge(placement, others)
        if verdict.passes:
            return replace(placement, slope_worst=max(placement.slope_worst, verdict.slope_worst))
        barred = court.knots_barred(placement)
        if not barred:
            return None
        for flaw in barred:
            for ring in flaw_rings(flaw):
                _bar(G, k, ring, relaxed.settings.guard_mm, top, bottom)
    return None


def _bar(G: Ground, k: int, ring: Array, guard_mm: float, top: Raster, bottom: Raster) -> None:
    """Put a knot back into both faces' working rasters."""
    from futtock.stock.kernels import signed_distance

    out = np.empty((int(G.rows[k]), int(G.columns[k])))
    signed_distance(ring, float(G.x0[k]), float(G.y0[k]), STEP_MM, 120.0, out)
    hole = (-out - guard_mm).astype(np.float32).ravel()
    np.minimum(top, hole, out=top)
    np.minimum(bottom, hole, out=bottom)
