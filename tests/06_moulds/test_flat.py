"""Moulds laid flat, against cones and spheres whose every figure is a closed form."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
import shapely
from exact_frames import cone_frame, round_frame, shape_of, sphere_frame

from futtock.moulds.flat import face_up, lay_flat, mirrored
from futtock.moulds.marks import bevel_marks
from futtock.moulds.mould import MouldPlace
from futtock.moulds.settings import MouldSettings

SETTINGS = MouldSettings()


def laid(frame, mark, settings=SETTINGS):
    timber = next(t for t in frame.timbers if t.mark == mark)
    return lay_flat(shape_of(frame, timber), frame, timber, settings)


def test_joint_face_is_up_by_default():
    """The forward layer shows its aft face, the after layer its forward face."""
    assert face_up("f", "joint") == "aft"
    assert face_up("a", "joint") == "forward"
    assert face_up("a", "aft") == "aft"


@pytest.mark.parametrize(
    ("side", "layer", "up"), list(itertools.product("SP", "fa", ["joint", "forward", "aft"]))
)
def test_axes_are_those_of_a_viewer_above_the_up_face(side, layer, up):
    """Rebuilt in the vessel, the mould's x cross y points out of the face that is up."""
    frame = cone_frame()
    mould = laid(frame, f"1-{side}-{layer}1", MouldSettings(up=up))
    # Three points of the mould carried into the vessel's (x aft, y starboard, z up).
    flat = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    out_up = mould.place.to_frame(flat)
    ship = np.stack([np.zeros(3), out_up[:, 0] * (1 if side == "S" else -1), out_up[:, 1]], axis=1)
    toward_viewer = np.cross(ship[1] - ship[0], ship[2] - ship[0])
    assert toward_viewer == pytest.approx([1.0 if mould.up == "aft" else -1.0, 0, 0], abs=1e-12)


@pytest.mark.parametrize("mark", ["1-S-f1", "1-S-a2", "1-P-f2", "1-P-a1"])
def test_mould_lies_along_x_from_the_corner(mark):
    """The chord of the middle line is along x, heel left, and the box touches both axes."""
    mould = laid(cone_frame(), mark)
    chord = mould.grain_mm[-1] - mould.grain_mm[0]
    assert chord[1] == pytest.approx(0.0, abs=1e-9)
    assert chord[0] > 0
    both = np.concatenate([mould.outline_up_mm, mould.outline_down_mm])
    assert both.min(axis=0) == pytest.approx([0, 0], abs=1e-9)
    heel = mould.place.to_frame(mould.grain_mm[0])
    head = mould.place.to_frame(mould.grain_mm[-1])
    assert head[1] > heel[1] or head[0] > heel[0]


@pytest.mark.parametrize("layer", ["f", "a"])
def test_outlines_are_the_two_faces(layer):
    """Carried back to the frame, every outline point lies on its own face's circles or ends."""
    frame = cone_frame(12.0, moulded_mm=100.0)
    mould = laid(frame, f"1-S-{layer}1")
    x_far = 4000.0 + (-50.0 if layer == "f" else 50.0)
    tan_g = np.tan(np.radians(12.0))
    for ring, x in ((mould.outline_up_mm, 4000.0), (mould.outline_down_mm, x_far)):
        r = np.hypot(*mould.place.to_frame(ring).T)
        outer = np.abs(r - x * tan_g)
        inner = np.abs(r - (x * tan_g - 100.0))
        assert np.minimum(outer, inner).max() < 1e-9
        assert shapely.Polygon(ring).exterior.is_ccw
        assert shapely.Polygon(ring).is_simple


def test_volume_centre_and_mass_of_a_conical_timber():
    """Volume and centre of mass equal the integral over the sections between the faces."""
    frame = cone_frame(12.0, moulded_mm=100.0, count=161)
    mould = laid(frame, "1-S-a2", MouldSettings(density_kg_m3=800.0))
    tan_g = np.tan(np.radians(12.0))
    # A sector of polygonal rings: area = (R^2 - r^2)/2 * sum sin(step); exact for these polygons.
    angles = np.radians(np.linspace(15, 115, 161))[40:121]
    steps = np.sin(np.diff(angles)).sum()
    s, weight = np.polynomial.legendre.leggauss(8)
    depth = 25.0 * (s + 1)
    big = (4000.0 + depth) * tan_g
    area = (big**2 - (big - 100.0) ** 2) / 2 * steps
    volume = (area * weight).sum() * 25.0
    assert mould.volume_m3 * 1e9 == pytest.approx(volume, rel=1e-12)
    assert mould.mass_kg == pytest.approx(volume * 800e-9, rel=1e-12)
    assert mould.centre_mm[2] == pytest.approx((area * depth * weight).sum() * 25.0 / volume)
    # in plan: on the timber's axis of symmetry, the radius that bisects its arc
    centre = mould.place.to_frame(np.array(mould.centre_mm[:2]))
    bisector = (angles[0] + angles[-1]) / 2
    assert np.arctan2(centre[0], -centre[1]) == pytest.approx(bisector, abs=1e-12)


def test_bevel_marks_are_even_and_hold_the_lean():
    """Marks stand every 6 in, at both ends and at sirmarks, with the chord lean."""
    frame = cone_frame(12.0, marks=[("3", "sirmark", 0.3), ("DWL", "level", 0.4)])
    mould = laid(frame, "1-S-f1")
    at = np.array([m.at_mm for m in mould.marks])
    assert at[0] == 0.0
    assert at[-1] == pytest.approx(mould.edges[0].at_mm[-1])
    length = 0.3 * frame.joint.girth_mm[-1]
    assert np.abs(at - length).min() < 0.02  # polyline against arc
    even = at[np.abs(at / 152.4 - np.round(at / 152.4)) < 1e-12]
    assert len(even) == int(at[-1] // 152.4) + 1
    assert [m.outer_deg for m in mould.marks] == pytest.approx([12.0] * len(at))
    kinds = {label.kind: label for label in mould.labels}
    assert {"mark", "heel", "head", "up", "out", "sirmark", "level"} <= set(kinds)


def test_marks_crowd_where_the_bevel_turns():
    """Wherever one reads between two marks of a twisting timber, both bevels are within 0.5 deg."""
    mould = laid(cone_frame(12.0), "1-S-a2")
    at = mould.edges[0].at_mm
    outer = replace(mould.edges[0], lean_deg=20 * np.tanh((at - 300) / 40))
    inner = replace(mould.edges[1], lean_deg=5 * np.sin(at / 60))
    marks = bevel_marks(outer, inner, 152.4, np.empty(0))
    where = [m.at_mm for m in marks]
    assert len(marks) > len(mould.marks)
    for edge, said in ((outer, "outer_deg"), (inner, "inner_deg")):
        read = np.interp(at, where, [getattr(m, said) for m in marks])
        assert np.abs(read - edge.lean_deg).max() <= 0.5


@pytest.mark.parametrize(("every", "also"), [(0.4, []), (1.0, []), (152.4, [0.5, 152.0, 153.1])])
def test_both_ends_are_marked_however_near_the_marks(every, also):
    """However small the distance asked for, heel and head are marked, no two within 1 mm."""
    outer, inner = laid(cone_frame(12.0), "1-S-a2").edges
    also = np.array([*also, outer.at_mm[-1] - 0.3])
    where = np.array([m.at_mm for m in bevel_marks(outer, inner, every, also)])
    assert where[0] == 0.0
    assert where[-1] == outer.at_mm[-1]
    assert np.diff(where).min() > 1.0
    assert np.diff(where).max() < max(every, 1.0) + 1.0 + every


@pytest.mark.parametrize("mark", ["1-S-f1", "1-P-f1", "1-S-a2", "1-P-a2"])
def test_labels_point_where_the_vessel_does(mark):
    """The up arrow is the vessel's up; a level line is level and runs into the timber."""
    frame = cone_frame(12.0, marks=[("DWL", "level", 0.4)])
    mould = laid(frame, mark)
    labels = {label.kind: label for label in mould.labels}
    for kind, way in (("up", [0, 1]), ("out", [1, 0]), ("level", [-1, 0])):
        t = np.radians(labels[kind].direction_deg)
        start = mould.place.to_frame(np.array([0.0, 0.0]))
        ended = mould.place.to_frame(np.array([np.cos(t), np.sin(t)]))
        assert ended - start == pytest.approx(way, abs=1e-12)
    at = mould.place.to_frame(np.array(labels["level"].at_mm))
    assert at == pytest.approx(frame.marks[0].at_mm, abs=0.01)


def test_the_other_layers_butts_stand_on_the_mould():
    """Each butt of the other layer is marked where it falls, square across into the timber."""
    frame = cone_frame(12.0, divisions={"f": (0.5,), "a": (0.25, 0.75)})
    for mark, text, share in (
        ("1-S-f1", "butt a1/2", 0.25),
        ("1-P-f2", "butt a2/3", 0.75),
        ("1-S-a2", "butt f1/2", 0.5),
    ):
        mould = laid(frame, mark)
        (butt,) = [label for label in mould.labels if label.kind == "butt"]
        assert butt.text == text
        at = mould.place.to_frame(np.array(butt.at_mm))
        r = 4000 * np.tan(np.radians(12.0))
        angle = np.radians(15 + 100 * share)
        assert at == pytest.approx([r * np.sin(angle), -r * np.cos(angle)], abs=0.01)
        t = np.radians(butt.direction_deg)
        ahead = mould.place.to_frame(np.array(butt.at_mm) + 50 * np.array([np.cos(t), np.sin(t)]))
        assert np.hypot(*ahead) == pytest.approx(r - 50, abs=0.2)
    assert not [x for x in laid(frame, "1-S-a1").labels if x.kind == "butt"]


def test_port_is_starboard_turned_over():
    """Mirroring the starboard mould gives what laying the port timber flat gives."""
    frame = sphere_frame(marks=[("3", "sirmark", 0.3), ("DWL", "level", 0.4)])
    starboard, port = laid(frame, "1-S-f1"), laid(frame, "1-P-f1")
    over = mirrored(starboard, "1-P-f1")
    assert over.same_as == "1-S-f1"
    assert over.side == "P"
    for a, b in zip(over.edges, port.edges, strict=True):
        assert a.up_mm == pytest.approx(b.up_mm, abs=1e-9)
        assert a.down_mm == pytest.approx(b.down_mm, abs=1e-9)
    assert shapely.Polygon(over.outline_up_mm).exterior.is_ccw
    assert over.centre_mm == pytest.approx(port.centre_mm)
    points = np.array([[10.0, 20.0], [300.0, -40.0]])
    assert over.place.to_frame(points) == pytest.approx(port.place.to_frame(points))
    for a, b in zip(over.labels, port.labels, strict=True):
        assert (a.kind, a.text) == (b.kind, b.text)
        assert a.at_mm == pytest.approx(b.at_mm)
        t = np.radians([a.direction_deg, b.direction_deg])
        assert np.cos(t[0] - t[1]) == pytest.approx(1.0)


def test_swallowtail_is_trimmed_and_said():
    """Where the inner edge would fold over itself it is drawn together to a simple line."""

    def radius(x):
        return 300.0 + 0.2 * (x - 4000.0)

    frame = round_frame(radius, lambda x: np.degrees(np.arctan(0.2)), moulded_mm=100.0)
    timber = next(t for t in frame.timbers if t.mark == "1-S-f1")
    shape = shape_of(frame, timber)
    # An inner edge that overruns its own centre of curvature in the middle: a loop.
    bend = np.linspace(-1.5, 1.5, len(shape.joint_inner))
    fold = np.stack([3 * bend - 2 * np.tanh(4 * bend) * 1.8, 0.9 * bend**2], axis=1) * 60
    looped = shape.joint_inner + 0.0
    t = looped[-1] - looped[0]
    t = t / np.hypot(*t)
    normal = np.array([-t[1], t[0]])
    looped = (
        looped[0] + (looped[-1] - looped[0]) / 2 + fold[:, :1] * t + (fold[:, 1:] - 60) * normal
    )
    assert not shapely.LineString(looped).is_simple
    folded = type(shape)(
        shape.joint_outer,
        looped,
        shape.far_outer,
        looped,
        shape.girth_mm,
        shape.outer_chord_deg,
        shape.inner_chord_deg,
        shape.heel,
    )
    mould = lay_flat(folded, frame, timber, SETTINGS)
    assert shapely.LineString(np.unique(mould.edges[1].up_mm.round(9), axis=0)).is_valid
    inner = mould.edges[1].up_mm
    kept = inner[np.concatenate([[True], np.abs(np.diff(inner, axis=0)).max(axis=1) > 1e-9])]
    assert shapely.LineString(kept).is_simple
    (told,) = mould.findings
    assert (told.code, told.line) == ("D002", "1-S-f1")
    assert told.message.startswith(
        "1-S-f1: the inner edge turns back on itself; points moved up to "
    )


def test_place_goes_there_and_back():
    """A place's two directions undo each other, flipped or not."""
    points = np.array([[3.0, 4.0], [-5.0, 7.5]])
    for flipped in (False, True):
        place = MouldPlace(33.0, (12.0, -4.0), flipped)
        assert place.to_frame(place.to_mould(points)) == pytest.approx(points)
