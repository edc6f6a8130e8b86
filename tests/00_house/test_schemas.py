"""The published schemas are sound, and real documents keep to them."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest

ROOT = Path(__file__).resolve().parents[2]
SCHEMAS = {p.name.split(".")[0]: p for p in sorted((ROOT / "docs" / "schemas").glob("*.json"))}
ASKED: dict[str, list[str]] = {
    "fair": [],
    "frames": [],
    "moulds": [],
    "lay": ["--rounds", "1"],
    "sheets": [],
}
"""Verbs whose documents are checked, with the words that keep them quick."""


def _faults(name: str, document: Any) -> list[str]:
    checker = jsonschema_rs.validator_for(json.loads(SCHEMAS[name].read_text(encoding="utf-8")))
    return [f"{list(e.instance_path)}: {e.message}"[:300] for e in checker.iter_errors(document)]


@pytest.mark.parametrize("name", SCHEMAS)
def test_a_schema_is_a_schema(name: str) -> None:
    """Each file is itself valid by the 2020-12 draft, has a title, and names no address of ours."""
    schema = json.loads(SCHEMAS[name].read_text(encoding="utf-8"))
    assert schema["title"]
    assert schema["$id"] == f"futtock:{name}"
    jsonschema_rs.meta.validate(schema)


def test_the_demo_rack_keeps_to_its_schema() -> None:
    """Marram's slabs are as the schema of slabs.json says."""
    rack = json.loads((ROOT / "futtock" / "demo" / "slabs.json").read_text(encoding="utf-8"))
    assert len(rack) > 100
    assert _faults("slabs", rack) == []


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"thickness_mm": -3}, "thickness_mm"),
        ({"top": [[0, 0], [1, 0]]}, "top"),
        ({"top": [[0, 0], [1, 0], [1]]}, "top"),
        (
            {"defects": [{"kind": "knot", "outline": [[0, 0], [1, 0], [1, 1]], "face": "edge"}]},
            "defects",
        ),
    ],
)
def test_the_schema_notices(change: dict[str, Any], where: str) -> None:
    """A wrong slab does not keep to the schema, and the fault is where it was made."""
    slab = {"name": "A", "species": "oak", "thickness_mm": 60, "top": [[0, 0], [9, 0], [9, 9]]}
    assert _faults("slabs", [slab]) == []
    faults = _faults("slabs", [slab | change])
    assert faults
    assert where in faults[0]


def test_a_refusal_keeps_to_its_schema(tmp_path: Path) -> None:
    """What is printed on exit 1 holds findings, as the schema says."""
    (tmp_path / "vessel.toml").write_text("this is not TOML", encoding="utf-8")
    done = _futtock("check", str(tmp_path), "--json")
    assert done.returncode == 1, done.stderr
    document = json.loads(done.stdout)
    assert document["findings"]
    assert _faults("findings", document) == []


@pytest.mark.slow
@pytest.mark.parametrize("verb", ASKED)
def test_an_answer_keeps_to_its_schema(verb: str, marram_once: Path) -> None:
    """On Marram each verb prints one document that its schema describes, and exits 0 or 3."""
    done = _futtock(verb, str(marram_once), "--json", *ASKED[verb])
    assert done.returncode in {0, 3}, done.stderr
    assert _faults(verb, json.loads(done.stdout)) == []


def _undescribed(schema: Any, document: Any, root: Any, path: str = "") -> set[str]:
    """Keys of a document that its schema does not speak of, by where they stand."""
    if not isinstance(schema, dict):
        return set()
    if "$ref" in schema:
        schema = root["$defs"][schema["$ref"].rsplit("/", 1)[1]]
    if isinstance(document, list):
        inner = schema.get("items", {})
        return {k for one in document for k in _undescribed(inner, one, root, f"{path}[]")}
    if not isinstance(document, dict):
        return set()
    for choice in schema.get("anyOf", ()):
        if "properties" in choice:
            schema = choice
    known = schema.get("properties")
    if known is None:
        return {f"{path}.{key}" for key in document}
    return {f"{path}.{key}" for key in document if key not in known} | {
        k
        for key, value in document.items()
        if key in known
        for k in _undescribed(known[key], value, root, f"{path}.{key}")
    }


def _described(name: str, document: Any) -> set[str]:
    schema = json.loads(SCHEMAS[name].read_text(encoding="utf-8"))
    return _undescribed(schema, document, schema)


def test_every_key_of_a_slab_is_described() -> None:
    """A slab with all that can be known of it keeps to the schema, which speaks of each key."""
    import numpy as np

    from futtock.stock.entry import slab_entry
    from futtock.stock.slab import Flaw, Slab

    ring = np.array([[0.0, 0.0], [900.0, 0.0], [900.0, 300.0]])
    knot = Flaw("knot", ring / 9.0, "top")
    slab = Slab(
        "A-01", "white oak", 70.5, 18.5, ring, ring + 5.0, (ring[:2],), (knot,), stack="A",
        price=90.0, note="leans", face_top_mm=ring * 1.1, face_bottom_mm=ring * 1.2,
        portrait="photos/A-01.jpg", portrait_at=(0.5, 1.5, 2.0), moisture_date="2031-05-05",
        cup_mm=-2.0, bow_mm=3.0, twist_mm=1.0,
    )  # fmt: skip
    entry = slab_entry(slab)
    assert {"portrait", "portrait_at", "moisture_date", "cup_mm", "face_bottom"} <= set(entry)
    assert _faults("slabs", [entry]) == []
    assert _described("slabs", [entry]) == set()
    assert _described("slabs", [entry | {"weight": 3}]) == {"[].weight"}
    assert _faults("slabs", [entry | {"moisture_date": "last May"}])
    assert _faults("slabs", [entry | {"portrait_at": [1, 2]}])


@pytest.mark.slow
def test_every_key_of_the_sheets_is_described(marram_once: Path) -> None:
    """The schema of the sheets speaks of every key that Marram's carry, a stated strength too."""
    stated = marram_once / "vessel.toml"
    before = stated.read_text("utf-8")
    try:
        stated.write_text(before.replace("[treenails]", "[treenails]\nshear_kpa = 7000"), "utf-8")
        done = _futtock("sheets", str(marram_once), "--json")
    finally:
        stated.write_text(before, "utf-8")
    assert done.returncode in {0, 3}, done.stderr
    document = json.loads(done.stdout)
    assert document["treenails"]["strength"]["newton"] > 0
    assert _faults("sheets", document) == []
    assert _described("sheets", document) == set()


@pytest.fixture(scope="module")
def marram_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One folder of Marram for all verbs, so that each builds on the one before."""
    folder = tmp_path_factory.mktemp("marram") / "marram"
    done = _futtock("new", str(folder), "--demo")
    assert done.returncode == 0, done.stderr
    return folder


def _futtock(*words: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "futtock", *words]
    return subprocess.run(command, capture_output=True, text=True, timeout=300)
