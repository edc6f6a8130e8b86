"""A photograph corrected in Chromium: by finger, by keys, without script; its cards set by hand."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import cv2
import pytest
from fastapi import FastAPI
from photo_scene import Hardness, render
from playwright.sync_api import Browser, Locator, Page, expect, sync_playwright
from starlette.testclient import TestClient
from web_served import token

pytestmark = [pytest.mark.browser, pytest.mark.slow]

AXE = Path(__file__).resolve().parents[1] / "data" / "axe" / "axe.min.js"


@pytest.fixture(scope="module")
def photo_browser(chromium: str) -> Iterator[Browser]:
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        yield browser
        browser.close()


def _grave(page: Page) -> list[str]:
    """What axe-core calls serious or critical on the page."""
    page.add_script_tag(path=str(AXE))
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    return [
        f"{v['id']}: {v['nodes'][0]['html'][:120]}"
        for v in found["violations"]
        if v["impact"] in ("serious", "critical")
    ]


def _status(page: Page) -> Locator:
    return page.locator("#photo [role=status]")


def test_a_photograph_is_corrected_in_every_way(
    photo_browser: Browser, small_app: FastAPI, serve: Callable[[FastAPI], Any]
) -> None:
    """A grain line is drawn with a finger, a flaw ringed and a corner named by keys, an edge moved
    without script; a card's corner is moved by keys and by finger, and the figures follow; axe
    finds nothing serious on either page.
    """
    office = small_app.state.office
    client = TestClient(small_app, base_url="http://localhost", follow_redirects=False)
    hard = Hardness(shadow=0.0, bark=0.2, sap=0.0, tilt=0.3, lens=0.0, knots=0.0, clutter=0.0)
    scene = render(9, hard, length=1200.0, width=280.0, pixels=(1500, 1125), cards=4, bend=0.1)
    good, jpeg = cv2.imencode(".jpg", scene.image)
    assert good
    sent = client.post(
        "/rack/photo",
        data={"token": token(client), "lie": "face"},
        files={"picture": ("slab.jpg", jpeg.tobytes())},
    )
    assert office.tasks.wait("photo", 120)
    url = serve(small_app).url
    where = sent.headers["location"]
    touches = office.folder / ".futtock" / "photos" / where.rpartition("/")[2] / "touches.json"

    context = photo_browser.new_context(
        viewport={"width": 390, "height": 844}, has_touch=True, bypass_csp=True
    )
    page = context.new_page()
    said: list[str] = []
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto(url + where)
    lines = int(re.search(r"(\d+) grain lines", _status(page).inner_text())[1])  # type: ignore[index]
    page.get_by_label("Draw a grain line").check()
    svg = page.locator("svg.portrait")
    svg.scroll_into_view_if_needed()
    box = svg.bounding_box()
    assert box
    y = box["y"] + box["height"] / 2
    page.mouse.move(box["x"] + 0.3 * box["width"], y)
    page.mouse.down()
    page.mouse.move(box["x"] + 0.7 * box["width"], y + 2, steps=12)
    page.mouse.up()
    expect(_status(page)).to_contain_text(f"{lines + 1} grain lines")
    page.get_by_label("Ring a flaw").check()
    page.locator("#kind").select_option("check")
    svg.focus()
    for key in ("Space", "ArrowRight", "ArrowRight", "Space", "ArrowDown", "ArrowDown", "Space"):
        page.keyboard.press(key)
    page.keyboard.press("Enter")
    expect(_status(page)).to_contain_text("1 flaws kept")
    page.get_by_label("Name a corner").check()
    svg.focus()
    page.keyboard.press("Space")
    expect(page.locator(".p-corner")).to_have_count(1)
    expect(svg).to_be_focused()
    assert [t["what"] for t in json.loads(touches.read_text("utf-8"))] == [
        "grain",
        "flaw",
        "corner",
    ]
    for _ in range(2):
        page.get_by_role("button", name="Nearer").click()
    room = page.locator(".photo-room")
    wide, stood = room.evaluate("r => [r.scrollWidth / r.clientWidth, r.scrollLeft]")
    assert wide == pytest.approx(4, abs=0.1)
    assert stood == pytest.approx(1.5 * room.evaluate("r => r.clientWidth"), abs=3)
    page.get_by_label("Edge passes here").check()
    room.scroll_into_view_if_needed()
    box = room.bounding_box()
    assert box
    with page.expect_response(re.compile("/touch$")):
        page.touchscreen.tap(box["x"] + 150, box["y"] + 80)
    expect(page.locator("#photo.htmx-swapping, #photo.htmx-settling")).to_have_count(0)
    assert room.evaluate("r => r.scrollLeft") == pytest.approx(stood, abs=1)
    with page.expect_response(re.compile("/touch$")):
        page.get_by_role("button", name="Undo the last touch").click()
    assert _grave(page) == []

    page.goto(f"{url}{where}/cards")
    field = page.locator("[name='card-0-0']")
    before = [float(v) for v in field.input_value().split(", ")]
    ring = page.locator(".p-handle[data-card='0'][data-corner='0']")
    ring.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowDown")
    assert [float(v) for v in field.input_value().split(", ")] == pytest.approx(
        [before[0] + 1, before[1] + 10]
    )
    spot = ring.bounding_box()
    assert spot
    at = (spot["x"] + spot["width"] / 2, spot["y"] + spot["height"] / 2)
    unit = page.evaluate("document.querySelector('.cards-by-hand').getScreenCTM().a")
    page.mouse.move(*at)
    page.mouse.down()
    page.mouse.move(at[0] - 12, at[1], steps=3)
    page.mouse.up()
    now = [float(v) for v in field.input_value().split(", ")]
    assert now == pytest.approx([before[0] + 1 - 12 / unit, before[1] + 10], abs=1.0)
    assert _grave(page) == []
    assert said == []
    context.close()

    plain = photo_browser.new_context(java_script_enabled=False)
    page = plain.new_page()
    page.goto(url + where)
    image = page.locator("input[type=image]")
    for tool, spots in (("point", [(600, 60)]), ("grain", [(300, 300), (500, 305)])):
        page.locator("#what").select_option(tool)
        for x, y in spots:
            image.click(position={"x": x, "y": y})
    assert len(json.loads(touches.read_text("utf-8"))) == 4  # the line is not ended yet
    page.get_by_role("button", name="That is the line").click()
    found = json.loads(touches.read_text("utf-8"))
    assert [t["what"] for t in found[3:]] == ["point", "grain"]
    assert len(found[-1]["points"]) == 2
    plain.close()
