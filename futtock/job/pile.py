"""The pile: timbers laid out, the accepted layout and its locks, healing, the cutting plan."""

from __future__ import annotations

import json
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from futtock.job import settings
from futtock.job.accepted import ACCEPTED, SPENT, Accepted, read_accepted
from futtock.job.whole import Job
from futtock.job.written import KEPT, Written

if TYPE_CHECKING:
    from futtock.layout.cutting import SlabPlan
    from futtock.layout.exact import Verdict
    from futtock.layout.hand import Place, SlabAnswer
    from futtock.layout.heal import Healing
    from futtock.layout.placement import Layout, Placement
    from futtock.layout.problem import Problem
    from futtock.layout.proof import Proof
    from futtock.layout.settings import LaySettings
    from futtock.layout.store import Store
    from futtock.moulds.mould import Mould
    from futtock.stock.slab import Slab


@dataclass(frozen=True)
class Shown:
    """What of the yard's work bears on the layout: timbers cut, timbers spoiled, slabs gone."""

    cut: tuple[str, ...] = ()
    spoiled: tuple[str, ...] = ()
    lost: tuple[str, ...] = ()
    consumed: tuple[str, ...] = ()
    spoilings: tuple[str, ...] = ()
    """Ids of the entries by which ``spoiled`` were spoiled, one each."""


class Pile:
    """The timbers of a job and the slabs they are to come out of.

    Parameters
    ----------
    job
        The vessel's job.
    slabs
        The slabs to use; None: all of the vessel folder's rack.
    """

    def __init__(self, job: Job, slabs: tuple[Slab, ...] | None = None) -> None:
        self.job = job
        self.slabs = job.slabs() if slabs is None else slabs

    @cached_property
    def settings(self) -> LaySettings:
        """How timbers are laid on slabs."""
        return settings.lay_settings(self.job.sound.vessel)

    @property
    def _store(self) -> Store:
        from futtock.layout.store import FolderStore

        return FolderStore(self.job.folder / KEPT / "poses")

    @cached_property
    def problem(self) -> Problem:
        """Every timber tried on every slab; found places are kept between runs.

        What is spent of a slab is taken out of it; slabs used up or spoiled give nothing more.
        """
        from futtock.layout.heal import without
        from futtock.layout.problem import prepare

        whole = prepare(
            self.job.moulds, self.slabs, self.settings, self.job.report, store=self._store
        )
        ok = whole.poses.ok.copy()
        gone = {*self.shown.lost, *self.shown.consumed}
        ok[:, [k for k, s in enumerate(whole.slabs) if s.name in gone]] = False
        ground = without(whole, list(self.spent.values()))
        return replace(whole, ground=ground, poses=whole.poses._replace(ok=ok))

    @property
    def accepted(self) -> tuple[Placement, ...]:
        """The placements of ``layout.json``; none where there is no such file.

        Raises
        ------
        Unreadable
            Where the file is no layout.
        """
        return self._accepted.placements

    @cached_property
    def hers(self) -> tuple[Placement, ...]:
        """Those of :attr:`accepted` that place timbers which her frames have now."""
        marks = {m.mark for m in self.job.moulds}
        return tuple(p for p in self.accepted if p.mark in marks)

    @cached_property
    def _accepted(self) -> Accepted:
        return read_accepted(self.job.folder)

    @property
    def spent(self) -> Mapping[str, Placement]:
        """Where the wood is gone with spoiled timbers, by the id of the entry that says so."""
        lay_there = {p.mark: p for p in self.accepted}
        now = zip(self.shown.spoilings, self.shown.spoiled, strict=True)
        return {
            **self._accepted.spent,
            **{id: lay_there[mark] for id, mark in now if mark in lay_there},
        }

    @property
    def _spent_shapes(self) -> tuple[list[Mould], list[Placement]]:
        """The wood that is spent, as timbers of its own that lie where it was."""
        moulds = {m.mark: m for m in self.job.moulds}
        shapes, gone = [], []
        for id, place in self.spent.items():
            if place.mark in moulds:
                name = f"{place.mark} spoiled ({id})"
                shapes.append(replace(moulds[place.mark], mark=name))
                gone.append(replace(place, mark=name))
        return shapes, gone

    def document(self, layout: Layout) -> dict[str, Any]:
        """A layout as JSON, with the wood that is spent."""
        from futtock.layout.document import layout_json, placement_json

        spent = [{"id": id, **placement_json(p)} for id, p in sorted(self.spent.items())]
        return {**layout_json(layout), **({SPENT: spent} if spent else {})}

    def accept(self, layout: Layout) -> Path:
        """Write the layout as the accepted one, locks and all."""
        from futtock.job.prints import record_laid

        content = json.dumps(self.document(layout), indent=1) + "\n"
        Written(self.job.folder).put(ACCEPTED, content)
        record_laid(self.job)
        for name in ("_accepted", "shown", "problem"):
            self.__dict__.pop(name, None)
        return self.job.folder / ACCEPTED

    def lay(
        self, *, seed: int | None = None, rounds: int | None = None, seconds: float | None = None
    ) -> Layout:
        """The best layout found; what is locked or cut already stays where it lies."""
        from futtock.layout.lay import lay

        if rounds is None and seconds is None:
            seconds = self.job.sound.vessel.layout.seconds
        asked = self.job.sound.vessel.layout.seed
        here, cut = {s.name for s in self.slabs}, set(self.shown.cut)
        locks = [p for p in self.hers if p.locked or (p.mark in cut and p.slab in here)]
        laid_out = {p.mark for p in self.hers}
        found = lay(
            self.job.moulds,
            self.slabs,
            self.settings,
            self.job.report,
            seed=asked if seed is None else seed,
            rounds=rounds,
            seconds=seconds,
            clock=time.perf_counter,
            locks=locks,
            done=cut - laid_out,
            problem=self.problem,
        )
        locked = {p.mark for p in locks if p.locked}
        placements = tuple(replace(p, locked=p.mark in locked) for p in found.placements)
        return replace(found, placements=placements)

    def best_places(self, mark: str, count: int = 10) -> tuple[Place, ...]:
        """The best places for one timber over the whole rack, beside what is laid out."""
        from futtock.errors import Misused
        from futtock.layout.hand import best_places

        moulds = {m.mark: m for m in self.job.moulds}
        if mark not in moulds:
            raise Misused(f"There is no timber {mark}.")
        shapes, gone = self._spent_shapes
        no_more = {*self.shown.lost, *self.shown.consumed}
        return best_places(
            moulds[mark],
            [s for s in self.slabs if s.name not in no_more],
            self.settings,
            self.job.report,
            n=count,
            taken=[*(p for p in self.hers if p.mark != mark), *gone],
            moulds=[*self.job.moulds, *shapes],
            store=self._store,
        )

    def of_slab(self, name: str, seed: int = 0) -> SlabAnswer:
        """What is best cut from a slab that is on the forks now."""
        from futtock.layout.hand import best_for_slab

        done = self.shown.cut
        return best_for_slab(self.problem, name, done=done, seed=seed)

    def judge(self, placement: Placement) -> Verdict:
        """The verdict on a placement by hand among the accepted ones."""
        from futtock.layout.hand import judge_by_hand

        shapes, gone = self._spent_shapes
        moulds = [*self.job.moulds, *shapes]
        others = [*self.hers, *gone]
        return judge_by_hand(moulds, self.slabs, self.settings, placement, others)

    @cached_property
    def shown(self) -> Shown:
        """What the journal shows of the timbers and slabs; nothing where there is no journal."""
        from futtock.yard import Journal, place_of
        from futtock.yard.stages import TIMBER_STAGES

        place = place_of(self.job.folder)
        if isinstance(place, Path) and not place.exists():
            return Shown()
        with Journal(place, create=False) as journal:
            state = journal.state()
        roughed = TIMBER_STAGES.index("roughed")
        begun = set(TIMBER_STAGES[roughed:])
        cut = [mark for mark, piece in state.pieces.items() if begun & set(piece.done)]
        amiss = {
            mark: last.id
            for mark, piece in state.pieces.items()
            if piece.to_make_anew and (last := piece.lost[-1].spoiled) is not None
        }
        spoiled = [mark for mark, id in amiss.items() if id not in self._accepted.spent]  # not yet
        lost = [name for name, slab in state.slabs.items() if slab.state == "spoiled"]
        consumed = [name for name, slab in state.slabs.items() if slab.state == "consumed"]
        again = tuple(amiss[mark] for mark in spoiled)
        return Shown(tuple(cut), tuple(spoiled), tuple(lost), tuple(consumed), again)

    def heal(self, spoiled: Sequence[str] = (), lost: Sequence[str] = ()) -> Healing:
        """Mend the accepted layout after spoiled timbers and lost slabs; little else moves."""
        from futtock.layout.heal import heal
        from futtock.layout.placement import Bound, Layout

        shown = self.shown
        nothing = Bound("", 0.0, 0.0)
        return heal(
            self.problem,
            Layout(self.hers, (), 0, 0.0, nothing, 0.0),
            spoiled=[*shown.spoiled, *spoiled],
            lost=[*shown.lost, *lost],
            cut=shown.cut,
            report=self.job.report,
        )

    def healed_document(self, healing: Healing) -> dict[str, Any]:
        """A healed layout as JSON, with what changed."""
        changes = [
            {"mark": c.mark, "was": c.was, "now": c.now, "why": c.why} for c in healing.changes
        ]
        return {**self.document(healing.layout), "changes": changes}

    def cutting_plan(self, layout: Layout) -> tuple[SlabPlan, ...]:
        """The order of slabs, rough cuts, offcuts and what to transfer by tape."""
        from futtock.layout.cutting import cutting_plan

        return cutting_plan(layout, self.job.moulds, self.slabs, self.settings, cut=self.shown.cut)

    def prove(self, layout: Layout) -> Proof:
        """Everything that can be proven of a layout; takes minutes on a large rack."""
        from futtock.layout.proof import prove

        return prove(self.problem, layout, self.job.report, clock=time.perf_counter)


def slab_of(placements: Sequence[Placement]) -> dict[str, str]:
    """Slab by piece mark."""
    return {p.mark: p.slab for p in placements}


def place_document(place: Place) -> dict[str, Any]:
    """One of the best places, as JSON."""
    from futtock.layout.document import placement_json

    return {
        **placement_json(place.placement),
        "snug_mm": round(place.snug_mm, 3),
        "faults": [f.says for f in place.verdict.faults],
    }
