"""How the answer narrows with each further slab measured, and which stack to measure next.

The area a slab gives is taken to spread about its stack's mean. With n of a stack measured and u
not, what the u will give in all has the variance u v (1 + u / n): their own spread, and that of the
mean they are told by (the predictive variance of a normal sample, any textbook). Slabs measured
drop out of u and add to n. The chance told is that of a normal law with this spread, so the chance
that will be told after measuring more spreads as the variance that is taken away (the law of total
variance).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

STEPS = (5, 10, 20, 40, 80)
_TENTH = 1.2815515655446004  # of the normal law
SURE = (0.1, 0.9)  # a chance outside these is one to act on


@dataclass(frozen=True, slots=True)
class Step:
    """After so many further slabs measured, as ``measure`` says of which stacks.

    ``low`` and ``high``: the chance then told lies between them 8 times in 10; ``settled``: the
    chance that it will be below 10 or above 90 %.
    """

    further: int
    measure: tuple[tuple[str, int], ...]
    low: float
    high: float
    settled: float


@dataclass(frozen=True, slots=True)
class Narrowing:
    """The steps, the last with everything measured, and the stack to measure next.

    ``low`` and ``high``: between these the chance would lie 8 times in 10 if the make-up of every
    stack were known, though not its slabs; that is how far chance in which slabs were measured
    has moved the answer.
    """

    steps: tuple[Step, ...]
    following: str | None
    low: float
    high: float


def narrowing(
    z: float,
    unmeasured: Mapping[str, int],
    measured: Mapping[str, int],
    variance: Mapping[str, float],
    other: float,
) -> Narrowing:
    """How the chance may move.

    Parameters
    ----------
    z
        The chance as told now, in standard deviations of a normal law.
    unmeasured, measured
        Slabs by stack.
    variance
        Of the area one slab of a stack gives.
    other
        Variance that measuring takes nothing from: timbers spoiled, slabs lost in drying.
    """
    from scipy.special import ndtr, ndtri

    left = {s: n for s, n in unmeasured.items() if n > 0}
    if not left:
        return Narrowing((), None, float(ndtr(z)), float(ndtr(z)))
    known = {s: float(measured.get(s, 0)) for s in left}

    def unsure(stack: str, k: int) -> float:
        u, n = left[stack] - k, max(known[stack], 1.0) + k
        return u * variance[stack] * (1.0 + u / n)

    total = sum(unsure(s, 0) for s in left) + other
    if total <= 0.0:
        sure = float(ndtr(z))
        return Narrowing((), max(left, key=lambda s: left[s]), sure, sure)

    def told(rest: float) -> tuple[float, float, float]:
        """Low, high and settled once the variance has come down to ``rest``."""
        gone = np.sqrt(max(total - rest, 0.0))
        rest = max(rest, 1e-12 * total)
        low, high = (
            float(ndtr((z * np.sqrt(total) + q * gone) / np.sqrt(rest))) for q in (-_TENTH, _TENTH)
        )
        edge = [float(ndtri(q)) * np.sqrt(rest) - z * np.sqrt(total) for q in SURE]
        if gone <= 0.0:
            return low, high, float(not SURE[0] < low < SURE[1])
        return low, high, float(1.0 - ndtr(edge[1] / gone) + ndtr(edge[0] / gone))

    done = dict.fromkeys(left, 0)
    order: list[str] = []
    steps: list[Step] = []
    every = sum(left.values())
    wanted = [n for n in STEPS if n < every] + [every]
    for n in range(1, every + 1):
        # the stack in which one more takes most away
        best = max(
            (s for s in left if done[s] < left[s]),
            key=lambda s: unsure(s, done[s]) - unsure(s, done[s] + 1),
        )
        done[best] += 1
        order.append(best)
        if n not in wanted:
            continue
        rest = sum(unsure(s, done[s]) for s in left) + other
        low, high, settled = told(rest)
        steps.append(
            Step(n, tuple((s, k) for s, k in sorted(done.items()) if k), low, high, settled)
        )
    own = sum(left[s] * variance[s] for s in left) + other
    low, high, _ = told(own)
    return Narrowing(tuple(steps), order[0], low, high)
