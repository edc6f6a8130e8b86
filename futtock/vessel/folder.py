"""The vessel folder: everything the builder states, read in one pass with every fault at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType

from futtock.findings import Finding
from futtock.vessel import kinds
from futtock.vessel.model import Vessel
from futtock.vessel.offsets import read_offsets
from futtock.vessel.papers import Papers, did_you_mean
from futtock.vessel.plausible import stated_findings, table_findings
from futtock.vessel.smaller import (
    AsBuilt,
    Division,
    Mend,
    mended,
    read_as_built,
    read_divisions,
    read_ends,
    read_mends,
)
from futtock.vessel.stating import read_vessel
from futtock.vessel.table import Diagonal, OffsetTable

STATEMENT = "vessel.toml"


@dataclass(frozen=True)
class Stated:
    """What a vessel folder states.

    Attributes
    ----------
    folder
        Where it lies.
    vessel
        ``vessel.toml``; what could not be used is left out of it.
    table
        The table of offsets as printed, with the end lines; None where there is none to read
        (none stated, or not one that can be read: then a finding says so).
    mended
        The same with the mends put in: what later steps go by.
    mends, divisions, as_built
        Of ``mends.csv``, ``futtocks.csv`` and ``as_built.csv``; empty where there are none.
    files
        SHA-256 (hex) of each file that was read, by its name in the folder.
    findings
        Everything noticed, in the order of reading.
    """

    folder: Path
    vessel: Vessel
    table: OffsetTable | None
    mended: OffsetTable | None
    mends: tuple[Mend, ...]
    divisions: tuple[Division, ...]
    as_built: tuple[AsBuilt, ...]
    files: Mapping[str, str]
    findings: tuple[Finding, ...]


def read_folder(folder: Path | str) -> Stated:
    """Read a vessel folder.

    Nothing that stands in it makes this fail: what is wrong is among the findings, and the rest
    is given.
    """
    papers = Papers(Path(folder))
    if not papers.folder.is_dir():
        said = f"'{folder}' is not a folder."
        papers.note(kinds.NO_FOLDER.found(said, read=str(folder)))
        return _nothing(papers)
    if not papers.has(STATEMENT):
        there = [p.name for p in papers.folder.iterdir() if p.is_file()]
        meant = did_you_mean(STATEMENT, there)
        said = f"There is no {STATEMENT} in '{folder}'{meant}."
        remedy = f"Give that file the name {STATEMENT}." if meant else None
        papers.note(kinds.NO_FOLDER.found(said, file=STATEMENT, expected=STATEMENT, remedy=remedy))
        return _nothing(papers)
    text = papers.text_of(STATEMENT)
    vessel, found = read_vessel(text or "", STATEMENT)
    papers.findings += found
    papers.findings += stated_findings(vessel, STATEMENT)
    table = _table(papers, vessel)
    unit = vessel.lines.unit
    mends: tuple[Mend, ...] = ()
    if table is not None and papers.has("mends.csv"):
        mends = read_mends(papers, "mends.csv", unit, table)
    put_right = mended(table, mends) if table is not None else None
    if put_right is not None:
        papers.findings += table_findings(put_right, vessel)
    return Stated(
        papers.folder,
        vessel,
        table,
        put_right,
        mends,
        read_divisions(papers, "futtocks.csv", unit) if papers.has("futtocks.csv") else (),
        read_as_built(papers, "as_built.csv", unit) if papers.has("as_built.csv") else (),
        MappingProxyType(papers.hashes),
        tuple(papers.findings),
    )


def _table(papers: Papers, vessel: Vessel) -> OffsetTable | None:
    lines = vessel.lines
    name = lines.offsets
    if name is None and lines.points is None:
        name = next((n for n in ("offsets.csv", "offsets.xlsx") if papers.has(n)), None)
        if name is None and not (papers.folder / "patterns").is_dir():
            said = "Neither a table of offsets, nor survey points, nor patterns are there."
            papers.note(
                kinds.MISSING_FILE.found(
                    said,
                    file=STATEMENT,
                    column="lines.offsets",
                    expected="offsets.csv",
                    remedy='Write the table to offsets.csv, or name it: [lines] offsets = "..."',
                )
            )
    if name is None:
        return None
    planes = {n: Diagonal(n, d.height_mm, d.slope_deg) for n, d in vessel.diagonals.items()}
    table = read_offsets(papers, name, lines.unit, planes)
    ends = lines.ends or ("ends.csv" if papers.has("ends.csv") else None)
    if table is None or ends is None:
        return table
    points, numbers = read_ends(papers, ends, lines.unit)
    return replace(table, ends=points, ends_file=ends, end_lines=numbers)


def _nothing(papers: Papers) -> Stated:
    return Stated(
        papers.folder,
        Vessel(),
        None,
        None,
        (),
        (),
        (),
        MappingProxyType({}),
        tuple(papers.findings),
    )
