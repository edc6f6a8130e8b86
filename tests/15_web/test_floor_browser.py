"""The floor's pages in Chromium: the network dropped in a cut and in a count, two at one timber."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import uvicorn
from fastapi import FastAPI
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect

from futtock.yard import Journal, place_of

pytestmark = pytest.mark.browser

AXE = Path(__file__).resolve().parents[1] / "data" / "axe" / "axe.min.js"
PAGES = ("/saw", "/saw/12-P-f1", "/traveller/12", "/traveller/12-P-f1", "/bench/12")
SIZES = ((390, 844), (768, 1024), (1024, 768), (1440, 900))


def _tablet(browser: Browser, width: int = 768, height: int = 1024) -> tuple[BrowserContext, Page]:
    context = browser.new_context(viewport={"width": width, "height": height}, has_touch=True)
    return context, context.new_page()


def _journal(app: FastAPI) -> list[tuple[str, str, str]]:
    with Journal(place_of(app.state.office.folder)) as journal:
        return [(e.mark, e.stage, e.who) for e in journal.events()]


def _shown(page: Page) -> str:
    return str(page.locator("#g-deg").text_content())


def test_a_cut_goes_on_without_the_network(
    floor_browser: Browser, marram_app: FastAPI, serve: Callable[[FastAPI], Any]
) -> None:
    """With the network gone mid-cut, every mark of every cut is still shown in its turn, by touch,
    pedal and key, asking for nothing; a held pedal or one that bounces moves one mark only.
    """
    sheets = marram_app.state.office.sitting().job.saw_sheets
    sheet = next(s for s in sheets if max(c.largest_deg for c in s.cuts) > 10)
    context, page = _tablet(floor_browser)
    page.goto(f"{serve(marram_app).url}/saw/{sheet.mark}")
    expect(page.locator("#awake")).to_have_text("This screen stays on.")
    page.clock.install()
    context.set_offline(True)
    signs = {0.0: "", 0.25: "¼", 0.5: "½", 0.75: "¾"}
    for n, cut in enumerate(sheet.cuts):
        page.locator(f"#cut-tabs button[data-cut='{n}']").tap()
        marks = cut.in_feeding_order()
        for k, mark in enumerate(marks):
            whole = f"{int(mark.deg)}" if mark.deg >= 1 or mark.deg == 0 else ""
            assert _shown(page) == f"{whole}{signs[mark.deg % 1]}°"
            expect(page.locator("#g-hand")).to_have_text(mark.head.upper())
            expect(page.locator("#g-mark")).to_have_text(f"mark {k + 1} of {len(marks)}")
            page.clock.run_for(300)
            if k % 3 == 0:
                page.locator("#g-go").tap()
            elif k % 3 == 1:
                page.keyboard.down("PageDown")
                page.keyboard.down("PageDown")  # held: repeats, and goes no further
                page.keyboard.up("PageDown")
            else:
                page.keyboard.press("Space")
                page.keyboard.press("Space")  # bounces
        expect(page.locator("#g-go")).to_have_text("This cut is sawn")
    context.close()


def test_nothing_goes_on_by_itself(
    floor_browser: Browser, marram_app: FastAPI, serve: Callable[[FastAPI], Any]
) -> None:
    """The guide stands for ten minutes, and while it is paused, until somebody moves it."""
    context, page = _tablet(floor_browser)
    page.clock.install()
    page.goto(f"{serve(marram_app).url}/saw/12-P-f1")
    before = page.locator("#g-mark").text_content()
    page.clock.run_for(600_000)
    assert page.locator("#g-mark").text_content() == before
    page.locator("#g-pause").tap()
    page.keyboard.press("PageDown")
    assert page.locator("#g-mark").text_content() == before
    page.locator("#g-pause").tap()
    page.clock.run_for(300)
    page.keyboard.press("PageDown")
    expect(page.locator("#g-mark")).to_contain_text("mark 2 of")
    page.reload()
    expect(page.locator("#g-mark")).to_contain_text("mark 2 of")
    context.close()


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_the_angle_is_large_and_within_reach(
    floor_browser: Browser, marram_app: FastAPI, serve: Callable[[FastAPI], Any],
    width: int, height: int,
) -> None:  # fmt: skip
    """The widest angle fits its place, as do the widest hand and what comes next; its letters are
    no smaller than the look asks (26 % of the guide's width, 43 % on a phone, or 34 % of a screen's
    height lying); the button to go on, 96 px high, is on the screen without scrolling.
    """
    context, page = _tablet(floor_browser, width, height)
    page.goto(f"{serve(marram_app).url}/saw/12-P-f1")
    page.evaluate(
        "const [r, n] = [...document.querySelector('tbody.cut').rows].map(r => r.dataset);"
        "r.whole = '38'; r.part = '¾'; r.hand = 'SQUARE'; n.angle = '38¾°'; n.hand = 'RIGHT';"
        "document.getElementById('g-pause').click()"
    )
    cut_off = page.evaluate(
        "[...document.querySelectorAll('.saw-lean, .saw-next')]"
        ".map(e => e.scrollWidth - e.clientWidth)"
    )
    assert cut_off == [0, 0]
    size, over, wide = page.evaluate(
        "(() => { const d = document.querySelector('.saw-deg');"
        "return [parseFloat(getComputedStyle(d).fontSize), d.scrollWidth - d.clientWidth,"
        "document.querySelector('.saw').clientWidth]; })()"
    )
    assert over <= 0
    least = 0.43 * wide if width < 620 else 0.26 * wide if height > width else 0.34 * height
    assert size >= least - 1
    go = page.locator("#g-go").bounding_box()
    assert go is not None
    assert go["height"] >= 96
    assert go["y"] + go["height"] <= height
    over = page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    assert over <= 0
    context.close()


@pytest.mark.parametrize(
    ("width", "height", "wide_mm"), [(768, 1024, 122.0), (1024, 768, 162.6), (800, 1280, 107.7)]
)
def test_the_angle_is_read_at_three_metres(
    floor_browser: Browser, marram_app: FastAPI, serve: Callable[[FastAPI], Any],
    width: int, height: int, wide_mm: float,
) -> None:  # fmt: skip
    """On an 8-inch tablet (4 to 3 upright and on its side, 16 to 10) the angle's figures, as
    they are drawn, are seen at 3 m under 20 minutes of arc or more, black on white at 18 to 1 or
    more; the hand and the next mark's angle under 6 or more: a fifth more than the letter that a
    sound eye just makes out (5 minutes, Snellen).

    Source: ISO 9241-3 (characters of 20 to 22 minutes preferred, 16 at least) and NUREG-0700
    rev. 2, 1.3.1-4 (the same figures); contrast as WCAG 2.2 reckons it (7 to 1 at level AAA).
    """
    context, page = _tablet(floor_browser, width, height)
    page.goto(f"{serve(marram_app).url}/saw/12-P-f1")
    px_mm = wide_mm / width

    def arc(selector: str) -> tuple[float, float]:
        """Minutes of arc of the figures' height at 3 m, and contrast, from what is drawn."""
        shot = page.locator(selector).screenshot()
        seen = cv2.imdecode(np.frombuffer(shot, np.uint8), cv2.IMREAD_COLOR)
        assert seen is not None
        grey = cv2.cvtColor(seen, cv2.COLOR_BGR2GRAY)
        _, _, parts, _ = cv2.connectedComponentsWithStats((grey < 128).astype(np.uint8))
        largest = parts[1:][parts[1:, cv2.CC_STAT_AREA].argmax()]
        tall = float(largest[cv2.CC_STAT_HEIGHT])
        linear = np.where((s := seen / 255) <= 0.04045, s / 12.92, ((s + 0.055) / 1.055) ** 2.4)
        light = linear @ [0.0722, 0.7152, 0.2126]
        contrast = (float(light.max()) + 0.05) / (float(light.min()) + 0.05)
        return float(np.degrees(np.arctan(tall * px_mm / 3000)) * 60), contrast

    angle, contrast = arc("#g-deg")
    print(f"{width} x {height}: {angle:.1f} minutes, {contrast:.1f} to 1")
    assert angle >= 20
    assert contrast >= 18
    for selector in ("#g-hand", "#g-next"):
        small, contrast = arc(selector)
        assert small >= 6
        assert contrast >= 18
    context.close()


def test_a_count_goes_on_without_the_network(
    floor_browser: Browser, small_app: FastAPI, serve: Callable[[FastAPI], Any]
) -> None:
    """Ticks made with the network gone wait in the browser, are shown as waiting, outlive the
    page, and are each in the journal once when it is back.
    """
    url = serve(small_app).url
    context, page = _tablet(floor_browser)
    page.goto(f"{url}/traveller/1")
    page.fill("#who", "Ines")
    first = page.locator(".timber-row").first.get_attribute("data-mark")
    press = page.locator(f".timber-row[data-mark='{first}'] button.tick")
    press.tap()
    expect(page.locator("#net")).to_have_text("Connected.")
    assert _journal(small_app) == [(first, "moulded", "Ines")]
    context.set_offline(True)
    press.tap()
    press.tap()
    page.locator(".ticks button").first.tap()
    expect(page.locator("#net")).to_contain_text("No network. 3 entries wait on this tablet.")
    expect(page.locator(".ticks .tick-by").first).to_have_text("kept here, not sent yet")
    assert len(_journal(small_app)) == 1
    # the page is closed and another opened: what waits is still there
    page.close()
    context.set_offline(False)
    again = context.new_page()
    again.goto(f"{url}/saw")
    expect(again.locator("#net")).to_have_text("Connected.")
    wanted = [(first, s, "Ines") for s in ("moulded", "laid-out", "roughed")]
    assert _journal(small_app) == [*wanted, ("1", "dry-fitted", "Ines")]
    # what was out of turn is told and stays until it is seen
    expect(again.locator("#kept-list li[data-state='told']")).to_contain_text("without:")
    context.close()


def test_an_answer_that_is_lost_makes_no_second_entry(
    floor_browser: Browser, small_app: FastAPI, serve: Callable[[FastAPI], Any]
) -> None:
    """The journal keeps an entry but the answer is lost: the browser sends it again by the same
    id, and it is there once.
    """
    context, page = _tablet(floor_browser, 390, 844)
    page.goto(f"{serve(small_app).url}/traveller/1-P-f1")
    page.fill("#who", "Ines")
    lost: list[str] = []

    def lose(route: Route) -> None:
        if lost:
            route.continue_()
            return
        lost.append(route.fetch().text())
        route.abort()

    page.route("**/floor/entries", lose)
    page.locator(".ticks button").first.tap()
    expect(page.locator("#net")).to_contain_text("1 entry waits")
    page.locator("#send-now").tap()
    expect(page.locator("#net")).to_have_text("Connected.")
    assert '"known":false' in lost[0]
    assert _journal(small_app) == [("1-P-f1", "moulded", "Ines")]
    context.close()


def test_two_tablets_at_one_timber_are_told(
    floor_browser: Browser, small_app: FastAPI, serve: Callable[[FastAPI], Any]
) -> None:
    """Two enter the same stage, one of them without a network: the second is told who was first,
    the other's page shows it too, and the second one takes it back.
    """
    url = serve(small_app).url
    one, a = _tablet(floor_browser)
    two, b = _tablet(floor_browser, 390, 844)
    for page, who in ((a, "Ines"), (b, "Tam")):
        page.goto(f"{url}/traveller/1-P-f1")
        page.fill("#who", who)
    two.set_offline(True)
    b.locator(".ticks button").first.tap()
    a.locator(".ticks button").first.tap()
    expect(a.locator("#net")).to_have_text("Connected.")
    two.set_offline(False)
    told = b.locator("#kept-list li[data-state='told']")
    expect(told).to_contain_text("already, by Ines")
    a.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    expect(a.locator("#contested")).to_contain_text("by Tam")
    told.get_by_role("button", name="Undo").tap()
    expect(b.locator("#contested li")).to_have_count(0)
    expect(b.locator(".ticks .tick-by").first).to_contain_text("Ines")
    assert [e[1:] for e in _journal(small_app)] == [
        ("moulded", "Ines"), ("moulded", "Tam"), ("correction", "Tam"),
    ]  # fmt: skip
    one.close()
    two.close()


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_floor_pages_fit_and_can_be_used_by_who_cannot_see(
    floor_browser: Browser, marram_app: FastAPI, serve: Callable[[FastAPI], Any],
    width: int, height: int,
) -> None:  # fmt: skip
    """No floor page is wider than the screen or fails in its script or policy, no button is lower
    than 48 px, and axe-core finds nothing serious or critical.
    """
    url = serve(marram_app).url
    context = floor_browser.new_context(
        viewport={"width": width, "height": height}, bypass_csp=width == 768
    )
    page = context.new_page()
    said: list[str] = []
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("console", lambda m: said.append(m.text) if m.type in ("error", "warning") else None)
    for path in PAGES:
        page.goto(url + path)
        over, low = page.evaluate(
            "[document.documentElement.scrollWidth - document.documentElement.clientWidth,"
            "[...document.querySelectorAll('button')].filter(b => b.offsetParent"
            " && b.offsetHeight < 48).map(b => b.textContent)]"
        )
        assert (over, low) == (0, []), path
        unseen, large = page.evaluate(
            "[[...document.querySelectorAll('main svg use')].map(u => u.getAttribute('href'))"
            ".filter(h => !document.querySelector(h)),"
            "[...document.querySelectorAll('.bx')].filter(b => b.clientHeight > 40).length]"
        )
        assert (unseen, large) == ([], 0), path
        if path.startswith("/traveller"):
            # what is not begun is a hollow box, whatever style sheets reach into a copied symbol
            box = page.locator(".ticks li[data-state='open'] .tick-box svg").first.screenshot()
            seen = cv2.imdecode(np.frombuffer(box, np.uint8), cv2.IMREAD_GRAYSCALE)
            assert seen is not None
            high, wide = seen.shape
            assert seen[high // 2, wide // 2] > 200
            assert seen.min() < 80
        if width == 768:
            page.add_script_tag(path=str(AXE))
            found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
            grave = [
                f"{v['id']}: {v['nodes'][0]['html'][:120]}"
                for v in found["violations"]
                if v["impact"] in ("serious", "critical")
            ]
            assert grave == [], path
    assert said == []
    context.close()


def test_the_floor_works_without_script(
    floor_browser: Browser, small_app: FastAPI, serve: Callable[[FastAPI], Any]
) -> None:
    """With script off the cuts are a list with every angle, and a stage is ticked by its button."""
    url = serve(small_app).url
    context = floor_browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{url}/saw/1-P-f1")
    expect(page.locator("#guide")).to_be_hidden()
    expect(page.locator("tbody.cut").first.locator("tr").first).to_contain_text("°")
    page.goto(f"{url}/traveller/1-P-f1")
    page.fill("#who", "Ines")
    page.get_by_role("button", name="moulded").click()
    expect(page.get_by_role("status").last).to_contain_text("Kept: 1-P-f1 moulded.")
    assert _journal(small_app) == [("1-P-f1", "moulded", "Ines")]
    context.close()


def test_a_killed_server_loses_nothing(floor_browser: Browser, small_app: FastAPI) -> None:
    """The server is killed between two ticks and started again on its port: both are in the
    journal once, and the page that stood open sends the second by itself.
    """
    door = socket.socket()
    door.bind(("127.0.0.1", 0))
    port = door.getsockname()[1]
    door.close()

    def started() -> tuple[uvicorn.Server, threading.Thread]:
        config = uvicorn.Config(
            small_app, port=port, log_level="error", lifespan="off", timeout_graceful_shutdown=1
        )
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        for _ in range(200):
            if server.started:
                break
            time.sleep(0.02)
        return server, thread

    server, thread = started()
    context, page = _tablet(floor_browser)
    page.goto(f"http://127.0.0.1:{port}/traveller/1-P-f1")
    page.fill("#who", "Ines")
    page.locator(".ticks button").nth(0).tap()
    expect(page.locator("#net")).to_have_text("Connected.")
    server.should_exit = server.force_exit = True
    thread.join(5)
    page.locator(".ticks button").nth(1).tap()
    expect(page.locator("#net")).to_contain_text("1 entry waits on this tablet.")
    server, thread = started()
    expect(page.locator("#net")).to_have_text("Connected.", timeout=12_000)
    assert [e[1] for e in _journal(small_app)] == ["moulded", "laid-out"]
    context.close()
    server.should_exit = True
    thread.join(5)
