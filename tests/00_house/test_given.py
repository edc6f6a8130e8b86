"""What comes from elsewhere is listed, unchanged and may be given on."""

from __future__ import annotations

import hashlib
import re
import tomllib
from importlib import metadata
from pathlib import Path

import made
import pytest
import sbom
from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[2]
MANIFESTS = sorted(ROOT.glob("futtock/**/MANIFEST.toml"))
FREE = re.compile(
    r"\b(MIT|BSD|0BSD|BSD-\d-Clause|Apache|Apache-2\.0|ISC|PSF|PSF-2\.0|Python Software Foundation|"
    r"MPL-2\.0|Mozilla Public License|HPND|Zlib|zlib|Unlicense|CC0|OFL-1\.1|CNRI-Python)\b",
    re.IGNORECASE,
)
LESSER = {"psycopg", "psycopg-binary"}
"""Under the LGPL, only in an extra, and used as a library."""
SAY_NOTHING = {"dask-expr"}
"""Packages whose metadata names no licence, looked up by hand."""


def test_fonts_are_listed() -> None:
    """There is a manifest for the fonts of sheets and one for those of pages."""
    assert len(MANIFESTS) >= 2


@pytest.mark.parametrize(
    "path", MANIFESTS, ids=[str(p.parent.relative_to(ROOT)) for p in MANIFESTS]
)
def test_vendored_files_are_as_listed(path: Path) -> None:
    """Each vendored file has version, licence and hash, and no file beside it is unlisted."""
    entries = tomllib.loads(path.read_text(encoding="utf-8"))["file"]
    known = {"MANIFEST.toml"}
    for entry in entries:
        file = path.parent / entry["name"]
        assert hashlib.sha256(file.read_bytes()).hexdigest() == entry["sha256"], entry["name"]
        assert re.search(r"@\d+\.\d+", entry["origin"]), f"{entry['name']} names no version"
        assert entry["licence"]
        licence = path.parent / entry["licence_file"]
        assert len(licence.read_text(encoding="utf-8")) > 500
        known |= {file.name, licence.name}
    assert {p.name for p in path.parent.iterdir() if p.is_file()} == known


def test_the_lock_names_hashes_and_no_address() -> None:
    """Every pin in requirements.lock has a hash, and no line names a registry."""
    text = (ROOT / "requirements.lock").read_text(encoding="utf-8")
    assert "://" not in text
    blocks = re.split(r"\n(?=\S)", text.strip())
    assert len(blocks) > 80
    assert [b for b in blocks if not re.match(r"[a-z0-9][\w.\[\],-]*==\S+", b)] == []
    assert [b.splitlines()[0] for b in blocks if "--hash=sha256:" not in b] == []


def test_the_lock_holds_all_that_the_project_asks_for() -> None:
    """Each requirement of the project, its extras and its tools is pinned within its range."""
    text = (ROOT / "requirements.lock").read_text(encoding="utf-8")
    pins: dict[str, set[str]] = {}
    for name, pin in re.findall(r"^([a-z0-9][\w.-]*)==([^\s;]+)", text, re.MULTILINE):
        pins.setdefault(name, set()).add(pin)
    config = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    wanted = [*config["project"]["dependencies"], *config["dependency-groups"]["dev"]]
    for extra in config["project"]["optional-dependencies"].values():
        wanted += extra
    bad = []
    for text_ in wanted:
        need = Requirement(text_)
        found = pins.get(re.sub(r"[-_.]+", "-", need.name).lower(), set())
        if not found or not all(need.specifier.contains(p, prereleases=True) for p in found):
            bad.append(f"{text_}: pinned {sorted(found)}")
    assert bad == []


def _closure() -> set[str]:
    """Names of all that an installed Futtock pulls in, extras too, as far as installed here."""
    seen: set[str] = set()
    todo = [(name, frozenset[str]()) for name in made.dependencies()]
    while todo:
        name, extras = todo.pop()
        if name in seen:
            continue
        try:
            needs = metadata.requires(name) or ()
        except metadata.PackageNotFoundError:
            continue
        seen.add(name)
        for line in needs:
            need = Requirement(line)
            if need.marker is None or any(
                need.marker.evaluate({"extra": extra}) for extra in ("", *extras)
            ):
                todo.append((re.sub(r"[-_.]+", "-", need.name).lower(), frozenset(need.extras)))
    return seen


def test_dependencies_are_free_to_use() -> None:
    """Everything installed with Futtock is under a licence that asks nothing of its user's work."""
    found = {name: made.licence(name) for name in _closure() - SAY_NOTHING}
    assert len(found) > 30
    bad = {
        name: text
        for name, text in found.items()
        if name not in LESSER and (not FREE.search(text) or re.search(r"\bA?GPL", text))
    }
    assert bad == {}


def test_the_list_of_parts_is_whole() -> None:
    """The list of all that goes in names every pin and every vendored file once."""
    parts = sbom.bill()["components"]
    refs = [p["bom-ref"] for p in parts]
    assert len(refs) == len(set(refs))
    text = (ROOT / "requirements.lock").read_text(encoding="utf-8")
    pins = set(re.findall(r"^([a-z0-9][\w.-]*)(?:\[[^\]]*\])?==([^\s;]+)", text, re.MULTILINE))
    assert {(p["name"], p["version"]) for p in parts if p["type"] == "library"} == pins
    assert [p["name"] for p in parts if not p["hashes"]] == []
    assert sum(p["type"] == "file" for p in parts) == sum(
        len(tomllib.loads(m.read_text(encoding="utf-8"))["file"]) for m in MANIFESTS
    )


def test_the_licence_is_whole() -> None:
    """The project's own licence is the Apache licence, in full, and pyproject says so."""
    text = (ROOT / "LICENSE").read_text(encoding="utf-8")
    assert "Apache License" in text
    assert "END OF TERMS AND CONDITIONS" in text
    config = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert config["project"]["license"] == "Apache-2.0"
