"""A standing hull on the pages: what was taken out, the choices, and what each of them moves."""

from __future__ import annotations

import csv
import re
import tomllib
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import numpy as np
import pytest
from starlette.testclient import TestClient
from web_served import token, worked_out

from futtock.web.app import make_app

LENGTH, NEUTRAL, KEEL = 10_000.0, 1100.0, 250.0
HOG = 80.0
"""The invented tub's: a parabola of this rise was put into every point of her."""
STATED = """[vessel]
name = "Tub"
show = "metric"
[lines]
points = "survey.csv"
unit = "mm"
tolerance = "2 mm"
[planking]
thickness = "32 mm"
[framing]
first = "2000 mm"
room_and_space = "1000 mm"
count = 3
sided = "48 mm"
moulded = { heel = "120 mm", head = "80 mm" }
[futtocks]
longest = "1400 mm"
butt_shift = "350 mm"
"""


def _tub(x: np.ndarray, a: np.ndarray, side: np.ndarray) -> np.ndarray:
    """Points of a hogged tub: x, a share of the girth from keel to sheer, and the side."""
    s = 2 * x / LENGTH - 1
    wide, foot, top = 1500 * (1 - 0.75 * s**2), 300 + 500 * s**4, 2000 + 250 * s**2
    y = 60 + wide * np.sin(a * np.pi / 2) ** 1.2
    z = foot + (top - foot) * (1 - np.cos(a * np.pi / 2)) ** 0.9
    rise, slope = 4 * HOG * x / LENGTH * (1 - x / LENGTH), 4 * HOG / LENGTH * (1 - 2 * x / LENGTH)
    return np.column_stack([x - (z - NEUTRAL) * slope, y * side, z + rise])


@pytest.fixture(scope="module")
def tub(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A client of the hogged tub's pages."""
    folder = tmp_path_factory.mktemp("tub")
    rng = np.random.default_rng(11)
    n = 1600
    side = np.where(rng.random(n) < 0.5, 1.0, -1.0)
    points = _tub(rng.uniform(100, LENGTH - 100, n), rng.uniform(0, 1, n), side)
    points += 1.2 * rng.standard_normal(points.shape)
    x = np.linspace(100, LENGTH - 100, 40)
    one = np.ones(40)
    keel = np.column_stack([x, 0 * x, KEEL + 4 * HOG * x / LENGTH * (1 - x / LENGTH)])
    named = {"keel": keel, "sheer": _tub(x, one, one), "rabbet": _tub(x, 0 * one, one)}
    with (folder / "survey.csv").open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(["x", "y", "z", "line"])
        rows.writerows([*(f"{v:.1f}" for v in p), ""] for p in points)
        rows.writerows(
            [*(f"{v:.1f}" for v in p), name] for name, line in named.items() for p in line
        )
    (folder / "vessel.toml").write_text(STATED, encoding="utf-8")
    app = make_app(folder)
    worked_out(app)
    yield TestClient(app, base_url="http://localhost", follow_redirects=False)
    app.state.office.sitting().leave()
    app.state.office.tasks.end()


def _choice(html: str, name: str) -> tuple[float, bool, float]:
    """What was taken for a choice, whether it is stated, and the millimetres it moves her."""
    row = re.search(rf'<th scope="row">{name}</th>(.*?)</tr>', unescape(html), re.DOTALL)
    assert row, name
    taken, moves = (re.search(r"[\d.]+", c) for c in re.findall(r"<td.*?</td>", row[1]))
    assert moves
    return float(taken[0]) if taken else np.nan, "not stated" not in row[1], float(moves[0])


def _folder(client: TestClient) -> Path:
    return Path(client.app.state.office.folder)  # type: ignore[attr-defined]


def test_choices_are_stated_on_the_page(tub: TestClient) -> None:
    """With her true keel and neutral axis stated on the page, the hog told is the one put into
    her (80 mm, within 3); each choice shows what it moves, and the file keeps them.
    """
    before = tub.get("/lines/survey").text
    assert _choice(before, "keel's original line")[1] is False
    assert _choice(before, "side to trust")[1] is False
    assert "Where to measure more" in before
    form = {
        "token": token(tub),
        "restore.hog": "take it out",
        "restore.neutral_axis": f"{NEUTRAL:.0f} mm",
        "restore.keel": f"0 mm, {KEEL:.0f} mm\n{LENGTH:.0f} mm, {KEEL:.0f} mm",
        "restore.as_found": "clamp, 4000 mm, 6000 mm, 1500 mm\ndeck, 8000 mm, 8400 mm, , , port",
    }
    assert tub.post("/lines/survey", data=form).status_code == 303
    stated = tomllib.loads((_folder(tub) / "vessel.toml").read_text("utf-8"))["restore"]
    assert stated["keel"] == [["0 mm", "250 mm"], ["10000 mm", "250 mm"]]
    assert stated["as_found"] == [
        {"name": "clamp", "from": "4000 mm", "to": "6000 mm", "low": "1500 mm"},
        {"name": "deck", "from": "8000 mm", "to": "8400 mm", "side": "port"},
    ]
    assert "hog" not in stated  # what is usual is not written
    worked_out(tub.app)  # type: ignore[arg-type]
    after = tub.get("/lines/survey").text
    hog, _, moves = _choice(after, "hog")
    assert hog == pytest.approx(HOG, abs=3.0)
    assert moves == pytest.approx(HOG, abs=4.0)
    assert _choice(after, "keel's original line")[1] is True
    zone = re.search(r'<th scope="row">clamp, starboard</th><td class="n">([-+]\d+) mm', after)
    assert zone
    assert 0 < abs(float(zone[1])) <= HOG
    assert '<th scope="row">clamp, port</th>' in after
    assert '<th scope="row">deck, starboard</th>' not in after
    assert "deck, 8000 mm, 8400 mm, , , port" in after


def test_what_cannot_be_a_choice_stays_typed(tub: TestClient) -> None:
    """A keel of one point, and a height that is none, come back beside what is wrong with them;
    the file is as it was.
    """
    path = _folder(tub) / "vessel.toml"
    before = path.read_bytes()
    key = {"token": token(tub)}
    for field, typed in (
        ("restore.keel", "0 mm, 250 mm"),
        ("restore.neutral_axis", "as high as the thwart"),
        ("restore.as_found", "clamp"),
    ):
        answer = tub.post("/lines/survey", data={**key, field: typed})
        assert answer.status_code == 422, field
        assert typed in unescape(answer.text)
        assert 'aria-invalid="true"' in answer.text
    assert path.read_bytes() == before


def test_a_table_has_nothing_to_restore(pages: TestClient) -> None:
    """Marram comes from a table: the page of choices says so, and the lines page offers none."""
    assert pages.get("/lines/survey").status_code == 422
    assert "/lines/survey" not in pages.get("/lines").text
