"""The grid on which a slab's rasters lie: rows along y, columns along x, in the top face's axes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.stock.slab import Slab

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Grid:
    """Nodes at ``origin_mm + step_mm * (column, row)``; value [row, column] belongs to its node."""

    origin_mm: tuple[float, float]
    step_mm: float
    rows: int
    columns: int

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, columns)."""
        return self.rows, self.columns

    def nodes_mm(self) -> Array:
        """All nodes, (rows, columns, 2)."""
        x = self.origin_mm[0] + self.step_mm * np.arange(self.columns)
        y = self.origin_mm[1] + self.step_mm * np.arange(self.rows)
        return np.stack(np.meshgrid(x, y), axis=-1)

    def cells(self, points_mm: Array) -> Array:
        """Points (..., 2) as fractional (column, row)."""
        at: Array = (np.asarray(points_mm, float) - np.asarray(self.origin_mm)) / self.step_mm
        return at


def slab_grid(slab: Slab, step_mm: float = 5.0, margin_mm: float = 60.0) -> Grid:
    """The grid that covers both faces of a slab and ``margin_mm`` round them.

    Its origin is a whole number of steps, so that equal slabs shifted by whole steps give equal
    rasters.
    """
    faces = [
        r
        for r in (slab.top_mm, slab.bottom_mm, slab.face_top_mm, slab.face_bottom_mm)
        if r is not None
    ]
    points = np.vstack(faces)
    low = np.floor((points.min(0) - margin_mm) / step_mm)
    high = np.ceil((points.max(0) + margin_mm) / step_mm)
    columns, rows = (high - low).astype(int) + 1
    return Grid(
        (float(low[0] * step_mm), float(low[1] * step_mm)), step_mm, int(rows), int(columns)
    )
