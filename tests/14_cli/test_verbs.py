"""The command line from end to end, as a process of its own, on real tables."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from command_line import document, futtock


@pytest.fixture(scope="module")
def marram(tmp_path_factory) -> Path:
    """A folder of the demo vessel, made by the command line itself."""
    folder = tmp_path_factory.mktemp("vessel") / "marram"
    futtock("new", str(folder), "--demo")
    return folder


def test_version_is_the_packages():
    """``--version`` says which release is installed."""
    from importlib.metadata import version

    assert futtock("--version").stdout.strip() == f"futtock {version('futtock')}"


def test_help_names_every_verb():
    """Help lists the verbs of the trade."""
    said = futtock("--help").stdout
    for verb in ("new", "check", "fair", "frames", "moulds", "rack", "lay", "sheets", "demo"):
        assert f"\n  {verb} " in said


def test_misuse_is_exit_2():
    """An unknown verb, an unknown option and an impossible figure are misuse."""
    futtock("nonsense", code=2)
    futtock("fair", "--nonsense", code=2)
    futtock("lay", "--seconds", "-4", code=2)


def test_new_overwrites_nothing(marram):
    """A second 'new' into the same folder is refused and changes nothing."""
    before = (marram / "vessel.toml").read_bytes()
    refused = document("new", str(marram), code=2)
    assert refused["findings"]
    assert (marram / "vessel.toml").read_bytes() == before


def test_a_new_blank_folder_can_be_checked(tmp_path):
    """What 'new' writes is itself readable; it only lacks a table's figures."""
    folder = tmp_path / "blank"
    futtock("new", str(folder))
    found = document("check", str(folder), code=(0, 1, 3))
    assert not [f for f in found["findings"] if f["file"] == "vessel.toml"]


def test_check_finds_nothing_wrong_with_marram(marram):
    """Everything that Marram's folder states can be read."""
    found = document("check", str(marram))
    assert found["vessel"] == "Marram"
    assert found["slabs"] == 200


def test_fair_names_marrams_two_slips(marram, marram_dir):
    """The two slips left in her table are doubted, each with its true figure, and no others."""
    faired = document("fair", str(marram), code=3)
    doubted = {(p["line"], p["station"]): p for p in faired["points"] if p["doubtful"]}
    with (marram_dir / "slips.csv").open() as file:
        slips = {(f"{r['line']} {r['at']}", r["station"]): r["true"] for r in csv.DictReader(file)}
    assert set(doubted) == set(slips)
    for key, true in slips.items():
        assert true in doubted[key]["likely"]
        assert doubted[key]["off_mm"] == pytest.approx(
            doubted[key]["fair_mm"] - doubted[key]["given_mm"]
        )


def test_fair_weighs_marram(marram, marram_dir):
    """Volume and centres against the exact figures behind her table (truth.json)."""
    truth = json.loads((marram_dir / "truth.json").read_text())["hydrostatics"]
    got = document("fair", str(marram), code=3)["hydrostatics"]
    assert got["volume_m3"] == pytest.approx(truth["volume_m3"], rel=5e-4)
    assert got["lcb_mm"] == pytest.approx(truth["lcb_mm"], abs=1.0)
    assert got["vcb_mm"] == pytest.approx(truth["vcb_mm"], abs=1.0)
    assert got["waterplane_m2"] == pytest.approx(truth["waterplane_m2"], rel=1e-3)
    assert got["wetted_m2"] == pytest.approx(truth["wetted_m2"], rel=1e-3)


def test_frames_meet_the_exact_inside_of_planking(marram, marram_dir):
    """Joint faces against exact inside-of-planking points and leans (truth.json), square frames."""
    truth = json.loads((marram_dir / "truth.json").read_text())["frames"]
    frames = {f["number"]: f for f in document("frames", str(marram), code=(0, 3))["frames"]}
    off, wrong, seen = [], [], 0
    for exact in truth:
        if exact["cant_deg"]:
            continue
        joint = frames[exact["number"]]["faces"][1]
        edge, lean = np.array(joint["edge_mm"]), np.array(joint["lean_deg"])
        for p in exact["points"]:
            at = np.array([p["out_mm"], p["up_mm"]])
            if at[1] < edge[0, 1] - 1 or at[1] > edge[-1, 1] + 1:
                continue  # below the heel on the keel, or above the head
            seen += 1
            a, b = edge[:-1], edge[1:]
            along = np.clip(((at - a) * (b - a)).sum(1) / ((b - a) ** 2).sum(1), 0, 1)
            gap = np.hypot(*(a + along[:, None] * (b - a) - at).T)
            k = int(gap.argmin())
            off.append(gap[k])
            wrong.append(abs(lean[k] + along[k] * (lean[k + 1] - lean[k]) - p["lean_deg"]))
    assert seen > 60
    assert np.percentile(off, 90) < 1.0
    assert max(off) < 2.5
    assert np.percentile(wrong, 90) < 0.25


def test_every_timber_has_a_mould_and_a_saw_sheet(marram):
    """frames, moulds and sheets speak of the same timbers."""
    frames = document("frames", str(marram), code=(0, 3))["frames"]
    marks = {t["mark"] for f in frames for t in f["timbers"]}
    moulds = document("moulds", str(marram), code=(0, 3))["moulds"]
    assert {m["mark"] for m in moulds} == marks
    sheets = document("sheets", str(marram), code=(0, 3))
    assert {s["mark"] for s in sheets["saw"]} == marks
    assert sheets["treenails"]["holes"] > 6 * len(frames)


def test_a_cell_that_cannot_be_read_is_exit_1(marram, tmp_path):
    """A wrong cell is named with its file, line, station, what was read and what was expected."""
    folder = tmp_path / "v"
    futtock("new", str(folder), "--demo")
    table = folder / "offsets.csv"
    table.write_text(table.read_text().replace("8-3-4", "8-13-4", 1))
    found = document("fair", str(folder), code=1)
    assert set(found) == {"findings"}
    (fault,) = [f for f in found["findings"] if f["severity"] == "fault"]
    assert fault["file"] == "offsets.csv"
    assert "8-13-4" in fault["read"]
    assert fault["expected"]
    assert fault["line"]
    assert str(fault["column"])


def test_no_folder_is_exit_1(tmp_path):
    """A folder that is not there is said so, without a traceback."""
    done = futtock("fair", str(tmp_path / "none"), code=1)
    assert "Traceback" not in done.stderr


def test_an_empty_rack_is_exit_3(marram, tmp_path):
    """With no slab to lay on every timber is unplaced and the exit code says so."""
    rack = tmp_path / "none.json"
    rack.write_text("[]")
    laid = document("lay", str(marram), "--slabs", str(rack), "--rounds", "1", code=3)
    assert laid["placements"] == []
    assert len(laid["unplaced"]) > 100
