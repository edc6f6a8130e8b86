"""Where the futtocks butt: both layers of a half frame divided together.

Butts of the two layers alternate along the girth. Evenly spaced by d they lie each at the middle of
the other layer's timber, a timber is 2 d long (the first or last of a layer d), and the shift is d:
common practice of double sawn frames (no source). The fewest butts that keep the longest timber are
taken. The layer that starts with the short timber changes from frame to frame, and the spacing is
varied a little where the next frame's butts would lie in line.

A division is a choice among legal ones; :func:`divisions` gives others, for a person or for the
layout, which knows the pile.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numba
import numpy as np
from numpy.typing import NDArray

from futtock.framing.frame import Frame, LayerName
from futtock.framing.settings import FramingSettings
from futtock.framing.timbers import feet_mm, has_floor, head_girths_mm

Array = NDArray[np.float64]
Butts = tuple[float, ...]

_FIRST = np.array([1.0, 0.93, 1.07, 0.86, 1.14, 0.78, 1.22, 0.7, 1.3])  # first timber, in spacings
_LAST = np.array([1.0, 0.85, 1.15, 0.7, 1.3])
_SLACK_MM = 0.5


@dataclass(frozen=True, slots=True)
class Division:
    """Butts of both layers of one half frame: girths in mm from the heel, growing.

    ``port`` is the division of the port side where it is not the starboard's. ``cost`` ranks a
    frame's divisions, the smaller the better: 1 a butt, the rest for what lies off the aims.
    """

    forward: Butts
    aft: Butts
    cost: float = 0.0
    port: Division | None = None

    def butts(self, layer: LayerName) -> Butts:
        """The starboard butts of layer ``"f"`` or ``"a"``."""
        return self.forward if layer == "f" else self.aft

    @property
    def every(self) -> Butts:
        """Starboard butts of both layers, in order."""
        return tuple(sorted(self.forward + self.aft))


@dataclass(frozen=True, slots=True)
class _Half:
    """What dividing needs of a half frame: girths and points of its edges, toe and head."""

    head: float
    girth: Array
    both: Array
    toe: Array | None
    floor: LayerName | None

    def points(self, girth: Array) -> Array:
        """Both edges' points (..., 2 edges, 2) at girths, straight on past the ends."""
        last = len(self.girth) - 1
        j = np.searchsorted(self.girth, girth, side="right") - 1
        np.clip(j, 0, last - 1, out=j)
        share = ((girth - self.girth[j]) / (self.girth[j + 1] - self.girth[j]))[..., None, None]
        both: Array = self.both[j]
        return both + share * (self.both[j + 1] - both)


def _halves(frames: Sequence[Frame], settings: FramingSettings) -> list[_Half]:
    heads = head_girths_mm(frames, settings.head_over_mm).max(axis=1).tolist()
    feet = feet_mm(frames, settings).tolist()
    out = []
    for frame, head, foot in zip(frames, heads, feet, strict=True):
        floor: LayerName | None = None
        if has_floor(frame, settings):
            floor = settings.floor_layer
        joint = frame.joint
        both = np.stack([joint.edge_mm, joint.inner_mm], axis=1)
        toe = np.array([0.0, foot]) if frame.on_keel else None
        out.append(_Half(head, joint.girth_mm, both, toe, floor))
    return out


def divide(frames: Sequence[Frame], settings: FramingSettings) -> list[Division]:
    """A division for every frame, forward to aft: as stated, else the best legal one.

    Where the rules cannot all be kept the even division that comes nearest is given; the checks
    then say what it breaks.
    """
    out: list[Division] = []
    for frame, half in zip(frames, _halves(frames, settings), strict=True):
        before = out[-1].every if out else ()
        made = _ranked(half, frame.number, settings, before, most=1)
        best = made[0] if made else _nearest(half, frame.number, settings)
        out.append(_as_stated(best, frame.number, settings))
    return out


def divisions(
    frame: Frame, settings: FramingSettings, before: Butts = (), most: int = 24
) -> list[Division]:
    """Legal divisions of a frame, best first: both starts, the fewest butts and one or two more.

    Parameters
    ----------
    frame
        A frame.
    settings
        Longest, shortest, shift, aim.
    before
        Butts of the frame before it, which they should not be in line with.
    most
        How many at most.
    """
    return _ranked(_halves([frame], settings)[0], frame.number, settings, before, most)


def _ranked(
    half: _Half, number: int, settings: FramingSettings, before: Butts, most: int
) -> list[Division]:
    """Divisions best first; the slope of grain is kept by all of them wherever any can keep it."""
    if settings.grain_slope and not _too_curved(half, settings):
        kept = _searched(half, number, settings, before, most, straight=True)
        if kept:
            return kept
    return _searched(half, number, settings, before, most, straight=False)


def _searched(
    half: _Half,
    number: int,
    settings: FramingSettings,
    before: Butts,
    most: int,
    straight: bool,
) -> list[Division]:
    whole = _lengths(half, np.array([[[0.0, half.head]]]), crossing=half.floor is not None)
    if whole[0, 0] <= settings.longest_mm and not (
        straight and _grain(half, np.array([[[0.0, half.head]]])).max() * settings.grain_slope > 1
    ):
        return [Division((), ())]
    # a chord is shorter than its girth, seldom by more than this
    fewest = max(1, int(np.ceil(0.94 * 2 * half.head / settings.longest_mm)) - 1)
    starts: tuple[LayerName, ...] = ("f", "a") if number % 2 else ("a", "f")
    if half.floor is not None:
        starts = (half.floor,)
    found: list[tuple[float, Butts, LayerName]] = []
    reach = 2 if most == 1 else 3
    for count in range(fewest, fewest + (16 if straight else 6)):
        if (
            straight
            and half.head < (count - 1 + _FIRST.min() + _LAST.min()) * settings.butt_shift_mm
        ):
            break  # no room for so many butts
        for k, start in enumerate(starts):
            butts, cost = _candidates(half, count, start, settings, before, straight)
            keep = np.argsort(cost, kind="stable")[: max(most // 4, 1)]
            found += [
                (float(cost[i]) + 0.05 * k, tuple(butts[i].tolist()), start)
                for i in keep
                if np.isfinite(cost[i])
            ]
            if found and most == 1:
                break  # the other start would put this layer's butts in line with the next frame's
        if found and (most == 1 or count >= len(found[0][1]) + reach - 1):
            break
    found.sort()
    return [_division(butts, start, cost) for cost, butts, start in found[:most]]


def _division(butts: Butts, start: LayerName, cost: float = 0.0) -> Division:
    short, other = butts[::2], butts[1::2]
    if start == "f":
        return Division(short, other, cost)
    return Division(other, short, cost)


def _candidates(
    half: _Half,
    count: int,
    start: LayerName,
    settings: FramingSettings,
    before: Butts,
    straight: bool = False,
) -> tuple[Array, Array]:
    """Alternating butts (C, count) and their costs (C,), infinite where not legal.

    ``straight`` refuses any timber whose grain from straight plank would be steeper than stated.
    """
    p, q = (m.ravel() for m in np.meshgrid(_FIRST, _LAST, indexing="ij"))
    # first timber p d, then count - 1 spacings d, then q d to the head
    d = half.head / (p + count - 1 + q)
    butts = d[:, None] * (p[:, None] + np.arange(count))
    if settings.butt_aim == "middle" and count == 1:
        butts = butts[:1]
    many = len(butts)
    sides = np.empty((many, count + 2))  # heel, butts of both layers, head
    sides[:, 0], sides[:, 1:-1], sides[:, -1] = 0.0, butts, half.head
    # a timber runs over one butt of the other layer; the first and last of both need no such
    first = np.array([0, *range(count + 1)])
    last = np.minimum(np.arange(1, count + 3), count + 1)
    pairs = np.stack([sides[:, first], sides[:, last]], axis=-1)
    length = _lengths(half, pairs, crossing=half.floor == start)
    cost = np.full(many, float(count))
    cost[(length > 0.994 * settings.longest_mm).any(axis=1)] = np.inf
    cost[(pairs[..., 1] - pairs[..., 0] < settings.shortest_mm).any(axis=1)] = np.inf
    if settings.grain_slope:
        slope = _grain(half, pairs)
        cost += 0.02 * np.clip(slope * settings.grain_slope - 1, 0, 5).sum(axis=1)
        if straight:
            cost[(slope * settings.grain_slope > 1.0).any(axis=1)] = np.inf
    if count > 1:
        cost[np.diff(butts, axis=1).min(axis=1) < settings.butt_shift_mm] = np.inf
    if settings.butt_aim == "middle":
        off = (butts - 0.5 * (sides[:, :-2] + sides[:, 2:])) / d[: len(butts), None]
        cost += 1.5 * (off * off).sum(axis=1)
    if before and settings.butt_line_mm > 0:
        near = np.abs(butts[..., None] - np.asarray(before)).min(axis=-1)
        cost += 0.3 * np.clip(1.1 - near / settings.butt_line_mm, 0, 1).sum(axis=1)
    return butts, cost


def _lengths(half: _Half, pairs: Array, crossing: bool) -> Array:
    """Straight lengths (C, T) of timbers between girths (C, T, 2), both edges and toes counted.

    The first two of T are the first timbers of the layer that starts short and of the other; where
    ``crossing`` the former is a floor, counted from head to head.
    """
    out = np.empty(pairs.shape[:2])
    toe = np.full(2, np.nan) if half.toe is None else half.toe
    _chords(half.girth, half.both, pairs, toe, crossing, out)
    return out


@numba.njit(cache=True)
def _chords(
    girth: Array, both: Array, pairs: Array, toe: Array, crossing: bool, out: Array
) -> None:  # pragma: no cover - compiled
    """The lengths of :func:`_lengths`; a toe of nan is none."""
    last = girth.shape[0] - 1
    end = np.empty((2, 2, 2))  # ends, edges, (out, up)
    for c in range(pairs.shape[0]):
        for t in range(pairs.shape[1]):
            for e in range(2):
                g = pairs[c, t, e]
                j = min(max(np.searchsorted(girth, g, side="right") - 1, 0), last - 1)
                share = (g - girth[j]) / (girth[j + 1] - girth[j])
                for k in range(2):
                    for i in range(2):
                        end[e, k, i] = both[j, k, i] + share * (both[j + 1, k, i] - both[j, k, i])
            if crossing and t == 0:
                out[c, t] = 2 * max(end[1, 0, 0], end[1, 1, 0])
                continue
            if t < 2 and not np.isnan(toe[0]):
                end[0, 0, 0], end[0, 0, 1] = toe[0], toe[1]
                end[0, 1, 0] = 0.0
            x = end[1, 0, 0] + end[1, 1, 0] - end[0, 0, 0] - end[0, 1, 0]
            y = end[1, 0, 1] + end[1, 1, 1] - end[0, 0, 1] - end[0, 1, 1]
            far = max(end[1, 0, 0] * x + end[1, 0, 1] * y, end[1, 1, 0] * x + end[1, 1, 1] * y)
            near = min(end[0, 0, 0] * x + end[0, 0, 1] * y, end[0, 1, 0] * x + end[0, 1, 1] * y)
            out[c, t] = (far - near) * (1.0 / np.hypot(x, y))


def _grain(half: _Half, pairs: Array) -> Array:
    """Steepest slope (tangent) of timbers' outer edges to their chords, at their ends, (C, T)."""
    share = np.array([0.0, 0.05, 0.95, 1.0])  # as the checks look at it
    inside = pairs[..., :1] + (pairs[..., 1:] - pairs[..., :1]) * share
    p = half.points(inside)[..., 0, :]
    chord = p[..., -1, :] - p[..., 0, :]
    worst = np.zeros(pairs.shape[:-1])
    for run in (p[..., 1, :] - p[..., 0, :], p[..., 3, :] - p[..., 2, :]):
        cross = np.abs(run[..., 0] * chord[..., 1] - run[..., 1] * chord[..., 0])
        dot = run[..., 0] * chord[..., 0] + run[..., 1] * chord[..., 1]
        worst = np.maximum(worst, cross / np.maximum(dot, 1e-9))
    return worst


def _too_curved(half: _Half, settings: FramingSettings) -> bool:
    """Whether straight plank cannot do: somewhere even the shortest timbers are too steep.

    A timber away from the ends is two shifts long at least, since it runs over a butt of the other
    layer; a longer one about the same place bends by as much and more.
    """
    least = 2 * max(settings.butt_shift_mm, 1.0)
    if half.head < 2.5 * least:
        return False
    start = np.linspace(0.0, half.head - least, 25)
    slope = _grain(half, np.stack([start, start + least], axis=-1)[None])[0]
    steep = slope * settings.grain_slope > 1.0
    place = np.linspace(least, half.head - least, 25)[:, None]
    about = (start <= place) & (place <= start + least)
    return bool((steep | ~about).all(axis=1).any())


def _nearest(half: _Half, number: int, settings: FramingSettings) -> Division:
    """The even division when no legal one is found."""
    count = max(1, int(np.ceil(2 * half.head / settings.longest_mm - 1e-9)) - 1)
    start: LayerName = half.floor or ("f" if number % 2 else "a")
    even = half.head * np.arange(1, count + 1) / (count + 1)
    return _division(tuple(even.tolist()), start, float("inf"))


def _as_stated(best: Division, number: int, settings: FramingSettings) -> Division:
    """The division with the butts that the builder states for this frame in their places."""
    mine = [d for d in settings.divisions if d.frame == number]
    port: Division | None = None
    for d in mine:
        butts = tuple(sorted(d.butts_mm))
        if d.side in ("", "S", "C"):
            best = _put(best, d.layer, butts)
    for d in mine:
        if d.side == "P":
            port = _put(port or best, d.layer, tuple(sorted(d.butts_mm)))
    return replace(best, port=port)


def _put(division: Division, layer: LayerName, butts: Butts) -> Division:
    if layer == "f":
        return replace(division, forward=butts)
    return replace(division, aft=butts)


def division_rows(divisions: Sequence[tuple[int, Division]]) -> list[tuple[int, str, str, float]]:
    """Rows ``frame, layer, side, butt`` of ``futtocks.csv``: a row a butt, mm along the girth.

    A layer without a butt has no row: reading them back gives it the tool's own choice again, so
    a single nan stands for "none".
    """
    rows: list[tuple[int, str, str, float]] = []
    for number, division in divisions:
        sides = [("", division)]
        if division.port is not None:
            sides = [("S", division), ("P", division.port)]
        for side, half in sides:
            for layer, butts in (("f", half.forward), ("a", half.aft)):
                rows += [(number, layer, side, b) for b in butts or (float("nan"),)]
    return rows
