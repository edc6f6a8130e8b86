"""Why timbers have no place, and what slab would serve."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from futtock.findings import Finding
from futtock.layout import kinds
from futtock.layout.exact import thickness_needed
from futtock.layout.problem import Problem


def why_unplaced(problem: Problem, unplaced: Sequence[int]) -> list[Finding]:
    """A finding for each timber without a place, with the plainest true reason."""
    out: list[Finding] = []
    longest = max((float(np.hypot(*np.ptp(s.top_mm, axis=0))) for s in problem.slabs), default=0.0)
    thickest = max((s.thickness_mm for s in problem.slabs), default=0.0)
    for j in unplaced:
        mould = problem.moulds[j]
        pattern = problem.member[j].pattern
        need = thickness_needed(mould, problem.settings)
        long = float(problem.patterns.long[pattern])
        if need > thickest:
            out.append(
                kinds.TOO_THIN.found(
                    f"{mould.mark} needs a slab {need:.0f} mm thick; the thickest is "
                    f"{thickest:.0f} mm.",
                    read=mould.mark,
                )
            )
        elif mould.length_mm > longest:
            out.append(
                kinds.TOO_LONG.found(
                    f"{mould.mark} is {mould.length_mm:.0f} mm long; the longest slab measures "
                    f"{longest:.0f} mm corner to corner.",
                    read=mould.mark,
                )
            )
        elif not problem.poses.ok[pattern].any():
            out.append(
                kinds.FITS_NOWHERE.found(
                    f"No place was found for {mould.mark} ({long:.0f} mm along its middle line) on "
                    "any slab, even empty.",
                    read=mould.mark,
                )
            )
        else:
            n = int(problem.poses.ok[pattern].sum())
            out.append(
                kinds.UNPLACED.found(
                    f"{mould.mark} fits {n} of the slabs, but other timbers took their room.",
                    read=mould.mark,
                )
            )
    return out
