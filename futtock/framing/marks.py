"""Named marks on a frame: sirmarks where diagonals cross, level lines, sheer and centre."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from futtock.framing.curve import at
from futtock.framing.frame import FramePlane, Mark, MarkKind
from futtock.framing.settings import FramingSettings

Array = NDArray[np.float64]


def frame_marks(
    plane: FramePlane, edge: Array, tangent: Array, girth_mm: Array, settings: FramingSettings
) -> tuple[Mark, ...]:
    """Marks on the joint face's outer edge, heel to head.

    Parameters
    ----------
    plane
        The frame's plane.
    edge, tangent, girth_mm
        Joint face: (n, 2), (n, 2), (n,).
    settings
        Names the diagonals and the level lines.
    """
    _, out, up = plane.axes()
    y = edge[:, 0] * out[1] + edge[:, 1] * up[1]
    z = edge[:, 0] * out[2] + edge[:, 1] * up[2]
    lines: list[tuple[str, MarkKind, float, float]] = [
        (name, "sirmark", height, float(np.tan(np.radians(slope))))
        for name, height, slope in settings.diagonals
    ]
    lines += [(f"level {level:g}", "level", level, 0.0) for level in settings.levels_mm]
    found: list[tuple[str, MarkKind]] = []
    start, rise, tan, rate = [], [], [], []
    for name, kind, height, slope in lines:
        ahead = z - height - y * slope
        for k in np.flatnonzero((ahead[:-1] < 0) != (ahead[1:] < 0)).tolist():
            found.append((name, kind))
            rate.append(float(ahead[k + 1] - ahead[k]))
            start.append(k - float(ahead[k]) / rate[-1])
            rise.append(height)
            tan.append(slope)
    marks = [Mark("heel", "centre", 0.0, (float(edge[0, 0]), float(edge[0, 1])))]
    if found:
        w = np.array(start)
        for _ in range(2):  # from the chord's crossing to the curve's
            place = at(edge[None], tangent[None], w[None])[0][0]
            miss = place @ np.array([out[2], up[2]]) - rise
            miss = miss - place @ np.array([out[1], up[1]]) * tan
            w = w - miss / rate
        place = at(edge[None], tangent[None], w[None])[0][0]
        girths = np.interp(w, np.arange(len(edge)), girth_mm).tolist()
        for (name, kind), (out_mm, up_mm), girth in zip(found, place.tolist(), girths, strict=True):
            marks.append(Mark(name, kind, girth, (out_mm, up_mm)))
    head = (float(edge[-1, 0]), float(edge[-1, 1]))
    marks.append(Mark("sheer", "sheer", float(girth_mm[-1]), head))
    return tuple(sorted(marks, key=lambda m: m.girth_mm))
