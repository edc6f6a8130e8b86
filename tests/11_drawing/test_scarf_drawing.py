"""A scarf's drawing: to scale, its bolts where they were set out, its cautions on it."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from futtock.bench.scarf import ScarfSettings, scarf
from futtock.drawing.heading import Heading
from futtock.drawing.scarf import scarf_drawing
from futtock.sheet.extent import box_of
from futtock.sheet.items import Arc, Path, Text, flat
from futtock.sheet.labels import Labels

MADE = {
    "keel": ScarfSettings("keel", "keyed", 300.0, 200.0, ratio=6.0, adds_mm=1200, rabbet_mm=190),
    "plank": ScarfSettings("plank", "plain", 32.0, 150.0, ratio=4.0),
    "shelf": ScarfSettings("shelf", "nibbed", 90.0, 60.0, ratio=8.0, glued=True),
}


@pytest.mark.parametrize("name", MADE)
def test_the_joint_is_drawn_to_one_scale(name: str) -> None:
    """The joint's line on paper is the scarf's own, each way by the same trade scale."""
    made = scarf(MADE[name])
    sheet = scarf_drawing(made, Heading("Marram", show="metric"))
    line = next(i for i in flat(sheet.items) if isinstance(i, Path) and i.layer == "JOINT")
    ratio = made.joint_mm[-1, 0] / line.points_mm[-1, 0]
    assert min(abs(ratio - r) for r in (1, 2, 5, 10, 20, 25, 50)) < 1e-9
    np.testing.assert_allclose(line.points_mm * ratio, made.joint_mm, atol=1e-9)


def test_bolts_and_stopwater_lie_where_they_were_set_out() -> None:
    """Each bolt is a circle in the plan at its place and stagger, and so is the stopwater."""
    made = scarf(MADE["keel"])
    sheet = scarf_drawing(made, Heading("Marram", show="metric"))
    arcs = [i for i in flat(sheet.items) if isinstance(i, Arc)]
    bolts = [a for a in arcs if a.layer == "BOLTS"]
    assert len(bolts) == len(made.bolts) >= 2
    ratio = made.bolts[0].x_mm / bolts[0].centre_mm[0]
    middle = np.mean([a.centre_mm[1] for a in bolts[:2]])
    for drawn, bolt in zip(bolts, made.bolts, strict=True):
        x, y = drawn.centre_mm
        assert (x * ratio, (y - middle) * ratio) == pytest.approx((bolt.x_mm, bolt.across_mm))
        assert drawn.radius_mm * 2 * ratio == pytest.approx(made.settings.bolt_diameter_mm)
    water = [a for a in arcs if a.layer == "STOPWATER"]
    assert [tuple(np.array(a.centre_mm) * ratio) for a in water] == [
        pytest.approx(p) for p in made.stopwaters_mm
    ]


@pytest.mark.parametrize("name", MADE)
def test_words_lie_apart_and_on_the_paper(name: str) -> None:
    """No two words of a scarf's drawing touch, none leaves the paper, and the caution is there."""
    sheet = scarf_drawing(scarf(MADE[name]), Heading("Marram", "2026-01-01", "a1b2"))
    words = [i for i in flat(sheet.items) if isinstance(i, Text) and i.text]
    for a, b in combinations(words, 2):
        labels = Labels(0.0)
        labels.put(a)
        assert labels.collisions(b)[1] == 0, (a.text, b.text)
    box, window = box_of(sheet.items), sheet.window_mm
    assert box is not None
    assert box[0] >= window[0]
    assert box[1] >= window[1]
    assert box[2] <= window[2]
    assert box[3] <= window[3]
    assert any("not a design" in w.text for w in words)
