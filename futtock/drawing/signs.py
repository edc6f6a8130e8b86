"""Signs that drawings share: ticks with their figure, butts, level lozenges, rings, arrows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from futtock.sheet.items import Anchor, Arc, Face, Item, Point, Text, path
from futtock.sheet.labels import Labels
from futtock.sheet.style import BUTT, CENTRE, DIMENSION, EYE, SEEN, TICK, Stroke, Tone

Array = NDArray[np.float64]


def upright(angle_deg: float) -> float:
    """The angle, or its reverse, at which words read from below or from the right."""
    a = (angle_deg + 180.0) % 360.0 - 180.0
    if a > 90.0 + 1e-9:
        return a - 180.0
    if a <= -90.0 - 1e-9:
        return a + 180.0
    return a


def bearing(v: ArrayLike) -> float:
    """Direction of a vector in degrees."""
    x, y = np.asarray(v, float)
    return float(np.degrees(np.arctan2(y, x)))


def unit(v: ArrayLike) -> Array:
    """The vector at length one; (1, 0) where it has none."""
    a = np.asarray(v, float)
    n = float(np.hypot(*a))
    return a / n if n > 0 else np.array([1.0, 0.0])


def at_length(line: Array, run: Array, at_mm: float) -> tuple[Array, Array]:
    """Point on a polyline at a length along it, and the unit tangent there."""
    span = max(float(run[-1]) * 0.01, 1.0)
    at = (at_mm, max(at_mm - span, float(run[0])), min(at_mm + span, float(run[-1])))
    p, a, b = np.stack([np.interp(at, run, line[:, 0]), np.interp(at, run, line[:, 1])], axis=1)
    return p, unit(b - a)


def run_of(line: Array) -> Array:
    """Length along a polyline (n,), from 0."""
    out: Array = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    return out


def tick(
    at: ArrayLike, way: ArrayLike, size_mm: float = 5.0, stroke: Stroke = TICK, layer: str = ""
) -> Item:
    """A tick from a point, in a direction."""
    a = np.asarray(at, float)
    return path([a, a + unit(way) * size_mm], stroke, layer=layer)


def butt(a: ArrayLike, b: ArrayLike, layer: str = "BUTT") -> Item:
    """A butt: the heaviest stroke, from edge to edge."""
    return path([np.asarray(a, float), np.asarray(b, float)], BUTT, layer=layer)


def lozenge(at: ArrayLike, along_deg: float = 0.0, size_mm: float = 3.0) -> Item:
    """The sign of a level line on the timber."""
    t = np.radians(along_deg)
    u = np.array([np.cos(t), np.sin(t)])
    v = np.array([-u[1], u[0]])
    c = np.asarray(at, float)
    h = size_mm / 2
    ring = [c - u * size_mm, c - v * h, c + u * size_mm, c + v * h]
    return path(ring, None, closed=True, fill=Tone.INK, layer="LEVEL")


def centre_line(
    x: float,
    y0: float,
    y1: float,
    words: str = "centre",
    size_mm: float = 2.8,
    name_left: bool = False,
) -> list[Item]:
    """An upright centre line with its open circle at the upper end, named to its right or left."""
    side = -1.0 if name_left else 1.0
    anchor: Anchor = "end" if name_left else "start"
    return [
        path([(x, y0), (x, y1)], CENTRE),
        Arc((x, y1 + 1.4), 1.4, SEEN, Tone.WHITE, layer="CENTRE"),
        Text(words, (x + 2.6 * side, y1 + 0.4), size_mm, anchor=anchor, tone=Tone.PENCIL),
    ]


def dimension(
    a: Point, b: Point, words: str, lift_mm: float = 1.2, size_mm: float = 2.8
) -> list[Item]:
    """A dimension line between two points, dots at its ends, figure above its middle."""
    p, q = np.asarray(a, float), np.asarray(b, float)
    turn = upright(bearing(q - p))
    t = np.radians(turn)
    up = np.array([-np.sin(t), np.cos(t)])
    mid = (p + q) / 2 + up * lift_mm
    return [
        path([p, q], DIMENSION),
        Arc((float(p[0]), float(p[1])), 0.5, None, Tone.INK, layer="DIMENSION"),
        Arc((float(q[0]), float(q[1])), 0.5, None, Tone.INK, layer="DIMENSION"),
        Text(words, (float(mid[0]), float(mid[1])), size_mm, anchor="middle", angle_deg=turn),
    ]


def arrow(
    at: ArrayLike, way_deg: float, size_mm: float, stroke: Stroke = SEEN, layer: str = ""
) -> list[Item]:
    """An arrow from a point, in a direction."""
    t = np.radians(way_deg)
    u = np.array([np.cos(t), np.sin(t)])
    v = np.array([-u[1], u[0]])
    a = np.asarray(at, float)
    tip = a + u * size_mm
    barb = min(size_mm * 0.3, 4.0)
    return [
        path([a, tip], stroke, layer=layer),
        path(
            [tip - u * barb + v * barb * 0.5, tip, tip - u * barb - v * barb * 0.5],
            stroke,
            layer=layer,
        ),
    ]


def ring_with(at: ArrayLike, sign: str, size_mm: float = 4.0) -> list[Item]:
    """The pencil ring of what needs the eye, with its sign."""
    x, y = (float(v) for v in np.asarray(at, float))
    return [
        Arc((x, y), size_mm, EYE, layer="EYE"),
        Text(
            sign,
            (x, y),
            size_mm * 1.3,
            Face.FIGURES_BOLD,
            "middle",
            "middle",
            tone=Tone.RED,
            layer="EYE",
        ),
    ]


def long_ring(a: Point, b: Point, size_mm: float = 4.0) -> list[Item]:
    """The pencil ring drawn round all that stands between two points of one level."""
    if b[0] - a[0] < 1e-6:
        return [Arc(a, size_mm, EYE, layer="EYE")]
    turn = np.linspace(-np.pi / 2, np.pi / 2, 19)
    end = np.column_stack([np.cos(turn), np.sin(turn)]) * size_mm
    return [path(np.concatenate([b + end, a - end]), EYE, True, layer="EYE")]


def along(
    labels: Labels,
    text: Text,
    line: Array,
    at_mm: float,
    off_mm: float | Sequence[float],
    tries: int = 9,
) -> Text:
    """Words along a line, at a length and a distance to its left, shifted until they are free.

    Of several distances the first is tried along the whole line before the next.
    """
    run = run_of(line)
    step = max(text.size_mm * 2.0, float(run[-1]) * 0.03)
    offs = [off_mm] if isinstance(off_mm, int | float) else off_mm

    def places() -> Iterator[Text]:
        for off, k in [(o, k) for o in offs for k in range(tries)]:
            s = at_mm + step * ((k + 1) // 2) * (1 if k % 2 else -1)
            s = float(np.clip(s, 0.06 * run[-1], 0.94 * run[-1]))
            p, t = at_length(line, run, s)
            x, y = (p + np.array([-t[1], t[0]]) * off).tolist()
            yield Text(
                text.text, (x, y), text.size_mm, text.face, "middle", "middle",
                upright(bearing(t)), text.tone, text.halo, text.layer,
            )  # fmt: skip

    return labels.place(text, places())
