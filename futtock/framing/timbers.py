"""The timbers of a frame: marks, heels, and the figures a pile is searched by."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from futtock.framing.divide import Division
from futtock.framing.frame import Frame, LayerName, Side, Timber
from futtock.framing.outline import LayerCurves, TimberShape
from futtock.framing.settings import FramingSettings

Array = NDArray[np.float64]


def head_girth_mm(frame: Frame, name: LayerName, head_over_mm: float) -> float:
    """Girth at which a layer's head is cut square so that both faces reach their own heads."""
    joint = frame.joint
    far = frame.face("forward" if name == "f" else "aft")
    along = joint.edge_mm[-1] - joint.edge_mm[-2]
    along = along / np.hypot(*along)
    beyond = max(0.0, float((far.edge_mm[-1] - joint.edge_mm[-1]) @ along))
    return float(joint.girth_mm[-1]) + beyond + head_over_mm


def frame_timbers(
    frame: Frame, division: Division, on_keel: bool, settings: FramingSettings
) -> tuple[Timber, ...]:
    """All timbers of a frame, both layers, starboard then port, heel to head.

    Parameters
    ----------
    frame
        A frame; its own ``timbers`` are not read.
    division
        Butts of both layers.
    on_keel
        True where heels stand level on the keel's top; False where they stop opposite the rabbet
        and are cut square to the edge.
    settings
        ``floors``, ``head_over_mm``, ``heel_over_mm`` and the like.
    """
    timbers: list[Timber] = []
    for name in ("f", "a"):
        curves = LayerCurves(frame, name)
        crosses = (
            settings.floors == "in frame"
            and settings.floor_layer == name
            and on_keel
            and frame.plane.full
        )
        start = 0.0 if on_keel else 0.0 - settings.heel_over_mm
        head = head_girth_mm(frame, name, settings.head_over_mm)
        ends = [start, *division.butts(name), head]
        for number, (g0, g1) in enumerate(pairwise(ends), 1):
            first = number == 1
            across = first and crosses
            sides: tuple[Side, ...] = ("C",) if across else ("S", "P")
            heel = np.empty((0, 2))
            if first and on_keel:
                heel = _heel(
                    curves, float(frame.joint.edge_mm[0, 1]) - settings.heel_over_mm, across
                )
            drawn = Timber(
                "",
                frame.number,
                name,
                sides[0],
                number,
                (-g1 if across else g0, g1),
                0.0,
                0.0,
                0.0,
                frame.plane.sided_mm,
                heel,
            )
            shape = curves.crossing(drawn) if across else curves.half(drawn)
            length, wide, sweep = figures(shape)
            timbers += [
                replace(
                    drawn,
                    mark=f"{frame.number}-{side}-{name}{number}",
                    side=side,
                    length_mm=length,
                    wide_mm=wide,
                    sweep_mm=sweep,
                )
                for side in sides
            ]
    return tuple(timbers)


def _heel(curves: LayerCurves, up_mm: float, across: bool) -> Array:
    """The heel's outline on the joint face, inner edge's end to outer edge's, level at up_mm."""
    w, corners = curves.heel_end(up_mm)
    from futtock.framing.curve import at

    outer = at(curves.points[:1], curves.tangents[:1], w[:1, None])[0][0, 0]
    outer[1] = up_mm
    if across:
        return np.array([[-outer[0], up_mm], outer])
    inner = (
        curves.points[1, 0]
        + min(w[1], 0.0)
        * np.hypot(*(curves.points[1, 1] - curves.points[1, 0]))
        * curves.tangents[1, 0]
    )
    if w[1] > 0:
        inner = at(curves.points[1:2], curves.tangents[1:2], w[1:2, None])[0][0, 0]
    return np.concatenate([inner[None], corners[0], outer[None]])


def figures(shape: TimberShape) -> tuple[float, float, float]:
    """Length along the chord of the middle line, width square to it (both faces), and sweep; mm."""
    middle = shape.middle
    along = middle[-1] - middle[0]
    along = along / np.hypot(*along)
    rings = np.concatenate([shape.joint_ring, shape.far_ring])
    length = np.ptp(rings @ along)
    across = np.array([-along[1], along[0]])
    sweep = np.abs((middle - middle[0]) @ across).max()
    return float(length), float(np.ptp(rings @ across)), float(sweep)
