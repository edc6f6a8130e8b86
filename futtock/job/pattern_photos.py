"""Patterns photographed: a pattern with two cards or more beside it becomes an outline.

The photograph is squared up by the cards as a slab's is; what it shows is the outline alone, so
its bevels are doubted as square until they are written on a drawing or taped.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from futtock.errors import Unreadable
from futtock.progress import Report

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from futtock.findings import Finding
    from futtock.job.keep import Keep

KINDS = ("jpg", "jpeg", "png")


def traced(
    files: Mapping[str, bytes], keep: Keep, report: Report
) -> tuple[dict[str, bytes], tuple[Finding, ...]]:
    """The files with every photograph made an SVG of the same name, and what was noticed.

    A photograph beside a drawing or a taped pattern of the same name is left alone. What a
    photograph gave is kept, so that it is read once.
    """
    out: dict[str, bytes] = {}
    findings: list[Finding] = []
    stems = {n.rsplit(".", 1)[0] for n in files if not _is_photo(n)}
    for name, data in files.items():
        stem = name.rsplit(".", 1)[0]
        if not _is_photo(name):
            out[name] = data
        elif stem not in stems:
            digest = hashlib.sha256(data).hexdigest()
            read = partial(_outline, data, name, report)
            ring, found = keep.made("pattern-photo", (digest,), read)
            findings += (replace(f, file=name) for f in found)
            if ring is not None:
                out[f"{stem}.svg"] = _svg(ring)
    return out, tuple(findings)


def _is_photo(name: str) -> bool:
    return name.rsplit(".", 1)[-1].lower() in KINDS


def _outline(
    data: bytes, name: str, report: Report
) -> tuple[NDArray[np.float64] | None, tuple[Finding, ...]]:
    """The outline (n, 2) in mm, None where there is none to be found, and the findings."""
    from futtock.stock.photo.pattern import pattern_outline

    try:
        return pattern_outline(data, name, report)
    except Unreadable as error:
        return None, tuple(error.findings)


def _svg(ring: NDArray[np.float64]) -> bytes:
    low, high = ring.min(axis=0), ring.max(axis=0)
    wide, tall = (high - low).tolist()
    points = (ring - (low[0], high[1])) * (1.0, -1.0)
    d = "M" + " L".join(f"{x:.3f},{y:.3f}" for x, y in points.tolist()) + " Z"
    head = f'width="{wide:.3f}mm" height="{tall:.3f}mm" viewBox="0 0 {wide:.3f} {tall:.3f}"'
    text = f'<svg xmlns="http://www.w3.org/2000/svg" {head}><path d="{d}"/></svg>'
    return text.encode()
