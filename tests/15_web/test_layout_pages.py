"""The layout's pages: a run stopped and accepted, timbers moved, kept off, sawn out and gone."""

from __future__ import annotations

import json
import time
from pathlib import Path
from statistics import median

import pytest
from starlette.testclient import TestClient
from web_served import places_of, token, worked_out

from futtock.job.handover import accepted as shown_layout
from futtock.job.pile import Pile


def test_a_layout_is_run_stopped_accepted_and_changed_by_hand(small: TestClient) -> None:
    """A run goes on in its own process while pages answer; it is stopped, accepted, and a timber
    locked, taken off and put back, each as the file then says.
    """
    office = small.app.state.office  # type: ignore[attr-defined]
    key = token(small)
    accepted = office.folder / "layout.json"
    begun = small.post("/layout/settings", data={"token": key, "layout.seconds": "120"})
    assert begun.status_code == 303
    assert small.get("/layout").status_code == 200
    worked_out(small.app)  # type: ignore[arg-type]
    took = []
    for _ in range(400):
        began = time.perf_counter()
        assert small.get("/layout").status_code == 200
        took.append(time.perf_counter() - began)
        now = office.tasks.running("layout")
        assert now is not None, office.tasks.outcome("layout")
        if now.task == "laying out":
            break
        time.sleep(0.25)
    for path in ("/", "/lines", "/frames", "/frames/1", "/moulds", "/rack", "/enough", "/yard",
                 "/book", "/papers", "/traveller/1", "/saw"):  # fmt: skip
        began = time.perf_counter()
        assert small.get(path).status_code == 200
        took.append(time.perf_counter() - began)
    assert office.tasks.running("layout") is not None
    assert median(took[-12:]) < 0.3  # as the first paint: the run is in a process of its own
    assert median(took) < 0.3
    assert small.get("/works/layout").text.count("Stop and keep this layout") == 1
    small.post("/works/layout/stop", data={"token": key})
    assert office.tasks.wait("layout", 30)
    assert not accepted.exists()
    assert "Accept this layout?" in small.get("/layout").text
    small.post("/layout/decide", data={"token": key, "what": "accept"})
    first = json.loads(accepted.read_text("utf-8"))
    assert first["placements"]

    mark = first["placements"][0]["mark"]
    small.post(f"/layout/timber/{mark}", data={"token": key, "what": "lock"})
    assert _placed(accepted, mark)["locked"] is True
    small.post(f"/layout/timber/{mark}", data={"token": key, "what": "off"})
    assert mark in json.loads(accepted.read_text("utf-8"))["unplaced"]
    was = first["placements"][0]
    pose = {"slab": was["slab"], "turn": was["turn_deg"], "mirrored": was["mirrored"]}
    there = {**pose, "x": was["shift_mm"][0], "y": was["shift_mm"][1]}
    good = small.get(f"/layout/timber/{mark}", params=there)
    assert "It may lie here." in good.text
    off = {**there, "x": was["shift_mm"][0] + 5000.0}
    assert "It may not lie here." in small.get(f"/layout/timber/{mark}", params=off).text
    refused = small.post(f"/layout/timber/{mark}", data={"token": key, "what": "put", **off})
    assert refused.status_code == 422
    small.post(f"/layout/timber/{mark}", data={"token": key, "what": "put", **there})
    assert _placed(accepted, mark)["shift_mm"] == pytest.approx(was["shift_mm"])
    assert 0 < float(str(_placed(accepted, mark)["slope_worst"])) <= 0.1  # 1 in 10, as stated
    _saw_out(small, mark, str(was["slab"]))


def _saw_out(small: TestClient, mark: str, slab: str) -> None:
    """Once a timber is roughed, its slab's page puts what is left of the slab on the rack."""
    from futtock.job import yard

    folder = small.app.state.office.folder  # type: ignore[attr-defined]
    ask = "Put its offcuts on the rack"
    assert ask not in small.get("/rack/slab", params={"name": slab}).text
    yard.did(str(folder), mark, "laid-out", "Tam", body={"slab": slab})
    yard.did(str(folder), mark, "roughed", "Tam")
    assert ask in small.get("/rack/slab", params={"name": slab}).text
    before = {s["name"] for s in json.loads((folder / "slabs.json").read_text())}
    form = {"token": token(small), "name": slab, "who": "Tam"}
    assert small.post("/rack/slab/offcuts", data={**form, "who": " "}).status_code == 422
    assert small.post("/rack/slab/offcuts", data=form).status_code == 303
    after = {s["name"] for s in json.loads((folder / "slabs.json").read_text())}
    assert before < after
    worked_out(small.app)  # type: ignore[arg-type]
    page = small.get("/rack/slab", params={"name": slab}).text
    assert "used up" in page
    assert ask not in page


def _placed(path: Path, mark: str) -> dict[str, object]:
    found = json.loads(path.read_text("utf-8"))["placements"]
    return next(p for p in found if p["mark"] == mark)


def test_a_timber_is_kept_off_a_slab(small: TestClient) -> None:
    """A pair forbidden by hand is in the file, no place on that slab is offered or taken, and it
    can be allowed again; other slabs stay.
    """
    office = small.app.state.office  # type: ignore[attr-defined]
    key = token(small)
    mark = next(m.mark for m in office.sitting().job.moulds if places_of(small, m.mark))
    slabs = places_of(small, mark)
    slab = slabs[0]
    here = {"token": key, "slab": slab}
    assert small.post(f"/layout/timber/{mark}", data={**here, "what": "bar"}).status_code == 303
    stated = (office.folder / "vessel.toml").read_text("utf-8")
    assert f'forbid_pairs = [["{mark}", "{slab}"]]' in stated
    worked_out(small.app)  # type: ignore[arg-type]
    after = places_of(small, mark)
    assert slab not in after
    assert set(slabs) - {slab} <= set(after)
    assert f'off <a class="mark" href="/rack/slab?name={slab}' in small.get("/layout").text
    refused = small.post(f"/layout/timber/{mark}", data={**here, "what": "put"})
    assert refused.status_code == 422
    assert "is kept off slab" in refused.text
    assert small.post(f"/layout/timber/{mark}", data={**here, "what": "allow"}).status_code == 303
    assert "forbid_pairs" not in (office.folder / "vessel.toml").read_text("utf-8")


def test_timbers_of_one_layout_share_a_slab(small: TestClient) -> None:
    """Two timbers that the accepted layout puts on one slab are both laid out from the floor, and
    neither entry disputes the other; a third that it puts elsewhere does.
    """
    from futtock.job.floor import Sent, enter
    from futtock.job.office.works import yard_state

    office = small.app.state.office  # type: ignore[attr-defined]
    marks = [m.mark for m in office.sitting().job.moulds[:3]]
    place = {"turn_deg": 0.0, "shift_mm": [0, 0], "mirrored": False}
    slopes = {"slope_mean": 0.0, "slope_worst": 0.0}
    laid = [{"mark": m, "slab": "A-01", **place, **slopes} for m in marks[:2]]
    document = {"placements": laid, "unplaced": [], "slabs_used": 1, "yield": 0.1}
    (office.folder / "layout.json").write_text(json.dumps(document), encoding="utf-8")
    for mark in marks:
        enter(office.sitting(), Sent(f"l-{mark}", mark, "laid-out", "Tam", slab="A-01"))
    state = yard_state(office.folder)
    assert [c.event.mark for c in state.contested] == [marks[2]]
    assert state.has(marks[0], "laid-out")
    assert state.has(marks[1], "laid-out")


def test_a_timber_that_is_no_longer_hers_is_told(small: TestClient) -> None:
    """Where the accepted layout places a timber that her frames no longer have, the page counts
    only hers, names it, and a healing, the slab's sheet and the book's layout go on without it.
    """
    office = small.app.state.office  # type: ignore[attr-defined]
    job = office.sitting().job
    pile = Pile(job)
    pile.accept(pile.lay(seconds=0.3))
    path = office.folder / "layout.json"
    said = json.loads(path.read_text("utf-8"))
    mine = said["placements"][0]
    said["placements"].append({**mine, "mark": "9-P-f9"})
    path.write_text(json.dumps(said), encoding="utf-8")
    count = len(said["placements"]) - 1
    html = small.get("/layout").text
    assert f"{count} of {len(job.moulds)} timbers have a place" in html
    assert "9-P-f9: her frames no longer have it." in html
    sheet = small.get("/rack/slab/sheet.pdf", params={"name": mine["slab"]})
    assert sheet.content.startswith(b"%PDF")
    laid = shown_layout(job)
    assert laid is not None
    assert "9-P-f9" not in {p.mark for p in laid.placements}
    healed = Pile(job).heal([mine["mark"]])
    assert "9-P-f9" not in {p.mark for p in healed.layout.placements}
