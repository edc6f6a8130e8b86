"""Knots and checks proposed from a portrait, each with a confidence; nothing is decided.

A knot is a dark spot, round or nearly; a check a thin dark line along the grain. Lightness is
taken against that of the wood around, so that shade does not count.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from futtock.stock.grain import GrainRaster
from futtock.stock.photo.portrait import Portrait

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
_Ground = Callable[[Array], Array]

_PX_MM = 2.0
_AROUND_MM = 48.0
_SCALES_MM = (4.0, 5.6, 8.0, 11.3, 16.0, 22.6)
_LEAST_BLOB = 0.075
_LEAST_DARK = 0.13
_LONGEST_KNOT = 3.2
_LEAST_CHECK_MM = 70.0
_CHECK_DARK = 1.28
_LEAST_PIECE_MM, _OWN_WAY_MM = 8.0, 30.0
_CLOSED_MM, _HIDDEN_MM = 40.0, 170.0  # of a check that is closed, or lies under a card
_RIM = 20


@dataclass(frozen=True, slots=True)
class Proposed:
    """A flaw proposed: its kind, ring (n, 2) in mm, and a confidence from 0 to 1."""

    kind: str
    outline_mm: Array
    confidence: float


def darkness(portrait: Portrait, wood: Mask) -> tuple[NDArray[np.float32], Mask, float]:
    """How much darker than the wood around each place is, 0 to 1, at 2 mm a pixel or coarser.

    Returns the darkness (h, w), the wood at that size, and millimetres a pixel.
    """
    import cv2

    shrink = max(1, round(_PX_MM / portrait.mm_per_px))
    px = portrait.mm_per_px * shrink
    grey = cv2.cvtColor(portrait.picture, cv2.COLOR_BGR2LAB)[..., 0].astype(np.float32)
    size = (max(1, grey.shape[1] // shrink), max(1, grey.shape[0] // shrink))
    grey = grey[: size[1] * shrink, : size[0] * shrink]
    ground = wood[: size[1] * shrink, : size[0] * shrink].astype(np.float32)
    weight = cv2.resize(ground, size, interpolation=cv2.INTER_AREA)
    light = cv2.resize(grey * ground, size, interpolation=cv2.INTER_AREA) / np.maximum(weight, 1e-3)
    on = weight > 0.6
    keep = on.astype(np.float32)
    usual = light
    for _ in range(3):
        total = cv2.GaussianBlur(usual * keep, (0, 0), _AROUND_MM / px)
        count = cv2.GaussianBlur(keep, (0, 0), _AROUND_MM / px)
        around = total / np.maximum(count, 1e-3)
        # what is much darker than its surroundings does not belong to them
        keep = (on & (light > 0.88 * around)).astype(np.float32)
    dark = np.clip(1.0 - light / np.maximum(around, 1.0), -0.3, 1.0) * on
    return np.asarray(dark, np.float32), on, px


def propose(portrait: Portrait, wood: Mask, seen: GrainRaster | None = None) -> list[Proposed]:
    """Flaws proposed on the bare wood of a portrait, surest first."""
    looked = _looked_at(portrait, wood)
    spots = _knots(*looked)
    return sorted([*spots, *_checks(*looked, seen, spots)], key=lambda p: -p.confidence)


def propose_knots(portrait: Portrait, wood: Mask) -> list[Proposed]:
    """Knots proposed, surest first."""
    return sorted(_knots(*_looked_at(portrait, wood)), key=lambda p: -p.confidence)


def propose_checks(
    portrait: Portrait, wood: Mask, seen: GrainRaster | None, spots: Sequence[Proposed] = ()
) -> list[Proposed]:
    """Checks proposed along the grain ``seen``, surest first; ``spots`` are knots, passed over."""
    looked = _looked_at(portrait, wood)
    return sorted(_checks(*looked, seen, spots), key=lambda p: -p.confidence)


def _looked_at(portrait: Portrait, wood: Mask) -> tuple[NDArray[np.float32], Mask, float, _Ground]:
    """Darkness, wood, millimetres a pixel of both, and the ground of their pixels."""
    dark, on, px = darkness(portrait, wood)
    shrink = px / portrait.mm_per_px

    def ground(points: Array) -> Array:
        return portrait.millimetres((points + 0.5) * shrink - 0.5)

    return dark, on, px, ground


def _knots(dark: NDArray[np.float32], on: Mask, px: float, ground: _Ground) -> list[Proposed]:
    import cv2

    stack = []
    for sigma in _SCALES_MM:
        s = sigma / px
        inner = cv2.GaussianBlur(dark, (0, 0), s)
        outer = cv2.GaussianBlur(dark, (0, 0), 1.6 * s)
        weight_i = cv2.GaussianBlur(on.astype(np.float32), (0, 0), s)
        weight_o = cv2.GaussianBlur(on.astype(np.float32), (0, 0), 1.6 * s)
        stack.append(inner / np.maximum(weight_i, 0.2) - outer / np.maximum(weight_o, 0.2))
    space = np.stack(stack)
    peak = space.max(0)
    local = cv2.dilate(peak, np.ones((5, 5), np.uint8))
    rows, columns = np.nonzero((peak >= local) & (peak > _LEAST_BLOB / 2.2) & on)
    order = np.argsort(-peak[rows, columns])
    taken = np.zeros(dark.shape, bool)
    found: list[Proposed] = []
    for r, c in zip(rows[order], columns[order], strict=True):
        if taken[r, c]:
            continue
        sigma = _SCALES_MM[int(space[:, r, c].argmax())] / px
        spot = _spot(dark, on, int(r), int(c), sigma)
        if spot is None:
            continue
        region, corner, core = spot
        taken[corner[0] : corner[0] + region.shape[0], corner[1] : corner[1] + region.shape[1]] |= (
            cv2.dilate(region.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
        )
        proposal = _oval(region, corner, core, float(peak[r, c]), px, ground)
        if proposal is not None:
            found.append(proposal)
    return found


def _spot(
    dark: NDArray[np.float32], on: Mask, r: int, c: int, sigma: float
) -> tuple[Mask, tuple[int, int], float] | None:
    """The dark region about a peak, its corner in the picture, and how dark its core is."""
    import cv2

    reach = int(np.ceil(5.0 * sigma)) + 3
    r0, c0 = max(0, r - reach), max(0, c - reach)
    part = dark[r0 : r + reach + 1, c0 : c + reach + 1]
    near = max(1, round(0.6 * sigma))
    core = float(
        np.percentile(dark[max(0, r - near) : r + near + 1, max(0, c - near) : c + near + 1], 70)
    )
    if core < _LEAST_DARK:
        return None
    ring = _ring_level(part, r - r0, c - c0, sigma)
    level = max(0.5 * (core + max(ring, 0.0)), 0.6 * _LEAST_DARK)
    smooth = cv2.GaussianBlur(part, (0, 0), max(0.8, 0.18 * sigma))
    _, labels = cv2.connectedComponents((smooth > level).astype(np.uint8))
    label = labels[r - r0, c - c0]
    if label == 0:
        return None
    region: Mask = labels == label
    rim = np.r_[region[0], region[-1], region[:, 0], region[:, -1]]
    if rim.any() and region.sum() > 0.35 * region.size:
        return None
    filled = cv2.morphologyEx(region.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    return filled > 0, (r0, c0), core


def _ring_level(part: NDArray[np.float32], r: int, c: int, sigma: float) -> float:
    rows, columns = np.ogrid[: part.shape[0], : part.shape[1]]
    off = np.hypot(rows - r, columns - c)
    ring = part[(off > 2.8 * sigma) & (off < 4.2 * sigma)]
    return float(np.median(ring)) if ring.size else 0.0


def _oval(
    region: Mask, corner: tuple[int, int], core: float, peak: float, px: float, ground: _Ground
) -> Proposed | None:
    """The region as an oval, with how much it looks like a knot."""
    rows, columns = np.nonzero(region)
    area = len(rows) * px * px
    if area < 60.0 or area > 16_000.0:
        return None
    points = np.column_stack([columns + corner[1], rows + corner[0]]).astype(float)
    middle = points.mean(0)
    spread = np.cov((points - middle).T) + np.eye(2) / 12.0
    values, vectors = np.linalg.eigh(spread)
    short, long = 2.0 * np.sqrt(values)
    ratio = long / max(short, 1e-6)
    fill = len(rows) / (np.pi * short * long)
    if ratio > _LONGEST_KNOT or fill < 0.62:
        return None
    score = (
        -2.4
        + 9.0 * (core - _LEAST_DARK)
        + 26.0 * (peak - _LEAST_BLOB / 2.2)
        - 1.1 * max(0.0, ratio - 1.5)
        + 2.0 * (fill - 0.8)
        + 0.25 * min(np.sqrt(area / np.pi) / 4.0, 3.0)
    )
    t = np.linspace(0, 2 * np.pi, _RIM, endpoint=False)
    swell = 1.05
    rim = middle + swell * (
        np.outer(long * np.cos(t), vectors[:, 1]) + np.outer(short * np.sin(t), vectors[:, 0])
    )
    return Proposed("knot", ground(rim), float(1.0 / (1.0 + np.exp(-score))))


def _checks(
    dark: NDArray[np.float32],
    on: Mask,
    px: float,
    ground: _Ground,
    seen: GrainRaster | None,
    spots: Sequence[Proposed],
) -> list[Proposed]:
    """Thin dark lines that run far and along the grain, in one piece or in several that follow on
    each other, as a check does that closes for a while or runs under a card.
    """
    import cv2
    import shapely

    thin = dark - cv2.GaussianBlur(dark, (0, 0), 5.0 / px)
    usual = float(np.median(np.abs(thin[on]))) if on.any() else 1.0
    least = max(0.10, 5.0 * usual)
    dark_line = ((thin > least) & on).astype(np.uint8)
    line = np.asarray(cv2.morphologyEx(dark_line, cv2.MORPH_CLOSE, np.ones((3, 5), np.uint8)))
    known = shapely.union_all([shapely.Polygon(p.outline_mm).buffer(8.0) for p in spots])
    shapely.prepare(known)
    pieces = [
        p
        for p in _pieces(line.astype(np.uint8), px)
        if not known.contains(shapely.Point(*ground(p.middle)))
    ]
    found: list[Proposed] = []
    for chain in _chains(pieces, px, on, ground, seen):
        points = np.vstack([piece.points for piece in chain])
        middle = points.mean(0)
        _, vectors = np.linalg.eigh(np.cov((points - middle).T) + np.eye(2) / 12.0)
        along = (points - middle) @ vectors[:, 1]
        length = float(np.ptp(along)) * px
        shown = sum(piece.length for piece in chain) * px
        width = len(points) * px * px / max(shown, 1.0)
        if shown < _LEAST_CHECK_MM or width > 9.0 or length < 12 * width:
            continue
        at = points.astype(int)
        strength = float(np.mean(thin[at[:, 1], at[:, 0]]))
        ring = _strip(points, along, vectors[:, 1], middle, max(width, 2 * px) / px)
        outline = ground(ring)
        crack = shapely.LineString(outline[: len(outline) // 2])
        if not known.is_empty and crack.intersection(known).length > 0.5 * crack.length:
            continue
        agree = 1.0 if seen is None else _along_grain(outline[: len(outline) // 2], seen)
        # a dark ring is hardly darker than what is looked at at all; a check is, however short
        score = 8.0 * (strength / least - _CHECK_DARK) + min(0.005 * (shown - _LEAST_CHECK_MM), 0.6)
        score += 2.0 * (agree - 1.0)
        found.append(Proposed("check", outline, float(1.0 / (1.0 + np.exp(-score)))))
    return found


@dataclass(frozen=True, slots=True)
class _Piece:
    """A thin dark piece: its pixels (n, 2) as column and row, its two ends (2, 2), its length."""

    points: Array
    middle: Array
    ends: Array
    length: float


def _pieces(line: NDArray[np.uint8], px: float) -> list[_Piece]:
    import cv2

    _, labels, stats, _ = cv2.connectedComponentsWithStats(line)
    rows, columns = np.nonzero(labels)
    order = np.argsort(labels[rows, columns], kind="stable")
    found = np.column_stack([columns, rows]).astype(float)[order]
    sizes = stats[1:, cv2.CC_STAT_AREA]
    out = []
    for points in np.split(found, np.cumsum(sizes)[:-1]):
        if len(points) * px < _LEAST_PIECE_MM:
            continue
        middle = points.mean(0)
        _, vectors = np.linalg.eigh(np.cov((points - middle).T) + np.eye(2) / 12.0)
        along = (points - middle) @ vectors[:, 1]
        length = float(np.ptp(along)) + 1.0
        width = len(points) * px / length
        if length * px < _LEAST_PIECE_MM or width > 9.0 or length * px < 3.0 * width:
            continue
        ends = middle + np.outer([along.min(), along.max()], vectors[:, 1])
        out.append(_Piece(points, middle, ends, length))
    return out


def _chains(
    pieces: list[_Piece], px: float, on: Mask, ground: _Ground, seen: GrainRaster | None
) -> list[list[_Piece]]:
    """Pieces that follow on each other along the grain, each chain once."""
    if not pieces:
        return []
    whole = list(range(len(pieces)))

    def root(k: int) -> int:
        while whole[k] != k:
            whole[k] = whole[whole[k]]
            k = whole[k]
        return k

    middles = np.array([p.middle for p in pieces])
    ways = np.array([p.ends[1] - p.ends[0] for p in pieces])
    ways /= np.maximum(np.hypot(*ways.T), 1e-9)[:, None]
    if seen is not None:
        # rows run down and y up; a short piece's own way is the roughest there is
        angle = np.radians(seen.angle_deg[_nodes(seen, ground(middles))])
        grain = np.column_stack([np.cos(angle), -np.sin(angle)])
        own = np.array([p.length * px for p in pieces]) > _OWN_WAY_MM
        ways = np.where(own[:, None], ways, grain)
    ends = np.array([p.ends for p in pieces])
    for k, way in enumerate(ways):
        for sign in (-1.0, 1.0):
            tip = ends[k][int(np.argmax(ends[k] @ (sign * way)))]
            off = ends - tip
            ahead = (off @ (sign * way)) * px
            near = np.argmin(np.where(ahead > 0.0, ahead, np.inf), axis=1)
            gap = ahead[np.arange(len(ends)), near]
            aside = np.abs(off[np.arange(len(ends)), near] @ np.array([-way[1], way[0]])) * px
            meets = (gap > 0.0) & (gap < _HIDDEN_MM) & (aside < 3.0 + 0.06 * gap)
            for j in np.flatnonzero(meets):
                if (
                    j != k
                    and root(int(j)) != root(k)
                    and _open_between(tip, ends[j, near[j]], px, on)
                ):
                    whole[root(int(j))] = root(k)
    groups: dict[int, list[_Piece]] = {}
    for k, piece in enumerate(pieces):
        groups.setdefault(root(k), []).append(piece)
    return list(groups.values())


def _open_between(a: Array, b: Array, px: float, on: Mask) -> bool:
    """Whether little bare wood lies between two ends: a card may, and a stretch that is closed."""
    far = float(np.hypot(*(b - a)))
    t = np.linspace(0.0, 1.0, max(2, int(far) + 1))[:, None]
    at = np.rint(a + t * (b - a)).astype(int)
    return float(on[at[:, 1], at[:, 0]].mean()) * far * px <= _CLOSED_MM


def _nodes(seen: GrainRaster, points_mm: Array) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Row and column of a raster's node nearest each point."""
    at = np.rint(seen.grid.cells(points_mm)).astype(int)
    at = np.clip(at, 0, [seen.grid.columns - 1, seen.grid.rows - 1])
    return at[:, 1], at[:, 0]


def _strip(points: Array, along: Array, axis: Array, middle: Array, width: float) -> Array:
    """A ring round a thin run of points."""
    across = (points - middle) @ np.array([-axis[1], axis[0]])
    edges = np.linspace(along.min(), along.max(), 9)
    u, v = [], []
    for low, high in pairwise(edges):
        near = (along >= low) & (along <= high)
        if near.any():
            u.append((low + high) / 2)
            v.append(float(np.median(across[near])))
    u[0], u[-1] = edges[0], edges[-1]
    side = np.array([-axis[1], axis[0]])
    line = middle + np.outer(u, axis) + np.outer(v, side)
    half = side * width / 2
    ring: Array = np.vstack([line + half, (line - half)[::-1]])
    return ring


def _along_grain(line: Array, seen: GrainRaster) -> float:
    """1 where a line runs along the grain seen, 0 where across it."""
    chord = line[-1] - line[0]
    own = np.degrees(np.arctan2(chord[1], chord[0]))
    angle = seen.angle_deg[_nodes(seen, line)]
    off = float(np.median(np.abs((angle - own + 90.0) % 180.0 - 90.0)))
    return float(np.clip(1.0 - off / 25.0, 0.0, 1.0))
