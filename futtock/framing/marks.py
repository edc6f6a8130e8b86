"""Named marks on a frame: sirmarks where diagonals cross, level lines, sheer and centre."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from futtock.framing.curve import at
from futtock.framing.frame import FramePlane, Mark
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
    marks = [Mark("heel", "centre", 0.0, (float(edge[0, 0]), float(edge[0, 1])))]

    def crossings(name: str, kind: str, ahead: Array) -> None:
        for k in np.flatnonzero((ahead[:-1] < 0) != (ahead[1:] < 0)):
            w = k + ahead[k] / (ahead[k] - ahead[k + 1])
            p = at(edge[None], tangent[None], np.array([[w]]))[0][0, 0]
            girth = girth_mm[k] + (w - k) * (girth_mm[k + 1] - girth_mm[k])
            marks.append(Mark(name, kind, float(girth), (float(p[0]), float(p[1]))))  # type: ignore[arg-type]

    for name, height, slope in settings.diagonals:
        crossings(name, "sirmark", z - height - y * np.tan(np.radians(slope)))
    for level in settings.levels_mm:
        crossings(f"level {level:g}", "level", z - level)
    head = (float(edge[-1, 0]), float(edge[-1, 1]))
    marks.append(Mark("sheer", "sheer", float(girth_mm[-1]), head))
    return tuple(sorted(marks, key=lambda m: m.girth_mm))
