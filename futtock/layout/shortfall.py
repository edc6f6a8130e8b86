"""Why timbers have no place, and what slab would serve."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from futtock.findings import Finding
from futtock.layout import kinds
from futtock.layout.exact import thickness_needed
from futtock.layout.problem import Problem
from futtock.measure import close


def why_unplaced(problem: Problem, unplaced: Sequence[int]) -> list[Finding]:
    """A finding for each timber without a place, with the plainest true reason."""
    out: list[Finding] = []
    longest = max((float(np.hypot(*np.ptp(s.top_mm, axis=0))) for s in problem.slabs), default=0.0)
    thickest = max((s.thickness_mm for s in problem.slabs), default=0.0)
    style = problem.settings.show
    for j in unplaced:
        mould = problem.moulds[j]
        pattern = problem.member[j].pattern
        need = thickness_needed(mould, problem.settings)
        long = float(problem.patterns.long[pattern])
        if need > thickest:
            out.append(
                kinds.TOO_THIN.found(
                    f"{mould.mark} needs a slab {close(need, style)} thick; the thickest is "
                    f"{close(thickest, style)}.",
                    read=mould.mark,
                )
            )
        elif mould.length_mm > longest:
            out.append(
                kinds.TOO_LONG.found(
                    f"{mould.mark} is {close(mould.length_mm, style)} long; the longest slab "
                    f"measures {close(longest, style)} corner to corner.",
                    read=mould.mark,
                )
            )
        elif not problem.poses.ok[pattern].any():
            out.append(
                kinds.FITS_NOWHERE.found(
                    f"No place was found for {mould.mark} ({close(long, style)} along its middle "
                    "line) on any slab, even empty.",
                    read=mould.mark,
                    remedy=shape_that_would_serve(problem, mould.mark),
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


def shape_that_would_serve(problem: Problem, mark: str) -> str:
    """In words, the slab to look for where a timber has none: its length, width, sweep, thickness.

    Sweep is the rise of the grain from its own chord over the timber's length; the width is the
    timber's widest plus the guard, where the grain follows it truly; more where it does not.
    """
    j = next(j for j, m in enumerate(problem.moulds) if m.mark == mark)
    mould = problem.moulds[j]
    line = np.asarray(mould.grain_mm, float)
    chord = line[-1] - line[0]
    size = max(float(np.hypot(*chord)), 1e-9)
    off = (line - line[0]) @ np.array([-chord[1], chord[0]]) / size
    low, high = float(off.min()), float(off.max())
    style = problem.settings.show
    allow = 2.0 * (problem.settings.guard_mm + problem.settings.rough_allowance_mm)
    i = problem.member[j].pattern
    rows = problem.patterns.disc[problem.patterns.disc_off[i] : problem.patterns.disc_off[i + 1]]
    wide = 2.0 * float(rows[:, 2].max()) + allow
    need = thickness_needed(mould, problem.settings)
    where = (
        f"bent twice, {close(high, style)} one way and {close(-low, style)} the other"
        if low < -5.0 and high > 5.0
        else f"with the grain swept {close(max(high, -low), style)}"
    )
    return (
        f"A slab {close(mould.length_mm + 2 * allow, style)} long and {close(wide, style)} wide "
        f"along the sweep, {where} in {close(size, style)}, {close(need, style)} thick, clear of "
        "flaws."
    )
