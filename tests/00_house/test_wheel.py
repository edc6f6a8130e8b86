"""What is built for others holds all that it needs, nothing else, and is the same each time."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def tree(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The tree as it stands now, so that an edit between two builds makes no difference."""
    to = tmp_path_factory.mktemp("tree") / "futtock"
    leave = shutil.ignore_patterns(
        ".*",
        "__pycache__",
        "_build",
        "_made",
        "demo-out",
        "dist",
        "build",
        "mutants",
        "node_modules",
    )
    shutil.copytree(ROOT, to, ignore=leave, symlinks=True)
    shutil.copy(ROOT / ".gitignore", to)
    return to


def _build(tree: Path, kind: str, into: Path) -> Path:
    words = [sys.executable, "-m", "hatchling", "build", "-t", kind, "-d", str(into)]
    done = subprocess.run(words, cwd=tree, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    (built,) = into.iterdir()
    return built


@pytest.fixture(scope="module")
def wheel(tree: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return _build(tree, "wheel", tmp_path_factory.mktemp("wheel"))


def test_the_wheel_holds_the_package_and_its_data(tree: Path, wheel: Path) -> None:
    """Each file of the package is in the wheel: modules, fonts, figures, demo, pages."""
    with zipfile.ZipFile(wheel) as archive:
        inside = {n for n in archive.namelist() if ".dist-info/" not in n}
    package = {
        str(p.relative_to(tree))
        for p in (tree / "futtock").rglob("*")
        if p.is_file() and "__pycache__" not in p.parts
    }
    assert package - inside == set()
    assert {n for n in inside if not n.startswith("futtock/")} == set()
    for needed in ("py.typed", "demo/vessel.toml", "reference/bandsaw.csv"):
        assert f"futtock/{needed}" in inside
    assert any(n.endswith(".ttf") for n in inside)


def test_the_wheel_carries_its_licence(wheel: Path) -> None:
    """The licence travels with the wheel, and its metadata names it."""
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
        (about,) = [n for n in names if n.endswith(".dist-info/METADATA")]
        text = archive.read(about).decode()
    assert any(n.endswith("licenses/LICENSE") for n in names)
    assert "License-Expression: Apache-2.0" in text


def test_a_second_wheel_is_the_same(tree: Path, wheel: Path, tmp_path: Path) -> None:
    """Building again gives the same bytes."""
    again = _build(tree, "wheel", tmp_path)
    assert again.name == wheel.name
    assert again.read_bytes() == wheel.read_bytes()


def test_the_source_archive_can_test_itself(tree: Path, tmp_path: Path) -> None:
    """The source archive holds tests and their data, docs, tools and the lock."""
    with tarfile.open(_build(tree, "sdist", tmp_path)) as archive:
        names = {n.split("/", 1)[1] for n in archive.getnames() if "/" in n}
    for needed in (
        "tests/conftest.py",
        "tests/data/demo/truth.json",
        "tests/data/reference/bandsaw.csv",
        "docs/conf.py",
        "tools/setup.sh",
        "requirements.lock",
        "Makefile",
        "LICENSE",
    ):
        assert needed in names
