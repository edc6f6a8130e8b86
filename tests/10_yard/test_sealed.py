"""What stands in the journal is sealed: a change shows, and it is carried over whole or not."""

from __future__ import annotations

import json
import sqlite3
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from futtock.findings import Severity
from futtock.yard import Entry, Journal
from futtock.yard.event import seal

NOW = datetime(2031, 5, 5, 9, 30, tzinfo=UTC)


@pytest.fixture
def journal(tmp_path):
    with Journal(tmp_path / "journal.sqlite") as opened:
        yield opened


def test_the_table_refuses_to_be_changed(journal):
    """The database itself refuses to change or delete a record."""
    journal.enter(Entry("12-P-f1", "moulded", "Ann"), NOW)
    with sqlite3.connect(journal.place) as db:
        for statement in ("UPDATE events SET who = 'Ben'", "DELETE FROM events"):
            with pytest.raises(sqlite3.IntegrityError, match="only added to"):
                db.execute(statement)
    db.close()


@pytest.mark.parametrize(
    "column", ["at", "entered", "who", "mark", "stage", "sender", "body", "id"]
)
def test_a_changed_record_shows(journal, column):
    """Whatever of a record is changed behind the journal's back, verifying names that record."""
    for i in range(1, 6):
        journal.enter(Entry(f"12-P-f{i}", "moulded", "Ann"), NOW)
    with sqlite3.connect(journal.place) as db:
        db.execute("DROP TRIGGER events_kept")
        db.execute(f"UPDATE events SET {column} = '{{\"x\":1}}' WHERE seq = 3")
    db.close()
    broken = [f for f in journal.verify() if f.code == "Y030"]
    assert [f.line for f in broken] == [3]
    assert broken[0].severity is Severity.MISFIT


def test_a_record_resealed_shows(journal):
    """Even a record sealed anew shows: in the chain, and against the dated copies."""
    for i in range(1, 6):
        journal.enter(Entry(f"12-P-f{i}", "moulded", "Ann"), NOW)
    forged = journal.events()[2]._replace(who="Ben")
    with sqlite3.connect(journal.place) as db:
        db.execute("DROP TRIGGER events_kept")
        db.execute("UPDATE events SET who = 'Ben', hash = ? WHERE seq = 3", (seal(forged),))
    db.close()
    assert [(f.code, f.line) for f in journal.verify()] == [("Y030", 4), ("Y032", 3)]


def test_a_missing_record_shows(journal):
    """A record taken out shows by its number, and against the copies."""
    for i in range(1, 6):
        journal.enter(Entry(f"12-P-f{i}", "moulded", "Ann"), NOW)
    with sqlite3.connect(journal.place) as db:
        db.execute("DROP TRIGGER events_stay")
        db.execute("DELETE FROM events WHERE seq = 3")
    db.close()
    assert [(f.code, f.line) for f in journal.verify()] == [("Y031", 3), ("Y032", 3)]


def test_made_good_from_the_copies(journal):
    """A record changed behind the journal's back is put back from the copies when that is asked."""
    for i in range(1, 6):
        journal.enter(Entry(f"12-P-f{i}", "moulded", "Ann"), NOW)
    as_written = journal.events()
    with sqlite3.connect(journal.place) as db:
        db.execute("DROP TRIGGER events_kept")
        db.execute("UPDATE events SET who = 'Ben' WHERE seq = 3")
    db.close()
    assert [f.code for f in journal.verify()] == ["Y030"]
    (finding,) = journal.make_good()
    assert "5 records were got back, 4 from it and 1 from the dated copies" in finding.message
    assert journal.events() == as_written
    assert journal.verify() == ()


def test_export_and_import(journal, tmp_path):
    """An exported journal taken into a new one is the same to the seal; again it adds nothing."""
    for i in range(1, 6):
        journal.enter(Entry(f"12-P-f{i}", "moulded", "Änn", {"hours": 0.1}), NOW)
    journal.undo("Änn", NOW)
    lines = list(journal.lines())
    assert all(json.loads(text)["hash"] for text in lines)
    with Journal(tmp_path / "other.sqlite", tmp_path / "c") as other:
        assert other.take_in(lines).added == 6
        assert other.events() == journal.events()
        again = other.take_in(lines)
        assert (again.added, again.known, again.findings) == (0, 6, ())
        assert other.verify() == ()


def test_import_into_one_that_went_on(journal, tmp_path):
    """Records of another journal are chained on at the end, each once, order kept."""
    journal.enter(Entry("12-P-f1", "moulded", "Ann"), NOW)
    lines = list(journal.lines())
    with Journal(tmp_path / "b" / ".." / "other.sqlite", tmp_path / "c") as other:
        other.take_in(lines)
        other.enter(Entry("13-P-f1", "moulded", "Ben"), NOW)
        journal.enter(Entry("12-P-f2", "moulded", "Ann"), NOW)
        journal.enter(Entry("12-P-f3", "moulded", "Ann"), NOW)
        imported = other.take_in(journal.lines())
        assert (imported.added, imported.known) == (2, 1)
        assert [e.mark for e in other.events()] == ["12-P-f1", "13-P-f1", "12-P-f2", "12-P-f3"]
        assert other.verify() == ()


def test_import_fills_a_hole(journal, tmp_path):
    """Records missing in the middle are put back in their place from an export."""
    for i in range(1, 6):
        journal.enter(Entry(f"12-P-f{i}", "moulded", "Ann"), NOW)
    lines = list(journal.lines())
    with sqlite3.connect(journal.place) as db:
        db.execute("DROP TRIGGER events_stay")
        db.execute("DELETE FROM events WHERE seq IN (2, 3)")
    db.close()
    assert journal.take_in(lines).added == 2
    assert journal.verify() == ()


@pytest.mark.parametrize(
    ("change", "code", "words"),
    [
        (lambda r: r | {"who": "Ben"}, "Y041", "does not match its seal"),
        (lambda r: r | {"stage": "painted"}, "Y040", "'painted' is not known"),
        (lambda r: r | {"seq": 0}, "Y040", "'seq'"),
        (lambda r: r | {"when": "yesterday"}, "Y040", "no time in UTC"),
        (lambda r: r | {"when": "2031-13-05T09:30:00.000000Z"}, "Y040", "month"),
        (lambda r: r | {"body": []}, "Y040", "'body'"),
        (lambda r: {k: v for k, v in r.items() if k != "mark"}, "Y040", "'mark' is missing"),
        (lambda r: [r], "Y040", "no table"),
    ],
)
def test_bad_lines_are_told_and_nothing_is_taken(journal, tmp_path, change, code, words):
    """A line that is no record, or was changed, is told with its number, and none is taken in."""
    for i in range(1, 4):
        journal.enter(Entry(f"12-P-f{i}", "moulded", "Ann"), NOW)
    lines = list(journal.lines())
    lines[1] = json.dumps(change(json.loads(lines[1])))
    with Journal(tmp_path / "other.sqlite", tmp_path / "c") as other:
        imported = other.take_in(lines, "out.jsonl")
        (finding,) = imported.findings
        assert (imported.added, other.last()) == (0, 0)
    assert (finding.code, finding.line, finding.file) == (code, 2, "out.jsonl")
    assert words in finding.message


@given(st.lists(st.text(max_size=60), max_size=5))
@settings(max_examples=30)
def test_any_lines_are_told(tmp_path_factory, lines):
    """Whatever is given as an export is told of, line by line."""
    folder = tmp_path_factory.mktemp("j")
    with Journal(folder / "journal.sqlite") as journal:
        imported = journal.take_in(lines)
        assert imported.added == 0
        assert len(imported.findings) == sum(bool(text.strip()) for text in lines)
