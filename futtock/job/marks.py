"""The vessel's marks, kept beside her folder so that an entry can be tried without her frames.

And the slab that the accepted layout gives a timber, read without anything of the layout's.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from futtock.framing.frame import Framing

_KEPT = ".futtock/marks.json"
_STATED = (".toml", ".csv", ".xlsx")


def remember(folder: Path, framing: Framing) -> None:
    """Keep the marks of these frames' timbers; a folder that cannot be written is no harm."""
    import contextlib

    from futtock.errors import Unwritable
    from futtock.job.written import Written

    marks = [t.mark for f in framing.frames for t in f.timbers]
    if known(folder) != tuple(marks):
        with contextlib.suppress(Unwritable):
            Written(folder).put(_KEPT, json.dumps(marks))


def known(folder: Path) -> tuple[str, ...] | None:
    """The marks; None where they were not kept, or what is stated has changed since."""
    try:
        kept = folder / _KEPT
        at = kept.stat().st_mtime_ns
        stated = (p for p in folder.iterdir() if p.suffix.lower() in _STATED)
        if any(p.stat().st_mtime_ns > at for p in stated):
            return None
        marks = json.loads(kept.read_text("utf-8"))
    except (OSError, ValueError):
        return None
    return tuple(str(m) for m in marks) if isinstance(marks, list) and marks else None


def lies_on(folder: Path, mark: str) -> str | None:
    """The slab on which the accepted layout places a timber; None where it does not."""
    try:
        document = json.loads((folder / "layout.json").read_text("utf-8"))
        return next((str(p["slab"]) for p in document["placements"] if p["mark"] == mark), None)
    except (OSError, ValueError, KeyError, TypeError):
        return None
