"""Any standing timber back to its slab, the place in it, its moisture, and who did what."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta

import pytest

from futtock.yard import Entry, Journal, fold, standing_timbers, trace
from futtock.yard.event import made

NOW = datetime(2031, 5, 5, 9, 30, tzinfo=UTC)
FRAME_WORDS = ("dry-fitted", "bedded", "bored", "treenailed", "wedged", "heel-cut", "spalled")


@pytest.fixture
def state(tmp_path):
    """One frame that stands: two timbers, one of an offcut, one remade after it was spoiled."""
    day = iter(range(100))
    with Journal(tmp_path / "journal.sqlite") as journal:

        def enter(mark, word, who="Ann", **body):
            journal.enter(Entry(mark, word, who, body), NOW + timedelta(days=next(day)))

        enter("A-07", "measured", moisture_percent=24.0)
        enter("A-07", "moved", to="drying shed")
        enter("A-07", "measured", moisture_percent=17.5)
        enter("12-P-f1", "moulded")
        enter("12-P-f1", "laid-out", slab="A-07", place={"x_mm": 120.0, "y_mm": -40.0})
        enter("12-P-f1", "roughed", "Ben")
        enter("A-07", "measured", moisture_percent=9.0)
        enter("12-P-f1", "bevelled", "Cy", because="planed before")
        enter("A-07", "consumed", offcuts=["A-07/1"])
        enter("12-S-f1", "laid-out", slab="B-01")
        enter("12-S-f1", "spoiled", because="shake")
        enter("12-S-f1", "laid-out", slab="A-07/1")
        enter("12-S-f1", "roughed", "Ben")
        enter("12-S-f1", "checked", name="width", found_mm=101.0, wanted_mm=100.5)
        enter("12-S-f1", "photograph", file="photos/7.jpg")
        enter("13-P-f1", "laid-out", slab="B-02")
        for word in (*FRAME_WORDS, "standing"):
            enter("12", word, "Dot", because="x")
        yield journal.state()


def test_trace(state):
    """A timber's slab, place, moisture when it was sawn, and each step with its name and day."""
    found = trace(state, "12-P-f1")
    assert (found.slab, found.slabs, found.frame) == ("A-07", (), 12)
    assert found.place == {"x_mm": 120.0, "y_mm": -40.0}
    assert found.moisture_percent == 17.5
    assert found.step("roughed").who == "Ben"
    assert found.step("bevelled").who == "Cy"
    assert found.step("standing").who == "Dot"
    assert found.step("horned") is None
    assert [e.stage for e in found.steps][:4] == ["moulded", "laid-out", "roughed", "bevelled"]


def test_offcut_and_remade(state):
    """An offcut leads back to its slab; a piece spoiled before is counted; its checks are there."""
    found = trace(state, "12-S-f1")
    assert (found.slab, found.slabs, found.lost) == ("A-07/1", ("A-07",), 1)
    assert found.moisture_percent == 9.0
    assert [e.body["found_mm"] for e in found.checks] == [101.0]
    assert [e.body["file"] for e in found.photographs] == ["photos/7.jpg"]
    assert state.pieces["12-S-f1"].lost[0].slab == "B-01"


def test_list_for_a_surveyor(state):
    """Every timber of the frame that stands, and none of one that does not."""
    assert [x.mark for x in standing_timbers(state)] == ["12-P-f1", "12-S-f1"]


def test_places_of_the_accepted_layout(state):
    """Where the entry names no place, the accepted layout's is given; another slab's is not."""
    places = {
        "12-P-f1": ("A-07", {"x_mm": 1.0}),
        "12-S-f1": ("Z-01", {"x_mm": 2.0}),
        "12-C-f1": ("C-03", {"x_mm": 3.0}),
    }
    assert trace(state, "12-P-f1", places).place == {"x_mm": 120.0, "y_mm": -40.0}
    assert trace(state, "12-S-f1", places).place is None
    lineages = standing_timbers(state, places)
    assert [x.mark for x in lineages] == ["12-C-f1", "12-P-f1", "12-S-f1"]
    assert (lineages[0].slab, lineages[0].place) == ("C-03", {"x_mm": 3.0})


def test_unknown_timber(state):
    """A mark of which nothing is known has an empty lineage."""
    found = trace(state, "1-P-f1")
    assert (found.slab, found.steps, found.moisture_percent, found.lost) == (None, (), None, 0)


def test_a_hundred_thousand_records_fold_in_time():
    """A journal of 100,000 records, with corrections, folds in two seconds of work."""
    from futtock.yard.event import corrected
    from futtock.yard.stages import STAGES

    events, previous = [], "0" * 64
    for i in range(5_000):
        mark = f"{i % 90 + 1}-P-f{i // 90 % 9 + 1}"
        event = made(Entry(mark, STAGES[i % 7], "Ann", {"slab": f"A-{i % 300}"}), NOW)
        event = event.sealed(i + 1, previous)
        events.append(event)
        previous = event.hash
    many = [e._replace(seq=k * 5000 + e.seq, id=f"{k}-{e.seq}") for k in range(19) for e in events]
    undone = [corrected(e, "Ann", NOW) for e in many[::19]]
    began = time.process_time()
    state = fold([*many, *undone])
    seconds = time.process_time() - began
    assert len(many) + len(undone) == 100_000
    assert len(state.undone) == 5_000
    assert seconds < 2.0
