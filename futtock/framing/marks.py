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
    found: list[tuple[str, MarkKind, float]] = []

    def crossings(name: str, kind: MarkKind, ahead: Array) -> None:
        for k in np.flatnonzero((ahead[:-1] < 0) != (ahead[1:] < 0)).tolist():
            share = float(ahead[k] / (ahead[k] - ahead[k + 1]))
            found.append((name, kind, k + share))

    for name, height, slope in settings.diagonals:
        crossings(name, "sirmark", z - height - y * np.tan(np.radians(slope)))
    for level in settings.levels_mm:
        crossings(f"level {level:g}", "level", z - level)
    marks = [Mark("heel", "centre", 0.0, (float(edge[0, 0]), float(edge[0, 1])))]
    if found:
        w = np.array([v for _, _, v in found])
        places = at(edge[None], tangent[None], w[None])[0][0].tolist()
        girths = np.interp(w, np.arange(len(edge)), girth_mm).tolist()
        for (name, kind, _), (out_mm, up_mm), girth in zip(found, places, girths, strict=True):
            marks.append(Mark(name, kind, girth, (out_mm, up_mm)))
    head = (float(edge[-1, 0]), float(edge[-1, 1]))
    marks.append(Mark("sheer", "sheer", float(girth_mm[-1]), head))
    return tuple(sorted(marks, key=lambda m: m.girth_mm))
