"""No placement that fails the exact check is delivered: it is moved, laid elsewhere or left out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from futtock.findings import Finding
from futtock.layout import kinds
from futtock.layout.exact import Court, Verdict, laid
from futtock.layout.placement import Placement
from futtock.layout.problem import Problem

if TYPE_CHECKING:
    from futtock.layout.filling import Rules
    from futtock.layout.islands import Island

Array = NDArray[np.float64]
Laid = dict[int, list[tuple[int, Array]]]


def mended(
    problem: Problem,
    court: Court,
    on_slab: Laid,
    locked: list[Placement],
    rules: Rules,
    island: Island,
    waiting: Sequence[int] = (),
) -> tuple[list[Placement], list[int], list[Finding]]:
    """Check a layout, slab by slab, and mend it.

    ``on_slab`` holds (mould, item) by slab; moulds ``waiting`` for a place get what mending frees.
    Returns all placements (the locked first) in order of slab, the moulds that had to be left out,
    and findings.
    """
    findings: list[Finding] = []
    homeless: list[tuple[int, str]] = []
    done: dict[int, list[Placement]] = {}
    index = {s.name: k for k, s in enumerate(problem.slabs)}
    for lock in locked:
        done.setdefault(index[lock.slab], []).append(lock)
    for k in sorted(on_slab):
        pieces = on_slab[k]
        stand: list[tuple[int, Array, Placement]] = []
        for j, item in pieces:
            stand.append((j, item, problem.placement(j, k, item)))
        fixed = done.get(k, [])
        while True:
            verdicts = _verdicts(court, fixed, [p for _j, _i, p in stand])
            failing = [q for q, v in enumerate(verdicts) if not v.passes]
            if not failing:
                break
            q = failing[0]
            j, item, _p = stand[q]
            rest = [s for r, s in enumerate(stand) if r != q]
            moved = _moved(problem, court, k, j, item, rest, fixed, rules, island)
            if moved is not None:
                stand[q] = (j, moved[0], moved[1])
                findings.append(
                    kinds.MENDED.found(
                        f"{moved[1].mark} on {moved[1].slab} was moved: "
                        f"{verdicts[q].faults[0].says}."
                    )
                )
            else:
                stand = rest
                homeless.append((j, verdicts[q].faults[0].says))
        told = {v.mark: v for v in verdicts}
        done[k] = fixed + [_with_slopes(p, told[p.mark]) for _j, _i, p in stand]
        on_slab[k] = [(j, item) for j, item, _p in stand]
    left = []
    for j, why in homeless:
        found = _elsewhere(problem, court, j, on_slab, done, rules, island)
        mark = problem.moulds[j].mark
        if found is not None:
            findings.append(kinds.MENDED.found(f"{mark} was moved to {found}: {why}."))
        else:
            left.append(j)
            findings.append(kinds.LEFT_OUT.found(f"{mark} is left out: {why}.", read=mark))
    left += [
        j for j in waiting if _elsewhere(problem, court, j, on_slab, done, rules, island) is None
    ]
    return [p for k in sorted(done) for p in done[k]], left, findings


def _with_slopes(p: Placement, v: Verdict) -> Placement:
    worst = max(p.slope_worst, v.slope_worst)
    return Placement(
        p.mark, p.slab, p.turn_deg, p.shift_mm, p.mirrored, p.slope_mean, worst, p.locked
    )


def _verdicts(court: Court, fixed: list[Placement], stand: list[Placement]) -> list[Verdict]:
    blanks = [laid(court.moulds[p.mark], p).blank for p in [*fixed, *stand]]
    n = len(fixed)
    return [
        court.judge(p, [b for r, b in enumerate(blanks) if r != q + n]) for q, p in enumerate(stand)
    ]


def _cleared(
    problem: Problem,
    k: int,
    pieces: list[tuple[int, Array]],
    rules: Rules,
    island: Island,
) -> None:
    """Slab k's working rasters with these pieces taken out."""
    from futtock.layout import filling

    filling.copy_ground(problem.ground, k, island.top, island.bottom)
    for _j, item in pieces:
        filling.cut_item(
            problem.patterns, problem.ground, k, island.top, island.bottom, item, rules.gap
        )


def _moved(
    problem: Problem,
    court: Court,
    k: int,
    j: int,
    item: Array,
    rest: list[tuple[int, Array, Placement]],
    fixed: list[Placement],
    rules: Rules,
    island: Island,
) -> tuple[Array, Placement] | None:
    """Another pose for mould j on slab k, near the old one first, that passes the exact check."""
    from futtock.layout import feel, filling

    P, G = problem.patterns, problem.ground
    others = [laid(court.moulds[p.mark], p).blank for p in [*fixed, *(p for _j, _i, p in rest)]]

    def passing(row: Array) -> tuple[Array, Placement] | None:
        placement = problem.placement(j, k, row)
        return (row, placement) if court.judge(placement, others).passes else None

    pieces = [(r, i) for r, i, _p in rest]
    variant = int(item[1])
    sx, sy = feel.signs(variant)
    for extra, to_grain in ((0.0, 1000.0), (1.0, 6.0), (2.0, 6.0), (1.0, 1000.0), (3.5, 6.0)):
        _cleared(problem, k, pieces, rules, island)
        up, down = (island.top, island.bottom) if variant < 2 else (island.bottom, island.top)
        ok, x, y, ang, worst, mean, _s = feel.settle(
            P,
            int(item[0]),
            up,
            down,
            0,
            G.grain,
            G.off[k],
            G.rows[k],
            G.columns[k],
            sx,
            sy,
            item[2],
            item[3],
            item[4],
            extra,
            0.0,
            to_grain,
            4.0,
        )
        if ok:
            row = np.array([item[0], item[1], x, y, ang, mean, worst])
            if (found := passing(row)) is not None:
                return found
    _cleared(problem, k, pieces, rules, island)
    for to_end, to_grain in ((0.0, 60.0), (8.0, 6.0), (0.0, 2.0)):
        row = np.empty(7)
        score = filling.try_place(
            P, G, problem.poses, k, int(item[0]), island.top, island.bottom, to_end, to_grain, row
        )
        if score < 1e17 and (found := passing(row)) is not None:
            return found
    return None


def _elsewhere(
    problem: Problem,
    court: Court,
    j: int,
    on_slab: Laid,
    done: dict[int, list[Placement]],
    rules: Rules,
    island: Island,
) -> str | None:
    """Lay mould j on some other slab, begun ones first; the slab's name, or None."""
    from futtock.layout import filling

    i = problem.member[j].pattern
    may = [int(k) for k in np.flatnonzero(problem.poses.ok[i])]
    kept = problem.settings.keep_for_later
    for k in sorted(may, key=lambda k: (k not in done, problem.ground.cost[k])):
        if problem.slabs[k].name in kept and k not in done:
            continue
        _cleared(problem, k, on_slab.get(k, []), rules, island)
        row = np.empty(7)
        score = filling.try_place(
            problem.patterns,
            problem.ground,
            problem.poses,
            k,
            i,
            island.top,
            island.bottom,
            0.0,
            60.0,
            row,
        )
        if score > 1e17:
            continue
        placement = problem.placement(j, k, row)
        others = [laid(court.moulds[p.mark], p).blank for p in done.get(k, [])]
        verdict = court.judge(placement, others)
        if verdict.passes:
            on_slab.setdefault(k, []).append((j, row))
            done.setdefault(k, []).append(_with_slopes(placement, verdict))
            return problem.slabs[k].name
    return None
