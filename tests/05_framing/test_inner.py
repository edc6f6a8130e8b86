"""Inner edges: the moulded size, its taper, and what folds."""

from __future__ import annotations

import numpy as np
import pytest
from exact_surfaces import settings, sphere
from shapely import LineString

from futtock.framing.build import frame_hull
from futtock.framing.curve import girths, tangents
from futtock.framing.inner import inner_edge, moulded_mm


def bilge(radius, count=160):
    """Two straight runs of 600 mm joined by a quarter round of the radius: a hard bilge."""
    run = np.linspace(0, 1200 + radius * np.pi / 2, count)
    a = np.clip((run - 600) / radius, 0, np.pi / 2)
    x = np.minimum(run, 600) + radius * np.sin(a)
    y = radius * (1 - np.cos(a)) + np.maximum(run - 600 - radius * np.pi / 2, 0)
    t = np.stack([np.cos(a), np.sin(a)], axis=1)
    return np.stack([x, y], axis=1)[None], t[None]


def test_inner_points_lie_square_in_by_the_stated_size():
    """On a sphere's frames the inner edge is the moulded size in towards the centre, tapering."""
    for frame in frame_hull(sphere(), settings(cants="none")).frames:
        for face in (frame.forward, frame.joint, frame.aft):
            size = np.hypot(*(face.inner_mm - face.edge_mm).T)
            want = 127.0 + (82.0 - 127.0) * face.girth_mm / face.girth_mm[-1]
            assert np.abs(size - want).max() < 1e-9
            centre = np.array([0.0, 3000.0])
            inward = (face.inner_mm - face.edge_mm) / size[:, None]
            to_centre = centre - face.edge_mm
            to_centre /= np.hypot(*to_centre.T)[:, None]
            assert np.abs((inward * to_centre).sum(axis=1) - 1).max() < 1e-9


def test_inner_bevels_of_a_sphere_are_its_own():
    """With one moulded size all along, the inner edge's chord is that of circles m smaller."""
    framing = frame_hull(sphere(), settings(cants="none", moulded_mm=((0.0, 100.0),)))
    for frame in framing.frames:
        d = frame.plane.x_mm - 6000.0
        near = np.sqrt((2500.0 - 31.75) ** 2 - d**2)
        for layer, s in zip(frame.layers, (-47.0, 47.0), strict=True):
            far = np.sqrt((2500.0 - 31.75) ** 2 - (d + s) ** 2)
            want = np.degrees(np.arctan((far - near) / s))
            assert np.abs(layer.inner_chord_deg[4:-4] - want).max() < 2e-3
        assert np.abs(frame.joint.inner_lean_deg[4:-4] - frame.joint.lean_deg[4:-4]).max() < 1e-4


def test_square_inner_edges_have_no_bevel():
    """With inner = square the far inner edge is the joint's and the cut is square."""
    framing = frame_hull(sphere(), settings(cants="none", inner="square"))
    for frame in framing.frames:
        for layer in frame.layers:
            assert np.array_equal(layer.far_inner_mm, frame.joint.inner_mm)
            assert not layer.inner_chord_deg.any()


@pytest.mark.parametrize("radius", [20.0, 60.0, 90.0])
def test_a_hard_bilge_does_not_fold_the_inner_edge(radius):
    """A radius less than the moulded size swallowtails; what is given is simple and no thinner."""
    edge, t = bilge(radius)
    moulded = np.full(edge.shape[:2], 110.0)
    inner, folded = inner_edge(edge, t, moulded, 12.0)
    assert folded.tolist() == [True]
    line = LineString(inner[0])
    assert line.is_simple
    away = np.array(
        [LineString(edge[0]).distance(LineString(inner[0][k : k + 2])) for k in range(159)]
    )
    assert away.min() > 109.0
    assert away.max() < 175.0  # the corner keeps wood, never loses it


def test_a_soft_bilge_is_left_alone():
    """A radius more than the moulded size gives the plain offset."""
    edge, t = bilge(300.0)
    inner, folded = inner_edge(edge, t, np.full(edge.shape[:2], 110.0), 12.0)
    assert not folded.any()
    assert np.allclose(np.hypot(*(inner - edge)[0].T), 110.0)


def test_moulded_size_runs_straight_between_what_is_stated():
    """More points than two are allowed, in any order, and hold beyond the first and last."""
    girth = np.linspace(0, 2000.0, 5)
    got = moulded_mm(((1.0, 80.0), (0.5, 100.0), (0.0, 140.0)), girth)
    assert got.tolist() == [140.0, 120.0, 100.0, 90.0, 80.0]


def test_girth_of_a_polyline_of_an_arc_is_the_arcs_length():
    """Chords lengthened by their turn give a quarter circle to 1e-6 of its length."""
    a = np.linspace(0, np.pi / 2, 41)
    p = 500.0 * np.stack([np.cos(a), np.sin(a)], axis=1)
    t = tangents(p)
    assert np.abs(np.hypot(*t.T) - 1).max() < 1e-12
    assert girths(p, t)[-1] == pytest.approx(500.0 * np.pi / 2, rel=1e-6)
