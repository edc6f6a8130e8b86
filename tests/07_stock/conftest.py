"""One rendered slab for all tests of photographs, read once."""

from __future__ import annotations

import pytest
from photo_cases import swept_slab, taped

from futtock.stock.photo.photograph import PhotoSettings, photographed


@pytest.fixture(scope="session")
def scene():
    return swept_slab()


@pytest.fixture(scope="session")
def got(scene):
    settings = PhotoSettings(taped={(0, 4): taped(scene, 0, 4)}, lie="face")
    return photographed(scene.image, settings)
