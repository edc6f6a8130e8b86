"""A photograph sent to the rack: what is no picture is refused, what is one is corrected."""

from __future__ import annotations

import json
import re
import struct
import zlib

import cv2
import numpy as np
import pytest
import shapely
from fastapi import FastAPI
from photo_scene import Hardness, render
from starlette.testclient import TestClient
from web_served import token, worked_out

from futtock.stock.adding import add_read
from futtock.stock.entry import slab_entry
from futtock.stock.photo.by_hand import by_hand_from_text
from futtock.stock.photo.photograph import PhotoSettings, photo_slab, photograph
from futtock.stock.rack import rack_of


def _send(client: TestClient, content: bytes, name: str = "slab.jpg", first: str = "") -> str:
    """Send a file and wait until it is read; the address of its page."""
    form = {"token": token(client), "lie": "face", "first": first}
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
    # a place that is not sure is marked on the picture, until the edge is touched near it
    read = (
        small_app.state.office.folder / ".futtock/photos" / where.rpartition("/")[2] / "read.json"
    )
    known = json.loads(read.read_text("utf-8"))
    top = max(known["whole_mm"], key=lambda p: p[1])
    read.write_text(json.dumps({**known, "doubted_mm": [top]}), "utf-8")
    form = r'class="p-doubt"><title>[^<]+</title><circle cx="([\d.]+)" cy="([\d.]+)"'
    mark = re.search(form, small.get(where).text)
    assert mark
    near = {**key, "what": "point", "points": f"{mark[1]},{mark[2]}"}
    assert small.post(f"{where}/touch", data=near).status_code == 303
    assert 'class="p-doubt"' not in small.get(where).text
    small.post(f"{where}/touch", data={**key, "what": "undo"})
    said = {**key, "slab": "P-01", "thickness": "2-1/2 in", "species": "white oak"}
    said |= {"butt": "right", "wane-0-station": "0", "wane-0-wane left": "30 mm"}
    odd = small.post(f"{where}/keep", data={**said, "wane-1-station": "a", "wane-1-wane left": "1"})
    assert odd.status_code == 422
    assert small.post(f"{where}/keep", data=said).status_code == 303
    folder = small_app.state.office.folder
    entry = json.loads((folder / "slabs.json").read_text("utf-8"))[-1]
    assert entry["name"] == "P-01"
    assert (folder / "photos" / "P-01.jpg").is_file()

    def area(ring: object) -> float:
        return abs(float(cv2.contourArea(np.asarray(ring, np.float32))))

    assert area(entry["top"]) == pytest.approx(area(scene.sound_mm), rel=0.03)
    # wane of 30 mm to the left of one who stands at the right: below in the picture
    gained = area(entry["bottom"]) - area(entry["top"])
    assert gained == pytest.approx(30 * np.ptp(np.array(entry["top"])[:, 0]), rel=0.03)
    low = [min(y for _, y in entry[k]) for k in ("face_top", "face_bottom")]
    assert low[0] - low[1] == pytest.approx(30, abs=0.3)
    # the page's corrections, as a file, give the same grain line and slab to the library
    handed = small.get(f"{where}/corrections.json")
    hand = by_hand_from_text(handed.text)
    assert [t.what for t in hand.top] == ["grain"]
    got = photograph(jpeg.tobytes(), PhotoSettings(lie="face"))
    bare = photo_slab("P-01", "white oak", 63.5, got.marks())
    again = slab_entry(add_read(rack_of([]), got, bare, hand).slab)
    assert (again["grain"], again["defects"]) == (entry["grain"], entry["defects"])
    np.testing.assert_allclose(again["top"], entry["top"], atol=0.11)  # rounded twice
    worked_out(small_app)
    assert small.get("/rack/slab/portrait.jpg?name=P-01").status_code == 200


def _few(html: str) -> int:
    """How many cards carry the scale, where that is too few to be passed over in silence."""
    found = re.search(r"(\d) cards carry the scale", html)
    return int(found[1]) if found else 4


def test_a_card_that_is_not_found_is_set_by_hand(small: TestClient) -> None:
    """Of four cards one is smeared so that its marker cannot be read: three carry the scale. Its
    corners set by hand, some pixels off, make it the fourth; what is no corner is refused.
    """
    hard = Hardness(shadow=0.0, bark=0.2, sap=0.0, tilt=0.3, lens=0.0, knots=0.0, clutter=0.0)
    scene = render(5, hard, length=1500.0, width=300.0, pixels=(1800, 1350), cards=4, bend=0.1)
    number, corners = sorted(scene.cards.items())[1]
    form = scene.to_pixel
    px = np.column_stack([corners, np.ones(4)]) @ form.T
    px = px[:, :2] / px[:, 2:]
    middle = px.mean(axis=0)
    picture = scene.image.copy()
    cell = np.hypot(*(px[1] - px[0])) / 6
    # one of the marker's inner cells is smeared out: its bits are those of no card
    at = middle + (px[0] - middle) * 0.25
    cv2.circle(picture, tuple(int(v) for v in at), int(1.2 * cell), (200, 200, 200), -1)
    good, jpeg = cv2.imencode(".jpg", picture)
    assert good
    where = _send(small, jpeg.tobytes())
    before = small.get(where).text
    assert _few(before) == 3
    seen = small.get(f"{where}/cards").text
    assert "3 cards found" in seen
    assert small.get(f"{where}/upright.jpg").content[:2] == b"\xff\xd8"
    shrink = 1800 / float(re.search(r'by-hand" viewBox="0 0 (\d+) ', seen)[1])  # type: ignore[index]
    typed = dict(re.findall(r'name="(card-\d+-\w+)" value="([^"]+)"', seen))
    off = np.array([[2.0, -1.5], [-2.0, 1.0], [1.0, 2.0], [-1.5, -1.0]])
    hand = {f"card-3-{j}": "{:.1f}, {:.1f}".format(*p) for j, p in enumerate(px / shrink + off)}
    key = {"token": token(small)}
    bad = {**typed, **hand, "card-3-number": str(number), "card-3-2": "here"}
    assert small.post(f"{where}/cards", data={**key, **bad}).status_code == 422
    twice = {**typed, **hand, "card-3-number": typed["card-0-number"]}
    assert small.post(f"{where}/cards", data={**key, **twice}).status_code == 422
    right = {**key, **typed, **hand, "card-3-number": str(number)}
    assert small.post(f"{where}/cards", data=right).status_code == 303
    assert small.app.state.office.tasks.wait("photo", 120)  # type: ignore[attr-defined]
    assert _few(small.get(where).text) == 4


def test_the_other_face_is_tied_below(small_app: FastAPI, small: TestClient) -> None:
    """The other face of a straight slab, turned over, ties to the first within its wane: the
    bottom lies on the top (nine tenths in common), with a flaw of its own below; untied it goes.
    """
    hard = Hardness(shadow=0.0, bark=0.2, sap=0.0, tilt=0.3, lens=0.0, knots=0.0, clutter=0.0)
    sent = []
    for seed in (7, 8):
        scene = render(
            seed, hard, length=1500.0, width=300.0, pixels=(1800, 1350), cards=4, bend=0.0
        )
        good, jpeg = cv2.imencode(".jpg", scene.image)
        assert good
        first = sent[0].rpartition("/")[2] if sent else ""
        sent.append(_send(small, jpeg.tobytes(), first=first))
    key = {"token": token(small)}
    top, below = sent
    assert "Is this its other face?" in small.get(below).text
    flaw = {**key, "what": "flaw", "kind": "knot", "points": "500,300 540,300 540,340 500,340"}
    assert small.post(f"{below}/touch", data=flaw).status_code == 303
    assert small.post(f"{top}/tie", data={**key, "what": "tie"}).status_code == 422  # no first
    tied = small.post(f"{below}/tie", data={**key, "what": "tie"})
    assert tied.headers["location"].startswith(top)
    html = small.get(top).text
    off = re.search(r"tied outline on outline, ([\d.]+) mm off", html)
    assert off
    assert float(off[1]) < 40
    said = {**key, "slab": "P-02", "thickness": "2-1/2 in"}
    assert small.post(f"{top}/keep", data=said).status_code == 303
    entry = json.loads((small_app.state.office.folder / "slabs.json").read_text("utf-8"))[-1]
    assert [d["face"] for d in entry["defects"]] == ["bottom"]
    one, two = (shapely.Polygon(entry[k]).buffer(0) for k in ("top", "bottom"))
    assert one.intersection(two).area > 0.9 * one.union(two).area
    assert entry["portrait_at"][2] == pytest.approx(1.0, abs=0.5)
    small.post(f"{top}/tie", data={**key, "what": "untie"})
    assert "tied" not in small.get(top).text
