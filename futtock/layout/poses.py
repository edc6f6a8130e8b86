"""Every pose in which a timber nearly fits a slab, found once and kept."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Interrupted
from futtock.layout.ground import Ground
from futtock.layout.pattern import Patterns
from futtock.layout.store import FolderStore as FolderStore
from futtock.layout.store import Store
from futtock.progress import Progress, Report, quiet

if TYPE_CHECKING:
    from futtock.layout.filling import Poses

Raster = NDArray[np.float32]
Ints = NDArray[np.int64]

CAP = 400  # poses kept for a pair
SLACK_MM = 7.0  # by which a kept pose may seem not to fit: half the step across
EASE = 1.05  # and the grain be too steep
THREADS = 2
_MADE = "p4"  # changes when the search for poses does


def steps_mm(P: Patterns) -> tuple[float, float]:
    """Spacing of tried places along and across a slab: closer for slighter timbers."""
    if not len(P.area):
        return 30.0, 15.0
    wide = float(np.median(P.area * 1e6 / np.maximum(P.long, 1.0)))
    return (30.0, 15.0) if wide < 130.0 else (30.0, 20.0)


def _first_key(P: Patterns, cap: int) -> hashlib.blake2b:
    h = hashlib.blake2b(f"{_MADE} {cap}".encode(), digest_size=16)
    for part in (P.disc, P.disc_off, P.grain):
        h.update(np.ascontiguousarray(part).tobytes())
    return h


def _key(first: hashlib.blake2b, G: Ground, k: int, wanted: NDArray[np.bool_]) -> str:
    h = first.copy()
    h.update(wanted.tobytes())
    a, b = G.off[k], G.off[k + 1]
    for raster in (G.top, G.bottom, G.grain):
        h.update(raster[a:b].tobytes())
    return "poses-" + h.hexdigest()


def find_poses(
    P: Patterns,
    G: Ground,
    wanted: NDArray[np.bool_],
    report: Report = quiet,
    *,
    store: Store | None = None,
    cap: int = CAP,
    seed: int = 1,
) -> tuple[list[Raster], list[Ints]]:
    """Poses of every wanted (pattern, slab) pair, slab by slab: rows and their bounds.

    ``wanted`` (patterns, slabs). Two threads share the slabs; the outcome does not depend on how.
    """
    from futtock.layout import scan

    n, m = wanted.shape
    along, across = steps_mm(P)
    first = _first_key(P, cap)

    def one(k: int) -> tuple[Raster, Ints]:
        use = np.ascontiguousarray(wanted[:, k])
        if not use.any():
            return np.empty((0, 5), np.float32), np.zeros(n + 1, np.int64)
        key = _key(first, G, k, use) if store is not None else ""
        if store is not None and (kept := store.load(key)) is not None and "start" in kept:
            return kept["row"], kept["start"]
        start = np.zeros(n + 1, np.int64)
        out = np.empty((int(use.sum()) * cap, 5), np.float32)
        got = scan.places(P, G, k, use, along, across, SLACK_MM, EASE, cap, seed, out, start)
        row = out[:got].copy()
        if store is not None:
            store.save(key, {"row": row, "start": start})
        return row, start

    rows: list[Raster] = []
    starts: list[Ints] = []
    with ThreadPoolExecutor(THREADS) as pool:
        for k, (row, start) in enumerate(pool.map(one, range(m))):
            rows.append(row)
            starts.append(start)
            if not report(Progress("trying every timber on every slab", k + 1, m)):
                pool.shutdown(cancel_futures=True)
                raise Interrupted("stopped while timbers were being tried on the slabs.")
    return rows, starts


def kept_poses(rows: Sequence[Raster], starts: Sequence[Ints], P: Patterns) -> Poses:
    """Poses in the search's flat form, with the patterns that few slabs can give counted dearer."""
    from futtock.layout.filling import Poses

    at = np.cumsum([0, *(len(r) for r in rows)])
    start = np.zeros((len(rows), len(P.area) + 1), np.int64)
    for k, s in enumerate(starts):
        start[k] = s + at[k]
    ok = np.ascontiguousarray((np.diff(start, axis=1) > 0).T)
    few = 100.0 / np.maximum(ok.sum(1), 1)
    worth = np.stack([P.area * few**e for e in (0.0, 0.4, 0.8)])
    row = np.concatenate([*(r[:, :5] for r in rows), np.empty((0, 5), np.float32)])
    row = np.ascontiguousarray(np.c_[row, np.cos(row[:, 2]), np.sin(row[:, 2])])
    return Poses(row, start, ok, worth)
