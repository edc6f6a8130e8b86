"""The picture of the house is the house."""

from __future__ import annotations

from pathlib import Path

import architecture

ROOT = Path(__file__).resolve().parents[2]


def test_the_picture_is_current() -> None:
    """The drawn imports are the imports there are; ``make picture`` draws them again."""
    assert architecture.PICTURE.read_text(encoding="utf-8") == architecture.draw()


def test_every_import_goes_up() -> None:
    """No room imports one that stands below it, or beside it on its own level but for the first."""
    order = {name: at for at, name in enumerate(architecture.rooms())}
    found = architecture.imports()
    assert len(found) > 10
    assert [(a, b) for a, b in found if a in order and b in order and order[b] > order[a]] == []


def test_every_room_is_in_the_page() -> None:
    """ARCHITECTURE.md says what each room is for."""
    text = (ROOT / "ARCHITECTURE.md").read_text(encoding="utf-8")
    assert [name for name in architecture.rooms() if f"`{name}`" not in text] == []
