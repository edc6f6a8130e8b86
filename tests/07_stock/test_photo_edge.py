"""Edges and ends of a face that are not sure are said to be so: bands painted for it."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from futtock.stock.photo.band import ALONG_MM, Band
from futtock.stock.photo.edge import find_face

COLUMNS, HALF, ENDS = 260, 150.0, (40, 219)
DARK = np.array([40.8, -128.0, -128.0])
WOOD, FLOOR = np.array([140.0, 138.0, 152.0]), np.array([110.0, 128.0, 129.0])


def painted(end_of_wood=False, shadow_from=None, offcut=None, sap_mm=0.0) -> Band:
    """A straight slab 300 mm wide and some 716 mm long on a grey floor.

    ``end_of_wood``: beyond its left end the floor is of its own colours. ``shadow_from``: shade
    over all to the left of a column. ``offcut``: columns where wood lies against its left edge, to
    50 mm beyond it. ``sap_mm``: so much sapwood along both sides, and a shadow aslant over all.
    """
    rng = np.random.default_rng(4)
    v = np.arange(-260.0, 261.0)
    x = np.arange(COLUMNS)
    rough = (np.abs(v)[:, None] < HALF) & (x >= ENDS[0]) & (x <= ENDS[1])
    wood = rough.copy()
    if end_of_wood:
        wood |= np.broadcast_to(x < ENDS[0], wood.shape)
    if offcut:
        wood |= (v[:, None] > 0) & (v[:, None] < HALF + 50) & (x >= offcut[0]) & (x < offcut[1])
    lab = np.where(wood[..., None], WOOD, FLOOR) + rng.normal(0, 2.5, (*wood.shape, 3))
    if sap_mm:
        lab[rough & (np.abs(v)[:, None] > HALF - sap_mm)] += np.array([32.0, -3.0, -1.0])
        light = np.where(x + 0.25 * v[:, None] > 120, 0.75, 1.0)[..., None]
        # as light falls to a part, Lab's lightness above -16 and its hues fall alike
        dimmed = (lab + DARK) * light ** (1 / 3) - DARK
        lab = np.where(light < 1.0, dimmed, lab)
    if shadow_from is not None:
        lab[:, :shadow_from, 0] *= 0.8
    line = np.column_stack([x * ALONG_MM, np.zeros(COLUMNS)])
    normal = np.tile([0.0, 1.0], (COLUMNS, 1))
    there = np.ones(wood.shape, bool)
    return Band(line, normal, v, lab.astype(np.float32), rough, there, ~there, ENDS)


def left_end_mm(face) -> float:
    return float(face.whole_mm[:, 0].min())


def test_a_plain_slab_has_no_doubt():
    """On a floor of another colour, both ends and sides are found, and sure."""
    face = find_face(painted())
    assert left_end_mm(face) == pytest.approx(ENDS[0] * ALONG_MM, abs=5)
    assert len(face.ends_doubted_mm) == len(face.doubt_mm) == 0


def test_a_shadows_edge_is_no_end_and_the_end_is_doubted():
    """The floor beyond one end is of the slab's own colours, and a shadow's edge crosses the slab
    within: it is not taken for the end, and that end alone is said to be unsure."""
    face = find_face(painted(end_of_wood=True, shadow_from=80))
    assert left_end_mm(face) == pytest.approx(ENDS[0] * ALONG_MM, abs=40)
    assert len(face.ends_doubted_mm) == 1
    assert face.ends_doubted_mm[0, 0] == pytest.approx(ENDS[0] * ALONG_MM, abs=40)


def test_a_shadow_on_another_floor_leaves_the_end_sure():
    """The same shadow where the floor is of another colour: the end is found, and sure."""
    face = find_face(painted(shadow_from=80))
    assert left_end_mm(face) == pytest.approx(ENDS[0] * ALONG_MM, abs=5)
    assert len(face.ends_doubted_mm) == 0


def test_an_offcut_against_the_edge_is_doubted():
    """Wood of the same colour against 160 mm of one side is taken in, and the place is named."""
    face = find_face(painted(offcut=(110, 150)))
    middle = np.array([130 * ALONG_MM, HALF + 50])
    assert np.hypot(*(face.doubt_mm - middle).T).min() < 100
    assert (face.doubt_mm[:, 1] > 0).all()


def test_sapwood_is_followed_under_a_shadow_aslant_and_to_the_ends():
    """Pale wood 22 mm wide along both sides, half of the slab in a shadow whose edge runs aslant:
    its inner edge is found within 3 mm nearly everywhere, and up to both sawn ends. Where there is
    none, none is told."""
    face = find_face(painted(sap_mm=22.0))
    assert face.sapwood
    box = [
        [x * ALONG_MM, s * (HALF - 22)]
        for x, s in zip([40, 219, 219, 40], [-1, -1, 1, 1], strict=True)
    ]
    off = shapely.distance(shapely.points(face.sound_mm), shapely.LinearRing(box))
    assert np.percentile(off, 95) < 3.0
    assert off.max() < 8.0
    assert not find_face(painted()).sapwood
