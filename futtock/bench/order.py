"""The order of sawing: batches by thickness and blade, each with the least turning of the head."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.bench.cuts import Cut, SawSheet
from futtock.bench.saw import SawSettings, blade_radius, widest_blade_mm
from futtock.errors import Misused

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Turned:
    """One cut in the order: its timber, edge, and how far the head is turned before it starts."""

    mark: str
    edge: str
    part_from_mm: float
    starts_left_deg: float
    ends_left_deg: float
    turn_before_deg: float


@dataclass(frozen=True)
class Batch:
    """Cuts of one thickness sawn with one blade, in order, the head square before and after."""

    sided_mm: float
    blade_width_mm: float
    blade_follows: bool
    cuts: tuple[Turned, ...]

    @property
    def turn_deg(self) -> float:
        """Degrees the head is turned between cuts, from square and back to it."""
        home = abs(self.cuts[-1].ends_left_deg) if self.cuts else 0.0
        return sum(c.turn_before_deg for c in self.cuts) + home


@dataclass(frozen=True)
class SawingOrder:
    """Batches in order; ``turn_deg`` between cuts against ``unsorted_deg`` as the list stood."""

    batches: tuple[Batch, ...]
    turn_deg: float
    unsorted_deg: float


def sawing_order(
    sheets: Sequence[SawSheet], settings: SawSettings, blades_mm: Sequence[float] = ()
) -> SawingOrder:
    """Sort every cut so that blade changes and the head's settings are least.

    Both cuts of a timber need not follow one another; a timber's outer edge is sawn before its
    inner only where the order says so. Batches: thickness first, then the widest blade that
    follows the cut's tightest turn (the widest keeps a line best; common practice). Within one the
    head is turned between cuts as little as can be, from square and back to square.

    Parameters
    ----------
    sheets
        Saw sheets.
    settings
        Blade set, and the one blade's width where ``blades_mm`` is empty.
    blades_mm
        Widths of the blades to be had.
    """
    blades = tuple(blades_mm) or (settings.blade_width_mm,)
    if min(blades) <= 0:
        raise Misused("A blade's width must be more than nothing.")
    groups: dict[tuple[float, float], list[Cut]] = {}
    unsorted = 0.0
    before = 0.0
    for sheet in sheets:
        for cut in sheet.cuts:
            width = widest_blade_mm(cut.radius_mm, blades, settings.blade_set_mm)
            groups.setdefault((round(sheet.sided_mm, 3), width), []).append(cut)
            starts, ends = _ends(cut)
            unsorted += abs(starts - before)
            before = ends
    batches = []
    for (sided, width), cuts in sorted(groups.items(), key=lambda g: (g[0][0], -g[0][1])):
        ends_of = np.array([_ends(c) for c in cuts])
        order = _sorted(ends_of)
        made, at = [], 0.0
        for k in order:
            starts, ends = float(ends_of[k, 0]), float(ends_of[k, 1])
            cut = cuts[k]
            made.append(
                Turned(cut.mark, cut.edge, cut.marks[0].at_mm, starts, ends, abs(starts - at))
            )
            at = ends
        radius = blade_radius(width, settings.blade_set_mm).radius_mm
        follows = all(c.radius_mm >= radius for c in cuts)
        batches.append(Batch(sided, width, follows, tuple(made)))
    return SawingOrder(tuple(batches), sum(b.turn_deg for b in batches), unsorted)


def _ends(cut: Cut) -> tuple[float, float]:
    """Signed angles at which a cut starts and ends, in the order of feeding."""
    ordered = cut.in_feeding_order()
    return ordered[0].set_left_deg, ordered[-1].set_left_deg


def _sorted(ends: Array) -> list[int]:
    """The order of cuts (n, 2: start, end) with the least turning, from square and back to square.

    One head, one state: Gilmore and Gomory's sequencing of a one-state-variable machine
    (Operations Research 12, 1964, from memory; checked against all orders of small lists). Ends and
    starts are matched in sorted order, which costs least but may fall into separate rounds; rounds
    are joined by exchanging neighbours along a least spanning tree.
    """
    n = len(ends) + 1  # the last is the head standing square before and after
    start = np.append(ends[:, 0], 0.0)
    by_end = np.argsort(np.append(ends[:, 1], 0.0), kind="stable")
    b = np.append(ends[:, 1], 0.0)[by_end]
    by_start = np.argsort(start, kind="stable")
    a = start[by_start]
    place = np.empty(n, int)
    place[by_end] = np.arange(n)
    follows = place[by_start]  # job at place j (by its end) is followed by the one at follows[j]

    round_of = list(range(n))

    def root(k: int) -> int:
        while round_of[k] != k:
            round_of[k] = round_of[round_of[k]]
            k = round_of[k]
        return k

    for j in range(n):
        round_of[root(j)] = root(int(follows[j]))
    price = np.maximum(0.0, np.minimum(b[1:], a[1:]) - np.maximum(b[:-1], a[:-1]))
    chosen = []
    for j in np.argsort(price, kind="stable"):
        if root(int(j)) != root(int(j) + 1):
            round_of[root(int(j))] = root(int(j) + 1)
            chosen.append(int(j))
    upward = sorted((j for j in chosen if a[j] >= b[j]), reverse=True)
    downward = sorted(j for j in chosen if a[j] < b[j])
    swap = np.arange(n)
    for j in reversed([*upward, *downward]):
        # The exchange written last in the product acts first.
        swap = np.where(swap == j, j + 1, np.where(swap == j + 1, j, swap))
    after = follows[swap]
    order, at = [], int(after[place[n - 1]])
    while by_end[at] != n - 1:
        order.append(int(by_end[at]))
        at = int(after[at])
    return order
