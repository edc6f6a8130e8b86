"""The examples in docstrings say what really happens."""

from __future__ import annotations

import doctest
import importlib

import made
import pytest

MODULES = made.modules()


@pytest.mark.parametrize("name", MODULES)
def test_examples_in_docstrings(name: str) -> None:
    """Each example in a module's docstrings gives what stands below it."""
    module = importlib.import_module(name)
    failed, _ = doctest.testmod(module, optionflags=doctest.NORMALIZE_WHITESPACE)
    assert failed == 0


def test_there_are_examples() -> None:
    """Enough docstrings hold an example for the check above to mean something."""
    finder = doctest.DocTestFinder(exclude_empty=True)
    found = [
        t for name in MODULES for t in finder.find(importlib.import_module(name)) if t.examples
    ]
    assert len(found) >= 15
