"""The pile as ``enough`` sees it: what is measured, what only counted, what is still wanted."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from futtock.errors import Misused
from futtock.findings import Finding, Kind, Severity
from futtock.job.accounts import counted
from futtock.job.pile import Pile
from futtock.job.whole import Job

if TYPE_CHECKING:
    from futtock.layout.alike import Alike
    from futtock.layout.problem import Problem
    from futtock.stock.slab import Slab

COUNT_SHORT = Kind(
    "J020",
    Severity.DOUBT,
    "A stack is said to hold fewer slabs than are measured of it",
    "Count the stack again; what is measured is taken to be all of it.",
)

LIKE = 4
"""Slabs made over from each that is measured."""

_COUNT = re.compile(r"\s*(\d+)\s*")
_BULK = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(m3|m³|bd ?ft|board feet|board ft)\s*", re.IGNORECASE)


@dataclass(frozen=True)
class Stack:
    """A stack: slabs measured and still whole, and how many lie there unmeasured."""

    name: str
    measured: int
    unmeasured: int
    measured_m3: float


class Stocktaking:
    """The pile as the question sees it: what is measured, what only counted, what is wanted.

    Parameters
    ----------
    job
        The vessel's job.
    stacks
        What the builder says the stacks hold in all: a count of slabs (``"40"``) or a volume
        (``"2.5 m3"``, ``"600 bd ft"``), by the stack's name; a stack not named holds what the
        rack lists.
    file
        Another rack's file.
    """

    def __init__(
        self, job: Job, stacks: Mapping[str, str] | None = None, file: str | None = None
    ) -> None:
        self.job = job
        self.said = dict(stacks or {})
        self.file = file
        self.findings: list[Finding] = []

    @cached_property
    def at_hand(self) -> tuple[Slab, ...]:
        """Slabs of the rack that are neither begun nor gone, as the journal shows them."""
        from futtock.stock.pile import State, at_hand
        from futtock.yard import Journal, place_of

        slabs = self.job.slabs(file=self.file)
        place = place_of(self.job.folder)
        if isinstance(place, Path) and not place.exists():
            return slabs
        with Journal(place, create=False) as journal:
            states = journal.state().slab_states()
        return at_hand(slabs, {name: State(now) for name, now in states.items()})

    @cached_property
    def measured(self) -> tuple[Slab, ...]:
        """The slabs whose outlines may be used."""
        return tuple(s for s in self.at_hand if s.measured)

    @cached_property
    def stacks(self) -> tuple[Stack, ...]:
        """Every stack with what lies in it; counts below what is measured are told of."""
        from futtock.stock.weight import volume_m3

        names = sorted({s.stack for s in self.at_hand} | set(self.said))
        every = [volume_m3(s) for s in self.measured]
        out = []
        for name in names:
            bulk = [volume_m3(s) for s in self.measured if s.stack == name]
            rest = sum(s.stack == name and not s.measured for s in self.at_hand)
            if name in self.said:
                total = _slabs_said(name, self.said[name], bulk or every)
                rest = total - len(bulk)
            if rest < 0:
                shown = f"stack {name}" if name else "the pile"
                self.findings.append(
                    COUNT_SHORT.found(
                        f"{shown} is said to hold {self.said[name]}, but "
                        f"{counted(len(bulk), 'slab')} of it are measured.",
                        line=name or None,
                        read=self.said[name],
                        expected=f"{len(bulk)} or more",
                    )
                )
                rest = 0
            out.append(Stack(name, len(bulk), rest, sum(bulk)))
        return tuple(out)

    @cached_property
    def pile(self) -> Pile:
        """The timbers and the measured slabs."""
        return Pile(self.job, self.measured)

    @cached_property
    def problem(self) -> Problem:
        """The timbers still to be got, tried on the measured slabs."""
        from futtock.layout.problem import prepare
        from futtock.layout.store import FolderStore

        done = set(self.pile.shown.cut)
        wanted = [m for m in self.job.moulds if m.mark not in done]
        store = FolderStore(self.job.folder / ".futtock" / "poses")
        slabs = (*self.measured, *self.like.slabs)
        return prepare(wanted, slabs, self.pile.settings, self.job.report, store=store)

    @cached_property
    def measured_part(self) -> Problem:
        """The timbers still to be got on the measured slabs alone."""
        from futtock.layout.part import part_of

        own = [k for k, s in enumerate(self.problem.slabs) if s.name not in self.like.parent]
        return part_of(self.problem, None, own)

    @cached_property
    def like(self) -> Alike:
        """Slabs like those measured, that stand for the unmeasured; none where all are measured."""
        from futtock.layout.alike import alike

        return alike(self.measured, LIKE if any(s.unmeasured for s in self.stacks) else 0)


def _slabs_said(name: str, said: str, bulk: Sequence[float]) -> int:
    """A count of slabs from what was said; a volume is divided by the mean slab measured."""
    from futtock.measure.bulk import cubic_metres

    count = _COUNT.fullmatch(said)
    if count:
        return int(count[1])
    volume = _BULK.fullmatch(said)
    if not volume:
        raise Misused(
            f"stack {name} is said to hold '{said}': give a count, as 40, or a volume, as 2.5 m3."
        )
    if not bulk:
        raise Misused(
            f"stack {name} is said to hold {said}, but no slab is measured to tell how many "
            "slabs that is: give a count."
        )
    m3 = float(volume[1]) if "m" in volume[2].lower() else cubic_metres(float(volume[1]))
    return max(len(bulk), round(m3 / (sum(bulk) / len(bulk))))


def read_stacks(words: Sequence[str]) -> dict[str, str]:
    """``NAME=HOLDS`` words as a mapping; a stack without a name is ``=40``."""
    out: dict[str, str] = {}
    for word in words:
        name, is_, holds = word.partition("=")
        if not is_ or not holds.strip():
            raise Misused(f"'{word}': say the stack and what it holds in all, as A=40 or A=2.5m3.")
        if name.strip() in out:
            raise Misused(f"stack {name.strip()} is said twice.")
        out[name.strip()] = holds.strip()
    return out
