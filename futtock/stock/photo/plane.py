"""From pixels to millimetres in the plane of the face: all cards in one adjustment.

Unknown are the view of the plane (a homography), where each card lies in it, one lens coefficient
and one shared shift by which every dark cell looks smaller or larger than it is. The observations
are the cells' edges of all cards, of both senses, and a taped distance where one was given.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused
from futtock.stock.photo.cards import CARD_MM, CORNERS_MM, Card, Edges, homography, inverse, project

Array = NDArray[np.float64]

_METRE = 1000.0
_LENS_PRIOR = 0.12  # how far a phone's coefficient strays from nought
_BIAS_PRIOR_PX = 1.0
_EDGE_PX = 0.12  # how well one edge point is seen
_TAPE_MM = 1.0


@dataclass(frozen=True, slots=True)
class Plane:
    """A view of the face's plane.

    ``to_pixel`` (3, 3) carries millimetres (x to the right, y away from you) to pixels without the
    lens; ``lens`` is its coefficient k in d (1 + k |d|^2), d being the distance from
    ``centre_px`` in units of ``unit_px``.
    """

    to_pixel: Array
    centre_px: tuple[float, float]
    unit_px: float
    lens: float = 0.0

    def pixels(self, points_mm: Array) -> Array:
        """Where points (n, 2) of the plane appear, (n, 2)."""
        d = (project(self.to_pixel, points_mm) - self.centre_px) / self.unit_px
        r = (d**2).sum(1, keepdims=True)
        out: Array = self.centre_px + d * (1.0 + self.lens * r) * self.unit_px
        return out

    def millimetres(self, points_px: Array) -> Array:
        """Where pixels (n, 2) lie in the plane, (n, 2)."""
        seen: Array = (np.asarray(points_px, float) - self.centre_px) / self.unit_px
        d: Array = seen.copy()
        for _ in range(12):
            d = seen / (1.0 + self.lens * (d**2).sum(1, keepdims=True))
        there: Array = self.centre_px + d * self.unit_px
        return project(inverse(self.to_pixel), there)

    def moved(self, form: Array) -> Plane:
        """The same view in new axes: ``form`` (3, 3) carries new millimetres to old."""
        to_pixel = self.to_pixel @ form
        return Plane(to_pixel / to_pixel[2, 2], self.centre_px, self.unit_px, self.lens)

    def mm_per_pixel(self, points_mm: Array) -> Array:
        """Size of a pixel on the plane at points (n, 2), mm, the longer way."""
        step = 1.0
        here = self.pixels(points_mm)
        x = self.pixels(points_mm + np.array([step, 0.0])) - here
        y = self.pixels(points_mm + np.array([0.0, step])) - here
        least = np.linalg.svd(np.stack([x, y], axis=-1), compute_uv=False)[:, -1]
        out: Array = step / np.maximum(least, 1e-9)
        return out


@dataclass(frozen=True, slots=True)
class Adjusted:
    """What the adjustment gave.

    Attributes
    ----------
    plane
        The view.
    centres_mm
        Where the middle of each card lies, by number.
    corners_mm
        The corners (4, 2) of the whole cards, by number.
    off_mm
        Root mean square of what remains at each card's edges, by number.
    bias_px
        By how much dark squares look smaller than they are, each edge.
    taped_off
        Taped distance over the cards' own, less one; None where none was taped or it was used
        alone to check.
    """

    plane: Plane
    centres_mm: Mapping[int, Array]
    corners_mm: Mapping[int, Array]
    off_mm: Mapping[int, float]
    bias_px: float
    taped_off: float | None


def adjust(
    cards: Sequence[Card],
    edges: Sequence[Edges],
    size_px: tuple[int, int],
    taped: Mapping[tuple[int, int], float] | None = None,
    lens: tuple[float, float] = (0.0, _LENS_PRIOR),
) -> Adjusted:
    """Fit the plane to all cards at once.

    Parameters
    ----------
    cards, edges
        Cards of different numbers, and their edges in the same order.
    size_px
        Width and height of the picture.
    taped
        Distances in mm between the middles of two cards, by their numbers. They override the
        printed size, which a printer may have changed by a little.
    lens
        What the lens's coefficient is taken to be before, and its standard deviation: of a
        phone at large, or of this camera where it was measured.
    """
    numbers = [card.number for card in cards]
    for pair in taped or {}:
        if not set(pair) <= set(numbers):
            raise Misused(f"no card {pair[0]} and {pair[1]} in the picture to tape between")
    free = _Fit(cards, edges, size_px, {}, lens)
    result = free.solve()
    taped_off = None
    if taped:
        own = {
            p: float(np.hypot(*(result.centres_mm[p[0]] - result.centres_mm[p[1]]))) for p in taped
        }
        taped_off = float(np.mean([taped[p] / own[p] - 1.0 for p in taped]))
        result = _Fit(cards, edges, size_px, dict(taped), lens, free.x).solve()
    return Adjusted(
        result.plane,
        result.centres_mm,
        result.corners_mm,
        result.off_mm,
        result.bias_px,
        taped_off,
    )


def plane_from_points(points_px: Array, points_mm: Array, size_px: tuple[int, int]) -> Plane:
    """The view from four or more points whose places in the plane are known."""
    if len(points_px) < 4 or len(points_px) != len(points_mm):
        raise Misused(f"{len(points_px)} points in the picture for {len(points_mm)} places: give 4")
    width, height = size_px
    form = homography(np.asarray(points_mm, float), np.asarray(points_px, float))
    centre = ((width - 1) / 2.0, (height - 1) / 2.0)
    return Plane(form, centre, float(max(size_px)))


@dataclass(frozen=True, slots=True)
class _Solved:
    plane: Plane
    centres_mm: dict[int, Array]
    corners_mm: dict[int, Array]
    off_mm: dict[int, float]
    bias_px: float


class _Fit:
    """Unknowns: 8 of the view, lens, bias, printed scale, then (x, y, turn) of each card but one.

    Metres and units of the picture's longer side keep them of one size.
    """

    def __init__(
        self,
        cards: Sequence[Card],
        edges: Sequence[Edges],
        size_px: tuple[int, int],
        taped: dict[tuple[int, int], float],
        known: tuple[float, float],
        start: Array | None = None,
    ) -> None:
        self.cards, self.edges, self.taped = cards, edges, taped
        self.known = known
        self.unit = float(max(size_px))
        self.centre = np.array([(size_px[0] - 1) / 2.0, (size_px[1] - 1) / 2.0])
        self.which = np.repeat(np.arange(len(edges)), [len(e.at_mm) for e in edges])
        self.at = np.vstack([e.at_mm for e in edges]) / _METRE
        self.ahead = np.vstack([e.at_mm + e.normal_mm for e in edges]) / _METRE
        self.seen_at = (np.vstack([e.seen_px for e in edges]) - self.centre) / self.unit
        self.base = int(np.argmax([_area(card.corners_px) for card in cards]))
        self.x = self._start() if start is None else start.copy()

    def _start(self) -> Array:
        """Card by card outward from the largest, each placed by the view of those before it."""
        seen: list[Array] = [(c.corners_px - self.centre) / self.unit for c in self.cards]
        form = homography(CORNERS_MM / _METRE, seen[self.base])
        poses = np.zeros((len(self.cards), 3))
        done = {self.base}
        while len(done) < len(self.cards):
            middles = [s.mean(0) for s in seen]
            rest = [k for k in range(len(seen)) if k not in done]
            k = min(
                rest, key=lambda j: min(float(np.hypot(*(middles[j] - middles[d]))) for d in done)
            )
            poses[k] = _rigid(CORNERS_MM / _METRE, project(inverse(form), seen[k]))
            done.add(k)
            laid = [_laid(poses[d], CORNERS_MM / _METRE) for d in sorted(done)]
            form = homography(np.vstack(laid), np.vstack([seen[d] for d in sorted(done)]))
        start: Array = np.r_[(form / form[2, 2]).ravel()[:8], 0.0, 0.0, 0.0, self._packed(poses)]
        return start

    def _packed(self, poses: Array) -> Array:
        packed: Array = np.delete(poses, self.base, axis=0).ravel()
        return packed

    def _poses(self, x: Array) -> Array:
        poses: Array = np.insert(x[11:].reshape(-1, 3), self.base, 0.0, axis=0)
        return poses

    def _seen(self, form: Array, lens: float, points: Array) -> Array:
        d = project(form, points)
        bent: Array = d * (1.0 + lens * (d**2).sum(1, keepdims=True))
        return bent

    def residuals(self, x: Array) -> Array:
        """Edges in units of their spread, then priors and tapes."""
        form, lens, bias, scale = np.r_[x[:8], 1.0].reshape(3, 3), x[8], x[9], 1.0 + x[10]
        poses = self._poses(x)
        each = poses[self.which]
        c, s = np.cos(each[:, 2]), np.sin(each[:, 2])

        def laid(points: Array) -> Array:
            px, py = points[:, 0] * scale, points[:, 1] * scale
            return np.column_stack([c * px - s * py + each[:, 0], s * px + c * py + each[:, 1]])

        here = self._seen(form, lens, laid(self.at))
        normal = self._seen(form, lens, laid(self.ahead)) - here
        normal /= np.maximum(np.hypot(*normal.T), 1e-15)[:, None]
        off = ((self.seen_at - here) * normal).sum(1) * self.unit
        # the edge of a dark cell is seen shifted towards the dark by the bias
        out = [(off + bias) / _EDGE_PX]
        out.append(np.array([(lens - self.known[0]) / self.known[1], bias / _BIAS_PRIOR_PX]))
        numbers = [card.number for card in self.cards]
        tapes = [
            (np.hypot(*(poses[numbers.index(a)][:2] - poses[numbers.index(b)][:2])) * _METRE - mm)
            / _TAPE_MM
            for (a, b), mm in self.taped.items()
        ]
        # the printed size is taken as true unless a tape says otherwise
        out.append(np.array([*tapes, x[10] / (0.02 if self.taped else 1e-6)]))
        return np.concatenate(out)

    def _gauss_newton(self, rounds: int = 25) -> Array:
        """Least squares, an edge that stands far off counting less the farther it stands."""
        x = self.x
        damping = 1e-6
        residual = self.residuals(x)
        weight = _tolerant(residual)
        for _ in range(rounds):
            steps = 1e-7 * np.maximum(1.0, np.abs(x))
            slope = np.stack(
                [(self.residuals(x + step) - residual) / step.sum() for step in np.diag(steps)],
                axis=1,
            )
            weight = _tolerant(residual)
            left = slope.T @ (slope * weight[:, None])
            right = -slope.T @ (residual * weight)
            cost = float((weight * residual**2).sum())
            for _try in range(8):
                scaled = left + damping * np.diag(np.diag(left) + 1e-12)
                move = np.linalg.solve(scaled, right)
                new = self.residuals(x + move)
                if float((weight * new**2).sum()) <= cost * (1 + 1e-12):
                    damping = max(damping / 10, 1e-12)
                    break
                damping *= 20
            else:
                break
            x, residual = x + move, new
            if float(np.abs(move).max()) < 1e-9:
                break
        return x

    def solve(self) -> _Solved:
        self.x = x = self._gauss_newton()
        lens, bias, scale = float(x[8]), float(x[9]), 1.0 + float(x[10])
        form = np.r_[x[:8], 1.0].reshape(3, 3)
        up = np.array([[self.unit, 0, self.centre[0]], [0, self.unit, self.centre[1]], [0, 0, 1]])
        down = np.diag([1 / _METRE, 1 / _METRE, 1.0])
        centre = (float(self.centre[0]), float(self.centre[1]))
        to_pixel = up @ form @ down
        plane = Plane(to_pixel / to_pixel[2, 2], centre, self.unit, lens)
        poses = self._poses(x)
        residual = self.residuals(x) * _EDGE_PX
        off, at = {}, 0
        for pose, edge in zip(poses, self.edges, strict=True):
            part = residual[at : at + len(edge.at_mm)]
            at += len(edge.at_mm)
            size = float(plane.mm_per_pixel(pose[None, :2] * _METRE)[0])
            off[edge.number] = float(np.sqrt(np.mean(part**2))) * size
        corners = CORNERS_MM / _METRE * scale * CARD_MM / 100.0
        numbers = [card.number for card in self.cards]
        return _Solved(
            plane,
            {n: pose[:2] * _METRE for n, pose in zip(numbers, poses, strict=True)},
            {n: _laid(p, corners) * _METRE for n, p in zip(numbers, poses, strict=True)},
            off,
            bias,
        )


def _tolerant(residual: Array, limit: float = 3.0) -> Array:
    """Weights 1 / sqrt(1 + (r / limit)^2): the soft absolute value."""
    weights: Array = 1.0 / np.sqrt(1.0 + (residual / limit) ** 2)
    return weights


def _laid(pose: Array, points: Array) -> Array:
    c, s = np.cos(pose[2]), np.sin(pose[2])
    out: Array = points @ np.array([[c, s], [-s, c]]) + pose[:2]
    return out


def _rigid(points: Array, onto: Array) -> Array:
    """(x, y, turn) that lays points (n, 2) on others as nearly as may be, size kept."""
    a, b = points - points.mean(0), onto - onto.mean(0)
    turn = np.arctan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum())
    return np.array([*onto.mean(0), turn])


def _area(ring: Array) -> float:
    x, y = ring.T
    return float(abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))) / 2.0
