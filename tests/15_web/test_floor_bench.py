"""The bench pages: what they tell is the bench's own, and what was measured changes the next."""

from __future__ import annotations

import re
from html import unescape

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient
from web_served import worked_out

from futtock.job.bench_page import bench_view


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
    said = bench_view(office.sitting(), 4).measured
    assert said
    assert all("outside the drawing" in words for words in said)
    sizes = {re.search(r"run (\S+) in outside", words)[1] for words in said}  # type: ignore[index]
    assert sizes <= {"⁷/₁₆", "½", "⁹/₁₆"}  # 12 mm is 0.47 in
    assert "points were measured on this frame" in small.get("/bench/2").text
