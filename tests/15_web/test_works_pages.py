"""Long work begun on a page: a layout healed, enough asked for, the book and sheets made."""

from __future__ import annotations

import io
import json
import re
import zipfile
from html import unescape

import pdfplumber
import pytest
from starlette.testclient import TestClient
from web_served import token, worked_out

pytestmark = pytest.mark.slow


def _done(client: TestClient, kind: str) -> None:
    office = client.app.state.office  # type: ignore[attr-defined]
    assert office.tasks.wait(kind, 120), kind
    assert office.tasks.outcome(kind).failed == ""


def _stated(client: TestClient, old: str, new: str) -> None:
    path = client.app.state.office.folder / "vessel.toml"  # type: ignore[attr-defined]
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    worked_out(client.app)  # type: ignore[arg-type]


def test_a_layout_is_healed_after_a_spoiled_timber(small: TestClient) -> None:
    """A timber spoiled and a slab lost: the page names what moves and why, nothing is kept until
    it is accepted, and every other timber then lies where it lay.
    """
    office = small.app.state.office  # type: ignore[attr-defined]
    key = {"token": token(small)}
    small.post("/layout/settings", data={**key, "layout.seconds": "1"})
    _done(small, "layout")
    small.post("/layout/decide", data={**key, "what": "accept"})
    path = office.folder / "layout.json"
    before = {p["mark"]: p for p in json.loads(path.read_text("utf-8"))["placements"]}
    assert len(before) >= 3
    gone = next(iter(before))
    lost = next(p["slab"] for p in before.values() if p["slab"] != before[gone]["slab"])
    hit = {gone} | {m for m, p in before.items() if p["slab"] == lost}
    written = path.read_bytes()
    assert small.post("/layout/heal", data={**key, "spoiled": gone, "lost": lost}).headers[
        "location"
    ] == "/layout"  # fmt: skip
    _done(small, "heal")
    html = unescape(small.get("/layout").text)
    assert "What moves" in html
    assert path.read_bytes() == written
    changes = office.tasks.outcome("heal").document["changes"]
    named = {c["mark"] for c in changes}
    assert hit <= named
    rows = re.findall(r'<th scope="row"><span class="mark">([^<]+)</span>', html)
    assert set(rows) == named
    assert small.post("/layout/decide", data={**key, "what": "accept"}).status_code == 303
    after = {p["mark"]: p for p in json.loads(path.read_text("utf-8"))["placements"]}
    assert lost not in {p["slab"] for p in after.values()}
    for mark in before.keys() - named:
        assert after[mark]["slab"] == before[mark]["slab"]
        assert after[mark]["shift_mm"] == pytest.approx(before[mark]["shift_mm"])
    # thrown away, a proposal leaves what was accepted
    small.post("/layout/heal", data={**key, "spoiled": next(iter(after))})
    _done(small, "heal")
    kept = path.read_bytes()
    small.post("/layout/decide", data={**key, "what": "discard"})
    assert path.read_bytes() == kept
    assert "Accept this layout?" not in small.get("/layout").text


def test_enough_is_told_in_words_a_gauge_and_a_list(small: TestClient) -> None:
    """The sentence, the gauge's label, the count of piles and the list of what runs short all say
    what the answer's document says; with another paper the answer is called stale.
    """
    office = small.app.state.office  # type: ignore[attr-defined]
    key = {"token": token(small)}
    blank = small.get("/enough").text
    assert "Is there enough?" in blank
    assert "staff-gauge" not in blank
    with (office.folder / "vessel.toml").open("a", encoding="utf-8") as file:
        file.write("\n[enough]\nreplicates = 40\n")
    worked_out(small.app)  # type: ignore[arg-type]
    assert small.post("/works/enough/begin", data=key).headers["location"] == "/enough"
    while_on = small.get("/enough").text
    assert 'http-equiv="refresh"' in while_on or "staff-gauge" in while_on
    _done(small, "enough")
    document = office.tasks.outcome("enough").document
    html = unescape(small.get("/enough").text)
    percent = 100 * document["probability"]
    label = re.search(r'aria-label="([\d.]+) in 100, likely between ([\d.]+) and ([\d.]+)"', html)
    assert label
    got, low, high = (float(v) for v in label.groups())
    assert got == pytest.approx(percent, abs=0.051)
    assert low <= got <= high
    piles = re.search(r'aria-label="(\d+) of 100 give every timber"', html)
    assert piles
    assert int(piles[1]) == round(percent)
    assert html.count('class="pile-full"') == round(percent)
    assert html.count('class="pile-short"') == 100 - round(percent)
    short = document.get("buy") or document["missing"]
    table = re.search(r'aria-label="What runs short">(.*?)</table>', html, re.DOTALL)
    assert (table is not None) == bool(short)
    if table:
        assert len(re.findall(r'<th scope="row">', table[1])) == len(short)
    assert "have changed since" not in html
    _stated(small, 'moulded = { heel = "5 in"', 'moulded = { heel = "5-1/8 in"')
    assert "have changed since" in small.get("/enough").text


def test_the_book_is_made_and_called_stale(small: TestClient) -> None:
    """The shop book made on the page is a PDF with her name on its pages and every frame's; the
    archive of slabs has a file of each; with a changed paper both are to be made again.
    """
    office = small.app.state.office  # type: ignore[attr-defined]
    key = {"token": token(small)}
    assert small.get("/book").text.count(">Make the ") == 4
    for kind in ("book", "slabs"):
        assert small.post(f"/works/{kind}/begin", data=key).headers["location"] == "/book"
        while_on = small.get(f"/works/{kind}")
        assert while_on.status_code in (200, 204)  # how far it is, or that it is done
        _done(small, kind)
        gone = small.get(f"/works/{kind}")
        assert (gone.status_code, gone.headers["hx-refresh"]) == (204, "true")
    html = small.get("/book").text
    assert "Keep shop-book.pdf" in html
    assert "Keep slabs.zip" in html
    with pdfplumber.open(io.BytesIO(small.get("/made/shop-book.pdf").content)) as book:
        words = [page.extract_text() for page in book.pages]
    frames = office.sitting().job.framing.frames
    assert len(words) > len(frames)
    assert all("Marram" in text for text in words)
    assert all(any(f"rame {f.number}" in text for text in words) for f in frames)
    with zipfile.ZipFile(io.BytesIO(small.get("/made/slabs.zip").content)) as archive:
        names = archive.namelist()
        assert archive.testzip() is None
    slabs = [s.name for s in office.sitting().job.rack.slabs]
    assert all(any(name in n for n in names) for name in slabs)
    assert small.get("/made/vessel.toml").status_code == 422
    _stated(small, 'moulded = { heel = "5 in"', 'moulded = { heel = "5-1/8 in"')
    again = small.get("/book").text
    assert again.count("make it again before you cut by it") == 2
    assert again.count(">Make it again<") == 2
