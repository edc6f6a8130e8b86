"""Draw which room imports which, from the imports themselves, into docs/pictures/rooms.svg.

Rooms stand in the order of the import contract. A mark in a row says that the room of that row
imports from the room of that column. One way means that every mark lies left of the diagonal.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import grimp

ROOT = Path(__file__).resolve().parent.parent
PICTURE = ROOT / "docs" / "pictures" / "rooms.svg"
CELL, LEFT, TOP = 26, 116, 104
INK, PENCIL, SHEET, LINEN, OAK = "#14212b", "#485762", "#f5f8f5", "#e3eae6", "#bfa676"


def rooms() -> list[str]:
    """Rooms from the lowest up, as the contract orders them."""
    config = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    layers = next(c for c in config["tool"]["importlinter"]["contracts"] if c["id"] == "rooms")
    names = [n.strip() for level in layers["layers"] for n in level.replace(":", "|").split("|")]
    return names[::-1]


def imports() -> set[tuple[str, str]]:
    """(importing room, imported room), imports that only types need left out."""
    graph = grimp.build_graph("futtock", exclude_type_checking_imports=True, cache_dir=None)
    found = set()
    for module in graph.modules:
        for other in graph.find_modules_directly_imported_by(module):
            pair = tuple(m.split(".")[1] if "." in m else m for m in (module, other))
            if pair[0] != pair[1]:
                found.add(pair)
    return found


def draw() -> str:
    """The picture as SVG."""
    names = rooms()
    marks = imports()
    size = CELL * len(names)
    wide, high = LEFT + size + 12, TOP + size + 12
    font = "Atkinson Hyperlegible Next, system-ui, sans-serif"
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" width="{wide}" '
        f'height="{high}" font-family="{font}" font-size="14" role="img">',
        "<title>Which room imports which</title>",
        f'<rect width="{wide}" height="{high}" fill="{SHEET}"/>',
    ]
    for i, name in enumerate(names):
        y, x = TOP + CELL * i, LEFT + CELL * i
        if i % 2:
            out.append(f'<rect x="{LEFT}" y="{y}" width="{size}" height="{CELL}" fill="{LINEN}"/>')
        out += [
            f'<text x="{LEFT - 8}" y="{y + 18}" text-anchor="end" fill="{INK}">{name}</text>',
            f'<text transform="translate({x + 18} {TOP - 8}) rotate(-90)" fill="{PENCIL}">'
            f"{name}</text>",
            f'<rect x="{x}" y="{y}" width="{CELL}" height="{CELL}" fill="{OAK}"/>',
        ]
    for i, row in enumerate(names):
        for j, column in enumerate(names):
            if (row, column) in marks:
                x, y = LEFT + CELL * (j + 0.5), TOP + CELL * (i + 0.5)
                out.append(f'<circle cx="{x:g}" cy="{y:g}" r="5" fill="{INK}"/>')
    return "\n".join([*out, "</svg>", ""])


if __name__ == "__main__":
    PICTURE.parent.mkdir(exist_ok=True)
    PICTURE.write_text(draw(), encoding="utf-8")
