"""The code on a print: what a telephone reads to know which piece it is, and how old."""

from __future__ import annotations

import numpy as np

from futtock.sheet.items import Array, Group, Path, path
from futtock.sheet.style import Tone

CODE_MM = 26.0
"""Side of the printed code, without the white round it."""


def code_text(mark: str, revision: str, link: str = "") -> str:
    """What the code of a print says: the link with mark and revision, or these two alone.

    ``{mark}`` and ``{revision}`` in the link are replaced; a link without them gets none.
    """
    if not link:
        return f"futtock:{revision}:{mark}"
    return link.replace("{mark}", mark).replace("{revision}", revision)


def code(text: str, at_mm: tuple[float, float], side_mm: float = CODE_MM) -> Group:
    """A code to scan, its lower left corner of ink at ``at_mm``, four modules of white round it."""
    import segno

    matrix = [list(row) for row in segno.make(text, error="m", micro=False).matrix]
    n = len(matrix)
    cell = side_mm / n
    x0, y0 = at_mm
    q = 4 * cell
    white = [
        (x0 - q, y0 - q),
        (x0 + side_mm + q, y0 - q),
        (x0 + side_mm + q, y0 + side_mm + q),
        (x0 - q, y0 + side_mm + q),
    ]
    rings: list[Array] = []
    for i, row in enumerate(matrix):
        top = y0 + side_mm - i * cell
        j = 0
        while j < n:
            if not row[j]:
                j += 1
                continue
            k = j
            while k < n and row[k]:
                k += 1
            left, right = x0 + j * cell, x0 + k * cell
            low = top - cell
            rings.append(np.array([(left, low), (right, low), (right, top), (left, top)]))
            j = k
    # one path of many rings: a print has hundreds of modules
    ink = Path(rings[0], None, True, Tone.INK, "CODE", tuple(rings[1:]))
    return Group((path(white, None, True, Tone.WHITE), ink), name=text, kind="code")
