"""The lines of an SVG path's data: straight runs, Bezier curves and arcs, flattened."""

from __future__ import annotations

import itertools
import re

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_LARGEST = 1e9
_COMMAND = re.compile(r"([MmZzLlHhVvCcSsQqTtAa])([^MmZzLlHhVvCcSsQqTtAa]*)")
_COUNT = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7}


def path_lines(d: str, flat: float) -> list[tuple[Array, bool]]:
    """The lines of a path's data, no further than ``flat`` from it, each with whether it closes.

    Raises
    ------
    ValueError
        For a letter that is no command, figures that do not fit it, or one too large.
    """
    lines: list[tuple[Array, bool]] = []
    now = start = control = np.zeros(2)
    points: list[Array] = []
    before = ""

    def end(closed: bool) -> None:
        if len(points) > 1:
            again = bool(np.hypot(*(points[0] - points[-1])) < 1e-6)
            lines.append((np.array(points), closed or again))
        points.clear()

    strange = re.search(r"[^\s,MmZzLlHhVvCcSsQqTtAa]", NUMBER.sub("", d))
    if strange:
        raise ValueError(f"a path holds the letter {strange[0]}")
    for letter, numbers in _COMMAND.findall(d):
        kind, relative = letter.upper(), letter.islower()
        if kind == "Z":
            end(True)
            now = control = start
            points.append(start)
            before = kind
            continue
        v = np.array([float(n) for n in NUMBER.findall(numbers)])
        if len(v) and np.abs(v).max() > _LARGEST:
            raise ValueError(f"a path's {letter} has a figure beyond {_LARGEST:g}")
        size = _COUNT[kind]
        if not len(v) or len(v) % size:
            raise ValueError(f"a path's {letter} has {len(v)} figures, not so many times {size}")
        for k, args in enumerate(v.reshape(-1, size)):
            at = now if relative else np.zeros(2)
            if kind == "M":
                if k == 0:
                    end(False)
                    start = at + args
                now = at + args
                points.append(now)
                control = now
            elif kind in "LHV":
                to = now.copy()
                if kind == "L":
                    to = at + args
                else:
                    axis = 0 if kind == "H" else 1
                    to[axis] = at[axis] + args[0]
                points.append(to)
                now = control = to
            elif kind == "A":
                to = at + args[5:]
                points += _arc(now, to, args, flat)
                now = control = to
            else:
                curve, control = _bezier(kind, before, now, control, args, at)
                points += _flattened(curve, flat)
                now = curve[-1]
            before = kind
    end(False)
    return lines


def _bezier(
    kind: str, before: str, now: Array, control: Array, args: Array, at: Array
) -> tuple[Array, Array]:
    """The control polygon of a curve command, cubic or quadratic, and its last control point."""
    p = args.reshape(-1, 2) + at
    if kind == "S":
        first = 2 * now - control if before in ("C", "S") else now
        return np.array([now, first, *p]), p[0]
    if kind == "T":
        first = 2 * now - control if before in ("Q", "T") else now
        return np.array([now, first, p[0]]), first
    return np.array([now, *p]), p[-2]


def _flattened(curve: Array, flat: float) -> list[Array]:
    """Points along a Bezier curve after its first, no further than ``flat`` from it.

    A curve of degree n in m even steps errs by at most n (n - 1) / 8 times the largest second
    difference of its control points over m squared (standard bound).
    """
    n = len(curve) - 1
    second = np.hypot(*np.diff(curve, 2, axis=0).T).max()
    steps = int(np.clip(np.ceil(np.sqrt(n * (n - 1) / 8 * second / flat)), 1, 2000))
    t = np.linspace(0.0, 1.0, steps + 1)[1:, None]
    points = [np.broadcast_to(c, (steps, 2)) for c in curve]
    while len(points) > 1:
        points = [(1 - t) * a + t * b for a, b in itertools.pairwise(points)]
    return list(points[0])


def _arc(start: Array, to: Array, args: Array, flat: float) -> list[Array]:
    """Points of an elliptical arc after its start (SVG 1.1, appendix F.6)."""
    rx, ry, turn = abs(args[0]), abs(args[1]), np.radians(args[2])
    large, sweep = bool(args[3]), bool(args[4])
    if rx == 0 or ry == 0 or not np.any(to - start):
        return [to]
    c, s = np.cos(turn), np.sin(turn)
    rotate = np.array([[c, s], [-s, c]])
    x, y = rotate @ ((start - to) / 2)
    grow = max(1.0, np.sqrt((x / rx) ** 2 + (y / ry) ** 2))
    rx, ry = rx * grow, ry * grow
    top = rx**2 * ry**2 - rx**2 * y**2 - ry**2 * x**2
    size = np.sqrt(max(0.0, top / (rx**2 * y**2 + ry**2 * x**2)))
    size *= -1.0 if large == sweep else 1.0
    cx, cy = size * rx * y / ry, -size * ry * x / rx
    centre = rotate.T @ np.array([cx, cy]) + (start + to) / 2
    first = np.arctan2((y - cy) / ry, (x - cx) / rx)
    last = np.arctan2((-y - cy) / ry, (-x - cx) / rx)
    span = (last - first) % (2 * np.pi)
    if not sweep:
        span -= 2 * np.pi
    step = 2 * np.arccos(max(1 - flat / max(rx, ry), 0.5))
    t = first + np.linspace(0, 1, max(2, int(np.ceil(abs(span) / step)) + 1))[1:] * span
    flat_points = np.stack([rx * np.cos(t), ry * np.sin(t)], axis=1) @ rotate + centre
    return [*flat_points[:-1], to]
