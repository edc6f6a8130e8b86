"""What tests of the pages share: waiting until all is worked out, and a visit's token."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from typing import Any

from fastapi import FastAPI
from playwright.sync_api import Browser, BrowserContext, Page
from starlette.testclient import TestClient

from futtock.job.office.office import STEPS
from futtock.yard import Journal, place_of


def worked_out(app: FastAPI, seconds: float = 240.0) -> None:
    """Wait until every step of what is stated now is done."""
    sitting = app.state.office.sitting()
    for step in STEPS:
        assert sitting.wait(step.name, seconds), f"the {step.called} is not done"


def token(client: TestClient) -> str:
    """The token of the client's visit."""
    found = re.search(r'"X-Futtock-Token": "([0-9a-f]{64})"', client.get("/papers").text)
    assert found
    return found[1]


def tablet(browser: Browser, width: int = 768, height: int = 1024) -> tuple[BrowserContext, Page]:
    """A page on a tablet with a touch screen; its context besides."""
    context = browser.new_context(viewport={"width": width, "height": height}, has_touch=True)
    return context, context.new_page()


def events(app: FastAPI) -> list[Any]:
    """The journal's records."""
    with Journal(place_of(app.state.office.folder)) as journal:
        return journal.events()


def done(app: FastAPI) -> list[tuple[str, str]]:
    """Mark and stage of each record."""
    return [(e.mark, e.stage) for e in events(app)]


def kept_pages(page: Page) -> list[str]:
    """Paths that the floor's worker keeps in the browser."""
    return list(page.evaluate(
        "caches.open('futtock-floor').then(c => c.keys())"
        ".then(k => k.map(r => new URL(r.url).pathname))"
    ))  # fmt: skip


def until(what: Callable[[], bool], seconds: float = 20.0) -> None:
    """Wait until it has come; fail where it has not in so many seconds."""
    end = time.monotonic() + seconds
    while not what():
        assert time.monotonic() < end, "it did not come"
        time.sleep(0.05)


def places_of(client: TestClient, mark: str) -> list[str]:
    """The slabs of a timber's best places, as the page lists them once they are found."""
    for _ in range(400):
        answer = client.get(f"/layout/timber/{mark}/places")
        if answer.status_code == 200:
            return re.findall(r">\d+\. Slab ([^<]+)<", answer.text)
        time.sleep(0.1)
    raise AssertionError("the places are not found")
