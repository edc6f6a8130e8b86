"""The rack: ``slabs.json`` or ``slabs/*.json`` read with every fault at once, and written back."""

from __future__ import annotations

import json
import os
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from futtock.errors import Misused, Unreadable
from futtock.findings import Finding, Severity
from futtock.stock import kinds
from futtock.stock.entry import KEYS, read_entry, slab_entry
from futtock.stock.inspect import SETS_ASIDE, inspect_slab
from futtock.stock.outline import middle_line
from futtock.stock.slab import Slab


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of a rack file as it stood there, so that nothing is lost when it is written."""

    file: str
    name: str
    raw: Any


@dataclass(frozen=True, slots=True)
class Rack:
    """The slabs of a yard.

    Attributes
    ----------
    slabs
        Those that can be laid out, in the order of the file.
    set_aside
        Names (or places) of entries that cannot be until a finding is mended.
    findings
        Everything noticed, by entry.
    entries
        All entries as written, those set aside too.
    """

    slabs: tuple[Slab, ...]
    findings: tuple[Finding, ...] = ()
    set_aside: tuple[str, ...] = ()
    entries: tuple[Entry, ...] = ()

    def __getitem__(self, name: str) -> Slab:
        """The slab of that name; :class:`Misused` where there is none."""
        for slab in self.slabs:
            if slab.name == name:
                return slab
        raise Misused(f"no slab named {name} on the rack")

    @property
    def faults(self) -> tuple[Finding, ...]:
        """Findings that stop whatever needs the rack."""
        return tuple(f for f in self.findings if f.severity is Severity.FAULT)


def rack_files(folder: Path) -> tuple[Path, ...]:
    """The rack files of a vessel folder: ``slabs.json``, then ``slabs/*.json`` by name."""
    one = folder / "slabs.json"
    return (*([one] if one.is_file() else []), *sorted((folder / "slabs").glob("*.json")))


def read_rack(path: Path) -> Rack:
    """The rack of a vessel folder, or of one rack file.

    Parameters
    ----------
    path
        A vessel folder, a folder of ``*.json``, or a file.

    Returns
    -------
    Rack
        With findings; a file that is missing or is not JSON is a finding too, never an error.
    """
    if path.is_dir():
        files = rack_files(path) or tuple(sorted(path.glob("*.json"))) * (path.name == "slabs")
    else:
        files = (path,)
    if not files:
        name = str(path / "slabs.json")
        return Rack((), (kinds.NO_RACK.found("there is no rack yet.", file=name),))
    findings: list[Finding] = []
    entries: list[Entry] = []
    for file in files:
        shown = file.name if file.parent.name != "slabs" else f"slabs/{file.name}"
        try:
            text = file.read_text(encoding="utf-8-sig")
        except (OSError, UnicodeDecodeError) as trouble:
            why = getattr(trouble, "strerror", None) or "it is not UTF-8 text"
            kind = kinds.NO_FILE if isinstance(trouble, OSError) else kinds.NOT_JSON
            findings.append(kind.found(f"the rack cannot be read: {why}.", file=shown))
            continue
        raws, found = _entries(text, shown)
        findings += found
        entries += [Entry(shown, _name(raw, k + 1), raw) for k, raw in enumerate(raws)]
    return _rack(entries, findings)


def rack_from_text(text: str, file: str = "slabs.json") -> Rack:
    """A rack from the text of a rack file."""
    raws, findings = _entries(text, file)
    return _rack([Entry(file, _name(raw, k + 1), raw) for k, raw in enumerate(raws)], findings)


def rack_of(slabs: Iterable[Slab], file: str | None = None) -> Rack:
    """A rack of slabs already in hand (by tape, by photograph, invented), looked over."""
    slabs = tuple(slabs)
    findings = [f for s in slabs for f in inspect_slab(s, file)]
    aside = {f.line for f in findings if f.code in SETS_ASIDE}
    good = tuple(with_grain(s) for s in slabs if s.name not in aside)
    return Rack(good, tuple(findings), tuple(s.name for s in slabs if s.name in aside))


def with_grain(slab: Slab) -> Slab:
    """The slab with its middle line for grain, marked as guessed, where no grain was traced."""
    if any(len(line) > 1 for line in slab.grain_mm):
        return slab
    line = middle_line(slab.top_mm)
    line.flags.writeable = False
    return replace(slab, grain_mm=(line,), grain_guessed=True)


def rack_text(rack: Rack | Iterable[Slab]) -> str:
    """A rack as its file writes it, one slab a line.

    Of a rack that was read, entries set aside and keys not known stand as they were; a slab that
    is new comes at the end.
    """
    if not isinstance(rack, Rack):
        rack = Rack(tuple(rack))
    slabs = {slab.name: slab for slab in rack.slabs}
    out: list[Any] = []
    for entry in rack.entries:
        slab = slabs.pop(entry.name, None)
        if slab is None:
            out.append(entry.raw)
            continue
        more = {k: v for k, v in entry.raw.items() if k not in KEYS}
        out.append(slab_entry(slab) | more)
    out += [slab_entry(slab) for slab in slabs.values()]
    lines = [json.dumps(e, separators=(",", ":"), ensure_ascii=False) for e in out]
    return "[\n" + ",\n".join(lines) + "\n]\n"


def write_rack(path: Path, rack: Rack | Iterable[Slab]) -> None:
    """Write a rack file whole or not at all: beside the old one, then in its place."""
    part = path.with_name(path.name + ".part")
    part.write_text(rack_text(rack), encoding="utf-8")
    with open(part, "rb") as written:
        os.fsync(written.fileno())
    os.replace(part, path)


def added(rack: Rack, slab: Slab) -> Rack:
    """The rack with one more slab; :class:`Unreadable` where its name is already taken."""
    if slab.name in {e.name for e in rack.entries} | {s.name for s in rack.slabs}:
        finding = kinds.NAME_TWICE.found(
            f"slab {slab.name}: there is a slab of that name on the rack.", line=slab.name
        )
        raise Unreadable(finding.message, [finding])
    found = inspect_slab(slab)
    if any(f.code in SETS_ASIDE for f in found):
        raise Unreadable(f"slab {slab.name} cannot be put on the rack as drawn", found)
    return replace(rack, slabs=(*rack.slabs, with_grain(slab)), findings=(*rack.findings, *found))


def _entries(text: str, file: str) -> tuple[list[Any], list[Finding]]:
    try:
        data = json.loads(text)
    except json.JSONDecodeError as trouble:
        near = text[max(0, trouble.pos - 12) : trouble.pos + 12].replace("\n", " ")
        return [], [
            kinds.NOT_JSON.found(
                f"{trouble.msg.lower()}.",
                file=file,
                line=trouble.lineno,
                column=trouble.colno,
                read=near,
                expected="JSON",
            )
        ]
    except RecursionError:
        return [], [kinds.NOT_JSON.found("brackets are nested without end.", file=file)]
    if isinstance(data, dict):
        data = data["slabs"] if isinstance(data.get("slabs"), list) else [data]
    if not isinstance(data, list):
        said = "the file holds no list of slabs."
        return [], [kinds.NOT_A_SLAB.found(said, file=file, read=repr(data)[:60], expected="[...]")]
    return data, []


def _name(raw: Any, position: int) -> str:
    name = raw.get("name") if isinstance(raw, dict) else None
    return name.strip() if isinstance(name, str) and name.strip() else f"slab {position}"


def _rack(entries: list[Entry], findings: list[Finding]) -> Rack:
    slabs: list[Slab] = []
    aside: list[str] = []
    kept: list[Entry] = []
    times: Counter[str] = Counter()
    for position, entry in enumerate(entries, 1):
        slab, found = read_entry(entry.raw, entry.file, position)
        if slab is not None:
            found += inspect_slab(slab, entry.file)
        times[entry.name] += 1
        if times[entry.name] > 1:
            said = f"slab {entry.name}: there is one of that name already; this one is set aside."
            found.append(
                kinds.NAME_TWICE.found(
                    said, file=entry.file, line=entry.name, column="name", read=entry.name
                )
            )
            slab = None
            # under a name of its own, so that writing the rack keeps both
            entry = replace(entry, name=f"{entry.name} ({times[entry.name]})")
        if slab is None or any(f.code in SETS_ASIDE for f in found):
            aside.append(entry.name)
        else:
            slabs.append(with_grain(slab))
        kept.append(entry)
        findings += found
    return Rack(tuple(slabs), tuple(findings), tuple(aside), tuple(kept))


def areas_m2(slabs: Iterable[Slab]) -> tuple[float, float]:
    """Sound area of the tops and of the bottoms, in m2."""
    from futtock.stock.outline import signed_area_mm2

    pairs = [(signed_area_mm2(s.top_mm), signed_area_mm2(s.bottom_mm)) for s in slabs]
    top, bottom = np.array(pairs).reshape(-1, 2).sum(0) / 1e6
    return float(top), float(bottom)
