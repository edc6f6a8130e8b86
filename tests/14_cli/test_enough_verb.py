"""Whether there is enough, at the command line: four timbers, and a rack made to their moulds."""

from __future__ import annotations

import json
import re
import shutil
from datetime import UTC, datetime
from pathlib import Path

import jsonschema_rs
import numpy as np
import pytest
from command_line import document, futtock
from shapely import LineString, Polygon

from futtock.errors import Misused
from futtock.job.enough import enough
from futtock.job.stocktaking import Stocktaking
from futtock.job.whole import Job
from futtock.progress import quiet
from futtock.yard import Entry, Journal

SCHEMA = Path(__file__).resolve().parents[2] / "docs" / "schemas" / "enough.schema.json"
QUICK = ("--replicates", "40")


def ask(folder, **words):
    """The verb's document with its findings, in this process."""
    answer = enough(str(folder), quiet, **{"replicates": 5, **words})
    return {**answer.document, "findings": [f.as_json() for f in answer.findings]}


SCARCE = "1-S-f1"
WANTED = {SCARCE, "1-P-f1", "1-S-f3", "1-P-f3"}


def slab_for(mould, name, over=70.0, measured=True):
    """A slab somewhat larger than a mould, with its grain: the mould fits it, and few others."""
    both = Polygon(mould.outline_up_mm).union(Polygon(mould.outline_down_mm))
    line = np.asarray(mould.grain_mm)
    ends = np.array([line[0] - line[1], line[-1] - line[-2]])
    ends *= 40.0 / np.hypot(*ends.T)[:, None]
    middle = LineString([line[0] + ends[0], *line, line[-1] + ends[1]])
    return {
        "name": name,
        "species": "white oak",
        "thickness_mm": 70,
        "moisture_percent": 16,
        "top": np.round(both.buffer(over).exterior.coords[:-1], 2).tolist(),
        "grain": [
            np.round(middle.offset_curve(off).coords, 2).tolist() for off in (-25.0, 0.0, 25.0)
        ],
        "stack": name[0],
        "measured": measured,
        "price": 40.0,
    }


@pytest.fixture(scope="module")
def vessel(tmp_path_factory) -> Path:
    """One frame, of which four timbers are still to be got, and a pile nearly enough for them.

    Any of four slabs gives 1-S-f3 and 1-P-f3, one of them 1-S-f1 or 1-P-f1 too, and five are too
    short for anything; of the four that are not measured one at least must give the other.
    """
    folder = tmp_path_factory.mktemp("enough") / "vessel"
    futtock("new", str(folder), "--demo")
    stated = folder / "vessel.toml"
    text = stated.read_text().replace('first = "2-9-0"', 'first = "16-0-0"')
    stated.write_text(text.replace("count = 27", "count = 1"))
    moulds = {m.mark: m for m in Job(str(folder)).moulds}
    rack = [slab_for(moulds[SCARCE], "A-0", 75.0)]
    rack += [slab_for(moulds["1-S-f3"], f"A-{k}") for k in range(1, 4)]
    short = {**rack[0], "top": [[0, 0], [300, 0], [300, 120], [0, 120]], "grain": []}
    rack += [{**short, "name": f"A-{k}"} for k in range(4, 9)]
    rack += [slab_for(moulds[SCARCE], f"B-{k}", measured=False) for k in range(4)]
    (folder / "slabs.json").write_text(json.dumps(rack))
    got = [m for m in moulds if m not in WANTED]
    with Journal(folder / "journal.sqlite") as journal:
        journal.enter_all([Entry(m, "roughed", "Ann") for m in got], datetime.now(UTC))
    return folder


@pytest.fixture(scope="module")
def asked(vessel, tmp_path_factory):
    """The whole question asked once: buying list drawn, what may be cut now."""
    out = tmp_path_factory.mktemp("buying")
    words = (*QUICK, "--buy", "90", "--now", "--out", str(out))
    return document("enough", str(vessel), *words, code=(0, 3)), out


def test_the_answer_rests_on_what_it_says(asked, vessel):
    """A chance that is neither, what it rests on in the same sentence, and what runs short."""
    answer, _ = asked
    assert 0.05 < answer["probability"] < 0.95
    assert answer["low"] <= answer["probability"] <= answer["high"]
    first = answer["says"].split(". ")[0]
    measured, rest = answer["measured_slabs"], answer["unmeasured_slabs"]
    assert f"{measured} slabs measured and {rest} not" in first
    assert re.search(r"another \d+ slabs measured might have said \d+ to \d+ %", first)
    assert answer["measure_next"] == "B"
    scarce = next(m for m in Job(str(vessel)).moulds if m.mark == SCARCE)
    assert min(abs(q["length_mm"] - scarce.length_mm) for q in answer["missing"]) <= 75.0
    assert {f["code"] for f in answer["findings"]} == {"P502"}  # of stack B none is measured


def test_the_answer_keeps_to_its_schema(asked):
    """The document is as the published schema says."""
    checker = jsonschema_rs.validator_for(json.loads(SCHEMA.read_text()))
    assert [e.message for e in checker.iter_errors(asked[0])] == []


def test_the_buying_list_is_a_sheet_and_a_spreadsheet(asked):
    """The scarce timber's shape is asked for by its sizes, priced, drawn, and in the book."""
    import io

    from openpyxl import load_workbook

    answer, out = asked
    buying = answer["buying"]
    assert buying["before"] == answer["probability"]
    assert buying["after"] >= 0.9
    assert buying["slabs"] == sum(w["count"] for w in buying["wanted"]) > 0
    assert any(SCARCE in w["marks"] for w in buying["wanted"])
    assert buying["cost"] == pytest.approx(sum(w["cost"] for w in buying["wanted"]))
    names = {p.name for p in out.iterdir()}
    assert set(answer["files"]) <= names
    assert {"buying.pdf", "buying.svg", "buying.xlsx", "enough.pdf", "enough.svg"} <= names
    drawn = (out / "buying.svg").read_text()
    for words in ("Wanted: white oak", "sweep of the grain", "wide along the sweep", "cost about"):
        assert words in drawn
    book = load_workbook(io.BytesIO((out / "buying.xlsx").read_bytes()))
    head, *rows = book["buying list"].iter_rows(values_only=True)
    for row, w in zip(rows, buying["wanted"], strict=True):
        cells = dict(zip(head, row, strict=True))
        assert cells["slabs"] == w["count"]
        for size in ("length", "width", "sweep", "thickness"):
            assert cells[f"{size}, mm"] == pytest.approx(w[f"{size}_mm"], abs=0.06)
        assert cells["cost"] == pytest.approx(w["cost"], abs=0.006)


def test_what_may_be_cut_now_is_told(asked):
    """Each measured slab that gives a timber is priced, the free ones first."""
    told = asked[0]["cut_now"]
    assert [p["free"] for p in told] == sorted((p["free"] for p in told), reverse=True)
    assert any(p["free"] for p in told)
    assert len({p["slab"] for p in told}) == len(told)
    marks = [m for p in told for m in p["marks"]]
    assert len(set(marks)) == len(marks)


def test_the_price_of_one_timber(vessel):
    """--cut tells slab by slab what cutting this one now costs; a mark that is none is misuse."""
    cut = ask(vessel, cut="1-P-f3")["cut"]
    assert cut["mark"] == "1-P-f3"
    # three slabs give nothing else, so nothing is lost by cutting it there
    assert cut["places"][0]["free"]
    for place in cut["places"]:
        assert place["marks"] == ["1-P-f3"]
        assert -1.0 <= place["chance_lost"] <= 1.0
        assert place["chance_error"] > 0.0
    with pytest.raises(Misused, match="no timber 7-X-f9"):
        ask(vessel, cut="7-X-f9")
    with pytest.raises(Misused, match="cut already"):
        ask(vessel, cut="1-S-a1")


def test_a_cut_that_no_measured_slab_gives_is_told(vessel, tmp_path):
    """With only short slabs measured the price of a cut is a finding that names the timber."""
    folder = tmp_path / "vessel"
    shutil.copytree(vessel, folder)
    rack = json.loads((folder / "slabs.json").read_text())
    small = [s for s in rack if len(s["top"]) == 4 or not s["measured"]]
    more = [{**small[0], "name": f"A-{k}"} for k in range(20, 24)]
    (folder / "slabs.json").write_text(json.dumps([*small, *more]))
    told = ask(folder, cut="1-P-f3")
    (found,) = [f for f in told["findings"] if f["code"] == "J022"]
    assert "1-P-f3" in found["message"]


def test_a_timber_that_is_cut_is_wanted_no_more(vessel, asked, tmp_path):
    """The journal tells which timbers are got: with a scarce one roughed the pile is enough."""
    folder = tmp_path / "vessel"
    shutil.copytree(vessel, folder)
    futtock("did", str(folder), SCARCE, "roughed", "--who", "Ann")
    after = document("enough", str(folder), *QUICK, code=(0, 3))
    assert after["timbers"] == asked[0]["timbers"] - 1 == 3
    assert after["probability"] > asked[0]["probability"]


@pytest.mark.parametrize(
    ("said", "code", "words", "unmeasured"),
    [
        ("A=3", "J020", "said to hold 3", {"A": 0, "B": 4}),
        ("Z=5", "P502", "No slab is measured of stack", {"A": 0, "B": 4, "Z": 5}),
    ],
)
def test_counts_that_cannot_be_are_told(vessel, said, code, words, unmeasured):
    """A count below what is measured, and a stack of which none is, are findings, not refusals."""
    answer = ask(vessel, stacks=[said])
    (found,) = [f for f in answer["findings"] if f["code"] == code]
    assert words in found["message"]
    assert found["remedy"]
    assert {s["stack"]: s["unmeasured"] for s in answer["stacks"]} == unmeasured
    assert answer["unmeasured_slabs"] == sum(unmeasured.values())


@pytest.mark.parametrize("said", [["A"], ["A=many"], ["A=20", "A=30"], ["=x"], ["A=-3"], ["A=1.5"]])
def test_counts_that_cannot_be_read_are_misuse(vessel, said):
    """Words that say no count, no whole count, or a stack twice."""
    with pytest.raises(Misused):
        ask(vessel, stacks=said)


def test_misuse_is_exit_2(vessel):
    """At the command line too, without a traceback."""
    for words in (("--stack", "A"), ("--replicates", "0"), ("--cluster", "tcp://127.0.0.1:9")):
        done = futtock("enough", str(vessel), *words, code=(1, 2))
        assert "Traceback" not in done.stderr


def test_a_volume_is_a_count_by_the_mean_slab(vessel):
    """A stack of so many cubic metres holds as many slabs as its measured ones' mean goes in."""
    known = Stocktaking(Job(str(vessel))).stacks[0]
    each = known.measured_m3 / known.measured
    said = Stocktaking(Job(str(vessel)), {"A": f"{20 * each:.4f} m3"}).stacks[0]
    assert said.measured + said.unmeasured == 20


def test_with_nothing_measured_there_is_no_chance_told(vessel, tmp_path):
    """None measured: a null chance, how many to measure first, and no picture of nothing."""
    rack = json.loads((vessel / "slabs.json").read_text())
    file = tmp_path / "none.json"
    file.write_text(json.dumps([{**s, "measured": False} for s in rack]))
    answer = ask(vessel, slabs=str(file), buy=90.0, now=True, out=str(tmp_path / "out"))
    assert answer["probability"] is None
    assert "measure 8 first" in answer["says"]
    assert [f["code"] for f in answer["findings"]] == ["P501"]
    checker = jsonschema_rs.validator_for(json.loads(SCHEMA.read_text()))
    assert list(checker.iter_errors(answer)) == []
