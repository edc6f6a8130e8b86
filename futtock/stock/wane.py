"""Wane by tape: how much wider the second face of a slab is than the first, station by station."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Unreadable
from futtock.findings import Finding
from futtock.stock import kinds
from futtock.stock.outline import anticlockwise, signed_area_mm2
from futtock.stock.tape import TapeRecord

Array = NDArray[np.float64]

_BEYOND_MM = 150.0  # a station so far past the slab's end belongs to another slab, or unit


@dataclass(frozen=True, slots=True)
class Wane:
    """Widths by which the bottom stands beyond the top, negative where it stands within it.

    ``left_mm``, ``right_mm`` (n, 2): station along the base line and width, in order; left and
    right as one stands at the butt and looks along the slab. (0, 2) where a side was not measured,
    which is then taken as square.
    """

    left_mm: Array
    right_mm: Array

    def at(self, stations_mm: Array) -> tuple[Array, Array]:
        """Widths to the left and the right at stations (m,), straight between those measured."""
        left, right = (
            np.interp(stations_mm, side[:, 0], side[:, 1]) if len(side) else 0.0 * stations_mm
            for side in (self.left_mm, self.right_mm)
        )
        return left, right

    @property
    def stations_mm(self) -> Array:
        """Every station of either side, in order."""
        stations: Array = np.unique(np.r_[self.left_mm[:, 0], self.right_mm[:, 0]])
        return stations


def wane_of(record: TapeRecord) -> Wane:
    """The wane in the columns ``wane left`` and ``wane right`` of a tape record.

    Raises
    ------
    Unreadable
        With a finding where neither column holds a figure.
    """
    sides = []
    for name in ("wane left", "wane right"):
        read = record.readings_mm.get(name, np.full(len(record.stations_mm), np.nan))
        points = np.column_stack([record.stations_mm, read])[np.isfinite(read)]
        sides.append(points[np.argsort(points[:, 0], kind="stable")])
    if not any(map(len, sides)):
        said = f"slab {record.name}: there is no wane in its record."
        found = kinds.TAPE_MISSING.found(
            said, file=record.file, line=record.name, expected="station, wane left, wane right"
        )
        raise Unreadable(said, [found])
    return Wane(*sides)


def widened(ring_mm: Array, wane: Wane) -> Array:
    """The bottom's ring (n, 2) from the top's, x along the base line from the butt.

    Every point moves square to the base line: those of the left edge by the left width, those of
    the right edge by the right, those of a sawn end between them by their share of it.
    """
    ring = _with_points_at(anticlockwise(ring_mm), wane.stations_mm)
    left, right = wane.at(ring[:, 0])
    share = _shares(ring)
    moved: Array = ring + np.c_[np.zeros(len(ring)), share * left - (1.0 - share) * right]
    return moved


def below_by_wane(
    rings_mm: tuple[Array, ...], wane: Wane, whole_mm: Array, from_right: bool, name: str
) -> tuple[tuple[Array, ...], tuple[Finding, ...]]:
    """Rings of a photographed top face carried to the bottom by wane widths.

    Parameters
    ----------
    rings_mm
        Rings in the axes of the portrait, x along the slab.
    whole_mm
        The whole top face in the same axes: stations are counted from its end.
    from_right
        Whether the butt, where the tape began, is the end at the right.
    name
        Of the slab, for findings.

    Returns
    -------
    rings, findings
        Where the widths leave no outline, the rings as they were and a finding.
    """
    import shapely

    turn = -1.0 if from_right else 1.0
    butt = np.array([(turn * whole_mm[:, 0]).min(), 0.0])
    length = float(np.ptp(whole_mm[:, 0]))
    findings: list[Finding] = []
    far = wane.stations_mm[(wane.stations_mm > length + _BEYOND_MM) | (wane.stations_mm < -1.0)]
    if len(far):
        said = f"slab {name}: wane at {far[-1]:.0f} mm, and the slab is {length:.0f} mm long."
        read, expected = f"{far[-1]:.0f} mm", f"0 to {length:.0f} mm"
        findings.append(
            kinds.WANE_ODD.found(said, line=name, column="station", read=read, expected=expected)
        )
    below = []
    for ring in rings_mm:
        new = widened(turn * ring - butt, wane)
        shape = shapely.Polygon(new)
        if not shape.is_valid or signed_area_mm2(new) < 0.2 * abs(signed_area_mm2(ring)):
            said = f"slab {name}: its bottom by these widths is no outline; the top stands for it."
            found = kinds.WANE_ODD.found(said, line=name, column="wane", expected="widths in all")
            return rings_mm, (*findings, found)
        below.append(turn * (new + butt))
    return tuple(below), tuple(findings)


def _with_points_at(ring: Array, stations: Array) -> Array:
    """The ring with a point more wherever an edge crosses a station."""
    out = []
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        out.append(a)
        if abs(b[0] - a[0]) < 1e-6:  # square to the base line
            continue
        share = (stations - a[0]) / (b[0] - a[0])
        share = np.sort(share[(share > 1e-9) & (share < 1.0 - 1e-9)])
        out.extend(a + share[:, None] * (b - a))
    return np.array(out)


def _shares(ring: Array) -> Array:
    """How far each point of an anticlockwise ring lies to the left: 1 on the left edge, 0 on the
    right one, between them along the ends.

    An end is the run about the least or the greatest x that leans more across than along.
    """
    n = len(ring)
    step = np.roll(ring, -1, axis=0) - ring
    across = np.abs(step[:, 1]) > np.abs(step[:, 0])
    corners = []
    for tip in (int(ring[:, 0].argmin()), int(ring[:, 0].argmax())):
        back, on = tip, tip
        while across[(back - 1) % n] and tip - back < n // 2:
            back -= 1
        while across[on % n] and on - tip < n // 2:
            on += 1
        corners.append((back, on))
    shares = np.zeros(n)
    (top, low), (right, left) = corners
    shares[np.arange(left, left + (top - left) % n + 1) % n] = 1.0
    for first, last, rise in ((right, left, 1.0), (top, low, -1.0)):
        run = np.arange(first, last + 1) % n
        way = np.r_[0.0, np.cumsum(np.hypot(*step[run[:-1]].T))]
        share = way / way[-1] if way[-1] > 0.0 else np.array([0.5])
        shares[run] = share if rise > 0.0 else 1.0 - share
    return shares
