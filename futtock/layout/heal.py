"""Healing a layout: a timber spoiled, a slab lost or newly measured; only what must moves."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from futtock.findings import Finding
from futtock.layout import kinds
from futtock.layout.bound import area_bound
from futtock.layout.ground import Ground
from futtock.layout.hand import best_for_slab
from futtock.layout.lay import lay
from futtock.layout.placement import Layout, Placement
from futtock.layout.problem import Problem
from futtock.progress import Report, quiet

_ROUNDS = 60  # of search over the few timbers that must move
_LOOSE = 6  # slabs whose uncut timbers may be laid again where nothing else helps


@dataclass(frozen=True, slots=True)
class Change:
    """One timber's change: where it lay and where it lies now (None: nowhere), and why."""

    mark: str
    was: str | None
    now: str | None
    why: str


@dataclass(frozen=True, slots=True)
class Healing:
    """A layout healed, and all that changed in it, in order of mark."""

    layout: Layout
    changes: tuple[Change, ...]


@dataclass(frozen=True, slots=True)
class Gain:
    """What a slab newly measured would do.

    ``placements`` on it; ``got`` timbers that had no place; ``freed`` slabs that need not be begun.
    """

    slab: str
    placements: tuple[Placement, ...]
    got: tuple[str, ...]
    freed: tuple[str, ...]


def heal(
    problem: Problem,
    layout: Layout,
    *,
    spoiled: Collection[str] = (),
    lost: Collection[str] = (),
    cut: Collection[str] = (),
    report: Report = quiet,
    seed: int = 0,
) -> Healing:
    """Heal a layout.

    Parameters
    ----------
    problem
        The moulds and slabs the layout was made from.
    spoiled
        Timbers that were cut and spoiled: they are wanted again, and the wood they lay in is gone.
    lost
        Slabs that can no longer be used.
    cut
        Timbers already cut or roughed out: they never move, whatever becomes of their slab.

    Returns
    -------
    Healing: first only homeless timbers move; where one then has no place, timbers not yet cut on
    a few slabs that could take it are laid again with it, and this is kept only if more are placed.
    """
    findings: list[Finding] = []
    marks = {m.mark for m in problem.moulds}
    slabs = {s.name for s in problem.slabs}
    unknown = sorted((set(spoiled) | set(cut)) - marks) + sorted(set(lost) - slabs)
    findings += [kinds.UNKNOWN_NAME.found(f"There is no {name}.", read=name) for name in unknown]
    was = {p.mark: p for p in layout.placements}
    stays = [
        p
        for p in layout.placements
        if p.mark not in spoiled and (p.slab not in lost or p.mark in cut)
    ]
    gone = [p for p in layout.placements if p.mark in spoiled and p.slab not in lost]
    ground = without(problem, gone)
    index = {s.name: k for k, s in enumerate(problem.slabs)}
    ok = problem.poses.ok.copy()
    ok[:, [index[n] for n in lost if n in index]] = False
    now = replace(problem, ground=ground, poses=problem.poses._replace(ok=ok))

    def again(locks: Sequence[Placement]) -> Layout:
        return lay(
            problem.moulds,
            problem.slabs,
            problem.settings,
            report,
            seed=seed,
            rounds=_ROUNDS,
            locks=locks,
            problem=now,
            bounded=False,
        )

    healed = again(stays)
    homeless = [m for m in healed.unplaced if m in was]
    if homeless:
        loose = _slabs_to_loosen(now, homeless, stays, cut)
        wider = again([p for p in stays if p.slab not in loose or p.mark in cut])
        if len(wider.placements) > len(healed.placements):
            healed = wider
    locked = {p.mark for p in layout.placements if p.locked}
    healed = replace(
        healed,
        placements=tuple(replace(p, locked=p.mark in locked) for p in healed.placements),
        findings=tuple(findings) + healed.findings,
    )
    number = {m.mark: j for j, m in enumerate(problem.moulds)}
    placed = [number[p.mark] for p in healed.placements]
    healed = replace(healed, bound=replace(healed.bound, value=area_bound(problem, placed)))
    return Healing(healed, _changes(was, healed, spoiled, lost))


def without(problem: Problem, gone: Sequence[Placement]) -> Ground:
    """The ground with the wood of these placements taken out, as far as their slabs are here."""
    from futtock.layout import filling
    from futtock.layout.islands import rules_of

    ground = problem.ground
    if not gone:
        return ground
    ground = ground._replace(top=ground.top.copy(), bottom=ground.bottom.copy())
    number = {m.mark: j for j, m in enumerate(problem.moulds)}
    index = {s.name: k for k, s in enumerate(problem.slabs)}
    rules = rules_of(problem.settings)
    for p in gone:
        if p.slab not in index or p.mark not in number:
            continue
        k = index[p.slab]
        a, b = ground.off[k], ground.off[k + 1]
        filling.cut_item(
            problem.patterns,
            ground,
            k,
            ground.top[a:b],
            ground.bottom[a:b],
            problem.item(number[p.mark], k, p),
            rules.gap,
        )
    return ground


def _slabs_to_loosen(
    problem: Problem, homeless: Sequence[str], stays: Sequence[Placement], cut: Collection[str]
) -> set[str]:
    """A few begun slabs, nothing cut from them, that could take the homeless timbers."""
    number = {m.mark: j for j, m in enumerate(problem.moulds)}
    index = {s.name: k for k, s in enumerate(problem.slabs)}
    wants = np.zeros(len(problem.slabs))
    for mark in homeless:
        wants += problem.poses.ok[problem.member[number[mark]].pattern]
    begun = {p.slab for p in stays} - {p.slab for p in stays if p.mark in cut or p.locked}
    chosen = sorted(begun, key=lambda n: (-wants[index[n]], n))[:_LOOSE]
    return {n for n in chosen if wants[index[n]] > 0}


def _changes(
    was: dict[str, Placement],
    healed: Layout,
    spoiled: Collection[str],
    lost: Collection[str],
) -> tuple[Change, ...]:
    now = {p.mark: p for p in healed.placements}
    out = []
    for mark in sorted(set(was) | set(now)):
        a, b = was.get(mark), now.get(mark)
        same = (
            a is not None
            and b is not None
            and (a.slab, a.shift_mm, a.turn_deg, a.mirrored)
            == (b.slab, b.shift_mm, b.turn_deg, b.mirrored)
        )
        if same and mark not in spoiled:
            continue
        if mark in spoiled:
            why = "spoiled"
        elif a is not None and a.slab in lost:
            why = f"slab {a.slab} is lost"
        elif a is None:
            why = "now has a place"
        else:
            why = "made room"
        out.append(Change(mark, a.slab if a else None, b.slab if b else None, why))
    return tuple(out)


def gain_of(problem: Problem, layout: Layout, slab: str, *, cut: Collection[str] = ()) -> Gain:
    """What a slab not yet begun would improve: timbers without a place first, then poor slabs.

    ``problem`` must hold the slab. Slabs with anything cut from them are left alone.
    """
    placed = {p.mark for p in layout.placements}
    by: dict[str, list[str]] = {}
    for p in layout.placements:
        by.setdefault(p.slab, []).append(p.mark)
    homeless = [m.mark for m in problem.moulds if m.mark not in placed]
    answer = best_for_slab(problem, slab, done=sorted(placed))
    got = tuple(p.mark for p in answer.placements if p.mark in homeless)
    best = Gain(slab, answer.placements, got, ())
    index = {s.name: k for k, s in enumerate(problem.slabs)}
    own = float(problem.sound_m2[index[slab]])
    loose = [
        n
        for n in by
        if n != slab and not set(by[n]) & set(cut) and problem.sound_m2[index[n]] > own
    ]
    for name in sorted(loose, key=lambda n: (-problem.sound_m2[index[n]], n)):
        rest = [m for m in placed if m not in by[name]]
        there = best_for_slab(problem, slab, done=[*rest, *homeless])
        if len(there.placements) == len(by[name]):
            freed = Gain(slab, there.placements, (), (name,))
            if not best.got:
                return freed
            break
    return best
