"""What each slab can give: every timber tried on every slab, worked out once and kept."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from futtock.errors import Misused
from futtock.job.accounts import counted
from futtock.job.answer import Answer

if TYPE_CHECKING:
    from futtock.job.office.office import Office
    from futtock.job.office.tasks import Outcome, Running
    from futtock.job.whole import Job


@dataclass(frozen=True)
class Giving:
    """What is known of it: the timbers that have a place on each slab, were it empty."""

    slabs: dict[str, frozenset[str]]
    timbers: int
    stale: bool
    running: Running | None
    failed: str

    @property
    def known(self) -> bool:
        """Whether it has been worked out."""
        return bool(self.slabs)

    def count(self, slab: str) -> int:
        """How many timbers have a place on it."""
        return len(self.slabs.get(slab, ()))

    def gives(self, slab: str, asked: str) -> bool:
        """Whether it can give a timber of that mark, or one of that frame.

        Raises
        ------
        Misused
            Where it has not been worked out.
        """
        if not self.known:
            raise Misused("What each slab can give has not been worked out yet.")
        asked = asked.strip()
        return any(m == asked or m.startswith(f"{asked}-") for m in self.slabs.get(slab, ()))


def giving(office: Office) -> Giving:
    """What was worked out last."""
    found: Outcome | None = office.tasks.outcome("gives")
    running = office.tasks.running("gives")
    job = office.sitting().need("papers")
    if found is None or found.document is None:
        return Giving({}, 0, False, running, "" if found is None else found.failed)
    d = found.document
    marks = d["marks"]
    slabs = {name: frozenset(marks[k] for k in at) for name, at in d["slabs"].items()}
    stale = found.revision != job.revision or d["pile"] != pile_code(office.folder)
    return Giving(slabs, len(marks), stale, running, "")


def work_out(job: Job) -> Answer:
    """Try every timber on every slab; the worker's part."""
    from futtock.job.pile import Pile

    problem = Pile(job).problem
    marks = [m.mark for m in problem.moulds]
    slabs: dict[str, list[int]] = {
        slab.name: [
            j for j, member in enumerate(problem.member) if problem.poses.ok[member.pattern, k]
        ]
        for k, slab in enumerate(problem.slabs)
    }
    document: dict[str, Any] = {"marks": marks, "slabs": slabs, "pile": pile_code(job.folder)}
    none = sum(not at for at in slabs.values())
    said = f"{counted(len(marks), 'timber')} tried on {counted(len(slabs), 'slab')}"
    said += f"; {none} can give none."
    return Answer(document, said)


def pile_code(folder: Path) -> str:
    """A short code of the rack's files."""
    digest = hashlib.sha256()
    for path in sorted([folder / "slabs.json", *(folder / "slabs").glob("*.json")]):
        if path.is_file():
            digest.update(path.read_bytes())
    return digest.hexdigest()[:10]
