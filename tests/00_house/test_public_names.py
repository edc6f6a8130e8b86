"""Public names are listed once and are all there."""

from __future__ import annotations

import importlib

import made
import pytest

MODULES = made.modules()


@pytest.mark.parametrize("name", MODULES)
def test_every_listed_name_is_there_once(name: str) -> None:
    """What a module lists as public exists, once, and does not begin with an underscore.

    (The linter keeps the lists in order.)
    """
    module = importlib.import_module(name)
    listed = list(getattr(module, "__all__", ()))
    assert len(listed) == len(set(listed))
    assert [n for n in listed if n.startswith("_") and n != "__version__"] == []
    assert [n for n in listed if not hasattr(module, n)] == []


@pytest.mark.parametrize("name", [m for m in MODULES if m.count(".") == 1])
def test_a_room_that_gives_names_lists_them(name: str) -> None:
    """A room's own module lists every public name that it brings in from its parts."""
    module = importlib.import_module(name)
    if not hasattr(module, "__path__"):
        return
    brought = {
        n
        for n, value in vars(module).items()
        if not n.startswith("_") and getattr(value, "__module__", "").startswith(name + ".")
    }
    assert sorted(brought - set(getattr(module, "__all__", ()))) == []
