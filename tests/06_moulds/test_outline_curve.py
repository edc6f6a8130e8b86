"""Outlines as a router follows them: straight from point to point, and yet the curve itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from exact_surfaces import TAU, hull_of, keeled, settings, sphere
from exact_surfaces import Ellipsoid as Round
from readback import dxf_polylines
from whole_marram import HEADING, marram

from futtock.drawing.mould import mould_outline
from futtock.framing.build import division_of, frame_hull, redivided
from futtock.framing.outline import outlines
from futtock.moulds.flat import moulds
from futtock.moulds.settings import MouldSettings
from futtock.sheet.dxf import dxf

NEAR_MM = 0.02


def between(line: np.ndarray, parts: int = 8) -> np.ndarray:
    """Points along a polyline, its corners and evenly spaced ones between them."""
    s = np.arange(parts) / parts
    return (line[:-1, None] + s[:, None] * np.diff(line, axis=0)[:, None]).reshape(-1, 2)


@pytest.mark.parametrize("radius", [700.0, 2500.0])
def test_chords_stand_on_the_sphere(radius: float) -> None:
    """Between points too, both faces' edges lie within 0.02 mm of a sphere's circles.

    Closed form: the plane at d along its normal from the centre cuts the inside of planking in a
    circle of radius sqrt((R - tau)^2 - d^2); the inner edge is that less the moulded size, which
    grows evenly along the arc.
    """
    hull = hull_of(Round(axes=(radius,) * 3)) if radius != 2500.0 else sphere()
    first = 6000.0 - 0.25 * radius
    asked = settings(
        first_mm=first, room_and_space_mm=0.2 * radius, count=3, cants=((1, 12.0),),
        moulded_mm=((0.0, 90.0), (1.0, 60.0)),
    )  # fmt: skip
    seen = 0
    for frame in frame_hull(hull, asked).frames:
        a, out, up = frame.plane.axes()
        for t, s in zip(frame.timbers, outlines([frame])[0], strict=True):
            sign = -1.0 if t.layer == "f" else 1.0
            for at, face, outer, inner in (
                (0.0, frame.joint, s.joint_outer, s.joint_inner),
                (sign * frame.plane.sided_mm, frame.face({-1.0: "forward", 1.0: "aft"}[sign]),
                 s.far_outer, s.far_inner),
            ):  # fmt: skip
                away = np.array([6000.0, 0.0, 3000.0]) - frame.plane.origin(at)
                centre = np.array([away @ out, away @ up])
                ring = np.sqrt((radius - TAU) ** 2 - (away @ a) ** 2)
                r = np.hypot(*(between(outer) - centre).T)
                assert np.abs(r - ring).max() < NEAR_MM, t.mark
                p = between(inner) - centre
                turn = np.arctan2(p[:, 0], -p[:, 1])
                ends = face.edge_mm[[0, -1]] - centre
                low, high = np.arctan2(ends[:, 0], -ends[:, 1])
                deep = np.interp(turn, [low, high], [90.0, 60.0])
                within = (turn > low) & (turn < high)
                assert np.abs(np.hypot(*p.T) - ring + deep)[within].max() < NEAR_MM, t.mark
                seen += len(outer)
    assert seen > 1000


@pytest.mark.parametrize(
    ("stated", "near_mm"),
    [
        ({}, NEAR_MM),
        ({"head_over_mm": 76.2, "heel_over_mm": 50.8}, 0.03),
        ({"head_over_mm": 76.2, "notch_mm": 60.0, "floors": "in frame"}, 0.05),
    ],
    ids=["as stated", "left long", "notched, floors across"],
)
def test_a_finer_cut_of_marram_lies_on_the_outlines(stated, near_mm) -> None:
    """Frames cut with eight times the points stand on the outlines' straight lines, whole rings,
    heels and heads among them: within 0.02 mm, left long within 0.03, with throats within 0.05.
    """
    job = marram()
    hull, asked = job.fairing.hull, replace(job.framing_settings, **stated)
    frames = frame_hull(hull, asked).frames
    fine = frame_hull(hull, replace(asked, points=1280)).frames
    for frame, dense in list(zip(frames, fine, strict=True))[::2]:
        other = redivided(dense, division_of(frame), asked)
        starboard = [t for t in frame.timbers if t.side != "P"]
        twins = [t for t in other.timbers if t.side != "P"]
        for t, s, r in zip(
            starboard, outlines([frame], [starboard])[0], outlines([other], [twins])[0], strict=True
        ):
            for own, true in ((s.joint_ring, r.joint_ring), (s.far_ring, r.far_ring)):
                for a, b in ((own, true), (true, own)):
                    off = shapely.distance(shapely.LinearRing(a), shapely.points(b))
                    assert off.max() < near_mm, t.mark


def test_the_file_holds_the_outlines_own_points() -> None:
    """A closed polyline of the DXF is the mould's outline, point for point."""
    for mould in marram().moulds[::60]:
        data = dxf(mould_outline(mould, HEADING))
        for layer, ring in (
            ("OUTLINE-UP", mould.outline_up_mm),
            ("OUTLINE-DOWN", mould.outline_down_mm),
        ):
            (line, closed), *others = dxf_polylines(data, layer)
            assert closed
            assert not others
            assert np.abs(line - ring).max() < 1e-6


def test_the_heels_inner_corner_has_its_point() -> None:
    """Where the inner edge turns level towards the centreline the outline has a point.

    The corner is the inner edge's first point in the frame: taken straight from point to point
    the outline passes through it.
    """
    seen = 0
    for framing in (marram().framing, frame_hull(keeled(), settings(floors="in frame"))):
        for frame, shapes in zip(framing.frames, outlines(framing.frames), strict=True):
            for t, s in zip(frame.timbers, shapes, strict=True):
                if t.number != 1 or t.side == "P" or not frame.on_keel:
                    continue
                layer = frame.layer(t.layer)
                for line, corner in (
                    (s.joint_inner, frame.joint.inner_mm[0]),
                    (s.far_inner, layer.far_inner_mm[0]),
                ):
                    along = np.diff(line, axis=0)
                    turn = np.abs(np.diff(np.arctan2(along[:, 1], along[:, 0])))
                    if t.side == "C" or np.degrees(turn.max()) < 15.0:
                        continue
                    assert np.hypot(*(line - corner).T).min() < 1e-6, t.mark
                    seen += 1
    assert seen > 10


def test_moulds_of_a_curved_timber_have_no_needless_points() -> None:
    """Points come where an edge curves and only there: a mould has hundreds, not thousands."""
    made = moulds(marram().framing.frames, MouldSettings())
    assert 100 < np.mean([len(m.outline_up_mm) for m in made]) < 400
