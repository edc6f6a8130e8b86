"""She learns as built, from the command line: measured frames, words, amended moulds."""

from __future__ import annotations

import csv

import numpy as np
import pytest
from command_line import document

from futtock.bench.traveller import frame_checks
from futtock.framing.asbuilt import off_drawing
from futtock.framing.curve import tangents
from futtock.job import verbs
from futtock.job.as_built import learned
from futtock.job.whole import Job
from futtock.job.yard import did
from futtock.progress import quiet

STANDING = range(8, 15)
GROWN_MM, SHY_MM = 8.0, -7.0


def measured_rows(frames):
    """Points of standing frames: all grown by 8 mm square to the edge, but 13 that is 7 mm shy of
    that from the floor to above the bilge.
    """
    for frame in frames:
        if frame["number"] not in STANDING:
            continue
        edge = np.array(frame["faces"][1]["edge_mm"])
        along = np.gradient(edge, axis=0)
        along /= np.hypot(*along.T)[:, None]
        share = np.linspace(0, 1, len(edge))
        shy = SHY_MM * ((share > 0.2) & (share < 0.7)) * (frame["number"] == 13)
        moved = edge + (GROWN_MM + shy)[:, None] * np.stack([along[:, 1], -along[:, 0]], axis=1)
        for k in range(20, len(edge) - 4, 16):
            for side in ("P", "S"):
                yield frame["number"], side, f"{moved[k, 1]:.1f} mm", f"{moved[k, 0]:.1f} mm"


@pytest.mark.slow
def test_measured_frames_are_answered_in_words_and_moulds_amended(marram_copy, tmp_path):
    """Frames 8 to 14 stand 8 mm full and 13 is shy by 7: she is told to shim 13, the frames beside
    them that are not sawn are offered amended, no standing frame is, and a sawn one is told of.
    """
    folder = str(marram_copy)
    drawn = verbs.frames(folder, quiet).document
    assert drawn["as_built"] is None
    for mark in ("15-S-f1", "15-P-f1"):
        did(folder, mark, "bevelled", "Ann")
    with (marram_copy / "as_built.csv").open("w", newline="") as file:
        table = csv.writer(file)
        table.writerow(["frame", "side", "height", "spread"])
        table.writerows(measured_rows(drawn["frames"]))
        table.writerow([99, "S", "900 mm", "800 mm"])
    out = tmp_path / "amended"
    told = document("frames", folder, "--as-built", "--out", str(out), code=0)
    found = told["as_built"]
    assert found["standing"] == list(STANDING)
    words = " ".join(found["words"])
    assert "Frame 13 is 1/4 in shy" in words or "Frame 13 is 5/16 in shy" in words
    assert "shim" in words
    assert [a["frame"] for a in found["advice"]] == [13]
    assert found["sawn"] == [15]
    assert "Frame 15 is sawn already" in words
    assert {7, 16} <= set(found["amended"])
    assert not set(found["amended"]) & {*STANDING, 15}
    assert {m["frame"] for m in told["moulds"]} == set(found["amended"])
    assert [f["code"] for f in told["findings"] if f["file"] == "as_built.csv"] == ["F019"]
    for mould in told["moulds"]:
        assert (out / f"{mould['mark']}.dxf").stat().st_size > 1000
        assert f"{mould['mark']}.pdf" in told["files"]
    # standing frames keep their drawing to the last figure; the frames' own answer says the same
    again = verbs.frames(folder, quiet)
    assert again.document["frames"] == drawn["frames"]
    assert again.document["as_built"] == found
    assert found["words"][0] in again.account


@pytest.mark.slow
def test_breadths_checked_in_the_journal_are_measurements_too(marram_copy):
    """A breadth entered on the traveller of a standing frame counts; before she stands it does
    not.
    """
    folder = str(marram_copy)
    job = Job(folder)
    wanted = {}
    for number in (10, 11, 12):
        frame = job.framing.frame(number)
        for check in frame_checks(frame):
            if check.kind == "breadth":
                wanted[number, check.name] = check.mm
    for (number, name), mm in wanted.items():
        body = {"name": name, "found_mm": mm + 12.0, "wanted_mm": mm}
        did(folder, str(number), "checked", "Ann", body=body)
    assert learned(job) is None
    for number in (10, 11, 12):
        did(folder, str(number), "standing", "Ann")
    known = learned(job)
    assert known is not None
    assert known.standing == (10, 11, 12)
    assert len(known.points) == 2 * len(wanted)
    # a breadth that is 12 mm more is 6 mm a side, less by the slope of the edge where it is taken
    off = known.ribbands.off_mm[:, 9:12]
    assert np.nanmax(off) == pytest.approx(6.0, abs=0.3)
    read = np.concatenate(
        [
            off_drawing(f, [p for p in known.points if p.frame == f.number])[1]
            for f in job.framing.frames[9:12]
        ]
    )
    slopes = [
        np.interp(m.girth_mm, f.joint.girth_mm, tangents(f.joint.edge_mm)[:, 1])
        for f in job.framing.frames[9:12]
        for m in f.marks
        if m.kind in ("sirmark", "level", "sheer")
    ]
    assert np.sort(read)[::2] == pytest.approx(6.0 * np.sort(slopes), abs=0.15)
