"""Slabs made ready for the search: sound wood of both faces and grain, on 5 mm rasters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from futtock.layout.settings import LaySettings
from futtock.progress import Progress, Report, quiet
from futtock.stock.grain import grain_field
from futtock.stock.grid import Grid, slab_grid
from futtock.stock.slab import Slab
from futtock.stock.sound import sound_raster

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
STEP_MM = 5.0
_MARGIN_MM = 10.0


class Ground(NamedTuple):
    """All slabs in flat arrays, for the compiled search. Slab k owns cells off[k]:off[k+1].

    ``top``, ``bottom``: distance to unsound wood less the guard, mm. ``grain``: heading in
    radians modulo pi. ``x0, y0`` origins; ``rows, columns`` sizes. ``sound`` the area in which an
    up face may lie, m2; ``cost`` what beginning the slab counts.
    """

    top: NDArray[np.float32]
    bottom: NDArray[np.float32]
    grain: NDArray[np.float32]
    off: Ints
    x0: Array
    y0: Array
    rows: Ints
    columns: Ints
    sound: Array
    cost: Array


def _headings(slab: Slab, grid: Grid, wanted: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Grain in radians on the grid: asked at every second node where wanted, and drawn out between
    by doubled angles.
    """
    near = wanted.copy()
    for axis in (0, 1):
        for by in (-1, 1):
            near |= np.roll(near, by, axis)
    some = near[::2, ::2]
    doubled = np.zeros(some.shape, complex)
    if some.any():
        angle, _sure = grain_field(slab).at(grid.nodes_mm()[::2, ::2][some])
        doubled[some] = np.exp(2j * np.radians(angle))
    out = np.zeros(grid.shape, complex)
    out[::2, ::2] = doubled
    out[1:-1:2, ::2] = doubled[: len(out[1:-1:2])] + doubled[1 : 1 + len(out[1:-1:2])]
    wide = out[:, 1:-1:2].shape[1]
    out[:, 1:-1:2] = out[:, 0 : 2 * wide : 2] + out[:, 2 : 2 * wide + 1 : 2]
    return (np.angle(out) / 2.0).astype(np.float32)


def ground_of(
    slabs: Sequence[Slab],
    settings: LaySettings,
    cost: Array,
    *,
    reach_mm: float = 120.0,
    report: Report = quiet,
) -> Ground:
    """Rasters of these slabs. ``reach_mm``: how far a distance is told exactly."""
    rules = replace(settings.rules, knot_mm=0.0)
    guard = settings.guard_mm
    if settings.allowance_sound:
        guard += settings.rough_allowance_mm
    tops, bottoms, grains = [], [], []
    x0, y0, rows, columns, sound = [], [], [], [], []
    for k, slab in enumerate(slabs):
        grid = slab_grid(slab, STEP_MM, _MARGIN_MM)
        top = sound_raster(slab, "top", grid, rules, reach_mm).distance_mm
        bottom = sound_raster(slab, "bottom", grid, rules, reach_mm).distance_mm
        wanted = np.maximum(top, bottom) > -2.0 * STEP_MM
        heading = _headings(slab, grid, wanted)
        tops.append((top - guard).astype(np.float32).ravel())
        bottoms.append((bottom - guard).astype(np.float32).ravel())
        grains.append(heading.ravel())
        x0.append(grid.origin_mm[0])
        y0.append(grid.origin_mm[1])
        rows.append(grid.rows)
        columns.append(grid.columns)
        sound.append(float((np.maximum(top, bottom) > 0).sum()) * STEP_MM**2 / 1e6)
        if k % 10 == 9:
            report(Progress("reading slabs", k + 1, len(slabs)))
    flat = [np.concatenate(a) if a else np.empty(0, np.float32) for a in (tops, bottoms, grains)]
    return Ground(
        flat[0],
        flat[1],
        flat[2],
        np.r_[0, np.cumsum([len(t) for t in tops])].astype(np.int64),
        np.array(x0),
        np.array(y0),
        np.array(rows, np.int64),
        np.array(columns, np.int64),
        np.array(sound),
        np.asarray(cost, float),
    )
