"""Kinds of finding: one code each, one letter a room, and all in the docs."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import made
import pytest

KINDS = list(made.kinds())


def test_there_are_kinds() -> None:
    """Looking through the rooms finds some, so that the checks below check something."""
    assert len({module for module, _, _ in KINDS}) >= 3


def test_codes_are_unique() -> None:
    """No two kinds share a code."""
    declared = {(kind.code, module, name) for module, name, kind in KINDS}
    counts = Counter(code for code, _, _ in declared)
    assert {code: n for code, n in counts.items() if n > 1} == {}


@pytest.mark.parametrize(("module", "name", "kind"), KINDS, ids=[k.code for *_, k in KINDS])
def test_a_kind_says_what_it_is(module: str, name: str, kind: made.Kind) -> None:
    """A code is a letter and three digits; the title says something; faults have a remedy."""
    assert re.fullmatch(r"[A-Z]\d{3}", kind.code), f"{module}.{name}"
    assert len(kind.title) > 5
    if kind.severity in {"fault", "misfit"}:
        assert kind.remedy, f"{kind.code} does not say what to do about it"


def test_a_letter_belongs_to_one_room() -> None:
    """The letter of a code tells the room that noticed."""
    letters: dict[str, set[str]] = {}
    for module, _, kind in KINDS:
        letters.setdefault(kind.code[0], set()).add(module.split(".")[1])
    assert {letter: rooms for letter, rooms in letters.items() if len(rooms) > 1} == {}


def test_every_code_is_in_the_docs(root: Path) -> None:
    """The page of findings lists every code, and the docs hold that page."""
    page = made.findings()
    assert [k.code for *_, k in KINDS if f"| {k.code} |" not in page] == []
    assert "_made/findings" in (root / "docs" / "index.md").read_text(encoding="utf-8")
