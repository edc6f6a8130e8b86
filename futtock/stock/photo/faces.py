"""The second face of a slab laid on the first: seen from above, in one frame of axes.

The second photograph shows the slab turned over, so its picture is mirrored and then turned and
shifted, never stretched, until the outlines lie on each other; or until corners that a person
named do; or until cards do that are in both photographs and stayed where they were on the slab:
printed on both sides, and fixed to its edges so that they stand out beside it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused
from futtock.findings import Finding
from futtock.stock import kinds
from futtock.stock.outline import anticlockwise
from futtock.stock.photo.correction import Marks
from futtock.stock.slab import Flaw

Array = NDArray[np.float64]

_ROUNDS = 40
_APART_MM = 45.0  # between the two outlines, more than which no wane explains
_ENDS_MM = 12.0
_MOVED_MM = 12.0  # between one card's two places, more than which says that it was moved
_WORSE_MM = 15.0  # that the outlines may stand farther off under the cards' tie than at best


@dataclass(frozen=True, slots=True)
class Tie:
    """How the second face lies: a point p of it goes to R(turn) (x, -y) + shift.

    ``off_mm`` is the root mean square of what is left between the outlines (wane, mostly), or
    between the corners named.
    """

    turn_deg: float
    shift_mm: tuple[float, float]
    off_mm: float

    def lay(self, points_mm: Array) -> Array:
        """Points (n, 2) of the second face's portrait in the axes of the first."""
        t = np.radians(self.turn_deg)
        turn = np.array([[np.cos(t), -np.sin(t)], [np.sin(t), np.cos(t)]])
        laid: Array = (points_mm * [1.0, -1.0]) @ turn.T + self.shift_mm
        return laid


def tie_by_corners(second_mm: Array, first_mm: Array) -> Tie:
    """The tie that lays two or more named points (n, 2) of the second face on the first's."""
    if len(second_mm) != len(first_mm) or len(first_mm) < 2:
        raise Misused(f"{len(second_mm)} corners for {len(first_mm)}: give the same two or more")
    return _rigid(second_mm * [1.0, -1.0], first_mm)


def tie_by_outline(second_mm: Array, first_mm: Array) -> tuple[Tie, tuple[Finding, ...]]:
    """The tie under which a ring (n, 2) of the second face lies best on one of the first.

    The slab may have been turned over about its length or end for end: both are tried. A ring that
    does not fit is a finding.
    """
    import shapely

    first = shapely.LinearRing(first_mm)
    mirrored = _evenly(second_mm * [1.0, -1.0])
    goal = _evenly(first_mm)
    best: Tie | None = None
    for turn in (_heading(goal) - _heading(mirrored), _heading(goal) - _heading(mirrored) + 180.0):
        t = np.radians(turn)
        points = mirrored @ np.array([[np.cos(t), np.sin(t)], [-np.sin(t), np.cos(t)]])
        points = points + (goal.max(0) + goal.min(0) - points.max(0) - points.min(0)) / 2.0
        for _ in range(_ROUNDS):
            along = shapely.line_locate_point(first, shapely.points(points))
            near = shapely.get_coordinates(shapely.line_interpolate_point(first, along))
            tie = _rigid(mirrored, near, _weights(points - near))
            t = np.radians(tie.turn_deg)
            points = mirrored @ np.array([[np.cos(t), np.sin(t)], [-np.sin(t), np.cos(t)]])
            points = points + tie.shift_mm
        if best is None or tie.off_mm < best.off_mm:
            best = tie
    assert best is not None
    findings: tuple[Finding, ...] = ()
    if best.off_mm > _APART_MM:
        said = f"the second face stands {best.off_mm:.0f} mm off the first at best."
        read, expected = f"{best.off_mm:.0f} mm", f"under {_APART_MM:.0f} mm"
        findings = (kinds.FACES_UNTIED.found(said, read=read, expected=expected),)
    return best, findings


def tie_by_cards(
    second_mm: Mapping[int, Array],
    first_mm: Mapping[int, Array],
    second_ring_mm: Array,
    first_ring_mm: Array,
) -> tuple[Tie, tuple[int, ...], tuple[Finding, ...]]:
    """The tie under which cards seen in both photographs lie on themselves.

    Cards that are taken up and laid anew for the second face tie nothing, and nothing but their
    places shows it: so they are believed only where their mutual distances are the same on both
    and the outlines come together nearly as well as they can. Else the outlines tie, and it is
    said.

    Parameters
    ----------
    second_mm, first_mm
        Middles (2,) of the cards by number, in each portrait's own axes.
    second_ring_mm, first_ring_mm
        Outlines (n, 2) of the whole faces, likewise.

    Returns
    -------
    tuple
        The tie; the numbers of the cards that made it, none where the outlines did; what was
        noticed.
    """
    outlined, findings = tie_by_outline(second_ring_mm, first_ring_mm)
    shared = tuple(sorted(set(second_mm) & set(first_mm)))
    if len(shared) < 2:
        return outlined, (), findings
    there = np.array([second_mm[n] for n in shared])
    here = np.array([first_mm[n] for n in shared])
    tie = tie_by_corners(there, here)
    apart = float(np.hypot(*(tie.lay(there) - here).T).max())
    off = outline_off(tie, second_ring_mm, first_ring_mm)
    best = outline_off(outlined, second_ring_mm, first_ring_mm)
    if apart <= _MOVED_MM and off <= best + _WORSE_MM:
        return tie, shared, ()
    text = ", ".join(map(str, shared))
    said = f"cards {text} were moved between the faces: the outlines tie them instead."
    read = f"{apart:.0f} mm between the cards, {off:.0f} mm between the outlines"
    expected = f"under {_MOVED_MM:.0f} mm, and {best + _WORSE_MM:.0f} mm"
    moved = kinds.CARDS_MOVED.found(said, read=read, expected=expected)
    return outlined, (), (moved, *findings)


def tie_faces(
    bottom: Marks,
    top: Marks,
    cards_mm: tuple[Mapping[int, Array], Mapping[int, Array]],
    corners_mm: tuple[Array, Array],
) -> tuple[Tie, str, tuple[Finding, ...]]:
    """The tie of a second face to the first, what made it in words, and what was noticed.

    Corners that a person named come first, then cards that are on both, then the outlines.
    ``cards_mm`` and ``corners_mm`` are those of the second face and of the first.
    """
    there, here = corners_mm
    if len(here) == len(there) >= 2:
        return tie_by_corners(there, here), f"by {len(here)} corners named", ()
    tie, cards, findings = tie_by_cards(*cards_mm, bottom.whole_mm, top.whole_mm)
    how = f"by cards {', '.join(map(str, cards))}" if cards else "outline on outline"
    return tie, how, findings


def outline_off(tie: Tie, second_mm: Array, first_mm: Array) -> float:
    """Root mean square of how far the second face's ring (n, 2), laid, stands off the first's."""
    import shapely

    points = shapely.points(_evenly(tie.lay(second_mm)))
    return float(np.sqrt(np.mean(shapely.distance(points, shapely.LinearRing(first_mm)) ** 2)))


def both_faces(top: Marks, bottom: Marks, tie: Tie) -> tuple[Array, Array, tuple[Flaw, ...]]:
    """The bottom's sound and whole rings in the top's axes, and the flaws of both faces.

    A flaw of one face that lies on a flaw of the same kind on the other runs through: both are
    given as on both faces.
    """
    import shapely

    below = [Flaw(f.kind, tie.lay(f.outline_mm)[::-1], "bottom") for f in bottom.flaws]
    above = [Flaw(f.kind, f.outline_mm, "top") for f in top.flaws]
    through = set()
    for i, a in enumerate(above):
        for j, b in enumerate(below):
            meet = (
                shapely.Polygon(a.outline_mm)
                .buffer(0)
                .intersects(shapely.Polygon(b.outline_mm).buffer(0))
            )
            if a.kind == b.kind and meet:
                through |= {("top", i), ("bottom", j)}
    flaws = [
        Flaw(f.kind, f.outline_mm, "both" if (f.face, k) in through else f.face)
        for group in (above, below)
        for k, f in enumerate(group)
    ]
    sound = anticlockwise(tie.lay(bottom.sound_mm))
    return sound, anticlockwise(tie.lay(bottom.whole_mm)), tuple(flaws)


def _rigid(points: Array, onto: Array, weights: Array | None = None) -> Tie:
    w = np.ones(len(points)) if weights is None else weights
    w = w / w.sum()
    a, b = points - w @ points, onto - w @ onto
    turn = np.arctan2(
        (w * (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])).sum(), (w * (a * b).sum(1)).sum()
    )
    c, s = np.cos(turn), np.sin(turn)
    form = np.array([[c, s], [-s, c]])
    shift = w @ onto - (w @ points) @ form
    left = points @ form + shift - onto
    off = float(np.sqrt((w * (left**2).sum(1)).sum()))
    return Tie(float(np.degrees(turn)), (float(shift[0]), float(shift[1])), off)


def _weights(off: Array) -> Array:
    far = np.hypot(*off.T)
    weights: Array = 1.0 / (1.0 + (far / _ENDS_MM) ** 2) ** 0.5
    return weights


def _evenly(ring: Array) -> Array:
    import shapely

    line = shapely.LinearRing(ring)
    at = np.linspace(0.0, line.length, 240, endpoint=False)
    points: Array = shapely.get_coordinates(shapely.line_interpolate_point(line, at))
    return points


def _heading(points: Array) -> float:
    off = points - points.mean(0)
    axis = np.linalg.svd(off)[2][0] if len(off) < 400 else np.linalg.eigh(off.T @ off)[1][:, 1]
    return float(np.degrees(np.arctan2(axis[1], axis[0])))
