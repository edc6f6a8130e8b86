"""The floor's pages with no network: server killed, photographs that wait, a frame by touch."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from fastapi import FastAPI
from playwright.sync_api import Browser, Page, expect
from web_served import done, events, kept_pages, tablet, until

from futtock.yard.stages import FRAME_STAGES, TIMBER_STAGES

pytestmark = pytest.mark.browser

ROOT = Path(__file__).resolve().parents[2]


def _free_port() -> int:
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        return int(door.getsockname()[1])


class _Serving:
    """``futtock serve`` in a process of its own, to be killed and begun again on its port."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.port = folder, _free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self.process: subprocess.Popen[bytes] | None = None

    def begin(self) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "futtock", "serve", str(self.folder), "--port", str(self.port)],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )  # fmt: skip
        until(self._answers, 120)

    def _answers(self) -> bool:
        try:
            with urllib.request.urlopen(f"{self.url}/traveller/1", timeout=30) as answer:
                return bool(answer.status == 200)
        except OSError:
            return False

    def kill(self) -> None:
        assert self.process is not None
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(10)


@pytest.fixture
def serving(small_app: FastAPI) -> Iterator[_Serving]:
    made = _Serving(small_app.state.office.folder)
    made.begin()
    yield made
    if made.process is not None:
        made.process.kill()
        made.process.wait(10)


@pytest.mark.slow
def test_the_server_is_killed_in_a_cut_and_in_a_count(
    floor_browser: Browser, small_app: FastAPI, serving: _Serving
) -> None:
    """The server's process is killed (SIGKILL) while ticks are being sent, twice. Pages that were
    open open again, also after a reload; the cut goes on, its angles whole; ticks and a photograph
    are kept in the browser, shown as waiting, and are each in the journal once when it runs again.
    """
    context, page = tablet(floor_browser)
    page.goto(f"{serving.url}/saw/1-P-f1")
    until(lambda: "/saw/1-P-f1" in kept_pages(page))
    page.goto(f"{serving.url}/traveller/1")
    until(lambda: "/traveller/1" in kept_pages(page))
    page.fill("#who", "Ines")
    rows = page.locator(".timber-row button.tick")
    marks = _marks(page)
    wanted = []
    for stage in TIMBER_STAGES[:2]:
        for k, mark in enumerate(marks[:6]):
            if k == 3:
                serving.kill()  # what was just pressed may or may not have come through
            rows.nth(k).tap()
            wanted.append((mark, stage))
        expect(page.locator("#net")).to_contain_text("on this tablet.")
        page.reload()
        expect(page.locator("h1")).to_contain_text("Frame 1")
        expect(page.locator("#net")).to_contain_text("on this tablet.")
        # the cut goes on meanwhile
        page.goto(f"{serving.url}/saw/1-P-f1")
        before = page.locator("#g-mark").text_content()
        page.locator("#g-go").tap()
        assert page.locator("#g-mark").text_content() != before
        expect(page.locator("#g-deg")).to_contain_text("°")
        page.goto(f"{serving.url}/traveller/1")
        if stage == "moulded":
            _take(page)
            expect(page.locator("#kept-list")).to_contain_text("1 photograph")
        serving.begin()
        expect(page.locator("#net")).to_have_text("Connected.", timeout=30_000)
    assert sorted(done(small_app)) == sorted([*wanted, ("1", "photograph")])
    # where it was never opened, words say so and what can be opened
    serving.kill()
    page.goto(f"{serving.url}/bench/3")
    expect(page.locator("h1")).to_contain_text("not opened on this tablet before")
    expect(page.get_by_role("link", name="saw 1-P-f1")).to_be_visible()
    context.close()


def _take(page: Page, text: str = "joint at the heel") -> None:
    spots = np.random.default_rng(5).integers(0, 255, (30, 40, 3), np.uint8)
    picture = cv2.resize(spots, (2600, 1950))
    good, jpeg = cv2.imencode(".jpg", picture)
    assert good
    file = {"name": "IMG_1.jpg", "mimeType": "image/jpeg", "buffer": jpeg.tobytes()}
    page.set_input_files("#picture", file)
    expect(page.locator("#taken")).to_have_text("IMG_1.jpg")
    page.fill("#picture-text", text)
    page.get_by_role("button", name="Keep the photograph").tap()


def test_a_photograph_waits_and_is_sent_once(
    floor_browser: Browser, small_app: FastAPI, serve: Callable[[FastAPI], Any]
) -> None:
    """Taken with no network it waits in the browser, outlives the page, is made smaller there, and
    is shown on the traveller when it was sent; an answer that is lost makes no second one.
    """
    url = serve(small_app).url
    context, page = tablet(floor_browser, 390, 844)
    page.goto(f"{url}/traveller/1-P-f1")
    page.fill("#who", "Ines")
    context.set_offline(True)
    _take(page)
    expect(page.locator("#net")).to_contain_text("1 entry waits on this tablet.")
    page.close()
    context.set_offline(False)
    again = context.new_page()
    lost: list[int] = []

    def lose(route: Any) -> None:
        if lost:
            route.continue_()
            return
        lost.append(route.fetch().status)
        route.abort()

    again.route("**/floor/photographs", lose)
    again.goto(f"{url}/traveller/1-P-f1")
    expect(again.locator("#pictures img")).to_have_count(1, timeout=30_000)
    expect(again.locator("#net")).to_have_text("Connected.", timeout=15_000)
    assert lost == [200]
    assert [(e.stage, e.body["text"]) for e in events(small_app)] == [
        ("photograph", "joint at the heel")
    ]
    again.locator("#pictures img").scroll_into_view_if_needed()
    until(lambda: again.evaluate("document.querySelector('#pictures img').naturalWidth") == 1600)
    context.close()


def test_lengths_are_found_by_touch(
    floor_browser: Browser, small_app: FastAPI, serve: Callable[[FastAPI], Any]
) -> None:
    """As drawn, then two sixteenths longer and one shorter, are a length a sixteenth over the
    drawn one, without a key; it is kept with what it means.
    """
    context, page = tablet(floor_browser)
    page.goto(f"{serve(small_app).url}/traveller/1")
    page.fill("#who", "Tam")
    row = page.locator(".check-row").first
    row.get_by_role("button", name="As drawn").tap()
    drawn = row.locator("input[name=found]").input_value()
    assert drawn == str(row.locator(".check-name b").text_content())
    for name in ("Longer", "Longer", "Shorter"):
        row.get_by_role("button", name=name).tap()
    row.get_by_role("button", name="Enter").tap()
    expect(row.locator(".check-found")).to_contain_text("within", timeout=10_000)
    event = events(small_app)[-1]
    assert event.body["found_mm"] - event.body["wanted_mm"] == pytest.approx(25.4 / 16, abs=0.8)
    for button in row.locator("button").all():
        box = button.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 48
    context.close()


@pytest.mark.slow
def test_a_frame_goes_from_laid_out_to_horned_by_touch(
    floor_browser: Browser, small_app: FastAPI, serve: Callable[[FastAPI], Any]
) -> None:
    """On traveller, saw guide and bench, by touch alone, with the network gone for a while: one
    timber is sawn mark by mark, each length is taken, each stage ticked; every event is in the
    journal once, in its turn, with nothing told against it.
    """
    url = serve(small_app).url
    context, page = tablet(floor_browser)
    page.goto(f"{url}/traveller/2")
    page.fill("#who", "Ines")
    marks = _marks(page)
    assert len(marks) >= 8
    for _ in range(TIMBER_STAGES.index("rested") + 1):
        for mark in marks:
            page.locator(f".timber-row[data-mark='{mark}'] button.tick").tap()
    expect(page.locator("#net")).to_have_text("Connected.", timeout=30_000)
    page.goto(f"{url}/bench/2")
    context.set_offline(True)
    for stage in ("flattened", "thicknessed"):
        for mark in marks:
            _tick(page, mark, stage)
    expect(page.locator("#net")).to_contain_text(f"{2 * len(marks)} entries wait")
    context.set_offline(False)
    expect(page.locator("#net")).to_have_text("Connected.", timeout=30_000)
    for n, mark in enumerate(marks):
        page.goto(f"{url}/saw/{mark}")
        if n == 0:
            _saw_through(page)
        page.get_by_role("button", name=f"Enter {mark} as bevelled").tap()
        expect(page.locator("#net")).to_have_text("Connected.")
    page.goto(f"{url}/traveller/2")
    _tick(page, "2", "dry-fitted")
    checks = page.locator(".check-row")
    for k in range(checks.count()):
        checks.nth(k).get_by_role("button", name="As drawn").tap()
        checks.nth(k).get_by_role("button", name="Enter").tap()
    expect(page.locator("#net")).to_have_text("Connected.", timeout=30_000)
    page.goto(f"{url}/bench/2")
    last = FRAME_STAGES.index("horned") + 1
    for stage in FRAME_STAGES[1:last]:
        _tick(page, "2", stage)
    expect(page.locator("#net")).to_have_text("Connected.", timeout=30_000)
    assert page.locator("#kept-list li[data-state='told']").count() == 0
    entered = done(small_app)
    wanted = [(m, s) for m in marks for s in TIMBER_STAGES]
    wanted += [("2", s) for s in FRAME_STAGES[:last]]
    assert sorted(d for d in entered if d[1] != "checked") == sorted(wanted)
    assert len([d for d in entered if d[1] == "checked"]) == _checks(small_app)
    assert len({e.id for e in events(small_app)}) == len(entered)
    page.goto(f"{url}/traveller/2")
    expect(page.locator("h1")).to_have_text("Frame 2: ribbanded next.")
    context.close()


def _checks(app: FastAPI) -> int:
    """How many lengths prove frame 2."""
    from futtock.job.floor import measures_of

    sitting = app.state.office.sitting()
    return len(measures_of(sitting, sitting.job, 2))


def _marks(page: Page) -> list[str]:
    rows = page.locator(".timber-row")
    return [str(m) for m in rows.evaluate_all("r => r.map(x => x.dataset.mark)")]


def _tick(page: Page, mark: str, stage: str) -> None:
    page.locator(f".ticks li[data-mark='{mark}'][data-stage='{stage}'] button").tap()


def _saw_through(page: Page) -> None:
    """Every mark of every cut, by touch."""
    tabs = page.locator("#cut-tabs button")
    for n in range(tabs.count()):
        tabs.nth(n).tap()
        many = int(re.search(r"of (\d+)", str(page.locator("#g-mark").text_content()))[1])  # type: ignore[index]
        for _ in range(many):
            page.wait_for_timeout(260)
            page.locator("#g-go").tap()
        expect(tabs.nth(n)).to_contain_text("sawn")
