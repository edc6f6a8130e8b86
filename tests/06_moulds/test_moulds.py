"""All moulds of some frames at once: twins, blanks, the JSON document, and stopping."""

import json
from dataclasses import replace

import numpy as np
import pytest
import shapely
from exact_frames import cone_frame, sphere_frame

from futtock.errors import Interrupted, Misused
from futtock.framing.outline import TimberShape
from futtock.moulds.blank import blank, blanks
from futtock.moulds.document import moulds_json
from futtock.moulds.flat import _squared, lay_flat, moulds
from futtock.moulds.rings import run_mm, signed_area, untangled
from futtock.moulds.settings import MouldSettings


@pytest.fixture(scope="module")
def made():
    frames = [
        cone_frame(12.0, number=1, marks=[("A", "sirmark", 0.3)]),
        sphere_frame(number=2),
    ]
    return frames, moulds(frames, MouldSettings())


def test_one_mould_a_timber_in_order(made):
    """Every timber has a mould, in the frames' order; each port one names its starboard twin."""
    frames, every = made
    assert [m.mark for m in every] == [t.mark for f in frames for t in f.timbers]
    for m in every:
        assert m.same_as == (m.mark.replace("-P-", "-S-") if m.side == "P" else None)
        assert m.findings == ()


def test_outlines_are_those_of_the_cone(made):
    """Laid flat and carried back, each face's ring lies on its own circles within 0.01 mm."""
    frames, every = made
    tan_g = np.tan(np.radians(12.0))
    for m in every[: len(frames[0].timbers)]:
        far = 4000.0 + (-50.0 if m.layer == "f" else 50.0)
        for edge, less in zip(m.edges, (0.0, 100.0), strict=True):
            for line, x in ((edge.up_mm, 4000.0), (edge.down_mm, far)):
                r = np.hypot(*m.place.to_frame(line).T)
                assert np.abs(r - (x * tan_g - less)).max() < 0.01


def test_square_is_the_union_of_both_faces(made):
    """The square is the blank's area: no less than either face, no more than their sum."""
    _, every = made
    for m in every:
        up, down = shapely.Polygon(m.outline_up_mm), shapely.Polygon(m.outline_down_mm)
        assert m.square_m2 * 1e6 == pytest.approx(up.union(down).area, rel=1e-9)
        assert max(up.area, down.area) < m.square_m2 * 1e6 < up.area + down.area
        assert m.volume_m3 * 1e9 == pytest.approx((up.area + down.area) / 2 * 50.0, rel=0.01)


def test_blanks_hold_both_faces_and_the_allowance(made):
    """A blank keeps the allowance from every point of both faces, and is no larger than it must."""
    _, every = made
    bare, roomy = blanks(every[:4]), blanks(every[:4], 9.5)
    for m, tight, ring in zip(every, bare, roomy, strict=False):
        assert signed_area(tight) > 0
        faces = np.concatenate([m.outline_up_mm, m.outline_down_mm])
        hole = shapely.Polygon(ring)
        gap = shapely.distance(hole.exterior, shapely.points(faces))
        assert hole.contains(shapely.MultiPoint(faces))
        assert gap.min() == pytest.approx(9.5, abs=0.02)
        assert shapely.Polygon(tight).area == pytest.approx(m.square_m2 * 1e6, rel=1e-9)
    assert blank(every[0]) == pytest.approx(bare[0])
    assert blanks([]) == ()
    with pytest.raises(Misused, match="not negative"):
        blank(every[0], -1.0)


def test_document_holds_every_timber(made):
    """The JSON document has the fixed keys for each timber and survives a round trip."""
    _, every = made
    document = json.loads(json.dumps(moulds_json(every)))
    assert len(document["moulds"]) == len(every)
    first = document["moulds"][0]
    assert {
        "mark",
        "up",
        "outline_up",
        "outline_down",
        "grain",
        "marks",
        "square_m2",
        "mass_kg",
    } <= set(first)
    assert np.array(first["outline_up"]) == pytest.approx(every[0].outline_up_mm, abs=1e-5)
    assert set(first["marks"][0]) == {"at_mm", "outer_deg", "inner_deg"}
    twin = next(m for m in document["moulds"] if m["side"] == "P")
    assert twin["same_as"] == twin["mark"].replace("-P-", "-S-")


def test_stopping_and_senseless_settings():
    """A report that says stop raises; marks at no distance are refused; no frames, no moulds."""
    with pytest.raises(Interrupted):
        moulds([cone_frame()], MouldSettings(), lambda _: False)
    with pytest.raises(Misused, match="positive"):
        moulds([cone_frame()], MouldSettings(marks_every_mm=0.0))
    assert moulds([], MouldSettings()) == ()


def test_what_crosses_itself_is_said_and_drawn_simple():
    """A timber whose outer edge lies inside its inner edge at one end is a misfit, drawn simple."""
    frame = cone_frame()
    timber = frame.timbers[0]
    t = np.linspace(0, 1, 30)
    outer = np.stack([1000 * t, 100 - 160 * t], axis=1)
    inner = np.stack([1000 * t, 0 * t], axis=1)
    lean = np.zeros(30)
    girth = np.linspace(0, 1000, 30)
    shape = TimberShape(outer, inner, outer, inner, girth, lean, lean)
    (mould,) = _squared([lay_flat(shape, frame, timber, MouldSettings())])
    assert [f.code for f in mould.findings] == ["D001"]
    assert shapely.Polygon(mould.outline_up_mm).is_valid
    assert shapely.Polygon(mould.outline_up_mm).exterior.is_ccw


def test_faces_far_apart_are_said():
    """Where the bevel carries one face past half the other it is a misfit."""
    frame = cone_frame()
    t = np.linspace(0, 1000, 30)
    outer, inner = np.stack([t, 0 * t], axis=1), np.stack([t, 0 * t + 60], axis=1)
    lean, down = np.zeros(30), np.array([0.0, 40.0])
    shape = TimberShape(outer, inner, outer + down, inner + down, t, lean, lean)
    (mould,) = _squared([lay_flat(shape, frame, frame.timbers[0], MouldSettings())])
    assert [f.code for f in mould.findings] == ["D003"]
    assert "33 %" in mould.findings[0].message


def test_untangled_keeps_simple_lines():
    """A line without loops stays as it is; a looped one keeps its count and loses its loop."""
    t = np.linspace(0, 4, 50)
    plain = np.stack([t, np.sin(t)], axis=1)
    assert untangled(plain)[0] is plain
    a = np.linspace(-0.5 * np.pi, 2.5 * np.pi, 60)
    loop = np.stack([a * 0.3 + np.cos(a), np.sin(a)], axis=1)
    assert not shapely.LineString(loop).is_simple
    line, moved = untangled(loop)
    assert len(line) == len(loop)
    assert moved > 0
    step = np.hypot(*np.diff(line, axis=0).T)
    assert shapely.LineString(line[np.concatenate([[True], step > 1e-12])]).is_simple
    assert run_mm(line)[-1] < run_mm(loop)[-1]


def test_moulds_are_values(made):
    """Arrays inside a mould cannot be written to, and a changed mould is a new one."""
    _, every = made
    with pytest.raises(ValueError, match="read-only"):
        every[0].outline_up_mm[0, 0] = 1.0
    assert replace(every[0], mark="x").mark != every[0].mark
