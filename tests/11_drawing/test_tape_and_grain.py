from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from futtock.drawing.grain import grain_lines, grain_page, grain_sheet
from futtock.drawing.heading import Heading
from futtock.drawing.tape_form import tape_form_sheet
from futtock.errors import Misused
from futtock.sheet.extent import box_of
from futtock.sheet.items import Text, flat
from futtock.sheet.pdf import pdf
from futtock.stock.grain import grain_field
from futtock.stock.invent import invent_rack
from futtock.stock.tape import FLAW_HEADING
from futtock.stock.tape_form import COLUMNS, tape_form

HEADING = Heading("Marram")
SLAB = next(s for s in invent_rack(60, 3) if any(f.kind == "knot" for f in s.flaws))


def words(sheet) -> list[str]:
    return [i.text for i in flat(sheet.items) if isinstance(i, Text)]


def test_grain_lines_follow_the_field_and_stay_on_sound_wood():
    """Every drawn line runs along the field within two degrees, inside the outline, off flaws."""
    field = grain_field(SLAB)
    lines = grain_lines(SLAB, field)
    assert len(lines) > 5
    ground = shapely.Polygon(SLAB.top_mm).buffer(7)
    for run, _ in lines:
        chord = np.diff(run, axis=0)
        own = np.degrees(np.arctan2(chord[:, 1], chord[:, 0]))
        angle, sure = field.at((run[1:] + run[:-1]) / 2)
        off = np.abs((angle - own + 90) % 180 - 90)
        assert (off[sure > 0.3] < 2.0).all()
        assert shapely.LineString(run).within(ground)


def test_a_guessed_field_is_drawn_broken_and_says_so():
    """Without a trace no line is whole, and the sheet says that the grain is guessed."""
    bare = replace(SLAB, grain_mm=(), grain_guessed=True)
    assert not any(sure for _, sure in grain_lines(bare, grain_field(bare)))
    assert any("guessed" in w for w in words(grain_sheet(bare, HEADING)))
    assert not any("guessed" in w for w in words(grain_sheet(SLAB, HEADING)))
    assert pdf([grain_sheet(SLAB, HEADING)])[:4] == b"%PDF"
    assert box_of(grain_page(SLAB).items)


@pytest.mark.parametrize("style", ["imperial", "metric"])
def test_the_form_matches_the_file_and_fits_its_paper(style):
    """Every heading of the file is on the sheet, and all of it within the border of A4."""
    sheet = tape_form_sheet(tape_form("A-09", "white oak", style, 4500.0), HEADING)
    said = words(sheet)
    for heading in (*COLUMNS, *FLAW_HEADING):
        assert all(word in said for word in heading.rsplit(" ", 1)), heading
    x0, y0, x1, y1 = box_of(sheet.on_paper())
    assert x0 >= 5
    assert y0 >= 5
    assert x1 <= 205
    assert y1 <= 292


def test_a_form_longer_than_the_sheet_is_refused_in_words():
    """Forty stations do not go on one sheet; the message says what to do."""
    with pytest.raises(Misused, match="in two parts"):
        tape_form_sheet(tape_form(length_mm=12_000), HEADING)
