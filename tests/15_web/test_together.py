"""Two tabs at one vessel: what they write at the same time is all kept, or the later is told."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
import threading
import tomllib
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient
from web_served import token, worked_out

from futtock.job.pen import pen
from futtock.job.pile import Pile


def _tab(app: FastAPI) -> TestClient:
    """A browser of its own, with a visit of its own."""
    return TestClient(app, base_url="http://localhost", follow_redirects=False)


def _at_once(works: Sequence[Callable[[], None]]) -> None:
    """Every one of them, begun in the same moment."""
    ready = threading.Barrier(len(works))
    wrong: list[BaseException] = []

    def work(one: Callable[[], None]) -> None:
        ready.wait(20)
        try:
            one()
        except BaseException as error:  # told by the test, which a thread cannot fail
            wrong.append(error)

    threads = [threading.Thread(target=work, args=(one,)) for one in works]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert wrong == []


def _posts(app: FastAPI, many: Sequence[tuple[str, dict[str, str]]]) -> None:
    """Each form sent from a tab of its own, all at once; every one is taken."""

    def sends(path: str, data: dict[str, str]) -> Callable[[], None]:
        tab = _tab(app)
        key = token(tab)

        def send() -> None:
            answer = tab.post(path, data={**data, "token": key})
            assert answer.status_code == 303, answer.text

        return send

    _at_once([sends(path, data) for path, data in many])


def test_timbers_locked_at_once_stay_locked(shared_app: FastAPI) -> None:
    """Tabs that lock every timber of a layout at the same moment leave none of them free."""
    office = shared_app.state.office
    pile = Pile(office.sitting().job)
    pile.accept(pile.lay(seconds=0.3))
    path = office.folder / "layout.json"
    marks = [p["mark"] for p in json.loads(path.read_text("utf-8"))["placements"]]
    assert len(marks) >= 3
    _posts(shared_app, [(f"/layout/timber/{m}", {"slab": "A-01", "what": "lock"}) for m in marks])
    after = json.loads(path.read_text("utf-8"))["placements"]
    assert sorted(p["mark"] for p in after) == sorted(marks)
    assert all(p["locked"] for p in after)


def test_figures_settled_at_once_are_all_in_the_file(shared_app: FastAPI) -> None:
    """Eight tabs each keep another figure of the table at the same moment: mends.csv has all."""
    table = shared_app.state.office.sitting().job.sound.table
    row = next(r for r in table.rows if r.name == "halfbreadth sheer")
    kept = [s for s, text in zip(table.stations, row.texts, strict=True) if text.strip()][:8]
    form = {"line": row.name, "what": "keep"}
    _posts(shared_app, [("/lines/settle", {**form, "station": s}) for s in kept])
    with (shared_app.state.office.folder / "mends.csv").open(encoding="utf-8", newline="") as file:
        there = {r["station"] for r in csv.DictReader(file) if r["line"] == row.name}
    assert there == set(kept)


def test_timbers_kept_off_and_slabs_forbidden_at_once(shared_app: FastAPI) -> None:
    """Six tabs keep a timber off a slab, forbid a slab or change a setting at the same moment: the
    statement says all of it, and is still the statement that it was.
    """
    job = shared_app.state.office.sitting().job
    marks = [m.mark for m in job.moulds][:3]
    slab, *others = [s.name for s in job.rack.slabs][:3]
    asked = [(f"/layout/timber/{m}", {"slab": slab, "what": "bar"}) for m in marks]
    asked += [("/rack/slab/forbid", {"name": n, "what": "forbid"}) for n in others]
    asked.append(("/frames/settings", {"framing.sided": "2 in"}))
    _posts(shared_app, asked)
    worked_out(shared_app)
    said = tomllib.loads((shared_app.state.office.folder / "vessel.toml").read_text("utf-8"))
    assert sorted(said["layout"]["forbid_pairs"]) == sorted([m, slab] for m in marks)
    assert sorted(said["layout"]["forbid"]) == sorted(others)
    assert said["framing"]["sided"] == "2 in"
    assert said["vessel"]["name"] == job.stated.vessel.name


def test_slabs_put_on_the_rack_at_once_are_all_there(shared_app: FastAPI) -> None:
    """Four tabs each put another slab on the rack at the same moment, by tape: none is lost."""
    before = {s["name"] for s in json.loads(_slabs(shared_app))}
    names = [f"T-{k}" for k in range(4)]
    rows = {
        f"row-{k}-{column}": value
        for k in range(3)
        for column, value in (
            ("station", f"{k} ft"), ("top left", "6"), ("top right", "5"), ("thickness", "2-1/2"),
        )
    }  # fmt: skip
    form = {"species": "white oak", "unit": "in", "do": "keep", **rows}
    _posts(shared_app, [("/rack/tape", {**form, "slab": name}) for name in names])
    assert {s["name"] for s in json.loads(_slabs(shared_app))} == before | set(names)


def _slabs(app: FastAPI) -> str:
    return str((app.state.office.folder / "slabs.json").read_text("utf-8"))


def test_a_paper_written_meanwhile_is_not_overwritten(shared_app: FastAPI) -> None:
    """Who opened a paper before another wrote it is told, has what he typed before him, and
    nothing is written; written again, his is put in and the other is the one before.
    """
    worked_out(shared_app)
    path = shared_app.state.office.folder / "vessel.toml"
    first, second = _tab(shared_app), _tab(shared_app)
    text = path.read_text("utf-8")
    seen = _hidden(first.get("/papers/vessel.toml").text, "seen")
    form = {"do": "write", "seen": seen}
    hers = text + "# hers\n"
    his = text + "# his\n"
    url = "/papers/vessel.toml"
    assert first.post(url, data={**form, "token": token(first), "text": hers}).status_code == 303
    crossed = second.post(url, data={**form, "token": token(second), "text": his})
    assert crossed.status_code == 409
    assert "has changed since you opened it" in crossed.text
    assert "# his" in crossed.text
    assert path.read_text("utf-8") == hers
    again = {"do": "write", "seen": _hidden(crossed.text, "seen"), "text": his}
    assert second.post(url, data={**again, "token": token(second)}).status_code == 303
    assert path.read_text("utf-8") == his
    second.post(url, data={"do": "back", "token": token(second)})
    assert path.read_text("utf-8") == hers


def _hidden(html: str, name: str) -> str:
    return html.partition(f'name="{name}" value="')[2].partition('"')[0]


def test_another_process_waits_for_the_pen(shared_app: FastAPI) -> None:
    """While one process holds the pen of a folder, another cannot take it; then it can."""
    folder = shared_app.state.office.folder
    said = "import sys; from pathlib import Path; from futtock.job.pen import pen\n"
    said += "with pen(Path(sys.argv[1])): print('had')"
    with pen(folder):
        other = subprocess.Popen(
            [sys.executable, "-c", said, str(folder)], stdout=subprocess.PIPE, text=True
        )
        try:
            other.wait(1.0)
            waited = False
        except subprocess.TimeoutExpired:
            waited = True
    assert waited
    assert other.communicate(timeout=30)[0] == "had\n"


@pytest.mark.parametrize("what", ["absent", "a file"])
def test_a_folder_that_is_not_there_is_not_served(tmp_path: Path, what: str) -> None:
    """To serve what is no folder is refused with the remedy, exit 3, and nothing is made."""
    place = tmp_path / "nowhere"
    if what == "a file":
        place.write_text("")
    done = subprocess.run(
        [sys.executable, "-m", "futtock", "serve", str(place), "--port", "0"],
        capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert done.returncode == 3
    assert "nowhere" in done.stderr
    assert "futtock new" in done.stderr
    assert done.stdout == ""
    assert place.exists() is (what == "a file")
