"""Compile what the fit needs, so that the first table is faired as fast as the next."""

from __future__ import annotations

import numpy as np

from futtock.lines.bspline import Axis
from futtock.lines.heightfield import HeightField, Turn
from futtock.lines.prior import Prior


def warm() -> None:
    """Run each compiled kernel once on a small case; their machine code is kept on disk."""
    prior = Prior.of(Axis(0.0, 1.0, 3), Axis(0.0, 1.0, 3), 2.0, 2.0)
    at = np.linspace(0.1, 2.9, 4)
    index, value = prior.rows(at, at)
    prior.half(index, value)
    coef = np.zeros((prior.along.size, prior.across.size))
    HeightField(prior.along, prior.across, coef, Turn(), 0.1, 0.0, 3.0).points(at, at)
    frozen = coef.copy()
    frozen.flags.writeable = False
    HeightField(prior.along, prior.across, frozen, Turn(), 0.1, 0.0, 3.0).points(at, at)
