"""The page's tie of two photographed faces: corners named, else cards on both, else outlines."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import shapely

from futtock.job.office.face import kept, other_face
from futtock.job.office.photo import marks_of

RING = np.array([[0, 0], [1400, 40], [1380, 330], [20, 290]], float)
CARDS = {2: [-90.0, 100.0], 5: [700.0, 420.0], 9: [1500.0, 200.0]}


def read(folder: Path, ring: np.ndarray, cards: dict[int, list[float]]) -> Path:
    folder.mkdir()
    whole = ring.tolist()
    said = {"whole_mm": whole, "sound_mm": whole, "proposed": [], "grain_mm": [], "cards_mm": cards}
    (folder / "read.json").write_text(json.dumps(said))
    return folder


@pytest.mark.parametrize(
    ("moved", "how"), [(0.0, "by cards 2, 5, 9"), (80.0, "outline on outline")]
)
def test_the_page_ties_by_cards_that_stayed(tmp_path: Path, moved: float, how: str) -> None:
    """Cards where they were tie the faces and the bottom lies on the top; one moved is told."""
    behind = {n: [x + (moved if n == 5 else 0.0), -y] for n, (x, y) in CARDS.items()}
    first = read(tmp_path / "first", RING, CARDS)
    second = read(tmp_path / "second", RING * [1, -1], behind)
    marks, touches = marks_of(first)
    other = other_face(first, second, marks, touches, str)
    assert f"tied {how}," in other.says
    assert [f.code for f in other.findings] == ([] if moved == 0 else ["S738"])
    bottom = shapely.Polygon(kept(first, second, marks, touches)["bottom_mm"])
    assert bottom.symmetric_difference(shapely.Polygon(RING)).area < 0.01 * bottom.area
