"""The blank a timber is roughed out of: both faces together, and what is left round them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from futtock.errors import Misused
from futtock.moulds.mould import Mould
from futtock.moulds.rings import anticlockwise, frozen

Array = NDArray[np.float64]


def blank(mould: Mould, allowance_mm: float = 0.0) -> Array:
    """Outline (n, 2) of a mould's blank: see :func:`blanks`."""
    return blanks([mould], allowance_mm)[0]


def blanks(moulds: Sequence[Mould], allowance_mm: float = 0.0) -> tuple[Array, ...]:
    """Outlines of the blanks: the union of both faces grown by the allowance.

    Parameters
    ----------
    moulds
        Moulds; each gives one anticlockwise ring (n, 2) in its own axes, first point not repeated.
    allowance_mm
        Wood left all round when roughing out (the saw's wander and the finishing cut).

    Raises
    ------
    Misused
        For a negative allowance.
    """
    if allowance_mm < 0:
        raise Misused(f"A rough allowance is not negative, and {allowance_mm:g} mm was asked for.")
    if not moulds:
        return ()
    up = np.array([shapely.Polygon(m.outline_up_mm) for m in moulds])
    down = np.array([shapely.Polygon(m.outline_down_mm) for m in moulds])
    whole = shapely.union(up, down)
    if allowance_mm:
        # 16 segments a quarter: an arc of allowance a is drawn within a / 800 of true.
        whole = shapely.buffer(whole, allowance_mm, quad_segs=16)
    rings = []
    for shape in whole:
        largest = max(shapely.get_parts(shape), key=shapely.area)
        rings.append(frozen(anticlockwise(np.asarray(largest.exterior.coords)[:-1])))
    return tuple(rings)
