"""Lay moulds on slabs: the best whole layout found, checked, with what no layout can beat."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused
from futtock.findings import Finding
from futtock.layout import kinds
from futtock.layout.budget import Clock
from futtock.layout.exact import Court
from futtock.layout.islands import Island, rules_of
from futtock.layout.knots import laid_over_knots
from futtock.layout.laying import searched
from futtock.layout.mend import mended
from futtock.layout.placement import Bound, Layout, Placement
from futtock.layout.problem import Problem, prepare
from futtock.layout.settings import LaySettings
from futtock.layout.store import Store
from futtock.moulds.mould import Mould
from futtock.progress import Report, quiet
from futtock.stock.slab import Slab

if TYPE_CHECKING:
    from futtock.layout.filling import Rules

Array = NDArray[np.float64]
Ints = NDArray[np.int64]


def warm() -> None:
    """Compile everything the search needs, so that the first layout does not wait for it."""
    ring = np.array([[0.0, 0.0], [400.0, 0.0], [400.0, 120.0], [0.0, 120.0]])
    line = np.array([[0.0, 60.0], [200.0, 60.0], [400.0, 60.0]])
    moulds = [
        Mould(f"{k}-P-f1", "aft", ring, ring, line, (), (), 45.0, 0.05, 1.0)  # type: ignore[arg-type]
        for k in (1, 2)
    ]
    big = ring * np.array([3.0, 3.0])
    grain = np.array([[50.0, 180.0], [600.0, 180.0], [1150.0, 180.0]])
    slab = Slab("warm", "white oak", 60.0, None, big, big, (grain,), ())
    lay(moulds, [slab], LaySettings(), rounds=12)


def lay(
    moulds: Sequence[Mould],
    slabs: Sequence[Slab],
    settings: LaySettings | None = None,
    report: Report = quiet,
    *,
    seed: int = 0,
    rounds: int | None = None,
    seconds: float | None = None,
    clock: Clock | None = None,
    locks: Sequence[Placement] = (),
    done: Collection[str] = (),
    store: Store | None = None,
    problem: Problem | None = None,
    bounded: bool = True,
) -> Layout:
    """Lay moulds on slabs.

    Parameters
    ----------
    rounds, seconds
        How long to search: by rounds (the same layout every time for one seed on one machine) or
        by the clock, beyond the first trying of every timber on every slab. ``seconds`` needs
        ``clock``, a function giving seconds, since this room reads none itself.
    locks
        Placements that stay as they are.
    done
        Timbers already cut of which no place is known: they are left out, and not missed.
    store
        Where found poses are kept between runs (:class:`futtock.layout.store.FolderStore`).
    problem
        What :func:`futtock.layout.problem.prepare` gave for the same moulds, slabs and settings.
    bounded
        Whether to tell what no layout can beat, which takes a second or two; else the bound is 0.

    Returns
    -------
    Layout: every placement has passed the exact check, save a locked one that fails it, which is
    said in a finding. Stopped by ``report``, the best so far.

    Raises
    ------
    Interrupted
        Stopped before there was any layout.
    """
    settings = settings or LaySettings()
    if seconds is not None and clock is None:
        raise Misused("seconds were asked for, but no clock was given.")
    if rounds is not None and (rounds < 0 or seconds is not None):
        raise Misused("give a number of rounds or of seconds, not both, and none below nought.")
    began = clock() if clock else 0.0
    if problem is None:
        problem = prepare(moulds, slabs, settings, report, store=store)
    findings = list(problem.findings)
    if not problem.slabs or not problem.moulds:
        if not problem.moulds:
            findings.append(kinds.NO_TIMBERS.found("There is no timber to lay."))
        else:
            findings.append(kinds.NO_RACK.found("There is no slab that could be laid on."))
        return _nothing(problem, findings, clock() - began if clock else 0.0)

    court = Court(problem.moulds, problem.slabs, settings)
    problem, locked, free, more = _with_locks(problem, court, locks)
    findings += more
    free = [j for j in free if problem.moulds[j].mark not in done]
    demand = np.zeros(len(problem.patterns.area), np.int64)
    for j in free:
        demand[problem.member[j].pattern] += 1

    best, stopped = searched(problem, demand, settings, report, seed, rounds, seconds, clock)
    placements, unplaced_j, more = _delivered(
        problem, court, best, locked, free, rules_of(settings)
    )
    findings += more
    if stopped:
        findings.append(kinds.STOPPED.found("The search was stopped; the best so far is given."))
    took = clock() - began if clock else 0.0
    return _told(problem, placements, unplaced_j, findings, took, bounded)


def _with_locks(
    problem: Problem, court: Court, locks: Sequence[Placement]
) -> tuple[Problem, list[Placement], list[int], list[Finding]]:
    """The problem with locked timbers taken out of their slabs, which then cost nothing to use."""
    from futtock.layout import filling

    findings: list[Finding] = []
    number = {m.mark: j for j, m in enumerate(problem.moulds)}
    slab = {s.name: k for k, s in enumerate(problem.slabs)}
    held: list[Placement] = []
    taken: set[int] = set()
    ground = problem.ground
    if locks:
        ground = ground._replace(
            top=ground.top.copy(), bottom=ground.bottom.copy(), cost=ground.cost.copy()
        )
    rules = rules_of(problem.settings)
    for lock in locks:
        if lock.mark not in number or lock.slab not in slab or number[lock.mark] in taken:
            findings.append(
                kinds.UNKNOWN_NAME.found(
                    f"The lock of {lock.mark} on {lock.slab} names what is not there, or locks it "
                    "twice; it is passed over.",
                    read=f"{lock.mark} on {lock.slab}",
                )
            )
            continue
        j, k = number[lock.mark], slab[lock.slab]
        taken.add(j)
        held.append(replace(lock, locked=True))
        a, b = ground.off[k], ground.off[k + 1]
        filling.cut_item(
            problem.patterns,
            ground,
            k,
            ground.top[a:b],
            ground.bottom[a:b],
            problem.item(j, k, lock),
            rules.gap,
        )
        ground.cost[k] = 0.0
    for verdict in court.judge_all(held):
        findings.extend(
            kinds.LOCK_FAILS.found(f"{verdict.mark} on {verdict.slab}: {fault.says}.")
            for fault in verdict.faults
        )
    free = [j for j in range(len(problem.moulds)) if j not in taken]
    return replace(problem, ground=ground), held, free, findings


def _delivered(
    problem: Problem,
    court: Court,
    best: Island,
    locked: list[Placement],
    free: list[int],
    rules: Rules,
) -> tuple[list[Placement], list[int], list[Finding]]:
    """Placements by mark, every one past the exact check; moulds left over; findings."""
    waiting: list[list[int]] = [[] for _ in range(len(problem.patterns.area))]
    for j in reversed(free):
        waiting[problem.member[j].pattern].append(j)
    laid: dict[int, list[tuple[int, Array]]] = {}
    for k in np.flatnonzero(best.count):
        rows = best.items[k, : best.count[k]]
        laid[int(k)] = [(waiting[int(row[0])].pop(), row.copy()) for row in rows]
    over = sorted(j for w in waiting for j in w)
    placements, left, findings = mended(problem, court, laid, locked, rules, best, over)
    left.sort()
    more, left, told = laid_over_knots(problem, court, placements, left)
    return [*placements, *more], left, findings + told


def _nothing(problem: Problem, findings: list[Finding], seconds: float) -> Layout:
    marks = tuple(m.mark for m in problem.moulds)
    bound = Bound("sound area of slabs begun, m2", 0.0, 0.0)
    return Layout((), marks, 0, 0.0, bound, seconds, tuple(findings))


def _told(
    problem: Problem,
    placements: list[Placement],
    unplaced: list[int],
    findings: list[Finding],
    seconds: float,
    bounded: bool,
) -> Layout:
    from futtock.layout.bound import area_bound
    from futtock.layout.shortfall import why_unplaced

    number = {m.mark: j for j, m in enumerate(problem.moulds)}
    index = {s.name: k for k, s in enumerate(problem.slabs)}
    used = sorted({index[p.slab] for p in placements})
    reached = float(problem.sound_m2[used].sum())
    got = sum(
        float(problem.patterns.area[problem.member[number[p.mark]].pattern]) for p in placements
    )
    value = area_bound(problem, [number[p.mark] for p in placements]) if bounded else 0.0
    findings = findings + why_unplaced(problem, unplaced)
    return Layout(
        tuple(placements),
        tuple(problem.moulds[j].mark for j in unplaced),
        len(used),
        got / reached if reached > 0 else 0.0,
        Bound("sound area of slabs begun, m2", value, reached),
        seconds,
        tuple(findings),
    )
