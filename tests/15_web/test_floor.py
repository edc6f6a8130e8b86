"""The floor's pages as they are asked for: guide, traveller, entries kept once."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient
from web_served import token

from futtock.job.floor import vessel_code
from futtock.yard import Journal, place_of
from futtock.yard.stages import FRAME_STAGES, TIMBER_STAGES

ROOT = Path(__file__).resolve().parents[2]


def _journal(app: FastAPI) -> list[Any]:
    with Journal(place_of(app.state.office.folder)) as journal:
        return journal.events()


def _send(client: TestClient, **entry: Any) -> Any:
    body = {"id": "e-1", "mark": "1-P-f1", "stage": "moulded", "who": "Ines", **entry}
    return client.post("/floor/entries", json=body, headers={"X-Futtock-Token": token(client)})


def test_the_guide_holds_every_mark_of_every_cut(pages: TestClient, marram_app: FastAPI) -> None:
    """Each cut's marks stand in the page in feeding order, with the saw sheet's own angles and
    hands, so that nothing more need be asked for while it is sawn.
    """
    sheets = {s.mark: s for s in marram_app.state.office.sitting().job.saw_sheets}
    quarters = {"": 0.0, "¼": 0.25, "½": 0.5, "¾": 0.75}
    for mark in ("1-P-f1", "12-S-a2", "20-P-f1"):
        html = pages.get(f"/saw/{mark}").text
        bodies = re.findall(r'<tbody class="cut"(.*?)</tbody>', html, re.S)
        assert len(bodies) == len(sheets[mark].cuts) >= 2
        for body, cut in zip(bodies, sheets[mark].cuts, strict=True):
            rows = re.findall(
                r'data-whole="(\d*)" data-part="([¼½¾]?)" .*?data-hand="(\w+)"'
                r'.*?data-tangent="(\S+)"',
                body,
            )
            shown = [(float(w or 0) + quarters[p], hand) for w, p, hand, _ in rows]
            wanted = [(m.deg, m.head.upper()) for m in cut.in_feeding_order()]
            assert shown == wanted
            for (*_, hand, tangent), m in zip(rows, cut.in_feeding_order(), strict=True):
                assert (float(tangent) > 0) == (hand == "LEFT")
                assert m.set_left_deg * float(tangent) >= 0


def test_the_crank_is_told_his_own_side(pages: TestClient, marram_app: FastAPI) -> None:
    """The person at the crank stands beyond the blade and faces the feeder (as stated), so what is
    left to the feeder is right to him.
    """
    html = pages.get("/saw/12-S-a2").text
    pairs = set(re.findall(r'data-hand="(\w+)" data-yours="([\w ]+)"', html))
    assert pairs <= {("LEFT", "your right"), ("RIGHT", "your left"), ("SQUARE", "upright")}
    assert pairs - {("SQUARE", "upright")}


def test_unknown_marks_are_told_of(pages: TestClient) -> None:
    """A mark that she has not gives words, not a page of nothing; a foreign code too."""
    for path in ("/saw/99-P-f1", "/traveller/99", "/traveller/1-P-f9", "/traveller?code=other:1"):
        answer = pages.get(path)
        assert answer.status_code == 422, path
        assert "That cannot be done" in answer.text


def test_an_entry_is_kept_once(small: TestClient, small_app: FastAPI) -> None:
    """The same id sent again changes nothing, and the answer is the first one's."""
    first, again = _send(small).json(), _send(small).json()
    assert (first["seq"], first["known"]) == (1, False)
    assert (again["seq"], again["known"]) == (1, True)
    assert [(e.id, e.mark, e.stage, e.who) for e in _journal(small_app)] == [
        ("e-1", "1-P-f1", "moulded", "Ines")
    ]


def test_when_it_was_done_is_reckoned_from_its_age(small: TestClient, small_app: FastAPI) -> None:
    """An entry that waited an hour is dated an hour before it came, whatever the tablet's clock."""
    from datetime import UTC, datetime, timedelta

    _send(small, age_s=3600)
    at = _journal(small_app)[0].when
    assert abs(datetime.now(UTC) - at - timedelta(hours=1)) < timedelta(seconds=30)
    refused = _send(small, id="e-2", age_s=9e9)
    assert refused.status_code == 422
    assert "clock" in refused.json()["refused"]


def test_two_that_disagree_are_told(small: TestClient, small_app: FastAPI) -> None:
    """Two tablets enter the same stage: both are kept, the second is told, the page shows it."""
    _send(small, id="a-1", who="Ines")
    second = _send(small, id="b-1", who="Tam").json()
    assert "was entered as moulded already, by Ines" in second["told"][0]
    assert len(_journal(small_app)) == 2
    now = small.get("/traveller/1-P-f1/now").json()
    assert "Tam" in now["contested"][0]
    assert now["marks"]["1-P-f1"]["moulded"].endswith("Ines")


def test_what_cannot_be_meant_is_refused(small: TestClient, small_app: FastAPI) -> None:
    """Unknown stages, ids used for another entry, lengths that are none, and what does not fit are
    refused with words; nothing is kept.
    """
    assert "no stage" in _send(small, stage="painted").json()["refused"]
    other = {"X-Futtock-Token": token(small), "Content-Type": "text/plain"}
    body = '{"id": "e-1", "mark": "1-P-f1", "stage": "moulded", "who": "Ines"}'
    assert small.post("/floor/entries", content=body, headers=other).status_code == 422
    found = _send(small, mark="1", stage="checked", name="span", found="about six")
    assert found.status_code == 422
    assert "about six" in found.json()["refused"]
    assert _send(small, id="a b").status_code == 422
    assert _send(small, colour="red").status_code == 422
    assert _journal(small_app) == []
    _send(small)
    assert "another entry" in _send(small, stage="roughed").json()["refused"]
    assert len(_journal(small_app)) == 1


def test_entries_need_the_pages_token(small: TestClient, small_app: FastAPI) -> None:
    """An entry from elsewhere is refused: without a token, with another's, from another origin."""
    body = {"id": "e-1", "mark": "1-P-f1", "stage": "moulded", "who": "Ines"}
    good = token(small)
    assert small.post("/floor/entries", json=body).status_code == 403
    for headers in (
        {"X-Futtock-Token": "0" * 64},
        {"X-Futtock-Token": good, "Origin": "http://evil.example"},
    ):
        assert small.post("/floor/entries", json=body, headers=headers).status_code == 403
    assert _journal(small_app) == []


def test_a_check_tells_what_it_means(small: TestClient, small_app: FastAPI) -> None:
    """A length as typed is kept in mm beside it, and told as within, over or short; an inch is
    25.4 mm.
    """
    view = small.get("/traveller/1").text
    name, wanted = re.search(
        r'name="name" value="([^"]+)"><input[^>]*value="([\d.]+)"', view
    ).groups()  # type: ignore[union-attr]
    send = {"mark": "1", "stage": "checked", "name": name, "wanted_mm": float(wanted)}
    near = _send(small, **send, id="c-1", found=f"{float(wanted) + 2:.1f} mm").json()
    assert "within" in near["says"]
    over = _send(small, **send, id="c-2", found=f"{(float(wanted) + 25.4) / 25.4:.4f} in").json()
    assert "1 in over" in over["says"]
    event = _journal(small_app)[-1]
    assert event.body["found_mm"] == pytest.approx(float(wanted) + 25.4, abs=0.01)
    assert "1 in over" in small.get("/traveller/1").text


def test_an_entry_is_undone_once(small: TestClient, small_app: FastAPI) -> None:
    """Undoing is an entry of its own, with its own id; the stage is then open again."""
    _send(small)
    for _ in range(2):
        answer = _send(small, id="u-1", undo="e-1")
        assert answer.status_code == 200
    assert [e.stage for e in _journal(small_app)] == ["moulded", "correction"]
    assert small.get("/traveller/1-P-f1/now").json()["marks"]["1-P-f1"] == {}


def test_a_spoiled_timber_begins_again(small: TestClient, small_app: FastAPI) -> None:
    """After spoiling, all but its mould is to do again, and the page says so until it is laid out
    anew.
    """
    _send(small)
    _send(small, id="e-2", stage="spoiled", because="split at the butt")
    html = small.get("/traveller/1-P-f1").text
    assert "entered as spoiled" in html
    assert "Timber 1-P-f1: laid out next." in html
    assert "1-P-f1" in small.get("/traveller/1/now").json()["spoiled"]
    held = _row(small, 1)
    assert re.search(r"\bheld\b", held)  # the box of the stage that waits
    assert "Held" in held
    assert "1-P-f1 spoiled" in held
    _send(small, id="e-3", stage="laid-out")
    assert small.get("/traveller/1/now").json()["spoiled"] == []
    assert "Held" not in _row(small, 1)


def _row(small: TestClient, frame: int) -> str:
    """A frame's row on the yard's page."""
    html = small.get("/yard").text
    row = re.search(rf'<tr><th scope="row"><a href="/frames/{frame}">.*?</tr>', html, re.DOTALL)
    assert row
    return row[0]


def test_a_frame_goes_from_laid_out_to_horned_by_the_floor_pages(
    small: TestClient, small_app: FastAPI
) -> None:
    """Every stage pressed as forms without a script, each is in the journal once, in its turn, and
    nothing is told as out of turn.
    """
    form = {"token": token(small), "who": "Ines"}
    marks = re.findall(r'timber-row" data-mark="([^"]+)"', small.get("/traveller/2").text)
    assert len(marks) >= 8
    last = FRAME_STAGES.index("horned") + 1
    wanted = [(m, s) for m in marks for s in TIMBER_STAGES]
    wanted += [("2", s) for s in FRAME_STAGES[:last]]
    for mark, stage in wanted:
        done = small.post(
            f"/traveller/{mark}", data={**form, "fresh": f"f-{mark}", "do": f"{mark} {stage}"}
        )
        assert done.status_code == 303
        said = unquote(done.headers["location"].partition("said=")[2])
        assert said == f"Kept: {mark} {stage.replace('-', ' ')}."
    assert [(e.mark, e.stage) for e in _journal(small_app)] == wanted
    assert "Frame 2: ribbanded next." in small.get("/traveller/2").text


def test_a_stale_print_is_told(pages: TestClient, marram_app: FastAPI) -> None:
    """A code of an older revision opens the traveller with a warning; the present one with none."""
    now = marram_app.state.office.sitting().job.revision
    assert "Compare it with the drawing" in pages.get("/traveller?code=futtock:r0:12").text
    assert "Compare it with the drawing" not in pages.get(f"/traveller?code=futtock:{now}:12").text
    assert "Compare it with the drawing" in pages.get("/traveller/12-P-f1?r=old").text


def test_cautions_stand_with_the_work(small: TestClient) -> None:
    """The guide has the saw's cautions; a timber to be laid out has those of lifting."""
    assert "Tilting-head saw" in small.get("/saw/1-P-f1").text
    _send(small)
    assert "one person lifts" in small.get("/traveller/1-P-f1").text


def test_waiting_entries_belong_to_one_folder(tmp_path: Path) -> None:
    """Two folders have different codes, so one vessel's entries are never sent to another."""
    codes = {vessel_code(tmp_path / n) for n in ("a", "b", "a/../b")}
    assert len(codes) == 2


def test_floor_templates_hold_nothing_inline() -> None:
    """No template of the floor has a style, a handler or a script of its own."""
    templates = sorted((ROOT / "futtock" / "web" / "templates" / "floor").glob("*.html"))
    assert len(templates) >= 4
    bad = re.compile(r"<style|\sstyle=|<script(?![^>]*\ssrc=)|\son[a-z]+=|javascript:|https?://")
    assert {t.name: m[0] for t in templates if (m := bad.search(t.read_text("utf-8")))} == {}
