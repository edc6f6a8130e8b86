"""Adding to the rack what was measured by tape."""

from __future__ import annotations

from dataclasses import dataclass

from futtock.errors import Unreadable
from futtock.findings import Finding, Severity
from futtock.stock.rack import Rack, added
from futtock.stock.slab import Slab
from futtock.stock.tape import read_tape
from futtock.stock.taped import taped_slab
from futtock.vessel.papers import Papers


@dataclass(frozen=True, slots=True)
class Addition:
    """A rack with what was added to it, and what was noticed on the way."""

    rack: Rack
    slabs: tuple[Slab, ...]
    findings: tuple[Finding, ...]

    @property
    def complete(self) -> bool:
        """True where nothing in the file was left off the rack."""
        return not any(f.severity is Severity.FAULT for f in self.findings)


def add_taped(rack: Rack, papers: Papers, file: str, unit: str = "mm") -> Addition:
    """The rack with the slabs of a tape record added.

    A slab that cannot be made, or whose name is taken, is left off with its findings; the others
    are added. Nothing is written.
    """
    records, findings = read_tape(papers, file, unit)
    noticed, new = list(findings), []
    for record in records:
        slab, found = taped_slab(record)
        noticed += found
        if slab is None:
            continue
        try:
            more = added(rack, slab)
        except Unreadable as trouble:
            noticed += trouble.findings
            continue
        noticed += more.findings[len(rack.findings) :]
        rack = more
        new.append(more.slabs[-1])
    return Addition(rack, tuple(new), tuple(noticed))
