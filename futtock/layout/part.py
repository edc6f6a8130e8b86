"""A part of a problem: some of its timbers on some of its slabs, with nothing tried again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from futtock.layout.ground import Ground
from futtock.layout.pattern import Patterns
from futtock.layout.poses import kept_poses
from futtock.layout.problem import Problem

Ints = NDArray[np.int64]


def part_of(
    problem: Problem, moulds: Sequence[int] | None = None, slabs: Sequence[int] | None = None
) -> Problem:
    """The problem of these moulds and slabs, by their numbers, in this order; None: all."""
    js = list(range(len(problem.moulds)) if moulds is None else moulds)
    ks = list(range(len(problem.slabs)) if slabs is None else slabs)
    used = sorted({problem.member[j].pattern for j in js})
    number = {i: n for n, i in enumerate(used)}
    rows, starts = [], []
    for k in ks:
        lengths = [problem.poses.start[k, i + 1] - problem.poses.start[k, i] for i in used]
        taken = [
            problem.poses.row[problem.poses.start[k, i] : problem.poses.start[k, i + 1]]
            for i in used
        ]
        rows.append(np.concatenate([*taken, problem.poses.row[:0]]))
        starts.append(np.cumsum([0, *lengths]).astype(np.int64))
    patterns = _patterns(problem.patterns, used)
    return replace(
        problem,
        moulds=tuple(problem.moulds[j] for j in js),
        slabs=tuple(problem.slabs[k] for k in ks),
        member=tuple(
            replace(problem.member[j], mould=n, pattern=number[problem.member[j].pattern])
            for n, j in enumerate(js)
        ),
        patterns=patterns,
        ground=_ground(problem.ground, ks),
        poses=kept_poses(rows, starts, patterns),
        may=np.ascontiguousarray(problem.may[np.ix_(used, ks)]),
        sound_m2=problem.sound_m2[ks],
    )


def _gather(flat: NDArray[Any], off: Ints, which: Sequence[int]) -> tuple[NDArray[Any], Ints]:
    parts = [flat[off[i] : off[i + 1]] for i in which]
    joined = np.ascontiguousarray(np.concatenate([*parts, flat[:0]]))
    return joined, np.cumsum([0, *(len(p) for p in parts)]).astype(np.int64)


def _patterns(P: Patterns, which: Sequence[int]) -> Patterns:
    disc, disc_off = _gather(P.disc, P.disc_off, which)
    grain, grain_off = _gather(P.grain, P.grain_off, which)
    edge, edge_off = _gather(P.edge, P.edge_off, which)
    field, field_off = _gather(P.field, P.field_off, which)
    ones = ("fx", "fy", "fr", "fc", "area", "plan", "lead", "long")
    return P._replace(
        disc=disc,
        disc_off=disc_off,
        grain=grain,
        grain_off=grain_off,
        edge=edge,
        edge_off=edge_off,
        field=field,
        field_off=field_off,
        **{name: np.ascontiguousarray(getattr(P, name)[list(which)]) for name in ones},
    )


def _ground(G: Ground, which: Sequence[int]) -> Ground:
    top, off = _gather(G.top, G.off, which)
    bottom, _ = _gather(G.bottom, G.off, which)
    grain, _ = _gather(G.grain, G.off, which)
    ones = ("x0", "y0", "rows", "columns", "sound", "cost")
    return G._replace(
        top=top,
        bottom=bottom,
        grain=grain,
        off=off,
        **{name: np.ascontiguousarray(getattr(G, name)[list(which)]) for name in ones},
    )
