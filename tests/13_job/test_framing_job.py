"""The framing of a vessel folder: cants accepted, butts by hand, strakes, rules, wide timbers."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest

from futtock.job import verbs
from futtock.progress import quiet

NINE = "count = 9"


@pytest.fixture
def few(marram_copy):
    """Marram with her nine foremost frames alone."""
    stated = marram_copy / "vessel.toml"
    stated.write_text(stated.read_text().replace("count = 27", NINE))
    return marram_copy


def framed(folder):
    return verbs.frames(str(folder), quiet)


def test_a_proposal_is_accepted_by_writing_its_line_into_the_statement(few):
    """With the line that frames gives in vessel.toml the frames stand at those angles, every bevel
    of theirs within the limit that was kept, and nothing more is proposed for them.
    """
    first = framed(few).document
    proposed = {c["frame"]: c for c in first["cants"]["cants"]}
    assert proposed
    assert all(abs(f["cant_deg"]) == 0 for f in first["frames"])
    stated = few / "vessel.toml"
    text = re.sub(r"^cants = .*$", first["cants"]["accept"], stated.read_text(), flags=re.M)
    stated.write_text(text)
    again = framed(few).document
    for frame in again["frames"]:
        want = proposed.get(frame["number"])
        assert frame["cant_deg"] == (want["angle_deg"] if want else 0.0)
        largest = max(abs(a) for face in frame["faces"] for a in face["lean_deg"])
        if want:
            assert largest == pytest.approx(want["canted_largest_deg"], abs=0.05)
            assert not want["kept"] or largest <= 25.05
    assert again["cants"]["accept"] is None


def test_butts_written_by_hand_are_kept_and_what_they_break_is_said(few):
    """futtocks.csv goes before what is worked out, to the tenth of a millimetre; other frames keep
    theirs; butts too near each other bring their finding.
    """
    drawn = framed(few).document
    (few / "futtocks.csv").write_text(
        "frame,layer,side,butt\n3,f,,2-6-0\n3,a,,2-8-0\n4,a,P,3-0-0\n"
    )
    answer = framed(few)
    frames = {f["number"]: f for f in answer.document["frames"]}
    ends = {
        (t["layer"], t["side"]): t["girth_mm"][1]
        for t in frames[3]["timbers"]
        if t["mark"].endswith("1")
    }
    assert ends["f", "S"] == ends["f", "P"] == pytest.approx(30 * 25.4)
    assert ends["a", "S"] == pytest.approx(32 * 25.4)
    port = [t for t in frames[4]["timbers"] if t["layer"] == "a" and t["side"] == "P"]
    assert port[0]["girth_mm"][1] == pytest.approx(36 * 25.4)
    assert any(f.code == "F005" and f.line == 3 for f in answer.findings)
    for number in (1, 2, 7, 8, 9):
        before = next(f for f in drawn["frames"] if f["number"] == number)
        assert frames[number]["timbers"] == before["timbers"]


def test_a_wale_of_thicker_plank_steps_the_frames_edge(few):
    """Where the statement has a thicker strake the edge stands in by the difference, squarely."""
    drawn = framed(few).document
    stated = few / "vessel.toml"
    text = stated.read_text().replace(
        'thickness = "1-1/4 in"',
        'thickness = "1-1/4 in"\nstrakes = [{ thickness = "2 in", from = "0-4-0", to = "1-0-0",'
        ' of = "sheer" }]',
    )
    stated.write_text(text)
    stepped = framed(few).document
    for before, after in zip(drawn["frames"][3:], stepped["frames"][3:], strict=True):
        plain, wale = (np.array(f["faces"][1]["edge_mm"]) for f in (before, after))
        lean = np.radians(np.array(before["faces"][1]["lean_deg"]))
        gap = np.sqrt(((wale[:, None] - plain[None]) ** 2).sum(axis=-1)).min(axis=1)
        # in the frame's plane a plank's thickness is divided by the lean's cosine
        assert gap.max() == pytest.approx(0.75 * 25.4 / np.cos(lean).min(), rel=0.05)
        assert (gap < 0.5).sum() > 60


def test_every_timber_tells_how_far_its_straight_cut_is_out(few):
    """The figure of each timber is the worst of its layer's over its own girth, and past half a
    millimetre it is a finding. Layers six inches thick bring some there.
    """
    stated = few / "vessel.toml"
    stated.write_text(stated.read_text().replace('sided = "1-7/8 in"', 'sided = "6 in"'))
    answer = framed(few)
    told = {}
    for frame in answer.document["frames"]:
        for t in frame["timbers"]:
            told[t["mark"]] = t["departure_mm"]
    assert len(told) > 50
    flagged = {f.line for f in answer.findings if f.code == "F004"}
    past = {m for m, off in told.items() if abs(off) > 0.5 and "-P-" not in m}
    assert past
    assert flagged == past


def test_a_timber_wider_than_any_slab_is_found(few):
    """With one narrow slab in the rack every wider timber is named; with a wide one none is."""
    rack = few / "slabs.json"

    def slab(wide):
        ring = [[0, 0], [3000, 0], [3000, wide], [0, wide]]
        rack.write_text(
            json.dumps([{"name": "A", "species": "white oak", "thickness_mm": 64, "top": ring}])
        )
        answer = framed(few)
        wides = {t["mark"]: t["wide_mm"] for f in answer.document["frames"] for t in f["timbers"]}
        return wides, {f.line for f in answer.findings if f.code == "F010"}

    wides, found = slab(150.0)
    assert found == {m for m, w in wides.items() if w > 150.0 and "-P-" not in m}
    assert found
    assert slab(900.0)[1] == set()


def test_published_rules_stand_beside_the_settings_with_their_source(few):
    """A shift of a seventh of her breadth is offered beside what is stated, and is no finding."""
    answer = framed(few)
    by_rule = {r["rule"]: r for r in answer.document["rules"]}
    out = max(p[0] for f in answer.document["frames"] for p in f["faces"][1]["edge_mm"])
    assert by_rule["H26"]["offered_mm"] == pytest.approx(2 * out / 7, rel=1e-3)
    assert by_rule["H26"]["stated_mm"] == pytest.approx(14 * 25.4)
    assert all(r["source"] and r["read"] for r in by_rule.values())
