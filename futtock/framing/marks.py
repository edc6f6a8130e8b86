"""Named marks on frames: sirmarks where diagonals cross, level lines, sheer, centre and spall."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from futtock.framing.curve import at
from futtock.framing.frame import FramePlane, Mark, MarkKind
from futtock.framing.settings import FramingSettings

Array = NDArray[np.float64]


def frame_marks(
    planes: Sequence[FramePlane],
    edge: Array,
    tangent: Array,
    girth_mm: Array,
    settings: FramingSettings,
) -> list[tuple[Mark, ...]]:
    """Marks on the joint faces' outer edges, heel to head, frame by frame.

    Parameters
    ----------
    planes
        F planes.
    edge, tangent, girth_mm
        Joint faces: (F, n, 2), (F, n, 2), (F, n).
    settings
        Names the diagonals, the level lines and the cross spall.
    """
    axes = np.array([p.axes() for p in planes])
    across, upright = axes[:, 1:, 1], axes[:, 1:, 2]  # y and z of out and of up, (F, 2)
    y = (edge * across[:, None]).sum(axis=-1)
    z = (edge * upright[:, None]).sum(axis=-1)
    lines = _lines(settings)
    spots: list[tuple[int, int]] = []  # frame, line
    start, rate = [], []
    for i, (_, _, height, slope) in enumerate(lines):
        ahead = z - height - y * slope
        for f, k in np.argwhere((ahead[:, :-1] < 0) != (ahead[:, 1:] < 0)).tolist():
            spots.append((f, i))
            rate.append(float(ahead[f, k + 1] - ahead[f, k]))
            start.append(k - float(ahead[f, k]) / rate[-1])

    marks = [[Mark("heel", "centre", 0.0, (o, u))] for o, u in edge[:, 0].tolist()]
    if spots:
        rows = np.array([f for f, _ in spots], dtype=np.intp)
        height, slope = np.array([lines[i][2:] for _, i in spots]).T
        w = np.array(start)
        for _ in range(2):  # from the chord's crossing to the curve's
            place = at(edge, tangent, w, rows)[0]
            ahead = (place * upright[rows]).sum(axis=-1) - height
            w = w - (ahead - (place * across[rows]).sum(axis=-1) * slope) / rate
        place = at(edge, tangent, w, rows)[0]
        j = np.clip(w.astype(np.intp), 0, edge.shape[1] - 2)
        low, high = girth_mm[rows, j], girth_mm[rows, j + 1]
        girth = low + (w - j) * (high - low)
        for (f, i), (o, u), g in zip(spots, place.tolist(), girth.tolist(), strict=True):
            marks[f].append(Mark(lines[i][0], lines[i][1], g, (o, u)))
    head = "sheer" if settings.heads == "sheer" else "head"
    for own, (o, u), g in zip(marks, edge[:, -1].tolist(), girth_mm[:, -1].tolist(), strict=True):
        own.append(Mark(head, "sheer", g, (o, u)))
    return [tuple(sorted(own, key=lambda m: m.girth_mm)) for own in marks]


def _lines(settings: FramingSettings) -> list[tuple[str, MarkKind, float, float]]:
    """Names, kinds, heights on the centreline and slopes of the lines z = height + slope y."""
    lines: list[tuple[str, MarkKind, float, float]] = [
        (name, "sirmark", height, float(np.tan(np.radians(slope))))
        for name, height, slope in settings.diagonals
    ]
    lines += [(f"level {level:g}", "level", level, 0.0) for level in settings.levels_mm]
    if settings.cross_spall_mm > 0:
        lines.append(("cross spall", "level", settings.cross_spall_mm, 0.0))
    return lines
