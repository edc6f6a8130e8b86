"""By the shipwright's hand: a timber's best places, a slab's best timbers, a placement judged."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused
from futtock.layout.exact import Court, Verdict, laid
from futtock.layout.islands import new_island, rules_of
from futtock.layout.mend import mended
from futtock.layout.placement import Placement
from futtock.layout.problem import Problem, prepare
from futtock.layout.settings import LaySettings
from futtock.layout.store import Store
from futtock.moulds.mould import Mould
from futtock.progress import Report, quiet
from futtock.stock.slab import Slab

Array = NDArray[np.float64]

_WAYS = ((8.0, 6.0), (0.0, 60.0), (0.0, 2.0))  # to lie at an end, along the grain, snug
_FILLS = 80
FEW = 3  # slabs so few that a timber is scarce
MANY = 0.4  # share of the rack at which a timber is common


@dataclass(frozen=True, slots=True)
class Place:
    """One place for a timber: the placement, its verdict, and how snug it lies.

    ``snug_mm`` is the mean distance from its outline to what bounds it: small wastes little.
    """

    placement: Placement
    verdict: Verdict
    snug_mm: float


@dataclass(frozen=True, slots=True)
class SlabAnswer:
    """What is in one slab.

    ``placements`` the best timbers found for it together, each past the exact check; ``yield_``
    their area over that of the slab's bottom face; ``scarce`` the timbers that fit here and on few
    other slabs (mark, how many slabs in all), scarcest first; ``waste`` those that fit here but
    on many others too, so that cutting them here would waste her, commonest first.
    """

    slab: str
    placements: tuple[Placement, ...]
    yield_: float
    scarce: tuple[tuple[str, int], ...]
    waste: tuple[tuple[str, int], ...]


def judge_by_hand(
    moulds: Sequence[Mould],
    slabs: Sequence[Slab],
    settings: LaySettings,
    placement: Placement,
    others: Sequence[Placement] = (),
) -> Verdict:
    """The verdict on one placement among others: inside, flaw, grain, gap, thickness.

    Raises Misused where the mark or the slab is unknown.
    """
    court = Court(moulds, slabs, settings)
    if placement.mark not in court.moulds or placement.slab not in court.slabs:
        raise Misused(f"there is no timber {placement.mark} or no slab {placement.slab}.")
    beside = [
        laid(court.moulds[p.mark], p).blank
        for p in others
        if p.slab == placement.slab and p.mark != placement.mark
    ]
    return court.judge(placement, beside)


def best_places(
    mould: Mould,
    rack: Sequence[Slab],
    settings: LaySettings | None = None,
    report: Report = quiet,
    *,
    n: int = 10,
    taken: Sequence[Placement] = (),
    moulds: Sequence[Mould] = (),
    store: Store | None = None,
    problem: Problem | None = None,
) -> tuple[Place, ...]:
    """The best places for one timber over the whole rack, at most two on one slab, best first.

    Places are ranked by snugness and slope together (1 in 10 counts as 6 mm). ``taken`` are
    placements, of ``moulds``, whose room is not to be had. A rack read before (``store``) takes
    well under two seconds; a new one must first be read.
    """
    settings = settings or LaySettings()
    if problem is None:
        others = {p.mark for p in taken}
        everyone = [mould, *(m for m in moulds if m.mark in others and m.mark != mould.mark)]
        problem = prepare(everyone, rack, settings, report, store=store, only={mould.mark})
    numbers = {m.mark: j for j, m in enumerate(problem.moulds)}
    if mould.mark not in numbers:
        return ()
    j = numbers[mould.mark]
    i = problem.member[j].pattern
    court = Court(problem.moulds, problem.slabs, settings)
    slabs = [int(k) for k in np.flatnonzero(problem.poses.ok[i])]
    beside = {k: _taken_on(problem, k, mould.mark, taken, numbers) for k in slabs}
    tried = [t for k in slabs for t in _on_slab(problem, j, k, beside[k], numbers)]
    tried.sort(key=lambda t: t[0])
    out: list[Place] = []
    for _score, snug, k, placement in tried:
        blanks = [laid(court.moulds[p.mark], p).blank for p in beside[k]]
        verdict = court.judge(placement, blanks)
        if verdict.passes:
            out.append(Place(placement, verdict, snug))
        if len(out) == n:
            break
    return tuple(out)


def _taken_on(
    problem: Problem,
    k: int,
    mark: str,
    taken: Sequence[Placement],
    numbers: dict[str, int],
) -> list[Placement]:
    name = problem.slabs[k].name
    return [p for p in taken if p.slab == name and p.mark != mark and p.mark in numbers]


def _on_slab(
    problem: Problem, j: int, k: int, beside: Sequence[Placement], numbers: dict[str, int]
) -> list[tuple[float, float, int, Placement]]:
    """Up to two places of mould j on slab k: score, snugness, k, placement; best first."""
    from futtock.layout import feel, filling

    G, P = problem.ground, problem.patterns
    rules = rules_of(problem.settings)
    cells = int(G.off[k + 1] - G.off[k])
    top, bottom = np.empty(cells, np.float32), np.empty(cells, np.float32)
    filling.copy_ground(G, k, top, bottom)
    for p in beside:
        item = problem.item(numbers[p.mark], k, p)
        filling.cut_item(P, G, k, top, bottom, item, rules.gap)
    out: list[tuple[float, float, int, Placement]] = []
    i = problem.member[j].pattern
    for to_end, to_grain in _WAYS:
        row = np.empty(7)
        if filling.try_place(P, G, problem.poses, k, i, top, bottom, to_end, to_grain, row) > 1e17:
            break
        placement = problem.placement(j, k, row)
        if any(np.hypot(*np.subtract(placement.shift_mm, o[3].shift_mm)) < 25.0 for o in out):
            continue
        sx, sy = feel.signs(int(row[1]))
        up, down = (top, bottom) if row[1] < 2 else (bottom, top)
        _ok, snug, _w, mean = feel.fits(
            P,
            i,
            up,
            down,
            0,
            G.grain,
            G.off[k],
            G.rows[k],
            G.columns[k],
            sx,
            sy,
            row[2],
            row[3],
            row[4],
            0.0,
        )
        out.append((float(snug + 60.0 * mean), float(snug), k, placement))
    out.sort(key=lambda f: f[0])
    return out[:2]


def best_for_slab(
    problem: Problem,
    slab: str,
    *,
    taken: Sequence[Placement] = (),
    done: Sequence[str] = (),
    seed: int = 0,
) -> SlabAnswer:
    """What is best cut from a slab that is on the forks now.

    ``done`` are timbers already cut; ``taken`` placements on this slab that stay. The scarcer a
    timber is over the whole rack, the more it counts. Raises Misused where there is no such slab.
    """
    from futtock.layout import filling

    index = {s.name: k for k, s in enumerate(problem.slabs)}
    if slab not in index:
        raise Misused(f"there is no slab {slab} that can be laid on.")
    k = index[slab]
    numbers = {m.mark: j for j, m in enumerate(problem.moulds)}
    gone = set(done) | {p.mark for p in taken}
    demand = np.zeros(len(problem.patterns.area), np.int64)
    waiting: list[list[int]] = [[] for _ in demand]
    for j in reversed(range(len(problem.moulds))):
        if problem.moulds[j].mark not in gone:
            i = problem.member[j].pattern
            demand[i] += 1
            waiting[i].append(j)
    held = [p for p in taken if p.slab == slab and p.mark in numbers]
    rules = rules_of(problem.settings)
    island = new_island(problem, demand, seed)
    worth = problem.poses.worth[1]
    best: tuple[float, Array] = (-1.0, np.empty((0, 7)))
    out = np.empty((filling.MOST, 7))
    for q, p in enumerate(held):
        out[q] = problem.item(numbers[p.mark], k, p)
    for turn in range(_FILLS):
        made = filling.fill(
            problem.patterns,
            problem.ground,
            problem.poses,
            k,
            demand,
            problem.poses.worth[turn % 3],
            (0.0, 0.1, 0.3, 0.8)[turn % 4] if turn else 0.0,
            (0.0, 8.0)[turn % 2],
            rules.grain,
            (1, 3)[turn // 2 % 2],
            60,
            rules.gap,
            island.top,
            island.bottom,
            out,
            len(held),
            island.state,
        )
        value = float(worth[out[len(held) : made, 0].astype(int)].sum())
        if value > best[0]:
            best = (value, out[len(held) : made].copy())
    pieces = {k: [(waiting[int(row[0])].pop(), row) for row in best[1]]}
    lone = Problem(
        problem.moulds,
        problem.slabs,
        problem.settings,
        problem.member,
        problem.patterns,
        problem.ground,
        problem.poses._replace(ok=_only(problem.poses.ok, k)),
        problem.may,
        problem.sound_m2,
        (),
    )
    court = Court(problem.moulds, problem.slabs, problem.settings)
    placements, _left, _f = mended(lone, court, pieces, held, rules, island)
    area = sum(
        float(problem.patterns.area[problem.member[numbers[p.mark]].pattern]) for p in placements
    )
    many = problem.poses.ok.sum(1)
    fits = [
        (m.mark, int(many[problem.member[j].pattern]))
        for j, m in enumerate(problem.moulds)
        if m.mark not in gone and problem.poses.ok[problem.member[j].pattern, k]
    ]
    scarce = sorted((f for f in fits if f[1] <= FEW), key=lambda f: (f[1], f[0]))
    common = max(FEW + 1, MANY * len(problem.slabs))
    waste = sorted((f for f in fits if f[1] >= common), key=lambda f: (-f[1], f[0]))
    return SlabAnswer(
        slab, tuple(placements), area / float(problem.sound_m2[k]), tuple(scarce), tuple(waste)
    )


def _only(ok: NDArray[np.bool_], k: int) -> NDArray[np.bool_]:
    alone = np.zeros_like(ok)
    alone[:, k] = ok[:, k]
    return alone
