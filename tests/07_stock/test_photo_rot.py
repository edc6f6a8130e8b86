from __future__ import annotations

import cv2
import numpy as np
import pytest
import shapely
from photo_scene import Hardness, render

from futtock.stock.photo.photograph import PhotoSettings, photographed

BROWN = np.array([0.45, 0.55, 0.72], np.float32)  # what is left of blue, green and red light
SHADE = np.array([0.57, 0.57, 0.57], np.float32)
SETTINGS = PhotoSettings(lie="face", portrait_mm=2.0)


@pytest.fixture(scope="module")
def sound():
    """A slab under half a shadow, with knots, checks and a bare place between two cards."""
    hard = Hardness(shadow=0.5, bark=0.7, sap=0.0, tilt=0.6, lens=0.5, knots=4)
    return render(5, hard, length=1500.0, width=300.0, pixels=(1800, 1350), cards=4, bend=0.1)


def place(scene) -> np.ndarray:
    return (scene.cards[1].mean(0) + scene.cards[2].mean(0)) / 2


def stained(scene, left) -> np.ndarray:
    """The picture with a soft patch of 220 by 120 mm, so much of each colour's light left there."""
    light = (scene.image.astype(np.float32) / 255) ** 2.2
    t = np.linspace(0, 2 * np.pi, 40)
    ring = place(scene) + np.c_[110 * np.cos(t), 60 * np.sin(t)]
    mask = np.zeros(light.shape[:2], np.float32)
    cv2.fillPoly(mask, [np.int32(scene.pixels(ring))], 1)
    mask = cv2.GaussianBlur(mask, (0, 0), 9)[..., None]
    return (np.clip(light * (1 - mask + mask * left), 0, 1) ** (1 / 2.2) * 255).astype(np.uint8)


def test_rot_is_proposed_and_not_decided(sound):
    """A brown soft patch is proposed once, with a confidence, over most of itself; the slab has
    no flaw until a person keeps it."""
    got = photographed(stained(sound, BROWN), SETTINGS)
    rot = [p for p in got.proposed if p.kind == "rot"]
    assert len(rot) == 1
    assert 0.5 <= rot[0].confidence < 1.0
    at = got.plane.millimetres(sound.pixels(place(sound)[None]))[0]
    patch = shapely.Point(at).buffer(60.0)
    assert shapely.Polygon(rot[0].outline_mm).intersection(patch).area > 0.5 * patch.area
    assert got.marks().flaws == ()
    assert "rot" in [f.kind for f in got.marks().proposed]
    assert "rot" in [f.kind for f in got.marks(accept=True).flaws]
    assert any("1 rot" in f.message for f in got.findings if f.code == "S734")


@pytest.mark.parametrize("left", [np.ones(3, np.float32), SHADE])
def test_sound_wood_and_a_shaded_patch_are_no_rot(sound, left):
    """Without a patch, and with one of shade as dark but of the wood's own hue: none proposed."""
    got = photographed(stained(sound, left), SETTINGS)
    assert [p for p in got.proposed if p.kind == "rot"] == []


def test_where_sapwood_is_not_told_apart_it_is_said(sound, scene, got):
    """A slab all of heart: both outlines are one, and a finding says so and what to do. On one
    with sapwood that is told apart there is no such finding, and the sound outline lies within."""
    plain = photographed(sound.image, SETTINGS)
    said = [f for f in plain.findings if f.code == "S733"]
    assert len(said) == 1
    assert "draw the sapwood's edge" in said[0].remedy
    assert not plain.face.sapwood
    assert plain.face.sound_mm is plain.face.whole_mm
    assert "S733" not in [f.code for f in got.findings]
    assert got.face.sapwood
    whole, inner = shapely.Polygon(got.face.whole_mm), shapely.Polygon(got.face.sound_mm)
    assert whole.buffer(1.0).contains(inner)
    assert inner.area < 0.97 * whole.area
