"""What can lie on a sheet: paths, arcs, words, pictures, and groups of them.

Coordinates are millimetres of paper with x to the right and y up, from the sheet's own origin.
Everything is frozen; :func:`moved` gives a new item.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from futtock.errors import Misused
from futtock.sheet.style import SEEN, Stroke, Tone

Array = NDArray[np.float64]
Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]
Rise = Literal["base", "middle", "top"]


class Face(StrEnum):
    """Letters: figures, marks and labels in one face, words and sentences in the other."""

    FIGURES = "figures"
    FIGURES_BOLD = "figures bold"
    WORDS = "words"
    WORDS_BOLD = "words bold"


def frozen(points: ArrayLike) -> Array:
    """A read-only (n, 2) array of the points given.

    Raises
    ------
    Misused
        where they are not pairs of finite figures.
    """
    if isinstance(points, np.ndarray) and points.ndim == 2 and _kept(points):
        return points
    array = np.array(points, dtype=float)
    array = array.reshape(-1, 2) if array.size else np.empty((0, 2))
    if not np.isfinite(array).all():
        raise Misused("a point to be drawn has a figure that is not finite")
    array.flags.writeable = False
    return array


def _kept(points: NDArray[np.generic]) -> bool:
    """True for an array of ours, or a part of one, that nobody can change."""
    if points.flags.writeable or points.dtype != np.float64:
        return False
    flags = getattr(points.base, "flags", None)
    return points.base is None or (flags is not None and not flags.writeable)


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """A line through points, open or closed, drawn and perhaps filled.

    Parameters
    ----------
    points_mm : (n, 2)
        Corners; a closed path does not repeat its first point.
    stroke
        How it is drawn; None for a wash without an edge.
    fill
        Wash inside, or None.
    layer
        Its layer by meaning; empty: the stroke's.
    holes_mm
        Further closed rings that are left out of the fill.
    """

    points_mm: Array
    stroke: Stroke | None = SEEN
    closed: bool = False
    fill: Tone | None = None
    layer: str = ""
    holes_mm: tuple[Array, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "points_mm", frozen(self.points_mm))
        object.__setattr__(self, "holes_mm", tuple(frozen(h) for h in self.holes_mm))


def path(
    points_mm: ArrayLike,
    stroke: Stroke | None = SEEN,
    closed: bool = False,
    fill: Tone | None = None,
    layer: str = "",
) -> Path:
    """A :class:`Path` through points of any kind."""
    return Path(frozen(points_mm), stroke, closed, fill, layer)


@dataclass(frozen=True, slots=True)
class Arc:
    """A circle, or the part of it from one angle anticlockwise to another."""

    centre_mm: Point
    radius_mm: float
    stroke: Stroke | None = SEEN
    fill: Tone | None = None
    from_deg: float = 0.0
    to_deg: float = 360.0
    layer: str = ""

    @property
    def whole(self) -> bool:
        """True for a full circle."""
        return self.to_deg - self.from_deg >= 360.0

    def points_mm(self, sag_mm: float = 0.005) -> Array:
        """Points along it, (n, 2), whose chords stand off it by ``sag_mm`` at most."""
        r = max(self.radius_mm, 1e-6)
        step = 2 * np.arccos(max(1 - sag_mm / r, 0.0)) if sag_mm < r else np.pi / 4
        span = np.radians(min(self.to_deg - self.from_deg, 360.0))
        n = max(int(np.ceil(span / step)), 4) + 1
        t = np.radians(self.from_deg) + np.linspace(0.0, span, n)
        pts: Array = np.column_stack([np.cos(t), np.sin(t)]) * self.radius_mm + self.centre_mm
        return pts[:-1] if self.whole else pts


@dataclass(frozen=True, slots=True)
class Text:
    """Words or figures on one line; ``size_mm`` is the height of the letters' body (em)."""

    text: str
    at_mm: Point
    size_mm: float = 3.0
    face: Face = Face.FIGURES
    anchor: Anchor = "start"
    rise: Rise = "base"
    angle_deg: float = 0.0
    tone: Tone = Tone.INK
    halo: Tone | None = None
    layer: str = "TEXT"

    def baseline_mm(self) -> Point:
        """The point on the baseline from which the writers set the words."""
        down = {"base": 0.0, "middle": 0.35, "top": 0.72}[self.rise] * self.size_mm
        t = math.radians(self.angle_deg)
        return (self.at_mm[0] + down * math.sin(t), self.at_mm[1] - down * math.cos(t))


@dataclass(frozen=True, slots=True)
class Picture:
    """A PNG or JPEG picture; ``at_mm`` is its lower left corner."""

    data: bytes
    at_mm: Point
    size_mm: Point
    about: str = ""
    layer: str = "PICTURE"

    @property
    def kind(self) -> Literal["png", "jpeg"]:
        """What the bytes are.

        Raises
        ------
        Misused
            where they are neither PNG nor JPEG.
        """
        if self.data.startswith(b"\x89PNG"):
            return "png"
        if self.data.startswith(b"\xff\xd8"):
            return "jpeg"
        raise Misused("a picture must be PNG or JPEG")


@dataclass(frozen=True, slots=True)
class Group:
    """Items that belong together, named (a piece mark), perhaps seen through a window.

    ``clip_mm`` is (x0, y0, x1, y1); ``href`` where a page leads when it is pressed.
    """

    items: tuple[Item, ...]
    name: str = ""
    kind: str = ""
    href: str = ""
    clip_mm: tuple[float, float, float, float] | None = None


Item = Path | Arc | Text | Picture | Group
Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Move:
    """x' = sx (x cos t - y sin t) + dx, y' = sy (x sin t + y cos t) + dy: turn, stretch, shift."""

    dx_mm: float = 0.0
    dy_mm: float = 0.0
    turn_deg: float = 0.0
    sx: float = 1.0
    sy: float = 1.0

    def points(self, p: ArrayLike) -> Array:
        """Points (..., 2) moved."""
        q = np.asarray(p, float)
        if self.turn_deg == 0.0 and self.sx == self.sy == 1.0:
            shifted: Array = np.add(q, (self.dx_mm, self.dy_mm))
            return shifted
        t = math.radians(self.turn_deg)
        c, s = math.cos(t), math.sin(t)
        if self.turn_deg % 90 == 0:
            c, s = float(round(c)), float(round(s))
        out: Array = np.empty(q.shape)
        out[..., 0] = self.sx * (q[..., 0] * c - q[..., 1] * s) + self.dx_mm
        out[..., 1] = self.sy * (q[..., 0] * s + q[..., 1] * c) + self.dy_mm
        return out

    def point(self, p: Point) -> Point:
        """One point moved."""
        x, y = self.points(p).tolist()
        return (x, y)


def moved(item: Item, by: Move) -> Item:
    """The item turned, stretched and shifted.

    Letters, circles and pictures keep their own size and shape but for a uniform stretch: a
    stretch of some thousandths that makes good a printer's error is carried by their places.
    """
    grow = math.sqrt(abs(by.sx * by.sy))
    if isinstance(item, Path):
        # a code has hundreds of rings: all are moved at once
        rings = (item.points_mm, *item.holes_mm)
        whole = _still(by.points(np.concatenate(rings) if item.holes_mm else item.points_mm))
        ends = np.cumsum([len(r) for r in rings]).tolist()
        parts = [whole[a:b] for a, b in zip([0, *ends[:-1]], ends, strict=True)]
        first = parts[0] if item.holes_mm else whole
        return Path(first, item.stroke, item.closed, item.fill, item.layer, tuple(parts[1:]))
    if isinstance(item, Arc):
        return replace(
            item,
            centre_mm=by.point(item.centre_mm),
            radius_mm=item.radius_mm * grow,
            from_deg=item.from_deg + by.turn_deg,
            to_deg=item.to_deg + by.turn_deg,
        )
    if isinstance(item, Text):
        return replace(
            item,
            at_mm=by.point(item.at_mm),
            size_mm=item.size_mm * grow,
            angle_deg=item.angle_deg + by.turn_deg,
        )
    if isinstance(item, Picture):
        size = (item.size_mm[0] * by.sx, item.size_mm[1] * by.sy)
        return replace(item, at_mm=by.point(item.at_mm), size_mm=size)
    clip = item.clip_mm
    if clip is not None:
        a, b = by.point((clip[0], clip[1])), by.point((clip[2], clip[3]))
        clip = (min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1]))
    return replace(item, items=tuple(moved(i, by) for i in item.items), clip_mm=clip)


def _still(points: Array) -> Array:
    points.flags.writeable = False
    return points


def flat(items: Iterable[Item]) -> Iterator[Path | Arc | Text | Picture]:
    """Every item that is not a group, in drawing order."""
    for item in items:
        if isinstance(item, Group):
            yield from flat(item.items)
        else:
            yield item
