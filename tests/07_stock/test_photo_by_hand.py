"""Corrections as a file, and the second face as wane widths by tape beside a photograph."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema_rs
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from futtock.errors import Misused, Unreadable
from futtock.stock.adding import add_read
from futtock.stock.photo.by_hand import by_hand_from_text, by_hand_text
from futtock.stock.photo.photograph import photo_slab
from futtock.stock.rack import rack_of
from futtock.stock.tape import read_tape_rows
from futtock.stock.taped import taped_slab
from futtock.stock.wane import Wane, below_by_wane, wane_of, widened
from futtock.vessel.grid import GridRow

SCHEMA = Path(__file__).parents[2] / "docs" / "schemas" / "corrections.schema.json"
BOX = np.array([[0, 0], [1000, 0], [1000, 200], [0, 200]], float)
GOOD = {
    "top": [
        {"what": "point", "points": [[500, 4]]},
        {"what": "stroke", "points": [[300, 0], [500, 30], [700, 0]], "outline": "top"},
        {"what": "flaw", "kind": "rot", "points": [[800, 50], [850, 50], [820, 90]]},
        {"what": "corner", "points": [[0, 0]]},
    ],
    "bottom": [{"what": "grain", "points": [[0, 100], [900, 110]]}],
    "cards": {"3": [[10, 10], [110, 12], [108, 111], [9, 109]]},
}


def bare(got, name="P-1"):
    return photo_slab(name, "white oak", 70.0, got.marks())


def wane(left, right):
    return Wane(np.array(left, float).reshape(-1, 2), np.array(right, float).reshape(-1, 2))


def area(ring) -> float:
    return shapely.Polygon(ring).area


def test_a_file_of_corrections_is_read_as_it_was_written():
    """Both faces and a card go out and come back; a bare list is the first face's; both keep to
    the published schema."""
    hand = by_hand_from_text(by_hand_text(**GOOD))
    assert [t.what for t in hand.top] == ["point", "stroke", "flaw", "corner"]
    assert (hand.top[1].outline, hand.top[2].kind) == ("top", "rot")
    assert hand.bottom[0].points_mm.tolist() == [[0, 100], [900, 110]]
    assert hand.cards[3].shape == (4, 2)
    assert by_hand_from_text(json.dumps(GOOD["top"])).top[3].what == "corner"
    checker = jsonschema_rs.validator_for(json.loads(SCHEMA.read_text("utf-8")))
    assert checker.is_valid(json.loads(by_hand_text(**GOOD)))
    assert checker.is_valid(GOOD["top"])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[", "no JSON"),
        ("[" * 50_000, "cannot be read|no JSON"),
        ("3", "neither a list nor an object"),
        ('{"tops": []}', "'tops' is not known"),
        ('{"top": {}}', "top is no list"),
        ('[["point"]]', "top is no list"),
        ('[{"what": "wish", "points": [[0, 0]]}]', "top, correction 1"),
        ('[{"what": "point", "points": [[1e9, 0]]}]', "top, correction 1"),
        ('{"bottom": [{"what": "grain", "points": [[0, 0]]}]}', "bottom, correction 1"),
        ('{"cards": {"a": [[0, 0], [1, 0], [1, 1], [0, 1]]}}', "card 'a'"),
        ('{"cards": {"2": [[0, 0], [1, 0]]}}', "card '2'"),
        ('{"cards": [1]}', "card ''"),
        (json.dumps([{"what": "point", "points": [[0, 0]]}] * 4001), "4001 corrections"),
    ],
)
def test_what_is_no_file_of_corrections_is_refused(text, said):
    """One finding with what to do, and the correction by its face and number."""
    with pytest.raises(Unreadable, match=said) as caught:
        by_hand_from_text(text, "c.json")
    assert [(f.code, f.file) for f in caught.value.findings] == [("S739", "c.json")]
    if text[0] == "[" and len(text) < 100:  # the schema refuses what is JSON and no correction
        return
    if text[0] == "{":
        schema = jsonschema_rs.validator_for(json.loads(SCHEMA.read_text("utf-8")))
        assert not schema.is_valid(json.loads(text))


def test_corrections_change_the_slab_that_is_added(got):
    """A stroke moves the edge where it was drawn, a knot is kept, another dropped, rot drawn in,
    and a touch too far off is told."""
    knots = [p.outline_mm.mean(0).tolist() for p in got.proposed if p.kind == "knot"]
    plain = add_read(rack_of([]), got, bare(got)).slab
    ring = plain.face_top_mm
    low = ring[np.argmin(np.abs(ring[:, 0] - ring[:, 0].mean()) + (ring[:, 1] > 0) * 1e6)]
    rot = [(low + np.array([dx, dy])).tolist() for dx, dy in ((0, 60), (50, 60), (20, 90))]
    hand = by_hand_from_text(
        by_hand_text(
            [
                {"what": "keep", "points": [knots[0]]},
                {"what": "drop", "points": [knots[1]]},
                {"what": "flaw", "kind": "rot", "points": rot},
                {"what": "point", "points": [(low + np.array([0, 5000])).tolist()]},
            ]
        )
    )
    done = add_read(rack_of([]), got, bare(got), hand)
    assert [f.kind for f in done.slab.flaws] == ["knot", "rot"]
    assert [f.line for f in done.findings if f.code == "S736"] == [4]
    np.testing.assert_allclose(done.slab.face_top_mm, ring)


def test_corners_named_in_the_file_tie_the_second_face(got):
    """Two corners of each face, in the same order, lay the second on the first; what is corrected
    on the second face is carried with it."""
    ring = got.face.whole_mm
    ends = ring[[ring[:, 0].argmin(), ring[:, 0].argmax()]]
    seen = ends * [1.0, -1.0]  # the second picture shows the slab turned over about its length
    drawn = np.array([[0, 10], [40, 10], [20, 40]], float)
    bottom = [{"what": "flaw", "kind": "rot", "points": drawn.tolist()}]
    bottom += [{"what": "corner", "points": [p]} for p in seen.tolist()]
    top = [{"what": "corner", "points": [p]} for p in ends.tolist()]
    hand = by_hand_from_text(by_hand_text(top, bottom))
    done = add_read(rack_of([]), got, bare(got), hand, other=got)
    assert done.other.startswith("tied by 2 corners named, 0.0 mm")
    (rot,) = done.slab.flaws
    assert (rot.kind, rot.face) == ("rot", "bottom")
    np.testing.assert_allclose(np.sort(rot.outline_mm[:, 1]), [-40, -10, -10], atol=1e-6)
    np.testing.assert_allclose(
        shapely.Polygon(done.slab.face_bottom_mm).bounds,
        shapely.Polygon(ring * [1.0, -1.0]).bounds,
        atol=0.1,
    )


def test_the_second_face_by_wane_widths(got):
    """Wider by 30 mm to the left and 20 mm to the right of one who stands at the butt: the bottom
    gains so much a length, on the side that is meant, whichever end is the butt."""
    widths = wane([[0, 30]], [[0, 20]])
    ends = sorted(got.cards_mm, key=lambda n: got.cards_mm[n][0])
    for card, up, down in ((ends[0], 30, 20), (ends[-1], 20, 30)):
        done = add_read(rack_of([]), got, bare(got), wane=widths, butt_card=card)
        slab = done.slab
        length = np.ptp(slab.face_top_mm[:, 0])
        for above, below in (
            (slab.top_mm, slab.bottom_mm),
            (slab.face_top_mm, slab.face_bottom_mm),
        ):
            gained = area(below) - area(above)
            assert gained == pytest.approx(50 * length, rel=0.03)
            # the corners of a skewed end move square to the base line: a sliver of it is given up
            assert shapely.Polygon(below).buffer(4.0).contains(shapely.Polygon(above))
            assert below[:, 1].max() == pytest.approx(above[:, 1].max() + up, abs=0.2)
            assert below[:, 1].min() == pytest.approx(above[:, 1].min() - down, abs=0.2)
        assert f"by card {card}" in done.other
    assert "taken for the butt" in add_read(rack_of([]), got, bare(got), wane=widths).other
    with pytest.raises(Misused, match="no card 44"):
        add_read(rack_of([]), got, bare(got), wane=widths, butt_card=44)


def test_wane_beside_a_photograph_and_in_a_tape_record_mean_the_same():
    """The record's own columns: a taped slab's bottom is what its outline gives with its wane."""
    rows = [
        ("slab", "A"), ("species", "oak"), ("unit", "in"), ("thickness", "2 1/2"),
        ("station", "top left", "top right", "wane left", "wane right"),
        ("0", "6", "5", "1", ""), ("2-0-0", "6 1/2", "5", "1 1/2", "3/4"),
        ("4-0-0", "6", "4 1/2", "", "1/2 in"),
    ]  # fmt: skip
    records, found = read_tape_rows([GridRow(k, r) for k, r in enumerate(rows, 1)], "t.csv")
    assert found == ()
    slab, _ = taped_slab(records[0])
    widths = wane_of(records[0])
    assert widths.at(np.array([0.0, 609.6, 1219.2]))[0].tolist() == [25.4, 38.1, 38.1]
    np.testing.assert_allclose(widened(slab.top_mm, widths), slab.bottom_mm)
    by_hand = np.array([[0, -127 - 19.05], [609.6, -127 - 19.05], [1219.2, -114.3 - 12.7]])
    np.testing.assert_allclose(slab.bottom_mm[:3], by_hand)


def test_odd_wane_is_told_and_does_no_harm():
    """Stations far off the slab are named; widths that leave no wood leave the top as it was."""
    (ring,), found = below_by_wane((BOX,), wane([[0, 10], [9000, 10]], []), BOX, False, "A")
    assert [(f.code, f.column) for f in found] == [("S412", "station")]
    assert area(ring) == pytest.approx(1000 * 210)
    (ring,), found = below_by_wane((BOX,), wane([[0, -150]], [[0, -90]]), BOX, False, "A")
    assert [(f.code, f.column) for f in found] == [("S412", "wane")]
    assert ring is BOX
    record = read_tape_rows([GridRow(1, ("slab", "A")), GridRow(2, ("station", "wane left"))], "t")
    with pytest.raises(Unreadable) as caught:
        wane_of(record[0][0])
    assert caught.value.findings[0].code == "S409"


@settings(max_examples=40, deadline=None)
@given(
    widths=st.lists(st.floats(0, 80), min_size=4, max_size=4),
    skew=st.floats(-60, 60),
    turned=st.booleans(),
)
def test_wane_between_stations_is_straight(widths, skew, turned):
    """On a slab with skewed ends the area gained is that of the two strips of linear width, and
    nothing of the top is lost but a sliver of a skewed end."""
    ring = np.array([[0, 0], [1000, 0], [1000 + skew, 200], [skew, 200]], float) - [min(skew, 0), 0]
    a, b, c, d = widths
    span = np.ptp(ring[:, 0])
    given_wane = wane([[0, a], [span, b]], [[0, c], [span, d]])
    (below,), found = below_by_wane((ring,), given_wane, ring, turned, "A")
    assert found == ()
    sliver = abs(skew) * max(widths) / 200 + 1e-6
    assert shapely.Polygon(below).buffer(sliver).contains(shapely.Polygon(ring))
    strips = 1000 * (a + b + c + d) / 2
    skewed = 2 * abs(skew) * max(widths) + 1
    assert area(below) - area(ring) == pytest.approx(strips, abs=skewed)
