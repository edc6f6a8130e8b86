from __future__ import annotations

import time

import cv2
import numpy as np
import pytest
import shapely
from photo_cases import card_rings, encoded, off, taped
from photo_scene import Hardness, render

from futtock.errors import Misused, Unreadable
from futtock.stock.adding import add_photographed
from futtock.stock.inspect import inspect_slab
from futtock.stock.photo.correction import Marks, Touch, corrected, read_touches
from futtock.stock.photo.photograph import (
    PhotoSettings,
    photo_slab,
    photographed,
)
from futtock.stock.rack import rack_from_text, rack_of, rack_text
from futtock.stock.slab import Flaw

BOX = np.array([[0, 0], [1000, 0], [1000, 200], [0, 200]], float)


def test_the_outline_is_found_unaided(scene, got):
    """Whole face within 8 mm at the 95th percentile, sound outline told from sapwood."""
    true = got.plane.millimetres(scene.pixels(scene.face_mm))
    sound = got.plane.millimetres(scene.pixels(scene.sound_mm))
    assert off(got.face.whole_mm, true) < 8
    assert got.face.sapwood
    assert off(got.face.sound_mm, sound) < 12
    assert not got.face.cut


def test_the_grain_is_seen_as_painted(scene, got):
    """Where confident, in so small a picture: median within 2.2 degrees, 95th percentile 7."""
    rows, columns = np.nonzero(np.isfinite(scene.grain_deg))
    at = np.c_[columns, rows] * scene.grain_step + scene.grain_origin
    t = np.radians(scene.grain_deg[rows, columns])
    step = 3 * np.c_[np.cos(t), np.sin(t)]
    a, b = (got.plane.millimetres(scene.pixels(p)) for p in (at - step, at + step))
    true = np.degrees(np.arctan2(*(b - a).T[::-1]))
    cell = np.rint(got.seen.grid.cells((a + b) / 2)).astype(int)
    sure = got.seen.confidence[cell[:, 1], cell[:, 0]] > 0.45
    wrong = np.abs((got.seen.angle_deg[cell[:, 1], cell[:, 0]] - true + 90) % 180 - 90)[sure]
    assert sure.mean() > 0.5
    assert np.median(wrong) < 2.2
    assert np.percentile(wrong, 95) < 7


def test_knots_are_proposed_and_none_decided(scene, got):
    """Every painted knot clear of cards is proposed; without acceptance the slab has no flaw."""
    cards = [shapely.Polygon(c) for c in card_rings(got)]
    middles = [p.outline_mm.mean(0) for p in got.proposed if p.kind == "knot"]
    for x, y, along, _ in scene.knots:
        place = got.plane.millimetres(scene.pixels(np.array([[x, y]])))[0]
        if not any(c.distance(shapely.Point(place)) < along for c in cards):
            assert min(np.hypot(*(m - place)) for m in middles) < max(0.8 * along, 10)
    assert got.marks().flaws == ()
    assert len(got.marks(accept=True).flaws) == len(got.proposed)
    assert "S734" in [f.code for f in got.findings]


def test_the_slab_joins_the_rack(got):
    """Its entry is in the form of the rack, passes inspection, and carries the lines traced."""
    slab = photo_slab("P-1", "white oak", 70.0, got.marks(accept=True), moisture_percent=18.0)
    assert [f.code for f in inspect_slab(slab) if f.severity != "note"] == []
    assert len(slab.grain_mm) > 3
    back = rack_from_text(rack_text(rack_of([slab])))
    assert back["P-1"].flaws[0].kind == got.proposed[0].kind
    assert shapely.Polygon(slab.top_mm).area < shapely.Polygon(slab.face_top_mm).area


def test_a_photograph_is_added_with_its_portrait(scene):
    """Content in, rack and portrait out; where the portrait lies is kept with the slab."""
    named = photo_slab(
        "P-2", "white oak", 70.0, Marks(BOX, BOX, (), (), ()), portrait="photos/P-2.jpg"
    )
    settings = PhotoSettings(lie="face", portrait_mm=3.0, accept=True)
    done = add_photographed(rack_of([]), encoded(scene.image), named, settings)
    assert [s.name for s in done.rack.slabs] == ["P-2"]
    picture = cv2.imdecode(np.frombuffer(done.portrait_jpeg, np.uint8), cv2.IMREAD_COLOR)
    assert picture.shape == done.photographed.portrait.picture.shape
    back = rack_from_text(rack_text(done.rack))["P-2"]
    assert back.portrait == "photos/P-2.jpg"
    x, y, scale = back.portrait_at
    column, row = done.photographed.portrait.pixels(np.array([x, y]))
    assert (column, row, scale) == (0, picture.shape[0] - 1, 3.0)
    with pytest.raises(Unreadable, match="of that name"):
        add_photographed(done.rack, encoded(scene.image), named, settings)


def test_touches_mend_a_spoiled_outline(scene, got):
    """Pushed 40 mm out on one stretch, the outline comes back with a few points, snapped."""
    true = got.plane.millimetres(scene.pixels(scene.face_mm))
    ring = got.face.whole_mm.copy()
    middle = (ring.max(0) + ring.min(0)) / 2
    spoil = (np.abs(ring[:, 0] - middle[0]) < 260) & (ring[:, 1] > middle[1])
    ring[spoil, 1] += 40
    marks = Marks(ring, ring, (), (), ())
    edge = shapely.get_coordinates(shapely.segmentize(shapely.LinearRing(true), 10))
    count = 0
    while count < 25:
        far = shapely.distance(shapely.points(edge), shapely.LinearRing(marks.whole_mm))
        if far.max() < 4:
            break
        marks, _ = corrected(marks, [Touch("point", edge[far.argmax()][None])], got.portrait)
        count += 1
    assert 0 < count <= 25
    assert off(marks.whole_mm, true) < 4
    assert marks.sound_mm is marks.whole_mm


@pytest.mark.parametrize("far", [200.0, -180.0])
def test_one_touch_moves_a_sawn_end_that_is_far_off(far):
    """A point beyond a lost end, or well within a slab whose end was taken too far: the end moves
    there whole, with the sides as they ran and the sound outline along; nothing else changes."""
    x = np.linspace(0, 1500, 76)
    right, left = np.c_[x, -150 - 0.03 * x], np.c_[x, 150 + 0.02 * x]
    whole = np.vstack([right, left[::-1]])
    sound = np.vstack([right + np.array([0, 20]), (left - np.array([0, 25]))[::-1]])
    marks = Marks(whole, sound, (), (), ())
    place = np.array([[1500 + far, 160.0 if far > 0 else 10.0]])
    got, found = corrected(marks, [Touch("point", place)])
    assert found == ()
    end = 1500 + far
    for ring, low, high in ((got.whole_mm, 150, 150), (got.sound_mm, 130, 125)):
        shape = shapely.Polygon(ring)
        true = [[0, -low], [end, -low - 0.03 * end], [end, high + 0.02 * end], [0, high]]
        assert shape.symmetric_difference(shapely.Polygon(true)).area < 0.003 * shape.area
    assert shapely.Polygon(got.whole_mm).buffer(0.1).contains(shapely.Polygon(got.sound_mm))


def test_sound_wood_stays_within_the_face_as_it_is_put_right():
    """An offcut against the edge was taken in, sapwood and all: drawn back, the sound outline is
    drawn back with it, and claims no wood beyond the face."""
    bulge = np.array([[0, 0], [400, 0], [420, -60], [580, -60], [600, 0], [1000, 0]], float)
    whole = np.vstack([bulge, [[1000, 300], [0, 300]]])
    sound = np.vstack([bulge + np.array([0, 15]), [[1000, 280], [0, 280]]])
    stroke = Touch("stroke", np.array([[380, 0], [500, 2], [620, 0]], float))
    got, _ = corrected(Marks(whole, sound, (), (), ()), [stroke])
    assert shapely.Polygon(sound).difference(shapely.Polygon(got.whole_mm)).area > 5000
    assert shapely.Polygon(got.sound_mm).difference(shapely.Polygon(got.whole_mm)).area < 1
    assert shapely.Polygon(got.sound_mm).area == pytest.approx(265_000 + 900, rel=0.02)


def test_strokes_flaws_and_lines_are_data():
    """A stroke replaces its stretch; a flaw is kept, dropped or drawn; far touches are refused."""
    ring = np.array([[0, 0], [1000, 0], [1000, 200], [0, 200]], float)
    knot = Flaw("knot", np.array([[100, 90], [130, 90], [115, 120]], float), "top")
    marks = Marks(ring, ring, (), (knot,), ())
    touches = read_touches(
        [
            {"what": "stroke", "points": [[300, 0], [500, 30], [700, 0]]},
            {"what": "keep", "points": [[118, 99]]},
            {"what": "flaw", "kind": "rot", "points": [[800, 50], [850, 50], [820, 90]]},
            {"what": "grain", "points": [[10, 100], [990, 110]]},
            {"what": "drop", "points": [[600, 100]]},
            {"what": "point", "points": [[500, 900]]},
        ]
    )
    got, findings = corrected(marks, touches)
    assert shapely.Polygon(got.whole_mm).area == pytest.approx(200_000 - 400 * 30 / 2, rel=1e-3)
    assert [f.kind for f in got.flaws] == ["knot", "rot"]
    assert got.proposed == ()
    assert len(got.grain_mm) == 1
    assert [(f.code, f.line) for f in findings] == [("S736", 5), ("S736", 6)]


@pytest.mark.parametrize(
    "bad",
    [
        {"what": "wish", "points": [[0, 0]]},
        {"what": "stroke", "points": [[0, 0]]},
        {"what": "point", "points": [["a", 0]]},
        {"what": "point"},
        {"what": "point", "points": [[0, 0]], "outline": "middle"},
        {"what": "flaw", "points": [[0, 0], [1, float("nan")], [2, 2]]},
    ],
)
def test_a_touch_that_is_none_is_refused_in_words(bad):
    """What a page or a file sends amiss is named with its number."""
    with pytest.raises(Misused, match="correction 1"):
        read_touches([bad])


@pytest.mark.slow
def test_a_whole_slab_at_twelve_megapixels_in_time():
    """A slab of 4 m in a photograph of 12 megapixels: 8 s of one core at most, decoding apart, the
    whole face within 8 mm unaided, and a portrait of 12 megapixels at most."""
    hard = Hardness(shadow=0.5, bark=0.7, sap=0.6, tilt=0.5, lens=0.5, knots=4.0)
    scene = render(41, hard, length=4000.0, width=380.0, pixels=(4000, 3000), cards=6)
    asked = PhotoSettings(taped={(0, 5): taped(scene, 0, 5)}, lie="face")
    start = time.process_time()
    big = photographed(scene.image, asked)
    assert time.process_time() - start < 8.0
    assert off(big.face.whole_mm, big.plane.millimetres(scene.pixels(scene.face_mm))) < 8
    assert big.portrait.picture[..., 0].size <= 12_100_000
