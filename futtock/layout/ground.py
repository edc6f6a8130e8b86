"""Slabs made ready for the search: sound wood of both faces and grain, on 5 mm rasters."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from futtock.layout.settings import LaySettings
from futtock.layout.store import Arrays, Store
from futtock.progress import Progress, Report, quiet
from futtock.stock.grain import grain_field
from futtock.stock.grid import Grid, slab_grid
from futtock.stock.slab import Slab
from futtock.stock.sound import FlawRules, sound_raster

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
STEP_MM = 5.0
_MARGIN_MM = 10.0
_FINE_MM = 0.02
_FINE_RAD = 1e-4


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


def _key(slab: Slab, rules: FlawRules, reach_mm: float) -> str:
    """A key of all that a slab's rasters come from."""
    h = hashlib.sha256(f"g2 {rules} {reach_mm} {slab.grain_guessed} {slab.species}".encode())
    for ring in (slab.top_mm, slab.bottom_mm, slab.face_top_mm, slab.face_bottom_mm):
        h.update(b"-" if ring is None else np.ascontiguousarray(ring, float).tobytes())
    for line in slab.grain_mm:
        h.update(b"g" + np.ascontiguousarray(line, float).tobytes())
    for flaw in slab.flaws:
        h.update(f"{flaw.kind} {flaw.face}".encode())
        h.update(np.ascontiguousarray(flaw.outline_mm, float).tobytes())
    return "ground-" + h.hexdigest()[:32]


def _rasters(slab: Slab, grid: Grid, rules: FlawRules, reach_mm: float) -> Arrays:
    """Both faces' distances and the grain, in whole small steps so that they can be kept."""
    top = sound_raster(slab, "top", grid, rules, reach_mm).distance_mm
    bottom = sound_raster(slab, "bottom", grid, rules, reach_mm).distance_mm
    heading = _headings(slab, grid, np.maximum(top, bottom) > -2.0 * STEP_MM)
    return {
        "top": np.rint(top / _FINE_MM).astype(np.int16),
        "bottom": np.rint(bottom / _FINE_MM).astype(np.int16),
        "grain": np.rint(heading / _FINE_RAD).astype(np.int16),
    }


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
    store: Store | None = None,
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
        key = _key(slab, rules, reach_mm) if store is not None else ""
        kept = store.load(key) if store is not None else None
        if kept is None or any(kept[n].shape != grid.shape for n in ("top", "bottom", "grain")):
            kept = _rasters(slab, grid, rules, reach_mm)
            if store is not None:
                store.save(key, kept)
        top, bottom = (kept[n].astype(np.float32) * np.float32(_FINE_MM) for n in ("top", "bottom"))
        tops.append((top - np.float32(guard)).ravel())
        bottoms.append((bottom - np.float32(guard)).ravel())
        grains.append((kept["grain"].astype(np.float32) * np.float32(_FINE_RAD)).ravel())
        x0.append(grid.origin_mm[0])
        y0.append(grid.origin_mm[1])
        rows.append(grid.rows)
        columns.append(grid.columns)
        sound.append(float((np.maximum(top, bottom) > 0.0).sum()) * STEP_MM**2 / 1e6)
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
