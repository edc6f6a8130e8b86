"""The journal: entries are kept once, in order, sealed; corrections correct and nothing is lost."""

from __future__ import annotations

import subprocess
import sys
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from futtock.errors import Misused, Unreadable
from futtock.findings import Severity
from futtock.yard import Entry, Journal, fold, place_of, read_code
from futtock.yard.event import FIRST, seal
from futtock.yard.kinds import KINDS
from futtock.yard.stages import WORDS

NOW = datetime(2031, 5, 5, 9, 30, tzinfo=UTC)


@pytest.fixture
def journal(tmp_path):
    with Journal(tmp_path / "journal.sqlite") as opened:
        yield opened


def _codes(entered):
    return [f.code for f in entered.findings]


def test_an_entry_is_kept_as_it_was_made(journal):
    """Time, name, mark, stage, body and id come back as they were entered, and are on disk."""
    entry = Entry("12-p-F2", "Roughed", " Ann ", {"hours": 0.5, "because": "try"}, id="t1-7")
    entered = journal.enter(entry, NOW)
    assert entered.event.mark == "12-P-f2"
    assert entered.event.stage == "roughed"
    with Journal(journal.place) as other:
        kept = other.event("t1-7")
    assert kept == entered.event
    assert (kept.seq, kept.who, kept.frame) == (1, "Ann", 12)
    assert kept.when == NOW
    assert kept.body == {"hours": 0.5, "because": "try"}
    assert kept.previous == FIRST
    assert kept.hash == seal(kept)


def test_time_of_another_zone_is_kept_in_utc(journal):
    """A time with its own zone is the same moment in UTC; one without a zone is refused."""
    east = datetime(2031, 5, 5, 11, 30, tzinfo=timezone(timedelta(hours=2)))
    assert journal.enter(Entry("12", "note", "Ann", {"text": "x"}, at=east), NOW).event.when == NOW
    with pytest.raises(Misused, match="no zone"):
        journal.enter(Entry("12", "note", "Ann", {"text": "x"}), NOW.replace(tzinfo=None))


def test_sending_again_is_harmless(journal):
    """The same id sent again gives the record that is there and adds none."""
    entry = Entry("12-P-f2", "moulded", "Ann", id="a")
    first = journal.enter(entry, NOW)
    again = journal.enter(entry, NOW + timedelta(minutes=5))
    assert again.known
    assert again.event == first.event
    assert journal.last() == 1


def test_an_id_belongs_to_one_entry(journal):
    """An id that was used for another entry is refused, and both stay told apart."""
    journal.enter(Entry("12-P-f2", "moulded", "Ann", id="a"), NOW)
    with pytest.raises(Misused, match="belongs to another entry"):
        journal.enter(Entry("12-P-f3", "moulded", "Ann", id="a"), NOW)
    assert journal.last() == 1


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        (Entry("12", "roughd", "Ann"), "perhaps 'roughed' is meant"),
        (Entry("12", "painted by hand", "Ann"), "is no stage"),
        (Entry("", "roughed", "Ann"), "The mark is ''"),
        (Entry("12", "roughed", " "), "name of who did it"),
        (Entry("12", "roughed", "A\nB"), "name of who did it"),
        (Entry("12", "roughed", "Ann", id="a b"), "The id 'a b' is none"),
        (Entry("A-1", "measured", "Ann", {"moisture_percent": "wet"}), "expected percent"),
        (Entry("A-1", "measured", "Ann", {"moisture_percent": 1e9}), "expected 0 to 300"),
        (Entry("A-1", "moved", "Ann"), "needs 'to'"),
        (Entry("12", "note", "Ann"), "needs 'text'"),
        (Entry("12", "checked", "Ann"), "needs 'name'"),
        (Entry("12", "photograph", "Ann"), "needs 'file'"),
        (Entry("12", "roughed", "Ann", {"hours": -1}), "expected 0 to 1000"),
        (Entry("12", "roughed", "Ann", {"x": float("nan")}), "no plain data"),
        (Entry("12", "roughed", "Ann", {"x": {1, 2}}), "no plain data"),
        (Entry("12", "note", "Ann", {"text": "x" * 70_000}), "letters"),
    ],
)
def test_what_cannot_be_meant_is_refused(journal, entry, words):
    """An entry that cannot be meant is refused in words, and nothing is kept."""
    with pytest.raises(Misused, match=words):
        journal.enter(entry, NOW)
    assert journal.last() == 0


def test_every_word_can_be_entered(journal):
    """Each word of the yard is taken, with what it needs beside it."""
    body = {"to": "shed", "name": "cross spall", "text": "x", "file": "p.jpg"}
    marks = {"measured": "A-07", "moved": "A-07", "consumed": "A-07"}
    for word in WORDS:
        journal.enter(Entry(marks.get(word, "12-P-f2"), word, "Ann", body), NOW)
    assert [e.stage for e in journal.events()] == list(WORDS)


def test_out_of_turn_is_told_and_kept(journal):
    """A timber bevelled before it is roughed is kept and told of; with a reason it is a note."""
    entered = journal.enter(Entry("12-P-f2", "bevelled", "Ann"), NOW)
    assert _codes(entered) == ["Y001"]
    assert "without: roughed, thicknessed" in entered.findings[0].message
    assert entered.findings[0].severity is Severity.DOUBT
    other = journal.enter(Entry("12-P-f3", "bevelled", "Ann", {"because": "old stock"}), NOW)
    assert _codes(other) == ["Y002"]
    assert "old stock" in other.findings[0].message
    assert journal.state().stage("12-P-f2") == journal.state().stage("12-P-f3") == "bevelled"


def test_in_turn_is_silent(journal):
    """Work entered in its order gives no finding, up to the ribbands."""
    for word in ("moulded", "laid-out", "roughed", "rested", "flattened", "thicknessed"):
        assert not journal.enter(Entry("12-P-f1", word, "Ann"), NOW).findings
    assert not journal.enter(Entry("12-P-f1", "bevelled", "Ann"), NOW).findings
    for word in ("dry-fitted", "bedded", "bored", "treenailed", "wedged", "heel-cut", "spalled"):
        assert not journal.enter(Entry("12", word, "Ann"), NOW).findings
    for word in ("standing", "horned", "ribbanded"):
        assert not journal.enter(Entry("12", word, "Ann"), NOW).findings


def test_frame_waits_for_all_its_timbers(journal):
    """A frame dry-fitted while one of the vessel's known timbers is not bevelled is told of."""
    for word in ("laid-out", "roughed", "flattened", "thicknessed", "bevelled"):
        journal.enter(Entry("12-P-f1", word, "Ann"), NOW)
    marks = ["12-P-f1", "12-S-f1", "13-P-f1"]
    entered = journal.enter(Entry("12", "dry-fitted", "Ann"), NOW, known_marks=marks)
    assert entered.findings[0].expected == "12-S-f1 bevelled"
    half = journal.enter(Entry("12-P", "bored", "Ann"), NOW, known_marks=marks)
    assert half.findings[0].expected == "bedded"


def test_unknown_mark_is_told(journal):
    """A timber that the vessel has not is told of, where her marks are known."""
    entry = Entry("99-P-f1", "moulded", "Ann")
    assert _codes(journal.enter(entry, NOW, known_marks=["12-P-f1"])) == ["Y006"]


def test_two_tablets_on_one_timber(journal):
    """Of two people who enter one step the first counts, the second is told who, both are kept."""
    journal.enter(Entry("12-P-f1", "moulded", "Ann", sender="tablet 1"), NOW)
    second = journal.enter(Entry("12-P-f1", "moulded", "Ben", sender="tablet 2"), NOW)
    assert _codes(second) == ["Y003"]
    assert "by Ann at 2031-05-05 09:30" in second.findings[0].message
    state = journal.state()
    assert state.record("12-P-f1", "moulded").who == "Ann"
    assert [c.event.who for c in state.contested] == ["Ben"]
    assert len(journal.events()) == 2


def test_one_slab_given_to_two_timbers(journal):
    """Of two timbers given one slab the first has it; undoing that one lets the second have it."""
    journal.enter(Entry("12-P-f1", "laid-out", "Ann", {"slab": "A-07"}), NOW)
    second = journal.enter(Entry("13-S-a2", "laid-out", "Ben", {"slab": "A-07"}), NOW)
    assert _codes(second) == ["Y004"]
    assert "given to 12-P-f1 already, by Ann" in second.findings[0].message
    assert set(journal.state().slabs["A-07"].given_to) == {"12-P-f1"}
    journal.undo("Ann", NOW)
    state = journal.state()
    assert set(state.slabs["A-07"].given_to) == {"13-S-a2"}
    assert state.pieces["13-S-a2"].slab == "A-07"
    assert state.contested == []


def test_one_layout_gives_a_slab_to_many(journal):
    """Timbers of one accepted layout share a slab; so do two for which a reason is given."""
    for mark in ("12-P-f1", "12-P-f2", "13-P-f1"):
        body = {"slab": "A-07", "layout": "k3"}
        assert not journal.enter(Entry(mark, "laid-out", "Ann", body), NOW).findings
    other = {"slab": "A-07", "layout": "k4"}
    assert _codes(journal.enter(Entry("14-P-f1", "laid-out", "Ben", other), NOW)) == ["Y004"]
    fits = {"slab": "A-07", "because": "both fit, tried with the moulds"}
    assert not journal.enter(Entry("15-P-f1", "laid-out", "Ben", fits), NOW).findings


def test_stale_tablet_does_not_move_a_timber(journal):
    """A tablet that had not seen a timber laid out does not move it; one that had may."""
    first = journal.enter(Entry("12-P-f1", "laid-out", "Ann", {"slab": "A-07"}), NOW)
    stale = Entry("12-P-f1", "laid-out", "Ben", {"slab": "B-02"}, seen=first.event.seq - 1)
    assert _codes(journal.enter(stale, NOW)) == ["Y003"]
    assert journal.state().pieces["12-P-f1"].slab == "A-07"
    aware = Entry("12-P-f1", "laid-out", "Ben", {"slab": "B-02"}, seen=first.event.seq)
    assert not journal.enter(aware, NOW).findings
    state = journal.state()
    assert state.pieces["12-P-f1"].slab == "B-02"
    assert state.slabs["A-07"].given_to == {}


def test_slab_used_up_is_not_given(journal):
    """A slab that was spoiled or used up is not given again."""
    journal.enter(Entry("A-07", "spoiled", "Ann"), NOW)
    entered = journal.enter(Entry("12-P-f1", "laid-out", "Ben", {"slab": "A-07"}), NOW)
    assert _codes(entered) == ["Y005"]
    assert journal.state().slab_states() == {"A-07": "spoiled"}


def test_undo_and_undo_of_undo(journal):
    """Undoing makes a correcting entry; undoing that makes the first count again."""
    journal.enter(Entry("12-P-f1", "moulded", "Ann"), NOW)
    undone = journal.undo("Ann", NOW, because="wrong mark")
    assert undone.event.stage == "correction"
    assert not journal.state().has("12-P-f1", "moulded")
    assert [e.mark for e in journal.state().undone.values()] == ["12-P-f1"]
    journal.undo("Ben", NOW, id=undone.event.id)
    assert journal.state().has("12-P-f1", "moulded")
    assert len(journal.events()) == 3


def test_undo_takes_the_last_of_the_same_person(journal):
    """Undoing goes back through one's own entries, one at a time, and ends in words."""
    for mark in ("12-P-f1", "12-P-f2"):
        journal.enter(Entry(mark, "moulded", "Ann"), NOW)
    journal.enter(Entry("12-P-f3", "moulded", "Ben"), NOW)
    assert journal.undo("Ann", NOW).event.mark == "12-P-f2"
    assert journal.undo("Ann", NOW).event.mark == "12-P-f1"
    with pytest.raises(Misused, match="'Ann' has nothing to undo"):
        journal.undo("Ann", NOW)
    with pytest.raises(Misused, match="no entry has the id 'x'"):
        journal.undo("Ann", NOW, id="x")
    assert journal.state().has("12-P-f3", "moulded")


def test_amending_keeps_both(journal):
    """An amended entry counts as amended; the record stays; its slab cannot be amended."""
    entered = journal.enter(Entry("12-P-f1", "roughed", "Ann", {"hours": 5, "because": "x"}), NOW)
    journal.amend(entered.event.id, {"who": "Ben", "body": {"hours": 0.5}}, "Ann", NOW)
    record = journal.state().record("12-P-f1", "roughed")
    assert (record.who, record.body["hours"]) == ("Ben", 0.5)
    assert journal.event(entered.event.id).body["hours"] == 5
    with pytest.raises(Misused, match="undo this one"):
        journal.amend(entered.event.id, {"body": {"slab": "A"}}, "Ann", NOW)
    with pytest.raises(Misused, match="Only the time"):
        journal.amend(entered.event.id, {"mark": "13"}, "Ann", NOW)


def test_spoiled_timber_begins_anew(journal):
    """A spoiled piece is kept; its mark starts again, mould and all, on another slab."""
    for word, body in (("moulded", {}), ("laid-out", {"slab": "A-07"}), ("roughed", {})):
        journal.enter(Entry("12-P-f1", word, "Ann", body), NOW)
    assert journal.state().slabs["A-07"].state == "begun"
    journal.enter(Entry("12-P-f1", "spoiled", "Ann", {"because": "shake"}), NOW)
    state = journal.state()
    assert state.stage("12-P-f1") == "moulded"
    assert state.pieces["12-P-f1"].lost[0].slab == "A-07"
    assert not journal.enter(Entry("12-P-f1", "laid-out", "Ann", {"slab": "B-01"}), NOW).findings
    assert journal.state().pieces["12-P-f1"].slab == "B-01"


def test_halves_make_a_frame(journal):
    """A step done to both halves is done to the frame; to one half, to that half's timbers only."""
    journal.enter(Entry("12-P", "bedded", "Ann", {"because": "x"}), NOW)
    state = journal.state()
    assert state.has("12-P", "bedded")
    assert state.has("12-P-a2", "bedded")
    assert not state.has("12-S", "bedded")
    assert not state.has("12", "bedded")
    journal.enter(Entry("12-S", "bedded", "Ann", {"because": "x"}), NOW)
    assert journal.state().has("12", "bedded")


def test_folded_to_a_past_moment(journal):
    """The state can be had as it was: by the journal's count, and by what was done till a time."""
    for day, word in enumerate(("moulded", "laid-out", "roughed")):
        journal.enter(Entry("12-P-f1", word, "Ann"), NOW + timedelta(days=day))
    journal.undo("Ann", NOW + timedelta(days=5))
    assert journal.state().stage("12-P-f1") == "laid-out"
    assert journal.state(upto=3).stage("12-P-f1") == "roughed"
    assert journal.state(upto=1).stage("12-P-f1") == "moulded"
    assert journal.state(at=NOW + timedelta(hours=1)).stage("12-P-f1") == "moulded"
    assert fold([]).stage("12-P-f1") is None


def test_several_at_once_or_none(journal):
    """Several entries are kept together; where one cannot be meant, none is."""
    many = [Entry(f"12-P-f{i}", "moulded", "Ann") for i in range(1, 4)]
    assert [e.event.seq for e in journal.enter_all(many, NOW)] == [1, 2, 3]
    with pytest.raises(Misused):
        journal.enter_all([Entry("12-P-f9", "moulded", "Ann"), Entry("12", "x", "Ann")], NOW)
    used = [
        Entry("12-S-f1", "moulded", "Ann"),
        Entry("12", "bored", "Ann", id=journal.events()[0].id),
    ]
    with pytest.raises(Misused):
        journal.enter_all(used, NOW)
    assert journal.last() == 3
    assert journal.verify() == ()


def test_clock_set_back(journal):
    """A clock set back changes neither order nor chain; that it went back is noted."""
    journal.enter(Entry("12-P-f1", "moulded", "Ann"), NOW)
    journal.enter(Entry("12-P-f1", "laid-out", "Ann"), NOW - timedelta(days=400))
    journal.enter(Entry("12-P-f1", "roughed", "Ann"), NOW + timedelta(days=1))
    assert [e.seq for e in journal.events()] == [1, 2, 3]
    (finding,) = journal.verify()
    assert (finding.code, finding.severity, finding.line) == ("Y033", "note", 2)
    assert journal.state().stage("12-P-f1") == "roughed"


ENTRIES = st.lists(
    st.tuples(
        st.sampled_from(["1-P-f1", "1-S-f1", "2-P-a1", "1", "2-P", "A", "B"]),
        st.sampled_from(
            ["moulded", "laid-out", "roughed", "bevelled", "spoiled", "bedded", "undo"]
        ),
        st.sampled_from(["A", "B", None]),
    ),
    max_size=25,
)


@given(ENTRIES)
@settings(max_examples=25)
def test_what_is_told_at_entry_is_what_the_fold_says(tmp_path_factory, entries):
    """An entry is told that it does not count exactly when the fold of everything says so."""
    folder = tmp_path_factory.mktemp("j")
    with Journal(folder / "journal.sqlite") as journal:
        for mark, word, slab in entries:
            if word == "undo":
                events = [e for e in journal.events() if e.stage != "correction"]
                if events:
                    journal.undo("Ann", NOW, id=events[-1].id)
                continue
            body = {"slab": slab} if slab and word == "laid-out" else {}
            entered = journal.enter(Entry(mark, word, "Ann", body), NOW)
            told = {"Y003", "Y004", "Y005"} & set(_codes(entered))
            lost = [c for c in journal.state().contested if c.event.id == entered.event.id]
            assert bool(told) == bool(lost)
        assert journal.verify() == ()


def test_codes_of_prints(journal):
    """A scanned code of a print gives its mark, and enters it; anything else is told."""
    from futtock.drawing.code import code_text

    assert read_code(code_text("12-P-f2", "r7")) == ("12-P-f2", "", "r7")
    assert read_code(code_text("12", "r7") + ":bedded") == ("12", "bedded", "r7")
    assert read_code("12-p-f2") == ("12-P-f2", "", "")
    for text in ("http://somewhere/x", "", "other:r1:12", "futtock:12", "futtock:r1:"):
        with pytest.raises(Misused, match="no code of this yard"):
            read_code(text)
    scanned = Entry(code_text("12-P-f2", "r7"), "moulded", "Ann")
    assert journal.enter(scanned, NOW).event.mark == "12-P-f2"


def test_place_of_the_journal(tmp_path):
    """The journal is a file in the folder unless vessel.toml names a server."""
    assert place_of(tmp_path) == tmp_path / "journal.sqlite"
    (tmp_path / "vessel.toml").write_text('[yard]\njournal = "postgresql+psycopg://h/d"\n')
    assert place_of(tmp_path) == "postgresql+psycopg://h/d"
    (tmp_path / "vessel.toml").write_text("[yard\n")
    assert place_of(tmp_path) == tmp_path / "journal.sqlite"


def test_opening_none(tmp_path):
    """Where there is no journal and none is to be made, it is said; so is a folder that is not."""
    with pytest.raises(Unreadable, match="no journal"):
        Journal(tmp_path / "journal.sqlite", create=False)
    assert not (tmp_path / "journal.sqlite").exists()


def test_import_is_light(tmp_path):
    """Making an entry brings in none of numpy, pydantic, SQLAlchemy, alembic."""
    code = f"""
import sys
from datetime import UTC, datetime
from pathlib import Path
from futtock.yard import Entry, Journal
with Journal(Path({str(tmp_path)!r}) / "journal.sqlite") as journal:
    journal.enter(Entry("12-P-f1", "moulded", "Ann"), datetime.now(UTC))
print([m for m in ("numpy", "pydantic", "sqlalchemy", "alembic", "tomllib") if m in sys.modules])
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_kinds_are_told_apart():
    """Each kind of finding has a code of its own, and a remedy."""
    assert len({k.code for k in KINDS}) == len(KINDS) > 15
    assert all(k.remedy for k in KINDS)
