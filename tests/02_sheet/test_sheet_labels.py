"""Labels lie where nothing that matters is, words keep to their room, letters can be written."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from futtock.errors import Unreadable
from futtock.sheet.extent import text_corners
from futtock.sheet.items import Face, Text, flat
from futtock.sheet.labels import Labels
from futtock.sheet.letters import add_font, lacking, shortened, width_mm, wrapped
from futtock.sheet.table import Table, set_table, widths


def test_a_label_keeps_off_a_line() -> None:
    """Beside a line the label is set clear of it, though its first place lies on it."""
    import shapely

    labels = Labels()
    line = [(-50.0, 0.0), (50.0, 3.0)]
    labels.keep_off(line)
    items = labels.beside(Text("7½°", (0, 0), 4.0), (0.0, 1.5), 0.0)
    text = next(i for i in items if isinstance(i, Text))
    assert shapely.Polygon(text_corners(text)).distance(shapely.LineString(line)) >= 0.55


@settings(deadline=None, max_examples=25)
@given(st.lists(st.tuples(st.floats(0, 180), st.floats(0, 120)), min_size=2, max_size=12))
def test_labels_do_not_lie_on_each_other(points: list[tuple[float, float]]) -> None:
    """However close the points, with room about no two labels overlap."""
    import shapely

    labels = Labels()
    out = []
    for k, p in enumerate(points):
        out += [
            i for i in labels.beside(Text(f"mark {k}", (0, 0), 3.0), p, 90.0) if isinstance(i, Text)
        ]
    boxes = [shapely.Polygon(text_corners(t)) for t in out]
    clash = sum(a.intersection(b).area > 1e-9 for i, a in enumerate(boxes) for b in boxes[i + 1 :])
    assert clash == 0


def test_a_far_label_gets_a_leader() -> None:
    """Where the near places are taken the label stands off, joined by a line."""
    labels = Labels()
    labels.taken((-9.0, -9.0, 9.0, 9.0))
    items = labels.beside(Text("4°", (0, 0), 3.0), (0.0, 0.0), 0.0)
    assert len(items) == 2


def test_collisions_are_counted_truly() -> None:
    """A turned label's box meets a segment where geometry says so, checked by another library."""
    import shapely

    rng = np.random.default_rng(5)
    for _ in range(200):
        a, b = rng.uniform(-20, 20, (2, 2))
        text = Text("12-P-f2", (0.0, 0.0), 4.0, angle_deg=float(rng.uniform(0, 360)))
        labels = Labels(gap_mm=0.0)
        labels.keep_off([a, b])
        meets = shapely.Polygon(text_corners(text)).intersects(shapely.LineString([a, b]))
        assert labels.collisions(text)[0] == int(meets)


def test_letters_write_three_alphabets_and_fractions() -> None:
    """Latin, Greek, Cyrillic, eighths, degrees and the trade's signs can all be written."""
    for face in Face:
        assert lacking("Marram Ωκεανός Беломорье ½¼¾⅛⅜⅝⅞ ° × – 0123456789 …", face) == ()
    assert lacking("\U0010fffd") == ("\U0010fffd",)


def test_a_file_that_is_no_font_is_refused(tmp_path) -> None:  # type: ignore[no-untyped-def]
    """Another file given as a font is refused with its name."""
    file = tmp_path / "slab.ttf"
    file.write_bytes(b"oak")
    with pytest.raises(Unreadable, match=r"slab\.ttf"):
        add_font(file)


words = st.text(st.sampled_from("abcdefg  WM-12½"), max_size=80)


@given(words, st.floats(8, 60))
def test_wrapped_words_keep_to_their_room(text: str, room: float) -> None:
    """No line is wider than the room, and no word is lost."""
    lines = wrapped(text, 3.0, Face.WORDS, room)
    assert all(width_mm(line, 3.0, Face.WORDS) <= room + 1e-6 for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "").replace("\n", "")


@given(words, st.floats(3, 60))
def test_shortened_words_keep_to_their_room(text: str, room: float) -> None:
    """What is shortened fits, and says that it was by an ellipsis."""
    said = shortened(text, 3.0, Face.FIGURES, room)
    assert width_mm(said, 3.0, Face.FIGURES) <= max(room, width_mm("…", 3.0, Face.FIGURES)) + 1e-6
    assert said == text or said.endswith("…")


def test_long_names_do_not_collide_in_a_table() -> None:
    """With names far too long for the room, no cell overlaps its neighbour."""
    import shapely

    name = "The Honourable Company's Adventure of Great Renown " * 3
    table = Table(
        ("vessel", "mark", "length"), ((name, "12-P-f2", "1234.5"), ("A", name, "1")), "llr"
    )
    items, height = set_table(table, (0.0, 0.0), 3.0, 120.0)
    assert sum(widths(table, 3.0, 120.0)) <= 120.01
    boxes = [shapely.Polygon(text_corners(t)) for t in flat(items) if isinstance(t, Text)]
    assert all(a.intersection(b).area < 1e-6 for i, a in enumerate(boxes) for b in boxes[i + 1 :])
    assert height > 3 * 3.0
