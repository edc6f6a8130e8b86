"""The bench pages: what they tell is the bench's own, and what was measured changes the next."""

from __future__ import annotations

import re
from html import unescape

import numpy as np
import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient
from web_served import token, worked_out

from futtock.job.bench_page import bench_view
from futtock.measure import read_length


def test_the_bench_page_tells_its_frame(pages: TestClient, marram_app: FastAPI) -> None:
    """Every timber is planed, every hole of a side is listed, treenails come to the holes of both
    sides, and passes come to what is planed off.
    """
    sitting = marram_app.state.office.sitting()
    job, number = sitting.job, 12
    view = bench_view(sitting, number)
    frame = job.framing.frame(number)
    holes = next(h for h in job.holes if h.frame == number)
    assert {p.mark for p in view.planed} == {t.mark for t in frame.timbers}
    assert len(view.bored) == len(holes.holes)
    nails = [int(n) for n, _, what in view.boring.figures if what.startswith("treenails")]
    assert sum(nails) == holes.count == 2 * len(view.bored)
    assert job.thicknessing is not None
    told = {p.mark: p for p in view.planed}
    for piece in job.thicknessing.pieces:
        if piece.name in told:
            words = f"{told[piece.name].first_cuts}, {told[piece.name].second_cuts}"
            runs = re.findall(r"(?:(\d+) × )?([\d.]+) mm", words)
            said = sum(int(n or 1) * float(d) for n, d in runs)
            passes = len(piece.passes)
            assert said == pytest.approx(sum(p.depth_mm for p in piece.passes), abs=0.05 * passes)
            assert sum(int(n or 1) for n, _ in runs) == passes
    html = unescape(pages.get(f"/bench/{number}").text)
    for part in (view.thick, view.boring, view.heel, view.standing):
        assert part.says in html
        assert all(c in html for c in part.cautions)
    assert "Nothing is measured on standing frames yet" in html


def test_no_such_frame_is_told(pages: TestClient) -> None:
    """A frame that she has not gives words; a number that is none is refused."""
    assert "There is no frame 99" in pages.get("/bench/99").text
    assert pages.get("/bench/0").status_code == 422


def test_standing_frames_tell_the_next_one(small: TestClient, small_app: FastAPI) -> None:
    """Where three frames were measured 12 mm outside their drawing, the page of the fourth says to
    stand it to their batten, outside; its neighbour's page says what was measured.
    """
    office = small_app.state.office
    rows = ["frame,side,height,spread"]
    for frame in office.sitting().job.framing.frames[:3]:
        edge = frame.joint.edge_mm
        for k in range(len(edge) // 8, len(edge) - 5, len(edge) // 12):
            tangent = edge[k + 1] - edge[k - 1]
            out = (tangent[1], -tangent[0]) / (tangent @ tangent) ** 0.5
            point = edge[k] + 12.0 * out
            rows += [f"{frame.number},{s},{point[1]:.2f} mm,{point[0]:.2f} mm" for s in "PS"]
    (office.folder / "as_built.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    worked_out(small_app)
    *said, amended = bench_view(office.sitting(), 4).measured
    assert said
    assert amended.startswith("It is not sawn yet: saw it by its amended moulds")
    assert all("outside the drawing" in words for words in said)
    sizes = {re.search(r"run (\S+) in outside", words)[1] for words in said}  # type: ignore[index]
    assert sizes <= {"⁷/₁₆", "½", "⁹/₁₆"}  # 12 mm is 0.47 in
    assert "points were measured on this frame" in small.get("/bench/2").text


def test_breadths_taken_by_tape_tell_the_next_one(small: TestClient, small_app: FastAPI) -> None:
    """Breadths of three standing frames entered 24 mm too wide say of the fourth that it should
    stand 12 mm outside (half to each side) and be sawn so; undone ones say nothing.
    """
    from futtock.job.floor import measures_of

    sitting = small_app.state.office.sitting()
    head = {"X-Futtock-Token": token(small)}
    sent = []
    for number in (1, 2, 3):
        body = {"id": f"s-{number}", "mark": str(number), "stage": "standing", "who": "Ines"}
        assert small.post("/floor/entries", json=body, headers=head).status_code == 200
        for k, m in enumerate(measures_of(sitting, sitting.job, number)):
            if m.kind not in ("breadth", "cross-spall"):
                continue
            body = {
                "id": f"m-{number}-{k}", "mark": str(number), "stage": "checked", "who": "Ines",
                "name": m.name, "found": f"{m.mm + 24:.2f} mm", "wanted_mm": round(m.mm, 3),
            }  # fmt: skip
            assert small.post("/floor/entries", json=body, headers=head).status_code == 200
            sent.append(body)
    html = unescape(small.get("/bench/4").text)
    said = re.search(r'id="means">(.*?)</ul>', html, re.S)
    assert said is not None
    words = re.findall(r"<li>(.*?)</li>", said[1])
    assert words.pop().startswith("It is not sawn yet: saw it by its amended moulds")
    edge = sitting.job.framing.frame(4).joint.edge_mm
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(edge, axis=0).T))])
    seen = set()
    for w in words:
        share, size, way = re.match(r"At (\d+)% .*run (.+?) (outside|inside)", w).groups()  # type: ignore[union-attr]
        k = int(np.searchsorted(run, float(share) / 100 * run[-1]))
        rise = (edge[k + 1] - edge[k - 1]) / np.hypot(*(edge[k + 1] - edge[k - 1]))
        # 12 mm level is so much square to the edge; a sixteenth and the batten's bend besides
        assert float(read_length(size)) == pytest.approx(12 * rise[1], abs=2.5), w
        assert way == "outside"
        seen.add(share)
    assert "90" in seen
    assert "¹⁵/₁₆ in over" in unescape(small.get("/bench/2").text).replace("⁄", "/")
    for body in sent:
        undo = {"id": "u" + body["id"], "mark": body["mark"], "stage": "checked",
                "who": "Ines", "undo": body["id"]}  # fmt: skip
        assert small.post("/floor/entries", json=undo, headers=head).status_code == 200
    assert "Nothing is measured on standing frames yet" in small.get("/bench/4").text


def test_every_part_of_the_bench_ticks_its_stages(small: TestClient) -> None:
    """Planing, boring, heel and standing are ticked where their figures are, each stage once."""
    from futtock.job.bench_page import WORK
    from futtock.yard.stages import FRAME_STAGES

    html = small.get("/bench/2").text
    ticked = re.findall(r'name="do" value="(\S+) ([\w-]+)"', html)
    frame = [s for m, s in ticked if m == "2" and s != "checked"]
    assert frame == [s for part in ("boring", "heel", "standing") for s in WORK[part]]
    assert set(frame) == set(FRAME_STAGES) - {"dry-fitted"}
    timbers = {m for m, _ in ticked} - {"2"}
    assert len(timbers) >= 8
    assert {s for m, s in ticked if m in timbers} == {"flattened", "thicknessed"}
