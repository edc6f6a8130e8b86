"""RESULTS.md by sections: a benchmark puts its own in, and leaves the others' alone."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

RESULTS = Path(__file__).resolve().parent / "RESULTS.md"


def put(lines: Sequence[str], path: Path = RESULTS) -> None:
    """Replace a section, or add it at the end; its first line is its heading (``## Name``)."""
    heading = lines[0]
    if not heading.startswith("## "):
        raise ValueError(f"a section begins with its heading, not with {heading!r}")
    text = path.read_text(encoding="utf-8") if path.exists() else "# Results\n"
    first, *rest = text.split("\n## ")
    new = "\n".join(lines).rstrip()
    parts = [first.rstrip(), *("## " + part.rstrip() for part in rest)]
    at = [k for k, part in enumerate(parts) if part.splitlines()[0] == heading]
    parts[at[0] if at else len(parts) :] = [new, *parts[at[0] + 1 :]] if at else [new]
    path.write_text("\n\n".join(parts) + "\n", encoding="utf-8")
