"""RESULTS.md by sections: a benchmark puts its own in, and leaves the others' alone."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

RESULTS = Path(__file__).resolve().parent / "RESULTS.md"


def put(lines: Sequence[str], path: Path = RESULTS, *, first: bool = False) -> None:
    """Replace a section, or add it; its first line is its heading (``## Name``).

    A new one goes to the end, or with ``first`` before all others.
    """
    heading = lines[0]
    if not heading.startswith("## "):
        raise ValueError(f"a section begins with its heading, not with {heading!r}")
    text = path.read_text(encoding="utf-8") if path.exists() else "# Results\n"
    first, *rest = text.split("\n## ")
    new = "\n".join(lines).rstrip()
    parts = [first.rstrip(), *("## " + part.rstrip() for part in rest)]
    at = [k for k, part in enumerate(parts) if part.splitlines()[0] == heading]
    if at:
        parts[at[0]] = new
    else:
        parts.insert(1 if first else len(parts), new)
    path.write_text("\n\n".join(parts) + "\n", encoding="utf-8")
