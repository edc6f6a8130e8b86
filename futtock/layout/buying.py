"""The buying list: slabs to get, by shape, so that the pile is enough at a stated chance.

Each slab bought is counted on for one timber of its class, so the list is a cautious one: a long
slab will often give two. The counts come from the piles already drawn: the fewest slabs found with
which at least the stated share of those piles comes out complete.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused
from futtock.layout.enough import Enough, ShapeClass, shape_class
from futtock.layout.problem import Problem

Array = NDArray[np.float64]

OVER_MM = 100.0  # length beyond the timber, for checked ends
SIDE_MM = 25.0  # width beyond it, for sapwood and wane


@dataclass(frozen=True)
class Wanted:
    """One shape of slab to get.

    Sizes are of sound wood, the longest, widest and most swept timber of the class within it;
    ``sweep_mm`` is the rise of the grain over ``length_mm``. ``outline_mm`` (n, 2) is a slab that
    would do, ``grain_mm`` (m, 2) its grain: to draw for the merchant. ``marks`` the timbers it is
    for. ``cost`` is None where no price is known.
    """

    count: int
    length_mm: float
    width_mm: float
    sweep_mm: float
    thickness_mm: float
    marks: tuple[str, ...]
    outline_mm: Array
    grain_mm: Array
    cost: float | None = None


@dataclass(frozen=True)
class BuyingList:
    """Slabs to get, the most wanted first; the chance before and, on the same piles, after."""

    wanted: tuple[Wanted, ...]
    slabs: int
    before: float
    after: float
    says: str


def buying_list(
    problem: Problem,
    answer: Enough,
    *,
    level: float = 0.9,
    price_per_m2: Mapping[float, float] | float | None = None,
) -> BuyingList:
    """The fewest slabs found that bring the chance to ``level``.

    ``price_per_m2``: one price, or one by thickness in mm. Raises Misused where ``level`` is not
    between 0 and 1, or no pile was drawn.
    """
    if not 0.0 < level < 1.0:
        raise Misused(f"a chance of {level} was asked for: give more than 0 and less than 1.")
    if not len(answer.short_of):
        raise Misused("no pile was drawn: ask first whether there is enough.")
    classes: dict[ShapeClass, list[int]] = {}
    for i in range(answer.short_of.shape[1]):
        if answer.short_of[:, i].any():
            classes.setdefault(shape_class(problem, i), []).append(i)
    keys = sorted(classes)
    table = (
        np.stack([answer.short_of[:, classes[c]].sum(1) for c in keys], axis=1)
        if keys
        else np.zeros((len(answer.short_of), 0), np.int64)
    )
    counts = fewest(table, level)
    after = float((table <= counts).all(1).mean()) if keys else 1.0
    wanted = [
        _wanted(problem, c, classes[c], int(n), price_per_m2)
        for c, n in zip(keys, counts, strict=True)
        if n
    ]
    wanted.sort(key=lambda w: (-w.count, -w.sweep_mm, -w.length_mm))
    total = int(counts.sum()) if keys else 0
    rests = f"on the {len(table)} piles drawn from {answer.measured_slabs} slabs measured"
    says = (
        f"Nothing need be bought for {100 * level:.0f} chances in 100 ({rests})."
        if total == 0
        else f"Get {total} slabs of {len(wanted)} shapes: the chance goes from "
        f"{100 * answer.probability:.0f} to {100 * after:.0f} in 100 ({rests})."
    )
    return BuyingList(tuple(wanted), total, answer.probability, after, says)


def fewest(table: NDArray[np.int64], level: float) -> NDArray[np.int64]:
    """Counts (classes,) so that at least ``level`` of the rows (piles, classes) lie at or under.

    Starts from what the easiest share of the piles needs, then takes off slabs one by one, the
    class first whose lessening loses the fewest piles, while the share still holds.
    """
    n = len(table)
    need = int(np.ceil(level * n - 1e-9))
    if table.shape[1] == 0:
        return np.zeros(0, np.int64)
    order = np.argsort(table.sum(1), kind="stable")[:need]
    counts: NDArray[np.int64] = table[order].max(0).astype(np.int64)
    while True:
        best: tuple[int, int] | None = None
        for c in np.flatnonzero(counts).tolist():
            counts[c] -= 1
            held = int((table <= counts).all(1).sum())
            counts[c] += 1
            if held >= need and (best is None or held > best[0]):
                best = (held, c)
        if best is None:
            return counts
        counts[best[1]] -= 1


def _wanted(
    problem: Problem,
    shape: ShapeClass,
    patterns: list[int],
    count: int,
    price: Mapping[float, float] | float | None,
) -> Wanted:
    chosen = [j for j, m in enumerate(problem.member) if m.pattern in patterns]
    longest = max(chosen, key=lambda j: problem.moulds[j].length_mm)
    mould = problem.moulds[longest]
    line = np.asarray(mould.grain_mm, float)
    chord = line[-1] - line[0]
    size = max(float(np.hypot(*chord)), 1e-9)
    u = chord / size
    line = (line - line[0]) @ np.array([u, [-u[1], u[0]]]).T
    rise = max(_rise(problem.moulds[j].grain_mm) for j in chosen)
    P = problem.patterns
    widest = max(2.0 * float(P.disc[P.disc_off[i] : P.disc_off[i + 1], 2].max()) for i in patterns)
    allow = 2.0 * (problem.settings.guard_mm + problem.settings.rough_allowance_mm)
    wide, length = widest + SIDE_MM + allow, mould.length_mm + OVER_MM
    ends = np.gradient(line, axis=0)
    t = ends / np.maximum(np.hypot(*ends.T), 1e-9)[:, None]
    line = np.vstack([line[0] - t[0] * OVER_MM / 2, line, line[-1] + t[-1] * OVER_MM / 2])
    t = np.vstack([t[0], t, t[-1]])
    n = np.c_[-t[:, 1], t[:, 0]] * wide / 2
    ring = np.vstack([line - n, (line + n)[::-1]])
    each = price.get(shape[3]) if isinstance(price, Mapping) else price
    cost = None if each is None else count * each * length * wide / 1e6
    marks = tuple(sorted(problem.moulds[j].mark for j in chosen))
    return Wanted(count, length, wide, rise, shape[3], marks, ring, line, cost)


def _rise(grain: Array) -> float:
    line = np.asarray(grain, float)
    chord = line[-1] - line[0]
    off = (line - line[0]) @ np.array([-chord[1], chord[0]])
    return float(np.abs(off).max() / max(float(np.hypot(*chord)), 1e-9))
