"""Rabbet, apex and bearding lines for any thickness of planking.

The rabbet line is where the planking's outside meets the side of keel, stem or post. The plank's
edge lies square to it: the *apex* (inner rabbet) is one thickness in along the plank's own normal.
The *bearding line* is where the inside of the planking comes out at the keel's side again. With a
flat keel side and a straight section of deadrise b the apex lies t sin b in and t cos b up from the
rabbet, the bearding line t / cos b up (elementary geometry).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused
from futtock.framing.planking import Inside, inside
from futtock.framing.solver import FaceSolver, Planes
from futtock.framing.strakes import Strake
from futtock.lines.surface import Hull

Array = NDArray[np.float64]
_MET_MM = 1e-3


@dataclass(frozen=True, slots=True)
class RabbetLines:
    """Three lines by x, (n,) each; half-breadths and heights in mm, nan where a line is not met.

    ``bevel_deg`` is the angle between the plank's outside and the keel's side in the section (90
    for a flat floor); ``half_siding_mm`` half the siding of the keel at the rabbet.
    """

    x_mm: Array
    half_siding_mm: Array
    rabbet_up_mm: Array
    apex_out_mm: Array
    apex_up_mm: Array
    bearding_up_mm: Array
    bevel_deg: Array

    def rows(self) -> list[tuple[float, ...]]:
        """Rows for a table: x, half siding, rabbet, apex out and up, bearding, bevel."""
        columns = (
            self.x_mm,
            self.half_siding_mm,
            self.rabbet_up_mm,
            self.apex_out_mm,
            self.apex_up_mm,
            self.bearding_up_mm,
            self.bevel_deg,
        )
        return [tuple(row) for row in np.stack(columns, axis=1).tolist()]


HEADER = (
    "x",
    "half siding",
    "rabbet height",
    "apex half-breadth",
    "apex height",
    "bearding height",
    "bevel_deg",
)


def rabbet_lines(
    hull: Hull, x_mm: Array, planking_mm: float, strakes: Sequence[Strake] = ()
) -> RabbetLines:
    """Rabbet, apex and bearding lines at sections x.

    Parameters
    ----------
    hull
        A hull. Where she was measured to the inside of planking, the rabbet is where the outside,
        one thickness out along the normal, meets the keel's side at ``rabbet breadth``.
    x_mm : (n,)
        Places along the vessel.
    planking_mm
        Thickness of planking; a strake that starts at the rabbet goes before it.
    strakes
        As for framing.

    Raises
    ------
    Misused
        For a thickness not above 0, or a hull measured to the inside whose half-breadth at the
        rabbet is not known.
    """
    if not planking_mm > 0:
        raise Misused(f"Planking must be more than 0 thick, and {planking_mm:g} came.")
    tau = next(
        (s.thickness_mm for s in strakes if s.of == "rabbet" and s.from_mm <= 0), planking_mm
    )
    x = np.atleast_1d(np.asarray(x_mm, float))
    n = len(x)
    origin = np.stack([x, np.zeros(n), np.zeros(n)], axis=1)
    axes = np.broadcast_to(np.eye(3), (n, 3, 3))
    planes = Planes(axes[:, 0], x, origin, axes[:, 1], axes[:, 2])

    if hull.inside:
        return _of_inside(hull, planes, tau)
    outer = FaceSolver(hull, planes, 0.0)
    u0, v0, reached = outer.look()
    u, v, missed = outer.end(u0[:, 0], v0[:, 0], outer.at_trim(hull.trim.low))
    rabbet, bevel = _outside(outer, u, v, reached & (missed < _MET_MM))

    inner = FaceSolver(hull, planes, tau)
    u, v, missed = inner.end(u0[:, 0], v0[:, 0], inner.at_trim(hull.trim.low))
    apex = np.where(reached & (missed < _MET_MM), inner.values(u, v).o, np.nan)
    bearding = _at_side(inner, u, v, rabbet[1], reached)
    return RabbetLines(x, rabbet[1], rabbet[2], apex[1], apex[2], bearding[2], bevel)


def _of_inside(hull: Hull, planes: Planes, tau: float) -> RabbetLines:
    """The lines of a hull measured to the inside of planking."""
    breadth = hull.profiles.get("rabbet breadth")
    if breadth is None:
        raise Misused(
            "Rabbet lines of a hull measured inside her planking need the half-breadth of the"
            " rabbet, and the table gives none."
        )
    x = planes.c
    half = breadth(x)
    inner, outer = FaceSolver(hull, planes, 0.0), FaceSolver(hull, planes, -tau)
    u0, v0, reached = inner.look()
    reached = reached & np.isfinite(half)
    bearding = _at_side(inner, u0[:, 0], v0[:, 0], half, reached)

    def keel_side(u: Array, v: Array, at: Inside) -> tuple[Array, Array, Array]:
        return at.o[1] - np.nan_to_num(half)[:, None], at.ou[1], at.ov[1]

    u, v, missed = outer.end(u0[:, 0], v0[:, 0], keel_side)
    rabbet, bevel = _outside(outer, u, v, reached & (missed < _MET_MM))

    def under_rabbet(u: Array, v: Array, at: Inside) -> tuple[Array, Array, Array]:
        return keel_side(u, v, inside(hull.surface, u, v, -tau))

    u, v, missed = inner.end(u, v, under_rabbet)
    apex = np.where(reached & (missed < _MET_MM), inner.values(u, v).o, np.nan)
    return RabbetLines(x, half, rabbet[2], apex[1], apex[2], bearding[2], bevel)


def _outside(outer: FaceSolver, u: Array, v: Array, good: NDArray[np.bool_]) -> tuple[Array, Array]:
    """Points (3, n) of the outside of planking, and the plank's angle to the keel's side there."""
    at = outer.values(u, v)
    flat = np.hypot(at.n[1], at.n[2])
    bevel = np.degrees(np.arccos(np.clip(at.n[1] / flat, -1, 1)))
    return np.where(good, at.o, np.nan), np.where(good, bevel, np.nan)


def _at_side(
    inner: FaceSolver, u: Array, v: Array, half: Array, reached: NDArray[np.bool_]
) -> Array:
    """Points (3, n) where the inside of planking comes out at the keel's side."""

    def miss(u: Array, v: Array, at: Inside) -> tuple[Array, Array, Array]:
        return at.o[1] - np.nan_to_num(half)[:, None], at.ou[1], at.ov[1]

    u, v, missed = inner.end(u, v, miss)
    return np.where(reached & (missed < _MET_MM), inner.values(u, v).o, np.nan)
