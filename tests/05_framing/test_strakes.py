"""Planking of more than one thickness against closed forms on a sphere."""

from __future__ import annotations

import numpy as np
import pytest
from exact_surfaces import TAU, faces_of, in_space, settings, sphere

from futtock.errors import Misused
from futtock.framing.build import frame_hull
from futtock.framing.strakes import Strake

CENTRE = np.array([6000.0, 0.0, 3000.0])
GARBOARD = Strake(44.0, 0.0, 400.0)
WALE = Strake(50.0, 200.0, 500.0, "sheer")


def test_each_strake_lies_on_the_sphere_less_its_own_thickness():
    """Every edge point is R less a stated thickness from the centre, in order of girth."""
    framing = frame_hull(sphere(), settings(strakes=(GARBOARD, WALE)))
    for frame, name in faces_of(framing):
        points, _, _ = in_space(frame, name)
        off = 2500.0 - np.linalg.norm(points - CENTRE, axis=1)
        thick = np.array([TAU, 44.0, 50.0])
        nearest = thick[np.abs(off[:, None] - thick).argmin(axis=1)]
        assert np.abs(off - nearest).max() < 1e-4
        turns = nearest[np.concatenate([[True], np.diff(nearest) != 0])]
        assert turns.tolist() == [44.0, TAU, 50.0, TAU]


def test_seams_lie_at_the_stated_girth_on_the_outside():
    """A garboard of 400 mm ends 400 mm of arc from the rabbet, measured on the outside."""
    framing = frame_hull(sphere(), settings(strakes=(GARBOARD,), cants="none", count=1))
    frame = framing.frames[0]
    points, _, _ = in_space(frame, "joint")
    off = 2500.0 - np.linalg.norm(points - CENTRE, axis=1)
    last = int(np.flatnonzero(off > 40.0)[-1])
    angle = np.arctan2(points[:, 1], 3000.0 - points[:, 2])
    outside = np.sqrt(2500.0**2 - 1200.0**2)
    assert (angle[last] + angle[last + 1]) / 2 - 0.25 == pytest.approx(400.0 / outside, abs=2e-3)


def test_rulings_keep_to_their_own_strake():
    """Chords of a stepped frame are those of spheres of each thickness, with no jump at a seam."""
    framing = frame_hull(sphere(), settings(strakes=(GARBOARD, WALE), cants="none"))
    for frame in framing.frames:
        points, _, _ = in_space(frame, "joint")
        radius = np.round(np.linalg.norm(points - CENTRE, axis=1), 3)
        d = frame.plane.x_mm - 6000.0
        for layer, s in zip(frame.layers, (-47.0, 47.0), strict=True):
            near, far = np.sqrt(radius**2 - d**2), np.sqrt(radius**2 - (d + s) ** 2)
            want = np.degrees(np.arctan((far - near) / s))
            assert np.abs(layer.chord_deg - want)[4:-4].max() < 1e-3


def test_the_inner_edge_does_not_step():
    """Moulded size is set in from the common planking, so the inner edge is one fair curve."""
    plain = frame_hull(sphere(), settings(cants="none"))
    thick = frame_hull(sphere(), settings(strakes=(GARBOARD, WALE), cants="none"))
    for a, b in zip(plain.frames, thick.frames, strict=True):
        centre = np.array([0.0, 3000.0])
        ra = np.hypot(*(a.joint.inner_mm - centre).T)
        rb = np.hypot(*(b.joint.inner_mm - centre).T)
        angle = [
            np.arctan2(f.joint.inner_mm[:, 0], 3000.0 - f.joint.inner_mm[:, 1]) for f in (a, b)
        ]
        assert np.abs(np.interp(angle[1], angle[0], ra) - rb).max() < 0.01


def test_a_strake_of_nothing_is_refused():
    """A strake has a thickness and a width."""
    with pytest.raises(Misused):
        Strake(0.0, 0.0, 100.0)
    with pytest.raises(Misused):
        Strake(40.0, 100.0, 100.0)
