"""From an exact hull through framing and moulds to the saw: canted frames of a sphere and a cone.

Closed forms: a plane cuts a sphere of radius R - tau in a circle; the cone's inside of planking is
a cone of the same half-angle.
"""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from exact_surfaces import TAU, Cone, hull_of, keeled, settings, sphere
from whole_marram import marram

from futtock.bench.fastening import FasteningSettings
from futtock.bench.holes import lay_holes, with_holes
from futtock.bench.saw import SawSettings
from futtock.bench.sawing import saw_sheets
from futtock.framing.build import frame_hull
from futtock.moulds.flat import moulds
from futtock.moulds.settings import MouldSettings

SIGN = {"left": 1.0, "right": -1.0, "square": 0.0}


def sawn_below(mould, sheet, edge):
    """The edge on the face below, from the line on the up face and the sheet alone."""
    points = []
    for cut in (c for c in sheet.cuts if c.edge == edge.name):
        at = np.array([m.at_mm for m in cut.marks])
        deg = np.array([m.deg * SIGN[m.head] for m in cut.marks])
        mine = (edge.at_mm > at[0] - 1e-9) & (edge.at_mm < at[-1] + 1e-9)
        up, run = edge.up_mm[mine], edge.at_mm[mine]
        look = np.gradient(up, run, axis=0, edge_order=2)
        look /= np.hypot(*look.T)[:, None] * (-1.0 if cut.feed == "heel first" else 1.0)
        left = np.stack([-look[:, 1], look[:, 0]], axis=1)
        lean = np.tan(np.radians(np.interp(run, at, deg)))
        points.append(up - sheet.sided_mm * lean[:, None] * left)
    return np.concatenate(points)


def far_plane(frame, mould):
    """Distance along a, and (out, up) axes and origin, of the face below a joint-up mould."""
    s = frame.plane.sided_mm * (-1.0 if mould.layer == "f" else 1.0)
    _, out, up = frame.plane.axes()
    return frame.plane.origin(s), out, up


@pytest.mark.parametrize("feed", ["heel first", "head first", "one hand"])
def test_sphere_from_hull_to_saw(feed):
    """On canted frames of a sphere each outer edge, rebuilt from its sheet, lies on the far face's
    circle within what the quarter degree's rounding can do.
    """
    framing = frame_hull(sphere(2500.0), settings())
    made = moulds(framing.frames, MouldSettings())
    sheets = saw_sheets(made, SawSettings(feed=feed))
    frames = {f.number: f for f in framing.frames}
    centre = np.array([6000.0, 0.0, 3000.0])
    assert len(made) > 30
    for mould, sheet in zip(made, sheets, strict=True):
        origin, out, up = far_plane(frames[mould.frame], mould)
        flat = mould.place.to_frame(sawn_below(mould, sheet, mould.edges[0]))
        space = origin + flat[:, :1] * out + flat[:, 1:] * up
        off = np.linalg.norm(space - centre, axis=1) - (2500.0 - TAU)
        # across the edge an error of the angle moves the edge by sided / cos^2; along the normal
        # of the sphere that counts by cos of the lean
        lean = np.radians(sheet.cuts[0].largest_deg + 0.25)
        most = sheet.sided_mm * np.radians(0.125) / np.cos(lean)
        assert np.abs(off).max() < most + 0.02


@pytest.mark.parametrize("up", ["joint", "forward", "aft"])
def test_cone_from_hull_to_saw(up):
    """A cone of 12 1/4 degrees: every outer edge lies on the true cone within 0.1 mm."""
    stated = settings(cants="none", moulded_mm=((0.0, 100.0), (1.0, 100.0)))
    framing = frame_hull(hull_of(Cone(half_angle_deg=12.25), u=(3000.0, 9000.0)), stated)
    made = moulds(framing.frames, MouldSettings(up=up))
    sheets = saw_sheets(made, SawSettings())
    frames = {f.number: f for f in framing.frames}
    g = np.radians(12.25)
    for mould, sheet in zip(made, sheets, strict=True):
        below_is = {"forward": 1.0, "aft": -1.0}[mould.up] * sheet.sided_mm
        face_up = {("f", "aft"): 0, ("a", "forward"): 0, ("f", "forward"): -1, ("a", "aft"): 1}
        s = face_up[mould.layer, mould.up] * sheet.sided_mm + below_is
        x = frames[mould.frame].plane.x_mm + s
        flat = mould.place.to_frame(sawn_below(mould, sheet, mould.edges[0]))
        r = np.hypot(flat[:, 0], flat[:, 1] - 3000.0)
        assert np.abs(r - ((x + 4000.0) * np.tan(g) - TAU / np.cos(g))).max() < 0.1
        assert {m.deg for c in sheet.cuts if c.edge == "outer" for m in c.marks} == {12.25}


def test_sheets_agree_with_the_leans_of_the_mould():
    """The angle found from the two faces' lines is the chord lean that framing gave, everywhere."""
    framing = frame_hull(sphere(2500.0), settings())
    made = moulds(framing.frames, MouldSettings())
    for mould, sheet in zip(made, saw_sheets(made, SawSettings()), strict=True):
        edge = mould.edges[0]
        for cut in (c for c in sheet.cuts if c.edge == "outer"):
            for mark in cut.marks:
                lean = np.interp(mark.at_mm, edge.at_mm, edge.lean_deg)
                hand = -1.0 if mould.side == "P" else 1.0
                assert mark.left_deg == pytest.approx(hand * lean, abs=0.05)


def test_floors_across_the_keel():
    """A floor's cuts cover its edges, and every hole lies in its wood on both faces."""
    framing = frame_hull(keeled(), settings(floors="in frame", cants="none"))
    rule = FasteningSettings()
    made = with_holes(moulds(framing.frames, MouldSettings()), lay_holes(framing.frames, rule))
    floors = [m for m in made if m.side == "C"]
    assert len(floors) == len(framing.frames)
    for mould, sheet in zip(floors, saw_sheets(floors, SawSettings()), strict=True):
        assert mould.same_as is None
        outer = [c for c in sheet.cuts if c.edge == "outer"]
        ends = [(c.marks[0].at_mm, c.marks[-1].at_mm) for c in outer]
        assert [a for a, _ in ends[1:]] == pytest.approx([b for _, b in ends[:-1]])
        assert sum(c.length_mm for c in outer) == pytest.approx(mould.edges[0].at_mm[-1])
        for ring in (mould.outline_up_mm, mould.outline_down_mm):
            wood = shapely.Polygon(ring)
            assert wood.is_valid
            assert wood.contains(shapely.MultiPoint(mould.holes_mm))
        # both halves are alike
        across = mould.place.to_frame(mould.holes_mm)
        assert sorted(across[:, 0]) == pytest.approx(sorted(-across[:, 0]))


def fastest_deg_ft(frame, edge):
    """How fast the lean of a frame's own faces changes along an edge, at its fastest."""
    rates = []
    for face in (frame.forward, frame.joint, frame.aft):
        line, lean = (
            (face.edge_mm, face.lean_deg)
            if edge == "outer"
            else (face.inner_mm, face.inner_lean_deg)
        )
        step = np.hypot(*np.diff(line, axis=0).T)
        rates.append(np.abs(np.diff(lean) / step).max() * 304.8)
    return max(rates)


@pytest.mark.parametrize(
    "stated",
    [
        {},
        {"floors": "in frame"},
        {"cants": ((1, 18.0), (2, 14.0), (3, 9.0), (26, -8.0), (27, -14.0))},
        {"notch_mm": 60.0, "notch_sawn": "with the timber"},
    ],
    ids=["as stated", "floors across", "canted", "notched"],
)
def test_no_bevel_turns_faster_than_the_hull_does(stated):
    """On Marram no cut of any timber asks the crank for a faster change than the lean of the
    frame's own faces has somewhere, heels and throats included; within a tenth.
    """
    job = marram()
    framing = frame_hull(job.fairing.hull, replace(job.framing_settings, **stated))
    made = moulds(framing.frames, MouldSettings())
    surface = {
        (f.number, edge): fastest_deg_ft(f, edge)
        for f in framing.frames
        for edge in ("outer", "inner")
    }
    sheets = saw_sheets(made, SawSettings())
    assert len(sheets) == len(framing.timbers) > 200
    for mould, sheet in zip(made, sheets, strict=True):
        for cut in sheet.cuts:
            limit = 1.1 * surface[mould.frame, cut.edge]
            assert cut.deg_ft <= limit, (cut.mark, cut.edge, cut.deg_ft, limit)


def test_marks_on_a_mould_are_what_the_saw_is_set_to():
    """On Marram the inner bevel written at a mould's heel is that of the cut there, to what a
    ruling askew to the edge differs by: 0.3 degrees.
    """
    job = marram()
    seen = 0
    for mould, sheet in zip(job.moulds, job.saw_sheets, strict=True):
        cut = next(c for c in sheet.cuts if c.edge == "inner")
        if cut.marks[0].at_mm > 0:
            continue
        seen += 1
        assert abs(abs(mould.marks[0].inner_deg) - abs(cut.marks[0].left_deg)) < 0.3, mould.mark
    assert seen > 100
