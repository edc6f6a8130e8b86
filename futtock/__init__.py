"""From a vessel's lines to the last timber of her sawn double frames, and where each lies.

``import futtock as ft`` gives the steps of the whole job (see :mod:`futtock.notebook`); the heavy
libraries are loaded when the first of them is touched::

    import futtock as ft

    job = ft.new("marram", demo=True)
    ft.check(job)
    ft.fair(job).doubtful
    ft.frames(job).frame(20)
    ft.lay(job, seconds=30, accept=True)
    ft.enough(job)
    ft.saw(job, "20-S/F1")
    ft.did(job, "20-S/F1", "roughed", "AB")
    ft.when(job)
    ft.write(job, "papers")
"""

# ruff: noqa: F405  (the names come with the star, for type checkers alone)
from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from futtock.notebook import *  # noqa: F403

__all__ = [
    "Finding",
    "FuttockError",
    "Job",
    "Misused",
    "Unreadable",
    "check",
    "did",
    "enough",
    "fair",
    "frames",
    "lay",
    "mould",
    "new",
    "picture",
    "read",
    "saw",
    "when",
    "write",
]


def __getattr__(name: str) -> Any:
    if name in __all__:
        # by name: the rooms import from this package, and none of them may seem to import that one
        return getattr(import_module("futtock.notebook"), name)
    raise AttributeError(f"module 'futtock' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
