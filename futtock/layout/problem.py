"""Moulds and slabs made ready for laying: what is refused and why, patterns, ground, poses."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from futtock.findings import Finding
from futtock.layout import kinds
from futtock.layout.exact import sound_polygon, thickness_needed
from futtock.layout.ground import Ground, ground_of
from futtock.layout.pattern import Member, Patterns, members_of, patterns_of
from futtock.layout.placement import Placement
from futtock.layout.poses import CAP, find_poses, kept_poses
from futtock.layout.settings import LaySettings
from futtock.layout.store import Store
from futtock.moulds.mould import Mould
from futtock.progress import Progress, Report, quiet
from futtock.stock.slab import Slab

if TYPE_CHECKING:
    from futtock.layout.filling import Poses

Array = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Problem:
    """What is to be laid on what.

    ``moulds`` and ``slabs`` are those that can be used; ``member`` (one a mould) ties moulds to
    patterns; ``may`` (patterns, slabs) where thickness and wishes allow a pattern on a slab.
    ``sound_m2`` (slabs,) is the area of each bottom face, that yield is reckoned on.
    """

    moulds: tuple[Mould, ...]
    slabs: tuple[Slab, ...]
    settings: LaySettings
    member: tuple[Member, ...]
    patterns: Patterns
    ground: Ground
    poses: Poses
    may: NDArray[np.bool_]
    sound_m2: Array
    findings: tuple[Finding, ...]

    def marks_of(self) -> list[list[int]]:
        """The moulds of each pattern, in order."""
        out: list[list[int]] = [[] for _ in range(len(self.patterns.area))]
        for j, member in enumerate(self.member):
            out[member.pattern].append(j)
        return out

    def placement(self, j: int, k: int, item: Array, *, locked: bool = False) -> Placement:
        """Mould j as an item (see :mod:`futtock.layout.search`) on slab k."""
        member = self.member[j]
        variant = int(item[1])
        mirrored = (variant >= 2) != member.flip
        turn = float(np.degrees(item[4])) + (180.0 if variant in (1, 3) else 0.0)
        turn = (turn + 180.0) % 360.0 - 180.0
        bare = Placement("", "", turn, (0.0, 0.0), mirrored, 0.0, 0.0)
        at = np.array([item[2] + self.ground.x0[k], item[3] + self.ground.y0[k]])
        shift = at - bare.lay(np.asarray(member.origin_mm))
        return Placement(
            self.moulds[j].mark,
            self.slabs[k].name,
            turn,
            (float(shift[0]), float(shift[1])),
            mirrored,
            float(item[5]),
            float(item[6]),
            locked,
        )

    def item(self, j: int, k: int, placement: Placement) -> Array:
        """The item that a placement of mould j on slab k is."""
        member = self.member[j]
        at = placement.lay(np.asarray(member.origin_mm))
        variant = 2.0 if placement.mirrored != member.flip else 0.0
        return np.array(
            [
                member.pattern,
                variant,
                at[0] - self.ground.x0[k],
                at[1] - self.ground.y0[k],
                np.radians(placement.turn_deg),
                placement.slope_mean,
                placement.slope_worst,
            ]
        )


def usable_moulds(moulds: Sequence[Mould]) -> tuple[list[Mould], list[Finding]]:
    """Moulds with area, a middle line and a mark of their own; findings for the rest."""
    good: list[Mould] = []
    findings: list[Finding] = []
    seen: set[str] = set()
    for m in moulds:
        line = np.asarray(m.grain_mm, float)
        whole = all(
            len(r) > 2 and np.isfinite(r).all() and sound_polygon(r).area > 100.0
            for r in (m.outline_up_mm, m.outline_down_mm)
        )
        long = len(line) > 1 and np.hypot(*np.diff(line, axis=0).T).sum() > 10.0
        if m.mark in seen:
            findings.append(
                kinds.TWICE.found(
                    f"Two moulds are marked {m.mark}; the first is laid.", read=m.mark
                )
            )
        elif not (whole and long and np.isfinite(line).all()):
            findings.append(
                kinds.EMPTY_MOULD.found(
                    f"{m.mark} has no area or no middle line and is left out.", read=m.mark
                )
            )
        else:
            good.append(m)
        seen.add(m.mark)
    return good, findings


def usable_slabs(slabs: Sequence[Slab], settings: LaySettings) -> tuple[list[Slab], list[Finding]]:
    """Slabs with sound wood, a name of their own, and not forbidden; findings for the rest."""
    good: list[Slab] = []
    findings: list[Finding] = []
    seen: set[str] = set()
    names = {s.name for s in slabs}
    wished = settings.forbid | settings.keep_for_later | {s for _m, s in settings.forbid_pairs}
    findings.extend(
        kinds.UNKNOWN_NAME.found(f"There is no slab named {name}.", read=name)
        for name in sorted(wished - names)
    )
    for s in slabs:
        if s.name in seen:
            findings.append(
                kinds.SLAB_TWICE.found(f"Two slabs are named {s.name}; the first is used.")
            )
        elif s.name in settings.forbid:
            pass
        elif min(len(s.top_mm), len(s.bottom_mm)) < 3 or not all(
            np.isfinite(r).all() and sound_polygon(r).area > 100.0 for r in (s.top_mm, s.bottom_mm)
        ):
            findings.append(
                kinds.EMPTY_SLAB.found(f"Slab {s.name} holds no sound wood and is passed over.")
            )
        else:
            good.append(s)
        seen.add(s.name)
    return good, findings


def begun_cost(slabs: Sequence[Slab], sound_m2: Array, settings: LaySettings) -> Array:
    """What beginning each slab counts (slabs,), in square metres of an ordinary slab."""
    if not len(slabs):
        return np.empty(0)
    w = settings.weights
    value = sound_m2.copy()
    prices = [s.price for s in slabs]
    if all(p is not None for p in prices):
        price = np.array(prices, float)
        if price.sum() > 0:
            value = price * sound_m2.sum() / price.sum()
    if w.save_crooks > 0.0:
        rare = np.array([_crookedness(s) for s in slabs])
        value = value * (1.0 + 0.25 * w.save_crooks * rare)
    cost = w.little_timber * value + w.few_slabs * float(sound_m2.mean())
    cost = cost * sound_m2.sum() / max(float(cost.sum()), 1e-9)
    for k, s in enumerate(slabs):
        if s.stack in settings.prefer_stacks:
            cost[k] *= 0.9
    return np.asarray(cost, float)


def _crookedness(slab: Slab) -> float:
    """0 for a short straight slab to about 2 for a long or crooked one: its sweep in tenths of
    its length, and its length in steps of 3 m.
    """
    ring = np.asarray(slab.top_mm, float)
    centred = ring - ring.mean(0)
    _u, _s, vt = np.linalg.svd(centred, full_matrices=False)
    long = float(np.ptp(centred @ vt[0]))
    sweep = 0.0
    for line in slab.grain_mm:
        if len(line) > 2:
            chord = line[-1] - line[0]
            size = max(float(np.hypot(*chord)), 1.0)
            off = np.abs((line - line[0]) @ np.array([-chord[1], chord[0]]) / size)
            sweep = max(sweep, float(off.max()) / size)
    return min(10.0 * sweep, 1.0) + min(long / 3000.0, 1.0)


def prepare(
    moulds: Sequence[Mould],
    slabs: Sequence[Slab],
    settings: LaySettings,
    report: Report = quiet,
    *,
    store: Store | None = None,
    cap: int = CAP,
    only: Collection[str] | None = None,
) -> Problem:
    """Make everything ready. Timbers and slabs that cannot be used come out as findings.

    With ``only``, poses are sought for the timbers of these marks alone.
    """
    good, findings = usable_moulds(moulds)
    rack, more = usable_slabs(slabs, settings)
    findings += more
    marks = {m.mark for m in good}
    barred: dict[str, set[str]] = {}
    for mark, name in sorted(settings.forbid_pairs):
        barred.setdefault(mark, set()).add(name)
        if mark not in marks:
            findings.append(kinds.UNKNOWN_NAME.found(f"There is no timber {mark}.", read=mark))
    need = [thickness_needed(m, settings) for m in good]
    apart = [(t, frozenset(barred.get(m.mark, ()))) for m, t in zip(good, need, strict=True)]
    report(Progress("reading moulds", 0, len(good)))
    member, first = members_of(good, apart, settings.wane_mm)
    drawn = [good[j] for j in first]
    asked = {w.pattern for w in member if only is None or good[w.mould].mark in only}
    patterns = patterns_of(drawn, settings, searched=asked)
    may = np.ones((len(drawn), len(rack)), bool)
    for i, j in enumerate(first):
        for k, slab in enumerate(rack):
            if slab.thickness_mm < need[j] - 1e-9 or slab.name in apart[j][1]:
                may[i, k] = False
    sound = np.array([float(sound_polygon(s.bottom_mm).area) for s in rack]) / 1e6
    # alike whichever timbers are asked about, so that slabs once read need not be read again
    broad = patterns.area * 1e6 / np.maximum(patterns.long, 1.0)
    widest = max(float(patterns.disc[:, 2].max(initial=60.0)), 0.75 * float(broad.max(initial=0.0)))
    reach = 20.0 * np.ceil((30.0 + widest) / 20.0)
    ground = ground_of(
        rack,
        settings,
        begun_cost(rack, sound, settings),
        reach_mm=max(float(reach), 95.0),
        report=report,
        store=store,
    )
    wanted = may.copy()
    if only is not None:
        wanted[[i for i in range(len(drawn)) if i not in asked]] = False
    rows, starts = find_poses(patterns, ground, wanted, report, store=store, cap=cap)
    poses = kept_poses(rows, starts, patterns)
    return Problem(
        tuple(good),
        tuple(rack),
        settings,
        tuple(member),
        patterns,
        ground,
        poses,
        may,
        sound,
        tuple(findings),
    )
