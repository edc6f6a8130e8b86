"""Pages that are made from the code and its data, so that they cannot fall behind.

Each function gives the text of one page; :func:`write` puts them in ``docs/_made``.
"""

from __future__ import annotations

import csv
import importlib
import io
import pkgutil
import re
import tomllib
from collections.abc import Iterator
from importlib import metadata
from pathlib import Path

import futtock
from futtock import reference
from futtock.findings import Kind

ROOT = Path(__file__).resolve().parents[2]
MADE = ROOT / "docs" / "_made"

SEVERITIES = {
    "fault": "the step cannot be done (exit 1)",
    "misfit": "done, but something does not fit (exit 3)",
    "doubt": "a question for the builder",
    "note": "for information",
}


def kinds() -> Iterator[tuple[str, str, Kind]]:
    """Every kind of finding declared in any ``kinds`` module: (module, name, kind)."""
    for module in pkgutil.walk_packages(futtock.__path__, "futtock."):
        if module.name.rsplit(".", 1)[-1] != "kinds":
            continue
        for name, value in sorted(vars(importlib.import_module(module.name)).items()):
            if isinstance(value, Kind) and not name.startswith("_"):
                yield module.name, name, value


def _plain(text: str | None) -> str:
    """A cell of a Markdown table; an empty dash where there is nothing."""
    return re.sub(r"([|<>*_`\\])", r"\\\1", text).replace("\n", " ") if text else "–"


def _sentence(text: str) -> str:
    """The title as a sentence on its own: a capital first, no stop at the end."""
    return text[:1].upper() + text[1:].rstrip(".")


def findings() -> str:
    """The page of all findings, a table a room."""
    rooms: dict[str, list[Kind]] = {}
    for module, _, kind in kinds():
        rooms.setdefault(module.split(".")[1], []).append(kind)
    lines = [
        "# Findings",
        "",
        "What Futtock notices is told as findings. Each has a code that stays the same, a "
        "severity, the place in your own paper, what was read, what was expected, and a remedy.",
        "",
        "| severity | what it means |",
        "|---|---|",
        *(f"| {name} | {meaning} |" for name, meaning in SEVERITIES.items()),
    ]
    for room in sorted(rooms, key=lambda r: min(k.code for k in rooms[r])):
        lines += ["", f"## {room.capitalize()}", "", "| code | severity | what | remedy |"]
        lines += ["|---|---|---|---|"]
        for kind in sorted(rooms[room], key=lambda k: k.code):
            cells = (_plain(_sentence(kind.title)), _plain(kind.remedy))
            lines.append(f"| {kind.code} | {kind.severity} | {cells[0]} | {cells[1]} |")
    return "\n".join(lines) + "\n"


SOURCES = {
    "SW": "Smyth, *The Sailor's Word-Book* (1867)",
    "FA": "Falconer, *An Universal Dictionary of the Marine* (1780)",
    "OE": "an entry in a historical dictionary",
    "TP": "an essay on early frames",
    "OM": "a dictionary's entry for offsets",
    "M": "from memory",
}


def glossary() -> str:
    """The trade's words, with where each sense comes from."""
    lines = [
        "# Words of the trade",
        "",
        "Short definitions in our own words. The letters say where the sense comes from.",
        "",
        "| letters | source |",
        "|---|---|",
        *(f"| {letters} | {source} |" for letters, source in SOURCES.items()),
        "",
        ":::{glossary}",
        ":sorted:",
    ]
    for row in reference.rows("glossary"):
        lines += [row["term"], f"  {_sentence(row['definition'])}. [{row['source']}]", ""]
    return "\n".join(lines) + ":::\n"


TABLES = {
    "wood_strength_fpl": "Strength of clear wood",
    "wood_other_species": "Other species",
    "wood_shrinkage": "Shrinkage",
    "grain_slope": "Strength left when the grain runs out",
    "treenail_rules": "Treenails",
    "hull_rules": "Butts, scarfs and repairs",
    "bandsaw": "Band-saw blades and curves",
    "saw_kerf_yield": "Kerf and yield",
    "safety_limits": "Lifting, dust, noise, lead and saws",
}


def figures() -> str:
    """The published figures that ship with the tool."""
    lines = [
        "# Published figures",
        "",
        "Every figure of the trade that Futtock offers is here, with its source and how it was "
        "got: read, read second-hand, or from memory. What is from memory is never used as proof. "
        "None of it is a class approval or a design value.",
    ]
    for name, title in TABLES.items():
        rows = reference.rows(name)
        lines += ["", f"## {title}", "", *(f"- {_plain(note)}" for note in reference.notes(name))]
        buffer = io.StringIO()
        writer = csv.writer(buffer)
        writer.writerow([c.replace("_", " ") for c in rows[0]])
        writer.writerows(row.values() for row in rows)
        lines += ["", ":::{csv-table}", ":header-rows: 1", ":class: figures", ""]
        lines += [*buffer.getvalue().splitlines(), ":::"]
    return "\n".join(lines) + "\n"


def _name(requirement: str) -> str:
    found = re.match(r"[A-Za-z0-9._-]+", requirement)
    assert found is not None
    return re.sub(r"[-_.]+", "-", found[0]).lower()


def licence(name: str) -> str:
    """What a package says of its own licence, in short."""
    about = metadata.metadata(name)
    if stated := about.get("License-Expression"):
        return stated
    marks = [
        c.rsplit(" :: ", 1)[-1] for c in about.get_all("Classifier") or () if "License ::" in c
    ]
    marks = [m for m in marks if m != "OSI Approved"]
    first = (about.get("License") or "").strip().splitlines()[:1]
    return "; ".join(marks) or (first[0] if first else "not stated")


def dependencies() -> dict[str, str]:
    """Direct dependencies, by name: the extra each belongs to, or an empty string."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    found = {_name(r): "" for r in project["dependencies"]}
    for extra, requirements in project["optional-dependencies"].items():
        found |= {_name(r): extra for r in requirements}
    return found


def licences() -> str:
    """Licences of what Futtock stands on and of what is vendored."""
    lines = [
        "# Licences",
        "",
        "Futtock is under the Apache licence, version 2.0. It stands on these packages; each says "
        "of itself:",
        "",
        "| package | extra | licence |",
        "|---|---|---|",
    ]
    for name, extra in sorted(dependencies().items()):
        try:
            text = licence(name)
        except metadata.PackageNotFoundError:
            text = "not installed where this page was made"
        lines.append(f"| {name} | {extra or '–'} | {_plain(text)} |")
    lines += [
        "",
        "Vendored files:",
        "",
        "| file | origin | licence | changed |",
        "|---|---|---|---|",
    ]
    for path in sorted(ROOT.glob("futtock/**/MANIFEST.toml")):
        for entry in tomllib.loads(path.read_text(encoding="utf-8"))["file"]:
            place = (path.parent / entry["name"]).relative_to(ROOT)
            cells = (entry["origin"], entry["licence"], _plain(entry.get("changed")))
            lines.append(f"| `{place}` | {' | '.join(cells)} |")
    return "\n".join(lines) + "\n"


PAGES = {"findings": findings, "glossary": glossary, "figures": figures, "licences": licences}


def write(folder: Path = MADE) -> None:
    """Write every made page, leaving alone those that have not changed."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, make in PAGES.items():
        path, text = folder / f"{name}.md", make()
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8")
