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
from futtock.framing.planking import Inside
from futtock.framing.solver import FaceSolver, Planes
from futtock.framing.strakes import Strake
from futtock.lines.surface import Hull

Array = NDArray[np.float64]


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
        A hull measured to the outside of planking.
    x_mm : (n,)
        Places along the vessel.
    planking_mm
        Thickness of planking; a strake that starts at the rabbet goes before it.
    strakes
        As for framing.

    Raises
    ------
    Misused
        For a hull measured to the inside, whose rabbet is not known, or a thickness not above 0.
    """
    if hull.inside:
        raise Misused("Rabbet lines need a hull measured to the outside of planking.")
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

    outer = FaceSolver(hull, planes, 0.0)
    u0, v0, reached = outer.look()
    u, v, missed = outer.end(u0[:, 0], v0[:, 0], outer.at_trim(hull.trim.low))
    at = outer.values(u, v)
    good = reached & (missed < 1e-3)
    rabbet = np.where(good, at.o, np.nan)
    normal = at.n
    flat = np.hypot(normal[1], normal[2])
    bevel = np.degrees(np.arccos(np.clip(normal[1] / flat, -1, 1)))

    inner = FaceSolver(hull, planes, tau)
    u, v, missed = inner.end(u0[:, 0], v0[:, 0], inner.at_trim(hull.trim.low))
    apex = np.where(reached & (missed < 1e-3), inner.values(u, v).o, np.nan)

    half = rabbet[1]

    def at_side(u: Array, v: Array, at: Inside) -> tuple[Array, Array, Array]:
        return at.o[1] - np.nan_to_num(half)[:, None], at.ou[1], at.ov[1]

    u, v, missed = inner.end(u, v, at_side)
    met = reached & (missed < 1e-3)
    bearding = np.where(met, inner.values(u, v).o, np.nan)
    return RabbetLines(
        x, half, rabbet[2], apex[1], apex[2], bearding[2], np.where(good, bevel, np.nan)
    )
