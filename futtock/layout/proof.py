"""Proofs about a rack: which timbers fit which slabs nowhere, and what no layout can beat.

Everything here is certain under the stated rules: each face inside its sound outline and clear of
flaws, the gap between blanks, and the grain within its limit as drawn between the traced lines.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from futtock.findings import Finding
from futtock.layout import kinds
from futtock.layout.bound import Reach, blank_m2, reach_of, swollen_m2
from futtock.layout.corner import sound_rings
from futtock.layout.knots import widest_ground
from futtock.layout.placement import Bound, Layout
from futtock.layout.problem import Problem
from futtock.layout.shortfall import shape_that_would_serve
from futtock.progress import Progress, Report, quiet

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

BOXES = 1_000_000  # looked at for one pair before it is left undecided
THREADS = 2


@dataclass(frozen=True)
class Certificates:
    """Which pattern may fit which slab.

    ``may`` (patterns, slabs) is False only where it is proven that the pattern fits nowhere, or
    is too thick or not wished there; ``proven`` where by search of poses; ``boxes`` how many boxes
    of poses the proofs looked at; ``open_`` pairs neither proven nor with a pose found.
    """

    may: Flags
    proven: Flags
    boxes: int
    open_: int


@dataclass(frozen=True, slots=True)
class Shortage:
    """Timbers that together have fewer places than they need: a Hall set.

    ``marks`` want a place each, ``slabs`` are all those that could give one, ``places`` no more
    than that many; so ``short`` timbers go without whatever is done.
    """

    marks: tuple[str, ...]
    slabs: tuple[str, ...]
    places: int
    short: int


@dataclass(frozen=True)
class Proof:
    """What is proven of a problem, and in how many boxes of poses; see the functions for each."""

    certificates: Certificates
    bound: Bound
    shortages: tuple[Shortage, ...]
    unwanted: tuple[str, ...]
    says: str
    findings: tuple[Finding, ...]


def certify(
    problem: Problem, report: Report = quiet, *, patterns: Sequence[int] | None = None
) -> Certificates:
    """Try to prove of every pair without a pose that the timber fits the slab nowhere.

    ``patterns``: only these (others count as fitting where they may). Stopped by ``report``, what
    is not yet decided counts as fitting.
    """
    from scipy.ndimage import maximum_filter, minimum_filter

    from futtock.layout import certify as compiled

    G = widest_ground(problem)
    n, m = problem.poses.ok.shape
    asked = np.ones(n, bool) if patterns is None else np.isin(np.arange(n), patterns)
    may = problem.may.copy()
    proven = np.zeros((n, m), bool)
    boxes = np.zeros(m, np.int64)
    goes = True

    def one(k: int) -> None:
        todo = np.flatnonzero(asked & problem.may[:, k] & ~problem.poses.ok[:, k])
        if not len(todo) or not goes:
            return
        a, b = G.off[k], G.off[k + 1]
        grain = G.grain[a:b].reshape(G.rows[k], G.columns[k])
        sizes = [2 * int(np.ceil(r / 5.0)) + 1 for r in compiled.LEVELS_MM]
        low = np.stack([minimum_filter(grain, s, mode="nearest") for s in sizes])
        high = np.stack([maximum_filter(grain, s, mode="nearest") for s in sizes])
        for i in todo:
            sure, looked = compiled.nowhere(
                problem.patterns, G, k, int(i), low, high, _guard(problem), BOXES
            )
            boxes[k] += looked
            if sure:
                proven[i, k] = True

    with ThreadPoolExecutor(THREADS) as pool:
        for k, _ in enumerate(pool.map(one, range(m))):
            goes = goes and report(Progress("proving where timbers cannot lie", k + 1, m))
    may[proven] = False
    open_ = int((may & ~problem.poses.ok)[asked].sum())
    return Certificates(may, proven, int(boxes.sum()), open_)


def _guard(problem: Problem) -> float:
    s = problem.settings
    # the allowance is not counted as sound here: striking out less is always true
    return s.guard_mm + (s.rough_allowance_mm if s.allowance_sound else 0.0) + 0.02


def shortages(problem: Problem, may: Flags, demand: NDArray[np.int64]) -> list[Shortage]:
    """Hall sets among the scarcest timbers, by greatest flow.

    A slab gives a set of timbers no more places than its swollen area holds of the smallest of
    them. Sets are the patterns that fit no more than 0, 1, 2, 4, 8 ... slabs; of each, a greatest
    flow from timbers to places; what it leaves over goes without, and its cut names the set.
    """
    from scipy.sparse import csr_matrix
    from scipy.sparse.csgraph import breadth_first_order, maximum_flow

    half = problem.settings.gap_mm / 2.0
    gives = np.array([swollen_m2(s, problem.settings.rules, half) for s in problem.slabs])
    of = problem.marks_of()
    blank = np.array([_blank(problem, of[i][0], half) for i in range(len(of))])
    many = may.sum(1)
    out: list[Shortage] = []
    told: set[int] = set()
    for few in (0, 1, 2, 4, 8, 16, 32, len(problem.slabs)):
        chosen = [i for i in range(len(of)) if many[i] <= few and demand[i] > 0 and i not in told]
        if not chosen:
            continue
        m = len(problem.slabs)
        size = np.array(
            [min((blank[i] for i in chosen if may[i, k]), default=9.0) for k in range(m)]
        )
        places = np.floor(gives / size + 1e-9).astype(np.int32)
        a, b = len(chosen), len(chosen) + m
        rows, columns, room = [], [], []
        for q, i in enumerate(chosen):
            rows.append(b)
            columns.append(q)
            room.append(int(demand[i]))
            for at_k in np.flatnonzero(may[i]).tolist():
                rows.append(q)
                columns.append(a + at_k)
                room.append(int(demand[i]))
        for k in range(m):
            rows.append(a + k)
            columns.append(b + 1)
            room.append(int(places[k]))
        graph: Any = csr_matrix((np.array(room, np.int32), (rows, columns)), shape=(b + 2, b + 2))
        flow: Any = maximum_flow(graph, b, b + 1)
        short = int(sum(demand[i] for i in chosen)) - int(flow.flow_value)
        if short <= 0:
            continue
        rest = (graph - flow.flow).maximum(0)
        rest.eliminate_zeros()
        seen = set(breadth_first_order(rest, b, return_predecessors=False).tolist())
        held = [i for q, i in enumerate(chosen) if q in seen]
        told |= set(held)
        at = [k for k in range(m) if a + k in seen]
        out.append(
            Shortage(
                tuple(problem.moulds[j].mark for i in held for j in of[i][: int(demand[i])]),
                tuple(problem.slabs[k].name for k in at),
                int(sum(places[k] for k in at)),
                short,
            )
        )
    return out


def _blank(problem: Problem, j: int, half: float) -> float:
    return blank_m2(*sound_rings(problem.moulds[j], problem.settings.wane_mm), half)


def mixed_bound(
    problem: Problem, may: Flags, demand: NDArray[np.int64], reach: Reach | None = None
) -> float:
    """Least sound area (m2) of slabs begun for this demand, counting who may lie where.

    The relaxation: slabs may be begun in part and timbers laid in part, each only where it may,
    no slab holding more than the area its timbers can reach, no timber more on a slab than it is
    begun. Infinite where even so the timbers do not go on the rack.
    """
    from scipy.optimize import linprog
    from scipy.sparse import coo_matrix

    half = problem.settings.gap_mm / 2.0
    gives = np.array([swollen_m2(s, problem.settings.rules, half, reach) for s in problem.slabs])
    of = problem.marks_of()
    n, m = may.shape
    pairs = [(i, k) for i in range(n) if demand[i] > 0 for k in np.flatnonzero(may[i])]
    blank = np.array([_blank(problem, of[i][0], half) if demand[i] else 0.0 for i in range(n)])
    rows: list[int] = []
    columns: list[int] = []
    values: list[float] = []
    for q, (i, k) in enumerate(pairs):
        rows += [int(k), m + q]
        columns += [m + q, m + q]
        values += [float(blank[i]), 1.0]
        rows.append(m + q)
        columns.append(int(k))
        values.append(-float(min(demand[i], max(0.0, np.floor(gives[k] / blank[i] + 1e-9)))))
    rows += range(m)
    columns += range(m)
    values += [-float(g) for g in gives]
    shape = (m + len(pairs), m + len(pairs))
    limits = coo_matrix((np.array(values), (np.array(rows), np.array(columns))), shape=shape)
    wanted = [i for i in range(n) if demand[i] > 0]
    at = {i: r for r, i in enumerate(wanted)}
    each = coo_matrix(
        (
            np.ones(len(pairs)),
            (np.array([at[i] for i, _k in pairs]), np.array([m + q for q in range(len(pairs))])),
        ),
        shape=(len(wanted), m + len(pairs)),
    )
    answer: Any = linprog(  # type: ignore[call-overload]  # its types know no sparse matrix
        np.r_[problem.sound_m2, np.zeros(len(pairs))],
        A_ub=limits.tocsr(),
        b_ub=np.zeros(m + len(pairs)),
        A_eq=each.tocsr(),
        b_eq=demand[wanted].astype(float),
        bounds=np.r_[np.tile([[0.0, 1.0]], (m, 1)), np.tile([[0.0, np.inf]], (len(pairs), 1))],
        method="highs",
    )
    if answer.status == 2:
        return float("inf")
    if answer.status != 0:
        return 0.0
    # the solver's answer is true to its tolerance; stay on the safe side of it
    return float(answer.fun) * (1.0 - 1e-6)


def prove(
    problem: Problem,
    layout: Layout,
    report: Report = quiet,
    *,
    clock: Callable[[], float] | None = None,
) -> Proof:
    """Everything that can be proven of a layout, with its gap in words.

    Takes minutes on a large rack; :attr:`Layout.bound` is what was proven at once.
    """
    began = clock() if clock else 0.0
    papers = certify(problem, report)
    number = {m.mark: j for j, m in enumerate(problem.moulds)}
    demand = np.zeros(len(problem.patterns.area), np.int64)
    for p in layout.placements:
        demand[problem.member[number[p.mark]].pattern] += 1
    placed = [number[p.mark] for p in layout.placements]
    value = max(
        layout.bound.value,
        mixed_bound(problem, papers.may, demand, reach_of(problem, placed)) if placed else 0.0,
    )
    if not np.isfinite(value):
        value = layout.bound.value
    bound = Bound(layout.bound.what, value, layout.bound.reached)
    whole = np.zeros_like(demand)
    for member in problem.member:
        whole[member.pattern] += 1
    short = shortages(problem, papers.may, whole)
    unwanted = tuple(s.name for k, s in enumerate(problem.slabs) if not papers.may[:, k].any())
    findings = [
        kinds.SCARCE.found(
            f"{len(s.marks)} timbers have at most {s.places} places on {len(s.slabs)} slabs: "
            f"{s.short} go without, whatever is done ({', '.join(s.marks[:6])}"
            f"{' ...' if len(s.marks) > 6 else ''})."
        )
        for s in short
    ]
    if unwanted:
        findings.append(
            kinds.WANTED_BY_NONE.found(
                f"{len(unwanted)} slabs can give no timber at all: {', '.join(unwanted[:12])}"
                f"{' ...' if len(unwanted) > 12 else ''}."
            )
        )
    for mark in layout.unplaced:
        i = problem.member[number[mark]].pattern
        if problem.poses.ok[i].any():
            continue
        sure = int((~papers.may[i]).sum())
        rest = len(problem.slabs) - sure
        tail = "." if rest == 0 else f"; on the other {rest} no place was found."
        findings.append(
            kinds.FITS_NOWHERE.found(
                f"{mark}: proven to fit nowhere on {sure} of {len(problem.slabs)} slabs{tail}",
                read=mark,
                remedy=shape_that_would_serve(problem, mark),
            )
        )
    took = f" Proven in {clock() - began:.0f} s." if clock else ""
    says = (
        f"These {len(layout.placements)} timbers take {bound.reached:.1f} m2 of slabs. It is "
        f"proven that no layout of them takes less than {bound.value:.1f} m2, so at most "
        f"{100 * bound.gap:.0f} % could still be saved; how much of that is to be had is not "
        f"known.{took}"
    )
    return Proof(papers, bound, tuple(short), unwanted, says, tuple(findings))
