"""Marram served once for all tests that look at pages, and a small vessel to write in."""

from __future__ import annotations

import shutil
import socket
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
import uvicorn
from fastapi import FastAPI
from playwright.sync_api import Browser, sync_playwright
from starlette.testclient import TestClient
from web_served import worked_out

from futtock.web.app import make_app

DEMO = Path(__file__).resolve().parents[2] / "futtock" / "demo"


@pytest.fixture(scope="session")
def marram_app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    """Marram's app with every step done; tests that write take ``small_app``."""
    folder = tmp_path_factory.mktemp("served") / "marram"
    shutil.copytree(DEMO, folder)
    app = make_app(folder)
    worked_out(app)
    yield app
    app.state.office.sitting().leave()
    app.state.office.tasks.end()


@pytest.fixture
def pages(marram_app: FastAPI) -> TestClient:
    """A client of Marram's pages."""
    return TestClient(marram_app, base_url="http://localhost", follow_redirects=False)


@pytest.fixture
def small_app(marram_app: FastAPI, tmp_path: Path) -> Iterator[FastAPI]:
    """A vessel of Marram's lines with four frames and ten slabs, to write in."""
    yield from _small(marram_app, tmp_path / "small")


@pytest.fixture(scope="module")
def shared_app(marram_app: FastAPI, tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    """The same for all tests of a file, that leave each other's papers alone."""
    yield from _small(marram_app, tmp_path_factory.mktemp("shared") / "small")


def _small(marram_app: FastAPI, folder: Path) -> Iterator[FastAPI]:
    """What Marram's app has kept is taken over, so that the lines are not faired again."""
    import json

    shutil.copytree(marram_app.state.office.folder, folder)
    stated = (folder / "vessel.toml").read_text("utf-8")
    few = stated.replace('first = "2-9-0"', 'first = "14-0-0"').replace("count = 27", "count = 4")
    assert few != stated
    (folder / "vessel.toml").write_text(few, encoding="utf-8")
    slabs = json.loads((folder / "slabs.json").read_text("utf-8"))
    (folder / "slabs.json").write_text(json.dumps(slabs[:10]), encoding="utf-8")
    app = make_app(folder)
    # the fair hull is Marram's, whose papers are the same
    app.state.office.follow(marram_app.state.office.sitting())
    worked_out(app)
    yield app
    app.state.office.sitting().leave()
    app.state.office.tasks.end()


@pytest.fixture
def small(small_app: FastAPI) -> TestClient:
    """A client of the small vessel's pages."""
    return TestClient(small_app, base_url="http://localhost", follow_redirects=False)


@pytest.fixture(scope="module")
def floor_browser(chromium: str) -> Iterator[Browser]:
    """Chromium, for one file of tests."""
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        yield browser
        browser.close()


@dataclass(frozen=True)
class Served:
    """An app that answers on a real port."""

    app: FastAPI
    url: str


@pytest.fixture
def serve() -> Iterator[object]:
    """Serves an app on a free port of the loopback address: ``serve(app).url``."""
    running: list[tuple[uvicorn.Server, threading.Thread]] = []

    def start(app: FastAPI) -> Served:
        door = socket.socket()
        door.bind(("127.0.0.1", 0))
        config = uvicorn.Config(app, log_level="error", access_log=False, lifespan="off")
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [door]}, daemon=True)
        thread.start()
        for _ in range(200):
            if server.started:
                break
            time.sleep(0.02)
        running.append((server, thread))
        return Served(app, f"http://127.0.0.1:{door.getsockname()[1]}")

    yield start
    for server, thread in running:
        server.should_exit = True
        thread.join(5)
