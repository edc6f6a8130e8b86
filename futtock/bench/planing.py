"""What the yard's own planing has shown of its rates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from futtock.bench.thicknessing import Rates

_FEW = 4
_ALIKE = 30.0
"""Condition of the two unknowns past which batches are too alike to tell setting from planing."""


@dataclass(frozen=True, slots=True)
class Planed:
    """One stretch of work on one face: how much was planed, how many pieces set up, how long.

    ``passes_m2`` is the area of every pass summed.
    """

    passes_m2: float
    pieces: int
    minutes: float


def shown_rates(rates: Rates, planed: Sequence[Planed]) -> Rates:
    """The rates with the times that the work has shown, where they are not stated.

    Minutes are taken as ``minutes_m2`` times the area of all passes and ``set_minutes`` a piece, by
    least squares of the relative error, neither below nothing. Where there are fewer than four
    entries, or all are too alike to tell the two apart, all of the time counts as planing, less the
    setting that is stated.
    """
    known = [p for p in planed if p.passes_m2 > 0 and p.minutes > 0]
    if rates.minutes_m2 is not None or not known:
        return rates
    rows = np.array([[p.passes_m2, float(p.pieces)] for p in known])
    minutes = np.array([p.minutes for p in known])
    scaled = rows / minutes[:, None]
    even = scaled / np.linalg.norm(scaled, axis=0)
    apart = len(known) >= _FEW and np.linalg.cond(even) < _ALIKE
    if apart and rates.set_minutes is None:
        from scipy.optimize import nnls

        per_m2, each = (float(v) for v in nnls(scaled, np.ones(len(known)))[0])
    else:
        each = rates.set_minutes or 0.0
        ratios = np.maximum(minutes - each * rows[:, 1], 0.0) / rows[:, 0]
        per_m2 = float(np.median(ratios))
    if per_m2 <= 0.0:
        return rates
    return replace(rates, minutes_m2=per_m2, set_minutes=each, shown=len(known))
