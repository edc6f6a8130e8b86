"""Compile what the fit needs, so that the first table is faired as fast as the next."""

from __future__ import annotations

import numpy as np

from futtock.lines.bspline import Axis
from futtock.lines.heightfield import HeightField, Turn


def warm() -> None:
    """Run the compiled kernel once on a small case; its machine code is kept on disk."""
    along = Axis(0.0, 1.0, 3)
    at = np.linspace(0.1, 2.9, 4)
    coef = np.zeros((along.size, along.size))
    HeightField(along, along, coef, Turn(), 0.1, 0.0, 3.0).points(at, at)
    frozen = coef.copy()
    frozen.flags.writeable = False
    HeightField(along, along, frozen, Turn(), 0.1, 0.0, 3.0).points(at, at)
