"""Compiled: chance, from a state that is handed in: a seed gives the same run every time."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from futtock.layout.discs import compiled


@compiled
def chance(state: NDArray[np.uint64]) -> float:
    """A number from 0 up to 1."""
    x = state[0]
    x ^= x << np.uint64(13)
    x ^= x >> np.uint64(7)
    x ^= x << np.uint64(17)
    state[0] = x
    return float(x >> np.uint64(11)) / 9007199254740992.0


@compiled
def pick(state: NDArray[np.uint64], n: int) -> int:
    """A whole number from 0 up to n - 1."""
    return min(n - 1, int(chance(state) * n))


@compiled
def bell(state: NDArray[np.uint64]) -> float:
    """A number from the normal distribution."""
    u = max(chance(state), 1e-300)
    return float(np.sqrt(-2.0 * np.log(u)) * np.cos(6.283185307179586 * chance(state)))
