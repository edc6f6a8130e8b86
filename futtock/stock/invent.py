"""Racks of invented slabs, the same for the same seed: for trying layouts and forecasts.

Each slab is sawn through and through from a stem or a limb, so its pith has the sweep that the
tree had: straight, swept, a crook, or bent twice. A slab is made in its own axes, s along the pith
and v across it (left positive), and laid out at the end. All figures are invented.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused
from futtock.stock.outline import anticlockwise
from futtock.stock.slab import Flaw, Slab

Array = NDArray[np.float64]
Range = tuple[float, float]
FlawFace = Literal["top", "bottom", "both"]

_STATIONS = 240
_OUTLINE_STEP_MM = 50.0
_TRACE_STEP_MM = 60.0
_END_MM = 25.0  # docked from each end


@dataclass(frozen=True, slots=True)
class Shape:
    """A shape of tree: curvature (1/m), length and width over the bark (mm), bent twice or not."""

    name: str
    bend_per_m: Range
    length_mm: Range
    width_mm: Range
    twice: bool = False


STRAIGHT = Shape("straight", (-0.06, 0.06), (1500, 2700), (175, 258))
SWEPT = Shape("swept", (0.12, 0.60), (1200, 2200), (176, 264))
CROOK = Shape("crook", (0.60, 1.30), (1000, 1850), (195, 298))
TWICE_BENT = Shape("twice bent", (0.60, 1.50), (900, 1500), (190, 285), twice=True)
SHAPES = (STRAIGHT, SWEPT, CROOK, TWICE_BENT)


@dataclass(frozen=True, slots=True)
class Recipe:
    """How a pile is made up.

    Attributes
    ----------
    stacks
        Shares of :data:`SHAPES`, in their order, by the stack's name.
    measured_a_stack
        How many slabs from the top of each stack have been measured.
    knots_per_m, checks, rot
        Mean number of knots a metre, of checks a slab, and the chance of a pocket of rot.
    """

    stacks: Mapping[str, tuple[float, float, float, float]]
    measured_a_stack: int = 6
    species: str = "white oak"
    thickness_mm: Range = (65.0, 76.0)
    moisture_percent: tuple[float, float] = (20.0, 2.5)
    knots_per_m: float = 0.65
    checks: float = 0.7
    rot: float = 0.13


PILE = Recipe(
    {
        "A": (0.16, 0.30, 0.46, 0.08),
        "B": (0.12, 0.29, 0.51, 0.08),
        "C": (0.18, 0.30, 0.44, 0.08),
        "D": (0.10, 0.27, 0.55, 0.08),
        "E": (0.14, 0.30, 0.46, 0.10),
    }
)
"""A pile for curved frames: more than half of it crooked."""


def invent_rack(count: int = 200, seed: int = 38, recipe: Recipe = PILE) -> tuple[Slab, ...]:
    """``count`` slabs in the recipe's stacks, the first stacks one more where it does not divide.

    Names are the stack and a number from its top, as ``A-07``.
    """
    if count < 0:
        raise Misused(f"a rack of {count} slabs was asked for; give 0 or more")
    rng = np.random.default_rng(seed)
    slabs: list[Slab] = []
    for k, (stack, shares) in enumerate(recipe.stacks.items()):
        size = count // len(recipe.stacks) + (k < count % len(recipe.stacks))
        odds = np.asarray(shares, float) / sum(shares)
        for n in range(size):
            shape = SHAPES[int(rng.choice(len(SHAPES), p=odds))]
            measured = n < recipe.measured_a_stack
            slabs.append(invent_slab(rng, f"{stack}-{n + 1:02d}", shape, recipe, stack, measured))
    return tuple(slabs)


def invent_slab(
    rng: np.random.Generator,
    name: str,
    shape: Shape,
    recipe: Recipe = PILE,
    stack: str = "",
    measured: bool = True,
) -> Slab:
    """One slab of a shape, drawn from ``rng``."""
    stem = _stem(rng, shape)
    sap = rng.uniform(8, 20)
    wane = [np.maximum(0, rng.uniform(0, 20) + _wander(rng, stem.s, 400, 6)) for _ in range(2)]
    skew = rng.uniform(-12, 12, 2)
    wide = stem.ring(stem.left - sap, stem.right - sap, skew)
    narrow = stem.ring(stem.left - sap - wane[0], stem.right - sap - wane[1], skew)
    bark_wide = stem.ring(stem.left, stem.right, skew)
    bark_narrow = stem.ring(stem.left - wane[0], stem.right - wane[1], skew)
    up = rng.random() < 0.7  # the broad face is most often laid down
    flaws, knots = _flaws(rng, stem, recipe)
    thickness = int(rng.integers(int(recipe.thickness_mm[0]), int(recipe.thickness_mm[1]) + 1))
    mean, spread = recipe.moisture_percent
    return Slab(
        name=name,
        species=recipe.species,
        thickness_mm=float(thickness),
        moisture_percent=round(float(np.clip(rng.normal(mean, spread), 8, 60)), 1),
        top_mm=_tenths(narrow if up else wide),
        bottom_mm=_tenths(wide if up else narrow),
        face_top_mm=_tenths(bark_narrow if up else bark_wide),
        face_bottom_mm=_tenths(bark_wide if up else bark_narrow),
        grain_mm=tuple(_tenths(line) for line in _traces(rng, stem, knots)),
        flaws=tuple(Flaw(kind, _tenths(ring), face) for kind, ring, face in flaws),
        stack=stack,
        measured=measured,
    )


@dataclass(frozen=True, slots=True)
class _Stem:
    """A stem: stations ``s`` (n,) along its pith (n, 2), heading, and width to either side."""

    s: Array
    pith: Array
    heading: Array
    left: Array
    right: Array

    @property
    def length(self) -> float:
        return float(self.s[-1])

    def place(self, s: Array, v: Array) -> Array:
        """Points (n, 2) at ``s`` along and ``v`` across."""
        a = np.interp(s, self.s, self.heading)
        x = np.interp(s, self.s, self.pith[:, 0]) - np.sin(a) * v
        y = np.interp(s, self.s, self.pith[:, 1]) + np.cos(a) * v
        return np.column_stack([x, y])

    def ring(self, left: Array, right: Array, skew: Array) -> Array:
        """The ring between two offsets from the pith, its ends docked askew by ``skew`` (2,)."""
        n = int(self.length / _OUTLINE_STEP_MM) + 1
        s = np.linspace(_END_MM, self.length - _END_MM, n)
        lean = np.linspace(skew[0], skew[1], n)
        near = self.place(s - lean, -np.interp(s - lean, self.s, right))
        far = self.place(s + lean, np.interp(s + lean, self.s, left))
        return anticlockwise(np.vstack([near, far[::-1]]))


def _stem(rng: np.random.Generator, shape: Shape) -> _Stem:
    s = np.linspace(0.0, rng.uniform(*shape.length_mm), _STATIONS)
    bend = rng.uniform(*shape.bend_per_m) * rng.choice([-1, 1])
    peak, crowd = rng.uniform(0.3, 0.7), rng.uniform(0.1, 0.7)
    if shape.twice:  # hollow at the butt, round above
        curvature = bend * np.sin(np.pi * (s / s[-1] - peak) / 0.7)
    else:
        crowd = 0.0 if shape is STRAIGHT else crowd
        curvature = bend * (1 + crowd * np.cos(2 * np.pi * (s / s[-1] - peak)))
    curvature = curvature + _wander(rng, s, 500, 0.05)
    ds = np.diff(s)
    heading = np.r_[0.0, np.cumsum((curvature[1:] + curvature[:-1]) / 2 * ds / 1000)]
    middle = (heading[1:] + heading[:-1]) / 2
    steps = np.c_[np.cos(middle), np.sin(middle)] * ds[:, None]
    pith = np.vstack([[0.0, 0.0], np.cumsum(steps, axis=0)])
    turn = -np.arctan2(pith[-1, 1], pith[-1, 0])
    c, q = np.cos(turn), np.sin(turn)
    taper = 1.05 - rng.uniform(0.10, 0.24) * s / s[-1]
    flare = rng.uniform(0, 40) * np.exp(-s / 220)  # towards the roots or a fork
    half = (rng.uniform(*shape.width_mm) * taper + flare) / 2
    off = rng.normal(0, 8)
    sides = [
        half + side * off + _wander(rng, s, 420, 9) + _wander(rng, s, 140, 4) for side in (1, -1)
    ]
    return _Stem(s, pith @ np.array([[c, q], [-q, c]]), heading + turn, *sides)


def _wander(rng: np.random.Generator, s: Array, every: float, size: float) -> Array:
    """A smooth random wander along ``s``: a uniform cubic B-spline through normal values."""
    from scipy.interpolate import BSpline

    knots = np.arange(s[0] - 4 * every, s[-1] + 5 * every, every)
    wander: Array = BSpline(knots, rng.normal(0.0, size, len(knots) - 4), 3)(s)
    return wander


def _oval(
    rng: np.random.Generator, stem: _Stem, at: tuple[float, float], along: float, across: float
) -> Array:
    """A rough oval lying along the grain."""
    t = np.linspace(0, 2 * np.pi, 16, endpoint=False)
    rough = 1 + rng.normal(0, 0.06, len(t))
    return stem.place(at[0] + along * np.cos(t) * rough, at[1] + across * np.sin(t) * rough)


def _flaws(
    rng: np.random.Generator, stem: _Stem, recipe: Recipe
) -> tuple[list[tuple[str, Array, FlawFace]], list[tuple[float, float, float, float]]]:
    """Flaws as (kind, ring, face), and the knots among them as (s, v, along, across)."""
    flaws: list[tuple[str, Array, FlawFace]] = []
    knots: list[tuple[float, float, float, float]] = []
    faces: Sequence[FlawFace] = ("both", "top", "bottom")

    def somewhere(reach: float) -> tuple[float, float]:
        s = rng.uniform(0.05, 0.95) * stem.length
        edge = min(np.interp(s, stem.s, stem.left), np.interp(s, stem.s, stem.right))
        return float(s), float(rng.uniform(-reach, reach) * edge)

    for _ in range(rng.poisson(recipe.knots_per_m * stem.length / 1000)):
        size = min(6 + rng.gamma(2.5, 5.0), 45)
        s, v = somewhere(0.85)
        face = faces[int(rng.choice(3, p=[0.7, 0.15, 0.15]))]
        flaws.append(("knot", _oval(rng, stem, (s, v), 1.25 * size, size), face))
        knots.append((s, v, 1.25 * size, size))
    for _ in range(rng.poisson(recipe.checks)):
        long = rng.uniform(60, min(330, 0.4 * stem.length))
        s_along = np.linspace(0, long, max(4, int(long / 40)))
        s_along = s_along + 15 if rng.random() < 0.6 else stem.length - 15 - s_along
        v_along = rng.uniform(-0.5, 0.5) * np.interp(s_along, stem.s, (stem.left + stem.right) / 2)
        gape = np.linspace(4.0, 0.8, len(s_along))
        sides = stem.place(s_along, v_along - gape), stem.place(s_along, v_along + gape)[::-1]
        flaws.append(("check", np.vstack(sides), "both"))
    if rng.random() < recipe.rot:
        ring = _oval(rng, stem, somewhere(0.7), rng.uniform(60, 220), rng.uniform(20, 50))
        flaws.append(("rot", ring, "both"))
    return flaws, knots


def _traces(
    rng: np.random.Generator, stem: _Stem, knots: Sequence[tuple[float, float, float, float]]
) -> list[Array]:
    """Two or three lines of grain as a person would trace them, swept aside by the knots."""
    n = int(stem.length / _TRACE_STEP_MM) + 2
    s = np.linspace(30, stem.length - 30, n)
    shares = (-0.5, 0.0, 0.5) if rng.random() < 0.6 else (-0.35, 0.4)
    lines = []
    for share in shares:
        edge = np.interp(s, stem.s, stem.left if share > 0 else stem.right)
        v = share * edge + _wander(rng, s, 300, 2.5)
        for s_knot, v_knot, along, across in knots:
            off = v - v_knot
            # wood laid down round the branch: nearest the knot it is pushed out by its half breadth
            push = across * np.exp(-(((s - s_knot) / (1.6 * along)) ** 2))
            v = v_knot + np.where(off < 0, -1.0, 1.0) * np.hypot(off, push)
        lines.append(stem.place(s, v))
    return lines


def _tenths(points: Array) -> Array:
    out: Array = np.round(points, 1)
    out.flags.writeable = False
    return out
