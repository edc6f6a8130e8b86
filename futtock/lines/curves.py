"""The lines that bound a hull, faired in space: rabbet, sheer, transom edge, and her profiles.

The rabbet is faired by the length along it, so that a plumb stem and a flat keel are one curve; the
sheer's height is faired over x and its breadth is the surface's.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from futtock.lines.batten import Batten, lay_batten
from futtock.lines.figures import Figure
from futtock.lines.rabbet import fair_rabbet
from futtock.lines.spacelines import LineOverX, SpaceLine, line_over_x
from futtock.vessel.table import OffsetTable

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Bounds:
    """All lines of a table, faired before the surface.

    Attributes
    ----------
    rabbet
        Stem, keel and post rabbet as one line, in parts where it turns a corner; empty where
        nothing gives it.
    transom
        The transom's edge, or None.
    over_x
        By name: ``sheer``, ``keel``, ``keel top`` (heights), ``rabbet`` (height at the stations),
        ``rabbet breadth``, ``sheer breadth``.
    ends : (forward, aft)
        x of the hull's ends.
    knuckles
        Height up the plain diagonal, (y + z) / sqrt(2), of each knuckle over x.
    """

    rabbet: tuple[SpaceLine, ...]
    transom: SpaceLine | None
    over_x: dict[str, LineOverX]
    ends: tuple[float, float]
    knuckles: tuple[Batten, ...] = ()
    doubts: dict[int, tuple[float, float, bool]] = field(default_factory=dict)
    """Studentised residual, leave-one-out error and whether it was kept, of each figure that a line
    was laid to."""


_CLEAR = 0.1  # of the depth from sheer to rabbet
_ROWS = {
    ("z", "sheer"): "sheer",
    ("z", "rabbet"): "rabbet",
    ("z", "keel"): "keel",
    ("z", "keel top"): "keel top",
    ("y", "rabbet"): "rabbet breadth",
    ("y", "sheer"): "sheer breadth",
}


def bounds_of(
    table: OffsetTable,
    figures: tuple[Figure, ...],
    sigma: float,
    without: frozenset[int] = frozenset(),
) -> Bounds:
    """The lines of a table, faired.

    Parameters
    ----------
    table, figures
        See :func:`futtock.lines.figures.figures_of`.
    sigma
        Standard error of one figure, mm.
    """
    over_x: dict[str, LineOverX] = {}
    doubts: dict[int, tuple[float, float, bool]] = {}
    groups: dict[str, list[int]] = {}
    for k, f in enumerate(figures):
        name = _ROWS.get((f.coordinate, f.what)) if f.row >= 0 and k not in without else None
        if name:
            groups.setdefault(name, []).append(k)
    sheer_ends = [k for k, f in enumerate(figures) if f.what in ("sheer forward", "sheer aft")]
    for name, members in groups.items():
        x = np.array([figures[k].at[0] for k in members])
        value = np.array([figures[k].given_mm for k in members])
        if name in ("sheer", "sheer breadth") and sheer_ends:
            axis = 2 if name == "sheer" else 1
            x = np.r_[x, [figures[k].at[0] for k in sheer_ends]]
            value = np.r_[value, [figures[k].at[axis] for k in sheer_ends]]
            members = [*members, *sheer_ends]
        over_x[name] = line_over_x(
            x, value, sigma, np.array(members, np.intp), corners=name == "keel top"
        )
        line = over_x[name].batten
        if name in ("sheer", "keel", "rabbet breadth"):
            for k, z, loo, kept in zip(members, line.z, line.loo, line.kept, strict=True):
                if figures[k].row >= 0:
                    doubts[k] = (float(z), float(loo), bool(kept))
    ends = _ends(table, over_x)
    rabbet = fair_rabbet(figures, over_x, sigma, ends, doubts, without)
    transom = _transom(figures, sigma)
    knuckles = _knuckles(table, figures, over_x, sigma, without)
    return Bounds(rabbet, transom, over_x, ends, knuckles, doubts)


def _knuckles(
    table: OffsetTable,
    figures: tuple[Figure, ...],
    over_x: dict[str, LineOverX],
    sigma: float,
    without: frozenset[int],
) -> tuple[Batten, ...]:
    """Each knuckle's height and breadth over x (put among ``over_x``), and its diagonal."""
    names = dict.fromkeys(r.at for r in table.rows if r.what == "knuckle")
    out = []
    for name in names:
        pair = {}
        for coordinate in ("z", "y"):
            members = [
                k
                for k, f in enumerate(figures)
                if f.what == "knuckle"
                and f.coordinate == coordinate
                and table.rows[f.row].at == name
                and k not in without
            ]
            if len(members) < 2:
                continue
            x = np.array([figures[k].at[0] for k in members])
            value = np.array([figures[k].given_mm for k in members])
            key = name if coordinate == "z" else f"{name} breadth"
            pair[coordinate] = line_over_x(x, value, sigma, np.array(members, np.intp))
            over_x[key] = pair[coordinate]
        if len(pair) == 2:
            low, high = pair["z"].low, pair["z"].high
            x = np.linspace(low, high, 61)
            up = (pair["z"].carried(x) + pair["y"].carried(x)) / np.sqrt(2)
            out.append(lay_batten(x, up, np.full(len(x), 0.1), doubt=False))
    return tuple(out)


def beyond(figures: tuple[Figure, ...], over_x: dict[str, LineOverX]) -> frozenset[int]:
    """Buttocks' heights that stand clear below the rabbet or above the sheer of their station.

    Where a line has one figure only near her ends the surface would follow it anywhere.
    """
    rabbet, sheer = over_x.get("rabbet"), over_x.get("sheer")
    members = [k for k, f in enumerate(figures) if f.what == "buttock" and f.row >= 0]
    if rabbet is None or sheer is None or not members:
        return frozenset()
    x, z = np.array([(figures[k].at[0], figures[k].given_mm) for k in members]).T
    low, high = rabbet(x), sheer(x)
    clear = _CLEAR * (high - low)
    with np.errstate(invalid="ignore"):
        out = (clear > 0) & ((z < low - clear) | (z > high + clear))
    return frozenset(k for k, wrong in zip(members, out, strict=True) if wrong)


def _ends(table: OffsetTable, over_x: dict[str, LineOverX]) -> tuple[float, float]:
    x = [table.x_mm[np.isfinite(table.x_mm)]]
    x += [p[np.all(np.isfinite(p), axis=1), 0] for p in table.ends.values() if len(p)]
    every = np.concatenate(x)
    return float(every.min()), float(every.max())


def _transom(figures: tuple[Figure, ...], sigma: float) -> SpaceLine | None:
    members = [k for k, f in enumerate(figures) if f.what == "transom edge"]
    if len(members) < 3:
        return None
    p = np.array([figures[k].at for k in members])
    s = np.r_[0.0, np.cumsum(np.maximum(np.linalg.norm(np.diff(p, axis=0), axis=1), 1e-6))]
    e = np.full(len(s), sigma)
    x, y, z = (lay_batten(s, p[:, i], e, doubt=False) for i in range(3))
    return SpaceLine(x, y, z, np.array(members), s)
