"""Make the pictures of the web app for the docs: docs/pictures/page-*.png, from Marram.

``python tools/tour.py`` serves the demo from a fresh folder, lays it out, and takes each picture.
"""

from __future__ import annotations

import shutil
import socket
import sys
import tempfile
import threading
from pathlib import Path

import cv2
import numpy as np
import uvicorn
from playwright.sync_api import sync_playwright

from futtock.job.office.layout import accept
from futtock.job.office.office import STEPS
from futtock.web.app import make_app

ROOT = Path(__file__).resolve().parent.parent
OUT = ROOT / "docs" / "pictures"
PICTURES = (
    ("vessel", "/", 1000),
    ("lines", "/lines", 900),
    ("frame", "/frames/12", 1000),
    ("rack", "/rack?sort=longest", 1000),
    ("hand", "", 1000),
    ("layout", "/layout", 760),
    ("yard", "/yard", 900),
)


def main(chromium: str, seconds: float = 15.0) -> None:
    with tempfile.TemporaryDirectory() as box:
        folder = Path(box) / "marram"
        shutil.copytree(ROOT / "futtock" / "demo", folder)
        app = make_app(folder)
        office = app.state.office
        for step in STEPS:
            office.sitting().wait(step.name, 600)
        office.tasks.begin("layout", seconds=seconds)
        office.tasks.wait("layout", 600)
        accept(office)
        door = socket.socket()
        door.bind(("127.0.0.1", 0))
        server = uvicorn.Server(uvicorn.Config(app, log_level="error", lifespan="off"))
        threading.Thread(target=server.run, kwargs={"sockets": [door]}, daemon=True).start()
        url = f"http://127.0.0.1:{door.getsockname()[1]}"
        with sync_playwright() as play:
            browser = play.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
            page = browser.new_page(viewport={"width": 1100, "height": 900})
            for name, path, high in PICTURES:
                page.set_viewport_size({"width": 1100, "height": high})
                page.goto(url + (path or _by_hand(office)))
                page.wait_for_load_state("networkidle")
                _put(OUT / f"page-{name}.png", page.screenshot())
            browser.close()
        server.should_exit = True
        office.tasks.end()


def _by_hand(office: object) -> str:
    """The page of the timber whose slab has most on it."""
    from collections import Counter

    from futtock.job.office.rack import accepted

    laid = accepted(office.sitting().job)  # type: ignore[attr-defined]
    slab = Counter(p.slab for p in laid).most_common(1)[0][0]
    return f"/layout/timber/{next(p.mark for p in laid if p.slab == slab)}"


def _put(path: Path, png: bytes) -> None:
    """Write a picture at three quarters of its size, in few colours: drawings need no more."""
    image = cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_COLOR)
    small = cv2.resize(image, None, fx=0.75, fy=0.75, interpolation=cv2.INTER_AREA)
    cv2.imwrite(str(path), small // 8 * 8 + 4, [cv2.IMWRITE_PNG_COMPRESSION, 9])


if __name__ == "__main__":
    main(*(sys.argv[1:] or [shutil.which("chromium") or "chromium"]))
