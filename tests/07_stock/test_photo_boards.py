from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pytest

from futtock.stock.photo.blemish import propose
from futtock.stock.photo.figure import seen_grain
from futtock.stock.photo.portrait import Portrait

PHOTOS = Path(__file__).parents[1] / "data" / "photos"
CREDIT = "Wood surface photographs: P. Kodytek, A. Bodzas, P. Bilik, VSB-TUO, CC BY 4.0"


@pytest.mark.parametrize("name", [CREDIT])
def test_grain_of_real_boards_as_read_by_eye(name):
    """Within 5 degrees of what was read by eye (+-3): every confident one, and of all 5 in 6."""
    wrong, sure = [], []
    for photo in json.loads((PHOTOS / "truth.json").read_text())["photos"]:
        if not (PHOTOS / photo["file"]).exists():
            continue
        portrait, wood = real(photo, 1)
        knots = np.zeros(wood.shape, np.uint8)
        for k in photo["knots"]:
            cv2.ellipse(knots, (k["x"], k["y"]), (k["rx"], k["ry"]), 0, 0, 360, 1, -1)
        seen = seen_grain(portrait, wood, knots > 0, axis_deg=90.0)
        for point in photo["grain"]:
            place = np.array([[point["x"], portrait.picture.shape[0] - 1 - point["y"]]], float)
            column, row = np.rint(seen.grid.cells(place)).astype(int)[0]
            wrong.append(abs((seen.angle_deg[row, column] - point["deg"] + 90) % 180 - 90))
            sure.append(seen.confidence[row, column] > 0.45)
    wrong, sure = np.array(wrong), np.array(sure)
    assert len(wrong) == 30
    assert sure.sum() >= 18
    assert wrong[sure].max() <= 5
    assert np.mean(wrong <= 5) >= 5 / 6


def test_knots_of_real_boards_are_proposed():
    """Reduced by two, of the knots with a radius of 5 pixels and more 5 in 6, and few false."""
    met = known = false = 0
    for photo in json.loads((PHOTOS / "truth.json").read_text())["photos"]:
        if not (PHOTOS / photo["file"]).exists():
            continue
        portrait, wood = real(photo, 2)
        found = [p for p in propose(portrait, wood) if p.kind == "knot" and p.confidence > 0.5]
        used = set()
        for k in photo["knots"]:
            near = [
                n
                for n, p in enumerate(found)
                if np.all(
                    np.abs(portrait.pixels(p.outline_mm).mean(0) * 2 - [k["x"], k["y"]])
                    < [max(k["rx"], 10), max(k["ry"], 10)]
                )
            ]
            used.update(near)
            if k["r"] >= 10:
                known += 1
                met += bool(near)
        false += len(found) - len(used)
    assert known >= 15
    assert met / known >= 5 / 6
    assert met / (met + false) >= 0.9


def real(photo, shrink: int):
    """A real board as a portrait and its bare wood, reduced."""
    picture = cv2.imread(str(PHOTOS / photo["file"]))
    edge = np.array([p for line in photo["outline"] for p in line], np.int32)
    wood = np.zeros(picture.shape[:2], np.uint8)
    cv2.fillPoly(wood, [cv2.convexHull(edge)], 1)
    wood = cv2.erode(wood, np.ones((21, 21), np.uint8), borderValue=1)
    size = (picture.shape[1] // shrink, picture.shape[0] // shrink)
    picture = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    wood = cv2.resize(wood, size, interpolation=cv2.INTER_NEAREST) > 0
    return Portrait(picture, (0.0, 0.0), 1.0, np.ones(wood.shape, bool)), wood


@pytest.mark.parametrize(("radius_mm", "believed"), [(900.0, True), (150.0, False)])
def test_grain_that_turns_fast_is_not_believed(radius_mm, believed):
    """Rings about a middle far off are read and sure; rings so near that within a hand's breadth
    the grain turns by tens of degrees are read, and not sure."""
    size = 401
    y, x = np.mgrid[0:size, 0:size].astype(float)
    middle = np.array([size // 2, size // 2 + radius_mm])
    off = np.hypot(x - middle[0], y - middle[1])
    grey = 130 + 30 * np.sin(2 * np.pi * off / 16.0)
    grey += np.random.default_rng(2).normal(0, 4, grey.shape)
    picture = np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    wood = np.ones(grey.shape, bool)
    seen = seen_grain(Portrait(picture, (0.0, 0.0), 1.0, wood), wood)
    near = slice(35, 46)
    true = np.degrees(np.arctan2(x - middle[0], middle[1] - y))[::5, ::5][::-1]
    wrong = np.abs((seen.angle_deg + true + 90) % 180 - 90)[near, near]
    assert np.median(wrong) < 1.5
    assert bool(np.median(seen.confidence[near, near]) > 0.45) == believed
