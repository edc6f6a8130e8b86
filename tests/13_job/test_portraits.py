"""A slab's portrait lies beneath its drawing just where the wood is."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from layout_cases import plank

from futtock.drawing.heading import Heading
from futtock.drawing.slab import slab_sheet
from futtock.job.portraits import ground, portrait_path
from futtock.sheet.items import Group, Picture
from futtock.sheet.items import Path as Line
from futtock.stock.slab import Slab

SPOT_MM = np.array([900.0, 40.0])
AT = (-100.0, -300.0, 0.5)


@pytest.fixture
def wood() -> Slab:
    return replace(plank("P-1", 2000.0, 300.0), portrait="photos/P-1.jpg", portrait_at=AT)


def spot_of(jpeg: bytes) -> tuple[np.ndarray, tuple[int, int]]:
    """Middle of the white spot as (column, rows up from the lowest), and the picture's size."""
    picture = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
    rows, columns = np.nonzero(picture > 120)
    high, wide = picture.shape
    return np.array([columns.mean(), high - 1 - rows.mean()]), (wide, high)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A yard with a portrait, dark but for a white spot."""
    picture = np.full((1400, 5200, 3), 30, np.uint8)
    column, up = (SPOT_MM - AT[:2]) / AT[2]
    cv2.circle(picture, (round(column), 1399 - round(up)), 30, (255, 255, 255), -1)
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "P-1.jpg").write_bytes(cv2.imencode(".jpg", picture)[1].tobytes())
    return tmp_path


@pytest.mark.parametrize("most", [5200, 2400, 700])
def test_a_smaller_portrait_lies_where_it_lay(folder: Path, wood: Slab, most: int) -> None:
    """Whatever its pixels become, a spot on the wood keeps its place to a millimetre."""
    seen, jpeg = ground(folder, wood, most)
    assert jpeg is not None
    spot, (wide, _) = spot_of(jpeg)
    assert wide <= most
    x, y, mm_per_px = seen.portrait_at
    np.testing.assert_allclose(spot * mm_per_px + [x, y], SPOT_MM, atol=1.0)


def test_the_drawing_lies_over_it(folder: Path, wood: Slab) -> None:
    """On the sheet the spot is where the slab's own axes put it, and no wood is painted over it."""
    seen, jpeg = ground(folder, wood, 1500)
    sheet = slab_sheet(seen, (), {}, Heading("Ann", show="metric"), portrait=jpeg)
    (picture,) = [i for i in sheet.items if isinstance(i, Picture)]
    spot, (wide, high) = spot_of(jpeg)
    share = (spot + 0.5) / [wide, high]
    there = np.array(picture.at_mm) + share * picture.size_mm
    top = next(i for i in sheet.items if isinstance(i, Line) and i.layer == "TOP")
    ratio = np.ptp(seen.top_mm[:, 0]) / np.ptp(top.points_mm[:, 0])
    np.testing.assert_allclose(there * ratio, SPOT_MM, atol=1.5)
    after = sheet.items[sheet.items.index(picture) + 1 :]
    filled = [i for i in after if isinstance(i, Line) and i.fill and i.layer != "TITLE"]
    assert not filled
    assert not [
        p for g in after if isinstance(g, Group) for p in g.items if getattr(p, "fill", None)
    ]


def test_a_portrait_that_is_gone_or_no_picture_is_passed_over(folder: Path, wood: Slab) -> None:
    """The slab is drawn plain, as one that was never photographed."""
    (folder / "photos" / "P-1.jpg").write_bytes(b"no picture")
    assert ground(folder, wood)[1] is None
    (folder / "photos" / "P-1.jpg").unlink()
    assert ground(folder, wood)[1] is None
    assert ground(folder, replace(wood, portrait_at=None))[1] is None


def test_a_rack_file_cannot_lead_out_of_the_folder(folder: Path, wood: Slab) -> None:
    """A portrait named with a way out of the folder is looked for by its bare name alone."""
    (folder / "secret.jpg").write_bytes((folder / "photos" / "P-1.jpg").read_bytes())
    assert portrait_path(folder, replace(wood, portrait="../secret.jpg")) is None
