"""The whole job as a person does it in the browser: an empty folder, and at its end a frame stands.

Her table of offsets, her ends and her slabs are files that the person has; everything else is done
on the pages, by what they show and say.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect, sync_playwright

from futtock.web.app import make_app
from futtock.yard.stages import TIMBER_STAGES

pytestmark = [pytest.mark.browser, pytest.mark.slow]

TABLE = Path(__file__).resolve().parents[2] / "futtock" / "demo"
HERS = {"A-05", "A-34", "C-24", "C-27", "D-03", "D-04", "E-01", "E-23"}
"""Slabs of the demo's rack that can give two frames of the fore body; some measured ones beside."""
WAIT_MS = 40_000


def _button(page: Page, name: str) -> Locator:
    return page.get_by_role("button", name=name, exact=True)


def _heading(page: Page, says: str) -> None:
    expect(page.get_by_role("heading", level=1)).to_contain_text(re.compile(says), timeout=WAIT_MS)


def _peg(page: Page, name: str) -> None:
    """Follow the staff of pages."""
    page.get_by_role("navigation", name="Pages").get_by_role("link", name=re.compile(name)).click()


def _begin(page: Page) -> None:
    _heading(page, "No vessel is here yet")
    page.get_by_label("Her name").fill("Tern")
    page.locator("#lines").set_input_files(TABLE / "offsets.csv")
    page.locator("#ends").set_input_files(TABLE / "ends.csv")
    _button(page, "Begin her").click()


def _state(page: Page) -> None:
    """Her table has diagonals whose planes it does not give: the page says so, and where to."""
    _heading(page, "Her papers want mending first")
    expect(page.get_by_text("No plane is stated for diagonal 'A'.")).to_be_visible()
    page.get_by_role("link", name="Open vessel.toml").click()
    text = page.get_by_label("Her statement")
    planes = "".join(
        f'{name} = {{ height = "{height}", slope_deg = -35 }}\n'
        for name, height in (("A", "6-6-0"), ("B", "4-9-0"))
    )
    text.fill(text.input_value() + f"\n[diagonals]\n{planes}")
    _button(page, "Write it").click()
    expect(page.get_by_role("status").first).to_contain_text("vessel.toml is written.")
    _peg(page, "Lines")


def _settle(page: Page) -> None:
    _heading(page, "2 figures of her table want your eye")
    for left in ("1 figure of her table wants? your eye", "every figure is settled"):
        page.get_by_role("button", name=re.compile("^Mend to")).first.click()
        expect(page.get_by_role("status").first).to_contain_text("is mended to", timeout=WAIT_MS)
        _heading(page, left)


def _frame(page: Page) -> None:
    _peg(page, "Frames")
    _heading(page, "27 double frames are drawn")
    page.get_by_label("How many frames").fill("2")
    page.get_by_label("Longest futtock").fill("4-6-0")
    _button(page, "Draw the frames by this").click()
    _heading(page, "2 double frames are drawn")
    page.get_by_role("link", name=re.compile("^Frame 1")).first.click()
    _heading(page, "^Frame 1")
    expect(page.get_by_role("region", name="The frame").locator("svg.drawn").first).to_be_visible()


def _mould(page: Page) -> str:
    """Keep one pattern as DXF; its mark."""
    _peg(page, "Moulds")
    _heading(page, r"\d+ timbers, \d+ patterns to cut")
    mark = page.locator("table a.mark").first
    name = str(mark.text_content())
    mark.click()
    _heading(page, name)
    with page.expect_download() as kept:
        page.get_by_role("link", name="DXF", exact=True).click()
    assert kept.value.suggested_filename == f"{name}.dxf"
    page.get_by_label("Tiles of paper").select_option("A3")
    printed = page.request.get(
        page.url + "/pattern", params={"form": "tiles", "paper": "A3"}
    )  # what the button opens
    assert printed.headers["content-type"] == "application/pdf"
    return name


def _rack(page: Page, slabs: Path, count: int) -> None:
    _peg(page, "Rack")
    _heading(page, "The rack is empty")
    page.get_by_role("link", name="Add a slab by tape").click()
    page.get_by_label("Name", exact=True).fill("T-01")
    for row in range(7):
        for column, value in (("top, left", "6"), ("top, right", "5"), ("thick", "2-1/2")):
            page.get_by_label(f"{column}, row {row + 1}", exact=True).fill(value)
    expect(page.locator("#drawn svg.drawn")).to_be_visible()
    _button(page, "Put it on the rack").click()
    expect(page.get_by_role("status").first).to_contain_text("Slab T-01 is on the rack")
    page.get_by_role("link", name="From a file").click()
    expect(page.get_by_label("It is")).to_have_value("slabs")
    page.locator("#file").set_input_files(slabs)
    _button(page, "Send it").click()
    expect(page.get_by_role("status").first).to_contain_text("slabs.json is taken in")
    _peg(page, "Rack")
    _heading(page, f"{count + 1} slabs on the rack, 0 begun")


def _lay(page: Page) -> None:
    _peg(page, "Layout")
    _heading(page, r"Lay \d+ timbers on \d+ slabs")
    page.get_by_label("Seconds to search").fill("2")
    _button(page, "Lay the timbers out").click()
    _heading(page, r"^(\d+) of \1 timbers have a place\. Accept this layout\?")
    _button(page, "Accept this layout").click()
    _heading(page, r"All \d+ timbers have a place")


def _see(page: Page) -> None:
    """Frame 1 in space, then in the wood it comes out of."""
    _peg(page, "Frames")
    page.get_by_role("link", name=re.compile("^Frame 1")).first.click()
    page.get_by_role("link", name="See it in space").click()
    expect(page.locator("#space canvas")).to_be_visible(timeout=WAIT_MS)
    _button(page, "Show the wood they come out of").click()
    says = page.get_by_text(re.compile(r"^8 timbers wear the wood of \d slabs\."))
    expect(says).to_be_visible(timeout=WAIT_MS)


def _ask(page: Page) -> None:
    _peg(page, "Enough")
    _heading(page, "Is there enough?")
    _button(page, "Work it out").click()
    _heading(page, r"piles in 100 like yours|None of the piles")
    expect(page.get_by_role("img", name=re.compile("in 100, likely between"))).to_be_visible()


def _book(page: Page) -> None:
    _peg(page, "Book")
    _button(page, "Make the working sheets").click()
    link = page.get_by_role("link", name="Keep sheets.zip")
    expect(link).to_be_visible(timeout=WAIT_MS)
    with page.expect_download() as kept:
        link.click()
    assert kept.value.suggested_filename == "sheets.zip"


def _work(page: Page, marks: list[str]) -> None:
    """Every stage of frame 1 ticked on its traveller, its timbers' first."""
    _peg(page, "Yard")
    _heading(page, "No frame is begun")
    here = page.url.partition("/yard")[0]
    page.goto(f"{here}/traveller/1")
    page.get_by_label("Who is at work").first.fill("Ines")
    for mark in marks:
        row = page.locator(f"li.timber-row[data-mark='{mark}']")
        for stage in TIMBER_STAGES:
            tick = row.locator("button.tick")
            expect(tick).to_have_attribute("value", f"{mark} {stage}")
            tick.click()
        expect(row.locator("button.tick")).to_be_hidden()
        expect(row.get_by_text("all done")).to_be_visible()
    for stage in ("dry-fitted", "bedded", "bored", "treenailed", "wedged", "faired", "heel-cut",
                  "spalled", "standing"):  # fmt: skip
        row = page.locator(f".ticks li[data-stage='{stage}']")
        row.locator("button").click()
        expect(row).to_contain_text("Ines")
    # told without another load: what is next, and by keys the next stage is at hand
    expect(page.get_by_role("heading", level=1)).to_have_text("Frame 1: horned next.")
    expect(page.locator(".ticks li[data-stage='horned'] button")).to_be_focused()


def test_from_an_empty_folder_to_a_standing_frame(
    chromium: str, tmp_path: Path, serve: Callable[[Any], Any]
) -> None:
    """From an empty folder, by what the pages offer alone: she is begun with her table, its two
    slips mended, two frames drawn, a pattern kept, the rack filled by tape and by file, every
    timber laid out and accepted, enough asked, sheets made, and frame 1 worked on until it stands.
    """
    slabs = json.loads((TABLE / "slabs.json").read_text("utf-8"))
    pile = tmp_path / "pile.json"
    measured = [s["name"] for s in slabs if s["measured"]][:14]
    here = [s for s in slabs if s["name"] in HERS.union(measured)]
    assert {s["name"] for s in here} >= HERS
    pile.write_text(json.dumps(here), encoding="utf-8")
    folder = tmp_path / "tern"
    folder.mkdir()
    app = make_app(folder)
    url = serve(app).url
    said: list[str] = []
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1280, "height": 900}, accept_downloads=True)
        page.set_default_timeout(30_000)
        page.on("pageerror", lambda error: said.append(str(error)))
        page.goto(url)
        _begin(page)
        _state(page)
        _settle(page)
        _frame(page)
        _mould(page)
        _rack(page, pile, len(here))
        _lay(page)
        _see(page)
        _ask(page)
        _book(page)
        frames = app.state.office.sitting().job.framing.frames
        _work(page, [t.mark for t in frames[0].timbers])
        page.goto(url + "/yard")
        _heading(page, "^1 frame stands")
        page.goto(url)
        _heading(page, r"^1 frame stands\. Frame 2 is next")
        browser.close()
    assert said == []
    app.state.office.sitting().leave()
    app.state.office.tasks.end()
