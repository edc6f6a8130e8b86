"""A mould to its last field: what it tells on the way, its twin, its rings, its loops."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from exact_frames import cone_frame, shape_of, sphere_frame

from futtock.errors import Interrupted, Misused
from futtock.findings import Finding, Severity
from futtock.moulds.flat import lay_flat, mirrored, moulds
from futtock.moulds.mould import WorkLine
from futtock.moulds.rings import (
    anticlockwise,
    frozen,
    run_mm,
    signed_area,
    untangled,
    without_repeats,
)
from futtock.moulds.settings import MouldSettings
from futtock.progress import Progress

SQUARE = np.array([[1.0, 2.0], [5.0, 2.0], [5.0, 5.0], [1.0, 5.0]])


@pytest.fixture(scope="module")
def frames():
    return [cone_frame(12.0, number=1), sphere_frame(number=2)]


def laid(frame, mark, settings=MouldSettings()):  # noqa: B008 -- frozen
    timber = next(t for t in frame.timbers if t.mark == mark)
    return lay_flat(shape_of(frame, timber), frame, timber, settings)


def test_each_frame_is_told_and_then_the_whole(frames):
    """The report hears of each frame before it is laid flat, and at last how many were made."""
    heard = []
    every = moulds(frames, MouldSettings(), lambda p: heard.append(p) or True)
    assert heard == [
        Progress("moulds", 0, 2, "frame 1"),
        Progress("moulds", 1, 2, "frame 2"),
        Progress("moulds", 2, 2, f"{len(every)} moulds"),
    ]


def test_stopping_says_what_was_stopped(frames):
    """A report that answers no ends the work with a sentence."""
    with pytest.raises(Interrupted, match=r"^Moulds were stopped before they were done\.$"):
        moulds(frames, MouldSettings(), lambda _: False)


@pytest.mark.parametrize("settings", [{"marks_every_mm": 0.0}, {"density_kg_m3": 0.0}])
def test_nothing_is_not_a_distance_nor_a_density(frames, settings):
    """A setting of nought is refused in words."""
    said = r"^The distance of bevel marks and the density must be positive\.$"
    with pytest.raises(Misused, match=said):
        moulds(frames, MouldSettings(**settings))


def test_small_settings_are_taken(frames):
    """Two millimetres between marks and the lightest wood are no faults."""
    every = moulds(frames[:1], MouldSettings(marks_every_mm=2.0, density_kg_m3=1.0))
    assert every[0].mass_kg == pytest.approx(every[0].volume_m3)
    assert np.diff([m.at_mm for m in every[0].marks]).max() <= 2.0 + 1e-9


def test_square_metres_are_of_both_faces_together(frames):
    """What a mould covers is the union of its two outlines, in square metres."""
    for mould in moulds(frames, MouldSettings()):
        both = shapely.union(
            shapely.Polygon(mould.outline_up_mm), shapely.Polygon(mould.outline_down_mm)
        )
        assert mould.square_m2 == pytest.approx(both.area / 1e6, rel=1e-9)


@pytest.mark.parametrize("up", ["joint", "aft", "forward"])
@pytest.mark.parametrize("mark", ["1-S-f1", "1-S-a2"])
def test_a_mould_is_whole(mark, up):
    """Edges by name, thickness, area still open, and the worst of the layer's departure."""
    frame = cone_frame(12.0, marks=[("3", "sirmark", 0.3)])
    bent = 3.0 * np.sin(np.linspace(0.0, 7.0, len(frame.joint.girth_mm)))
    layers = (
        replace(frame.layers[0], departure_mm=bent),
        replace(frame.layers[1], departure_mm=-2.0 * bent),
    )
    frame = replace(frame, layers=layers)
    timber = next(t for t in frame.timbers if t.mark == mark)
    shape = shape_of(frame, timber)
    mould = lay_flat(shape, frame, timber, MouldSettings(up=up))
    assert [e.name for e in mould.edges] == ["outer", "inner"]
    assert (mould.sided_mm, mould.square_m2) == (timber.sided_mm, 0.0)
    along = frame.layer(timber.layer).departure_mm
    worst = np.interp(shape.girth_mm, frame.joint.girth_mm, along)
    assert abs(mould.departure_mm) == np.abs(worst).max()
    assert mould.departure_mm in worst
    # Each edge lies on its own face's circle: the joint at 4000 mm, the far one a thickness off.
    joint_up = mould.up == ("aft" if timber.layer == "f" else "forward")
    joint, far = 4000.0, 4000.0 + (-50.0 if timber.layer == "f" else 50.0)
    on_up, on_down = (joint, far) if joint_up else (far, joint)
    for x, edge in ((on_up, mould.edges[0].up_mm), (on_down, mould.edges[0].down_mm)):
        r = np.hypot(*mould.place.to_frame(edge).T)
        assert r == pytest.approx(x * np.tan(np.radians(12.0)), abs=1e-9)
    (sirmark,) = [label for label in mould.labels if label.kind == "sirmark"]
    r = np.hypot(*mould.place.to_frame(np.array(sirmark.at_mm)))
    assert r == pytest.approx(4000.0 * np.tan(np.radians(12.0)), abs=0.05)
    # The middle line is midway between all four edges (a timber clear of any throat).
    outer, inner = mould.edges
    middle = (outer.up_mm + outer.down_mm + inner.up_mm + inner.down_mm) / 4
    assert mould.grain_mm == pytest.approx(middle, abs=1e-9)


@pytest.mark.parametrize(("mark", "twin", "side"), [("1-S-f1", "1-P-f1", "P"),
                                                    ("1-P-f1", "1-S-f1", "S")])  # fmt: skip
def test_a_twin_is_turned_over_in_every_part(mark, twin, side):
    """Every line, hole, label and finding of a mould goes over to its twin, marked anew."""
    frame = cone_frame(12.0, marks=[("3", "sirmark", 0.3)])
    told = Finding("D002", Severity.DOUBT, f"{mark}: the inner edge turns back.", line=mark)
    mould = replace(
        laid(frame, mark),
        findings=(told,),
        holes_mm=frozen(np.array([[30.0, 40.0]])),
        work=(WorkLine("bolts", frozen(SQUARE)),),
    )
    over = mirrored(mould, twin)
    flip = np.array([1.0, -1.0])
    shift = np.array([0.0, mould.wide_mm])
    assert over.side == side
    assert over.grain_mm == pytest.approx(mould.grain_mm * flip + shift, abs=1e-12)
    assert over.holes_mm == pytest.approx(mould.holes_mm * flip + shift, abs=1e-12)
    assert over.work[0].points_mm == pytest.approx(SQUARE * flip + shift, abs=1e-12)
    for ring, was in (
        (over.outline_up_mm, mould.outline_up_mm),
        (over.outline_down_mm, mould.outline_down_mm),
    ):
        assert len(ring) == len(was)
        assert signed_area(ring) == pytest.approx(signed_area(was), rel=1e-12)
        assert shapely.Polygon(ring).equals_exact(
            shapely.Polygon((was * flip + shift)[::-1]), 1e-9, normalize=True
        )
    assert [label.size_mm for label in over.labels] == [label.size_mm for label in mould.labels]
    (said,) = over.findings
    assert (said.message, said.line) == (f"{twin}: the inner edge turns back.", twin)


def test_a_ring_has_its_area_and_turn():
    """The shoelace sum of a 4 by 3 rectangle is 12 one way and -12 the other (closed form)."""
    pent = np.array([[0.0, 0.0], [4.0, 0.0], [5.0, 3.0], [2.0, 5.0], [-1.0, 2.0]])
    assert signed_area(SQUARE) == 12.0
    assert signed_area(SQUARE[::-1]) == -12.0
    assert signed_area(pent) == pytest.approx(shapely.Polygon(pent).area, rel=1e-12)
    small = 0.1 * SQUARE
    assert anticlockwise(small) is small
    assert signed_area(anticlockwise(small[::-1])) == pytest.approx(0.12)


def test_what_is_kept_cannot_be_written():
    """A frozen array is a float64 copy that refuses changes and leaves its origin alone."""
    for own in (np.array([1, 2]), np.array([1.0, 2.0])):
        kept = frozen(own)
        assert kept.dtype == np.float64
        assert own.flags.writeable
        with pytest.raises(ValueError, match="read-only"):
            kept[0] = 5.0


def test_a_length_runs_from_nought():
    """Lengths along a 3-4-5 line start at 0."""
    assert run_mm(np.array([[0.0, 0.0], [3.0, 4.0], [3.0, 10.0]])).tolist() == [0.0, 5.0, 11.0]


def test_only_repeats_of_the_point_before_are_dropped():
    """Half a millimetre is a step; the same point again, also round the corner, is none."""
    ring = np.array([[0.0, 0.0], [0.5, 0.0], [0.5, 0.0], [0.5, 7.0], [0.5, -0.0], [0.0, 0.0]])
    kept = [[0.5, 0.0], [0.5, 7.0], [0.5, 0.0], [0.0, 0.0]]
    assert without_repeats(ring).tolist() == kept
    mirror = np.array([[1.0, 1.0], [-1.0, -1.0], [1.0, -1.0]])
    assert without_repeats(mirror).tolist() == mirror.tolist()


LOOP = [[0.0, 0.0], [10.0, 0.0], [12.0, 3.0], [6.0, 4.0], [4.0, -4.0], [20.0, -4.0]]


@pytest.mark.parametrize("lead", [[], [[-8.0, 1.0], [-4.0, 0.5]], [[-4.0, 0.0], [-4.0, 0.0]]])
@pytest.mark.parametrize("tail", [[], [[30.0, -5.0], [40.0, -9.0]]])
def test_a_loop_is_drawn_to_where_it_crosses(lead, tail):
    """The points of a loop all go to the crossing at (5, 0), nothing else moves (closed form)."""
    line = np.array([*lead, *LOOP, *tail])
    made, moved = untangled(line)
    k = len(lead)
    expected = line.copy()
    expected[k + 1 : k + 4] = [5.0, 0.0]
    assert made == pytest.approx(expected, abs=1e-12)
    assert moved == pytest.approx(np.hypot(7.0, 3.0), rel=1e-12)


def test_two_loops_are_both_drawn_in():
    """The second loop of a line is found after the first, wherever the line lies."""
    one = np.array(LOOP)
    two = np.array([*one, *(p + np.array([20.0, -4.0]) for p in one[1:])]) + np.array(
        [300.0, -200.0]
    )
    made, moved = untangled(two)
    expected = two.copy()
    expected[1:4] = [305.0, -200.0]
    expected[6:9] = [325.0, -204.0]
    assert made == pytest.approx(expected, abs=1e-9)
    assert moved == pytest.approx(np.hypot(7.0, 3.0), rel=1e-9)


@pytest.mark.parametrize(
    "line",
    [
        [[0.0, 0.0], [10.0, 0.0], [12.0, 3.0], [6.0, 4.0], [6.0, 1.0]],
        [[0.0, 0.0], [4.0, 0.0], [8.0, 4.0], [6.0, 6.0], [6.0, 3.0], [5.0, 2.0]],
        [[0.0, 0.0], [10.0, 0.0], [12.0, 3.0], [12.0, 3.0], [-3.0, 4.0], [-3.0, -4.0]],
    ],
)
def test_a_line_that_only_turns_back_stays(line):
    """Where only the lines carried on would cross, not the segments, nothing moves."""
    own = np.array(line)
    assert shapely.LineString(own).is_simple
    made, moved = untangled(own)
    assert made.tolist() == own.tolist()
    assert moved == 0.0


def test_a_loop_of_three_segments_is_drawn_in():
    """The smallest loop there is, at a line's very end too, goes to its crossing at (5, 0)."""
    line = np.array([[0.0, 0.0], [10.0, 0.0], [7.0, 4.0], [4.0, -2.0]])
    crossing = [5.0, 0.0]
    made, moved = untangled(line)
    assert made == pytest.approx(np.array([line[0], crossing, crossing, line[3]]), abs=1e-12)
    assert moved == pytest.approx(5.0, rel=1e-12)


@pytest.mark.parametrize("turn_deg", [37.0, 128.0, -75.0])
def test_loops_are_drawn_in_whichever_way_the_line_runs(turn_deg):
    """A line that is turned has its loop drawn to the turned crossing, moved as far."""
    t = np.radians(turn_deg)
    turn = np.array([[np.cos(t), np.sin(t)], [-np.sin(t), np.cos(t)]])
    line = np.array(LOOP) @ turn
    expected = line.copy()
    expected[1:4] = np.array([5.0, 0.0]) @ turn
    made, moved = untangled(line)
    assert made == pytest.approx(expected, abs=1e-9)
    assert moved == pytest.approx(np.hypot(7.0, 3.0), rel=1e-9)
