"""Modules stay small, and the tree holds nothing that belongs to one machine."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

LONGEST = 500


def _tracked(root: Path) -> list[Path]:
    """Files under version control; every file where there is none (an unpacked archive)."""
    done = subprocess.run(["git", "ls-files", "-z"], cwd=root, capture_output=True, text=True)
    if done.returncode == 0:
        return [root / name for name in done.stdout.split("\0") if name]
    return [p for p in root.rglob("*") if p.is_file() and ".venv" not in p.parts]


def test_no_module_passes_five_hundred_lines(root: Path) -> None:
    """A module is one subject: none is longer than 500 lines."""
    modules = sorted((root / "futtock").rglob("*.py"))
    assert modules
    long = {str(p.relative_to(root)): n for p in modules if (n := _lines(p)) > LONGEST}
    assert long == {}


def _lines(path: Path) -> int:
    return len(path.read_text(encoding="utf-8").splitlines())


def test_nothing_names_a_place_on_one_machine(root: Path) -> None:
    """No file that is given on names a folder that only its writer has."""
    private = re.compile(rb"(?<![\w.])/(?:work|root|home)/\w+")
    bad = [
        str(p.relative_to(root))
        for p in _tracked(root)
        if p.is_file() and not p.is_symlink() and private.search(p.read_bytes())
    ]
    assert bad == []


@pytest.mark.parametrize("word", ["TODO", "FIXME", "XXX"])
def test_no_note_to_self_is_left(root: Path, word: str) -> None:
    """What is left to do is said in the docs or in the tracker, not in the code."""
    bad = [
        f"{p.relative_to(root)}:{number}"
        for p in (root / "futtock").rglob("*.py")
        for number, line in enumerate(p.read_text(encoding="utf-8").splitlines(), 1)
        if re.search(rf"#.*\b{word}\b", line)
    ]
    assert bad == []


def test_test_files_have_names_of_their_own(root: Path) -> None:
    """No two test files share a name, since they are told apart by it."""
    seen = [p.name for p in (root / "tests").rglob("test_*.py")]
    assert sorted({n for n in seen if seen.count(n) > 1}) == []
