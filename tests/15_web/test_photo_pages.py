"""A photograph sent to the rack: what is no picture is refused, what is one is corrected."""

from __future__ import annotations

import json
import struct
import zlib

import cv2
import numpy as np
import pytest
from fastapi import FastAPI
from photo_scene import Hardness, render
from starlette.testclient import TestClient
from web_served import token, worked_out


def _send(client: TestClient, content: bytes, name: str = "slab.jpg") -> str:
    """Send a file and wait until it is read; the address of its page."""
    form = {"token": token(client), "lie": "face"}
    answer = client.post("/rack/photo", data=form, files={"picture": (name, content)})
    assert answer.status_code == 303, answer.text
    tasks = client.app.state.office.tasks  # type: ignore[attr-defined]
    assert tasks.wait("photo", 120)
    return str(answer.headers["location"])


def _bomb() -> bytes:
    """A PNG of 60,000 by 60,000 pixels in a few kilobytes."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    head = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    body = zlib.compress(b"\0" * 2_000_000, 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


@pytest.mark.parametrize("content", [b"no picture at all" * 40, _bomb()], ids=["text", "bomb"])
def test_what_is_no_picture_is_refused(small: TestClient, content: bytes) -> None:
    """Text and a decompression bomb get a page with the finding; the name sent is not used."""
    where = _send(small, content, "../../escaped.jpg")
    answer = small.get(where)
    assert answer.status_code == 200
    assert "The photograph could not be read." in answer.text
    assert "Traceback" not in answer.text
    folder = small.app.state.office.folder  # type: ignore[attr-defined]
    assert not list(folder.parent.rglob("*escaped*"))


def test_a_photograph_becomes_a_slab(small_app: FastAPI, small: TestClient) -> None:
    """A rendered slab is read, given a grain line and put on the rack with its portrait; its area
    is that of the scene within 3 %.
    """
    hard = Hardness(shadow=0.2, bark=0.3, sap=0.0, tilt=0.4, lens=0.3, knots=1.0)
    scene = render(3, hard, length=1500.0, width=300.0, pixels=(1800, 1350), cards=5, bend=0.2)
    good, jpeg = cv2.imencode(".jpg", scene.image)
    assert good
    where = _send(small, jpeg.tobytes())
    page = small.get(where)
    assert "Is this the slab?" in page.text
    assert small.get(f"{where}/portrait.jpg").content[:2] == b"\xff\xd8"
    key = {"token": token(small)}
    line = {**key, "what": "grain", "points": "300,300 500,305 700,310"}
    assert small.post(f"{where}/touch", data=line).status_code == 303
    bad = small.post(f"{where}/touch", data={**line, "points": "one two three"})
    assert bad.status_code == 422
    said = {**key, "slab": "P-01", "thickness": "2-1/2 in", "species": "white oak"}
    assert small.post(f"{where}/keep", data=said).status_code == 303
    folder = small_app.state.office.folder
    entry = json.loads((folder / "slabs.json").read_text("utf-8"))[-1]
    assert entry["name"] == "P-01"
    assert (folder / "photos" / "P-01.jpg").is_file()

    def area(ring: object) -> float:
        return abs(float(cv2.contourArea(np.asarray(ring, np.float32))))

    assert area(entry["top"]) == pytest.approx(area(scene.sound_mm), rel=0.03)
    worked_out(small_app)
    assert small.get("/rack/slab/portrait.jpg?name=P-01").status_code == 200
