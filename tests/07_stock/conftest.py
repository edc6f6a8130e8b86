"""One rendered slab for all tests of photographs, read once."""

from __future__ import annotations

import pytest
from photo_cases import taped
from photo_scene import Hardness, render

from futtock.stock.photo.photograph import PhotoSettings, photographed


@pytest.fixture(scope="session")
def scene():
    """A swept slab 1.5 m long under a slanted camera, shadow across, sapwood and bark."""
    hard = Hardness(shadow=0.6, bark=0.7, sap=1.0, tilt=0.7, lens=0.6, knots=4.0)
    return render(3, hard, length=1500.0, width=300.0, pixels=(1800, 1350), cards=5, bend=0.2)


@pytest.fixture(scope="session")
def got(scene):
    settings = PhotoSettings(taped={(0, 4): taped(scene, 0, 4)}, lie="face")
    return photographed(scene.image, settings)
