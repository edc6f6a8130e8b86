"""Photographs of work: bounded, decoded apart, kept once and without what a camera adds."""

from __future__ import annotations

import struct
import time
import zlib
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient
from web_served import token

from futtock.job import work_photo
from futtock.yard import Journal, place_of


def _journal(app: FastAPI) -> list[Any]:
    with Journal(place_of(app.state.office.folder)) as journal:
        return journal.events()


def _kept(app: FastAPI) -> list[Path]:
    return sorted((app.state.office.folder / "photos" / "work").glob("*"))


def _jpeg(width: int = 900, height: int = 700, seed: int = 1) -> bytes:
    spots = np.random.default_rng(seed).integers(0, 255, (height // 20, width // 20, 3), np.uint8)
    picture = cv2.resize(spots, (width, height), interpolation=cv2.INTER_LINEAR)
    good, jpeg = cv2.imencode(".jpg", picture)
    assert good
    return bytes(jpeg.tobytes())


def _tagged(jpeg: bytes) -> bytes:
    """The same with an EXIF part that names a place, as telephones write it."""
    exif = b"Exif\0\0MM\0*\0\0\0\x08\0\0\0\0\0\0GPS 54.0N 3.0W of the yard"
    return jpeg[:2] + b"\xff\xe1" + struct.pack(">H", len(exif) + 2) + exif + jpeg[2:]


def _png(width: int, height: int, body: bytes) -> bytes:
    def chunk(kind: bytes, data: bytes) -> bytes:
        sealed = struct.pack(">I", zlib.crc32(kind + data))
        return struct.pack(">I", len(data)) + kind + data + sealed

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    packed = zlib.compress(body, 9)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", packed) + chunk(b"IEND", b"")
    )


def _send(client: TestClient, content: bytes, name: str = "work.jpg", **more: Any) -> Any:
    form = {"id": "p-1", "mark": "1-P-f1", "who": "Ines", **more}
    return client.post(
        "/floor/photographs",
        data=form,
        files={"picture": (name, content)},
        headers={"X-Futtock-Token": token(client)},
    )


def test_a_photograph_is_kept_once(small: TestClient, small_app: FastAPI) -> None:
    """Sent twice by one id it is one entry and one file; it is shown on its timber's traveller and
    on its frame's, no wider than a screen, and the camera's notes are gone.
    """
    content = _tagged(_jpeg(3200, 2400))
    first = _send(small, content, "../../../escaped.jpg", text="check at the heel").json()
    again = _send(small, content, text="check at the heel").json()
    assert (first["seq"], first["known"], again["seq"], again["known"]) == (1, False, 1, True)
    event = _journal(small_app)[0]
    assert (event.stage, event.mark, event.who) == ("photograph", "1-P-f1", "Ines")
    files = _kept(small_app)
    assert [f.name for f in files] == [event.body["file"]]
    kept = files[0].read_bytes()
    assert b"Exif" not in kept
    assert b"GPS" not in kept
    picture = cv2.imdecode(np.frombuffer(kept, np.uint8), cv2.IMREAD_COLOR)
    assert picture is not None
    assert picture.shape == (1200, 1600, 3)
    address = f"/floor/photographs/{event.body['file']}"
    for page in ("/traveller/1-P-f1", "/traveller/1"):
        html = small.get(page).text
        assert f'src="{address}"' in html
        assert "check at the heel" in html
    shown = small.get(address)
    assert shown.headers["content-type"] == "image/jpeg"
    assert shown.content == kept
    folder = small_app.state.office.folder
    assert not list(folder.parent.rglob("*escaped*"))
    now = small.get("/traveller/1-P-f1/now").json()["photographs"]
    assert now[0][0] == event.body["file"]
    # without a script the page's own form keeps it too, and comes back to the traveller
    form = {"token": token(small), "fresh": "f1", "who": "Tam", "text": ""}
    files = {"picture": ("a.jpg", _jpeg())}
    done = small.post("/traveller/1-P-f1/photograph", data=form, files=files)
    assert done.status_code == 303
    assert "Kept" in done.headers["location"]
    assert [(e.stage, e.who) for e in _journal(small_app)][1:] == [("photograph", "Tam")]


def test_what_is_no_photograph_is_refused(small: TestClient, small_app: FastAPI) -> None:
    """What is no picture, one cut short and pictures that unpack to gigabytes are refused with
    words and at once, as is one for a mark that she has not, or without the token; neither journal
    nor folder has anything of them.
    """
    noise = np.random.default_rng(7).bytes(3_000)
    for content, words in (
        (b"", "No photograph"),
        (b"<svg onload='alert(1)'/>" * 50, "no JPEG or PNG"),
        (b"\xff\xd8\xff\xe0" + noise + b"\xff\xd9", "cannot be kept"),
        (_jpeg()[:-400], "ends before"),
        (_png(60_000, 60_000, b"\0" * 2_000_000), "megapixels"),
        (_png(8_000, 8_000, b"\0" * 8_000 * 24_001), "megapixels"),
        (_png(6_000, 6_000, b"\0" * 1_000), "far larger than its content"),
    ):
        began = time.perf_counter()
        answer = _send(small, content)
        assert answer.status_code == 422
        assert words in answer.text
        assert time.perf_counter() - began < 10
    assert "no timber" in _send(small, _jpeg(), mark="99-P-f1").json()["refused"]
    form = {"id": "p-1", "mark": "1-P-f1", "who": "Ines"}
    files = {"picture": ("a.jpg", _jpeg())}
    assert small.post("/floor/photographs", data=form, files=files).status_code == 403
    assert _journal(small_app) == []
    assert _kept(small_app) == []


def test_a_photograph_has_bounds(
    small: TestClient, small_app: FastAPI, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One byte over the bound is refused, as is one more than a vessel keeps; while others are
    taken in the browser is told to send it later, and then it is kept.
    """
    monkeypatch.setattr(work_photo, "LARGEST", 50_000)
    content = _jpeg(1200, 900)
    assert len(content) > 50_000
    assert "at most" in _send(small, content).json()["refused"]
    monkeypatch.undo()
    monkeypatch.setattr(work_photo, "_WAIT_S", 0.05)
    work_photo._decoding.acquire()
    work_photo._decoding.acquire()
    try:
        later = _send(small, content)
    finally:
        work_photo._decoding.release()
        work_photo._decoding.release()
    assert later.status_code == 503
    assert "sent again" in later.json()["later"]
    assert _journal(small_app) == []
    assert _send(small, content).status_code == 200
    monkeypatch.setattr(work_photo, "MOST_KEPT", 1)
    assert "photographs are kept" in _send(small, _jpeg(seed=2), id="p-2").json()["refused"]
    assert len(_journal(small_app)) == 1


@pytest.mark.parametrize(
    "name",
    ["../vessel.toml", "..%2f..%2fvessel.toml", "%2e%2e/%2e%2e/journal.sqlite", "a" * 24,
     "A" * 24 + ".jpg", "0" * 24 + ".jpg", "0" * 24 + ".jpg/../x", "0" * 24 + ".png"],
)  # fmt: skip
def test_no_name_leads_out_of_the_photographs(pages: TestClient, name: str) -> None:
    """A photograph is had by the name that its entry has, and nothing else by any name."""
    assert pages.get(f"/floor/photographs/{name}").status_code in (404, 422)
    assert work_photo.work_photograph(pages.app.state.office.folder, name) is None  # type: ignore[attr-defined]
