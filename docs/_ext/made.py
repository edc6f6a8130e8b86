"""Pages that are made from the code and its data, so that they cannot fall behind.

Each function gives the text of one page; :func:`write` puts them in ``docs/_made``.
"""

from __future__ import annotations

import ast
import csv
import importlib
import io
import json
import pkgutil
import re
import tomllib
from collections.abc import Iterator
from importlib import metadata
from pathlib import Path
from typing import Any, get_args

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import PydanticUndefined, core_schema

import futtock
from futtock import measure, reference
from futtock.findings import Kind
from futtock.vessel.model import Vessel

ROOT = Path(__file__).resolve().parents[2]
MADE = ROOT / "docs" / "_made"

SEVERITIES = {
    "fault": "the step cannot be done (exit 1)",
    "misfit": "done, but something does not fit (exit 3)",
    "doubt": "a question for the builder",
    "note": "for information",
}


def modules() -> list[str]:
    """Every module that may be imported by itself: not ``__main__``, not the journal's migrations,
    which only their runner can load."""
    found = (m.name for m in pkgutil.walk_packages(futtock.__path__, "futtock."))
    return sorted(n for n in found if not n.endswith("__main__") and ".migrations." not in n)


def kinds() -> Iterator[tuple[str, str, Kind]]:
    """Every kind of finding declared in any ``kinds`` module: (module, name, kind)."""
    for module in modules():
        if module.rsplit(".", 1)[-1] != "kinds":
            continue
        for name, value in sorted(vars(importlib.import_module(module)).items()):
            if isinstance(value, Kind) and not name.startswith("_"):
                yield module, name, value


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


WRITTEN = {
    "_length": "length",
    "_angle": "angle",
    "_length_or_diameters": 'length, or `"2.5 d"` in diameters',
    "_height_or_name": "height, or the name of a line",
}
"""What a key holds, by the function that reads it."""


def _readers(field: FieldInfo) -> Iterator[str]:
    """Names of the functions that read a field's value before it is looked at."""
    todo: list[Any] = [*field.metadata, field.annotation]
    while todo:
        part = todo.pop()
        if (func := getattr(part, "func", None)) is not None:
            yield func.__name__
        todo += getattr(part, "__metadata__", ())
        todo += get_args(part)


def _model(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((m for part in get_args(annotation) if (m := _model(part))), None)


def _choices(annotation: Any) -> list[str]:
    parts = get_args(annotation)
    words = [p for p in parts if isinstance(p, str)]
    return words or [w for p in parts for w in _choices(p)]


def _holds(field: FieldInfo) -> str:
    """What may be written as the value of a key."""
    readers = set(_readers(field))
    said = [text for name, text in WRITTEN.items() if name in readers]
    model = _model(field.annotation)
    words = _choices(field.annotation)
    said += [f'`"{word}"`' for word in words]
    if model is not None:
        many = "tuple" in str(field.annotation) or "dict" in str(field.annotation)
        keys = ", ".join(f"`{f.alias or n}`" for n, f in model.model_fields.items())
        said.append(f"{'a list of tables' if many else 'a table'} of {keys}")
        if readers & {"wrap", "_constant_moulded"}:
            said.insert(0, "one value for all")
    if not said:
        names = {"float": "number", "int": "whole number", "str": "text", "bool": "true or false"}
        plain = re.findall(r"float|int|str|bool|date", str(field.annotation))
        said = [names.get(plain[0], plain[0])] if plain else ["table"]
    if model is None and "tuple" in (shape := str(field.annotation)):
        if words and "int" in shape:
            said.append("a list of whole numbers")
        else:
            each = said[0].removesuffix("s") + ("" if said[0] in {"text"} or words else "s")
            said[0] = f"a list of {'pairs of ' if shape.count('tuple') > 1 else ''}{each}"
    limits = {"gt": "over", "ge": "at least", "lt": "under", "le": "at most"}
    for rule in field.metadata:
        said += [f"{w} {getattr(rule, k):g}" for k, w in limits.items() if hasattr(rule, k)]
    return ", ".join(said)


def _default(name: str, field: FieldInfo) -> str:
    if field.is_required():
        return "**must be stated**"
    value = field.get_default(call_default_factory=True)
    if value is PydanticUndefined or value is None or value in ((), "", {}):
        return "–"
    if isinstance(value, BaseModel):
        return "its own"
    if name.endswith("_mm") and isinstance(value, float):
        return f"{measure.show(value, 'imperial')} ({value:g} mm)"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, tuple):
        return ", ".join(map(str, value))
    return f"{value:g}" if isinstance(value, float) else str(value)


def _headed(model: type[BaseModel]) -> str:
    """The first words of a section's docstring, without its name in brackets."""
    text = " ".join((model.__doc__ or "").split())
    return _sentence(re.sub(r"^``\[\w+\]``: ", "", text)).replace("``", "`")


def vessel_toml() -> str:
    """Every key of vessel.toml, from the model that reads it."""
    lines = [
        "# vessel.toml",
        "",
        "What the builder states. A length is written in any notation of {doc}`/formats/offsets`; "
        "a bare number is in the unit of `[lines] unit`. An angle is a number of degrees. A key "
        "that is not listed here is told as a finding, with the nearest one that is. "
        "The [schema](published/vessel.schema.json) says the same for programs.",
    ]
    for name, field in Vessel.model_fields.items():
        model = _model(field.annotation)
        assert model is not None
        title = field.alias or name
        lines += ["", f"## [{title}]", "", _headed(model) + ".", ""]
        lines += ["| key | holds | if absent |", "|---|---|---|"]
        below = []
        for key, part in model.model_fields.items():
            shown = part.alias or key
            lines.append(f"| `{shown}` | {_holds(part)} | {_default(key, part)} |")
            if (inner := _model(part.annotation)) is not None:
                below.append((shown, inner))
        for shown, inner in below:
            lines += ["", f"`{shown}`: {_headed(inner)}.", "", "| key | holds | if absent |"]
            lines += ["|---|---|---|"]
            for key, part in inner.model_fields.items():
                cells = (part.alias or key, _holds(part), _default(key, part))
                lines.append(f"| `{cells[0]}` | {cells[1]} | {cells[2]} |")
    return "\n".join(lines) + "\n"


class _Stated(GenerateJsonSchema):
    """The schema of what is written, not of what it is turned into."""

    def function_before_schema(
        self, schema: core_schema.BeforeValidatorFunctionSchema
    ) -> JsonSchemaValue:
        inner = super().function_before_schema(schema)
        reader = getattr(schema["function"]["function"], "__name__", "")
        written: JsonSchemaValue = {"type": ["number", "string"]}
        if reader in WRITTEN:
            return written | {"description": re.sub('[`"]', "", WRITTEN[reader])}
        if reader in {"wrap", "_constant_moulded"}:
            return {"anyOf": [inner, written]}
        return inner


def vessel_schema() -> dict[str, Any]:
    """The JSON Schema of vessel.toml."""
    made = Vessel.model_json_schema(by_alias=True, schema_generator=_Stated)
    text = re.sub(r'"(?:ge|le)": -?\d+(?:\.\d+)?,? ?', "", json.dumps(made))
    read: dict[str, Any] = json.loads(re.sub(r",\s*}", "}", text))
    read["title"] = "vessel.toml"
    draft = "https://json-schema.org/draft/2020-12/schema"
    return {"$schema": draft, "$id": "futtock:vessel"} | read


def held() -> str:
    """What every test holds to be true, in its own sentence, a heading a file."""
    lines = [
        "# What is held to be true",
        "",
        "Each line is the sentence of one test; `make test` fails if it does not hold. The "
        "headings are the files in which they stand.",
    ]
    for path in sorted((ROOT / "tests").glob("[0-9]*/test_*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        sentences = [
            doc
            for node in tree.body
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
            if (doc := ast.get_docstring(node))
        ]
        if sentences:
            about = (ast.get_docstring(tree) or path.stem).split("\n\n")[0]
            lines += ["", f"## {path.parent.name[3:].capitalize()}: {_plain(about).rstrip('.')}"]
            lines += ["", f"`{path.relative_to(ROOT)}`", ""]
            lines += [f"- {_plain(' '.join(d.split()))}" for d in sentences]
    return "\n".join(lines) + "\n"


ROOMS = (
    "measure", "reference", "sheet", "vessel", "lines", "framing", "moulds", "stock", "layout",
    "bench", "yard", "drawing", "export", "job",
)  # fmt: skip
"""The rooms in the order of the house, as the Python pages list them."""


def _modules(room: str) -> dict[str, str]:
    """Modules of a room, the room's own first, by name: the docstring each begins with."""
    place = ROOT / "futtock" / room
    files = sorted(place.glob("*.py")) if place.is_dir() else [place.with_suffix(".py")]
    found = {}
    for path in sorted(files, key=lambda p: p.stem != "__init__"):
        inner = "" if path.stem in {"__init__", room} else f".{path.stem}"
        text = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
        if text and not path.stem.startswith("_" if inner else "-"):
            found[f"futtock.{room}{inner}"] = text
    return found


def room(name: str) -> str:
    """The Python page of one room: each of its modules with its public names."""
    lines = [f"# futtock.{name}", ""]
    for module in _modules(name):
        if module.count(".") > 1:
            lines += [f"## {module.removeprefix('futtock.')}", ""]
        lines += ["```{eval-rst}", f".. automodule:: {module}", "   :members:", "```", ""]
    return "\n".join(lines)


def rooms() -> dict[str, str]:
    """The Python pages by name; a room with nothing in it yet has none."""
    made = {f"api_{at:02}_{name}": room(name) for at, name in enumerate(ROOMS, 1)}
    return {name: text for name, text in made.items() if "automodule" in text}


PAGES = {
    "vessel_toml": vessel_toml,
    "findings": findings,
    "glossary": glossary,
    "figures": figures,
    "licences": licences,
    "held": held,
}


def write(folder: Path = MADE) -> None:
    """Write every made page, leaving alone those that have not changed."""
    folder.mkdir(parents=True, exist_ok=True)
    pages = {name: make() for name, make in PAGES.items()} | rooms()
    for stale in {p.stem for p in folder.glob("*.md")} - set(pages):
        (folder / f"{stale}.md").unlink()
    for name, text in pages.items():
        path = folder / f"{name}.md"
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8")
    published = folder / "published"
    published.mkdir(exist_ok=True)
    schema = json.dumps(vessel_schema(), indent=1) + "\n"
    (published / "vessel.schema.json").write_text(schema, encoding="utf-8")
