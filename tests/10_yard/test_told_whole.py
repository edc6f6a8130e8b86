"""What the journal says of itself, to the word: gaps, differences, reasons, what was taken in."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime, timedelta

import pytest

from futtock.yard import Entry, Journal

NOW = datetime(2031, 5, 5, 9, 30, tzinfo=UTC)


@pytest.fixture
def journal(tmp_path):
    with Journal(tmp_path / "journal.sqlite") as opened:
        for i in range(1, 7):
            opened.enter(Entry(f"12-P-f{i}", "moulded", "Ann"), NOW)
        yield opened


def _changed(journal, trigger: str, statement: str) -> None:
    with sqlite3.connect(journal.place) as db:
        db.execute(f"DROP TRIGGER {trigger}")
        db.execute(statement)
    db.close()


@pytest.mark.parametrize(
    ("out", "gap"),
    [("3", "Record 3 is missing."), ("3, 4", "Record 3 to 4 is missing.")],
)
def test_a_gap_is_named_whole(journal, out, gap):
    """One record or several that are gone are named by their numbers, with the journal's file."""
    _changed(journal, "events_stay", f"DELETE FROM events WHERE seq IN ({out})")
    found = [f for f in journal.verify() if f.code == "Y031"]
    assert [(f.message, f.line, f.file) for f in found] == [(gap, 3, "journal.sqlite")]
    lost = [f for f in journal.verify() if f.code == "Y032"]
    numbers = [int(n) for n in out.split(",")]
    assert [f.line for f in lost] == numbers
    assert lost[0].message == "Record 3 of the copies is not in the journal."


def test_a_changed_record_is_told_with_both_seals(journal):
    """The finding gives the seal that the record has now, and the one it was written with."""
    _changed(journal, "events_kept", "UPDATE events SET who = 'Ben' WHERE seq = 2")
    (found,) = [f for f in journal.verify() if f.code == "Y030"]
    assert (len(found.read), len(found.expected)) == (12, 12)
    assert journal.events()[1].hash.startswith(found.expected)
    assert not journal.events()[1].hash.startswith(found.read)
    assert "Record 2 (12-P-f2 moulded, Ben, 2031-05-05T09:30:00" in found.message


@pytest.mark.parametrize(("back_s", "told"), [(59, False), (60, False), (61, True)])
def test_a_clock_set_back_by_more_than_a_minute_is_told(journal, back_s, told):
    """Programs that wait their turn may enter a little out of order; a clock set back is told."""
    journal.enter(Entry("12-P-f9", "moulded", "Ann"), NOW - timedelta(seconds=back_s))
    assert any(f.code == "Y033" for f in journal.verify()) is told


def test_why_it_was_undone_is_kept(journal):
    """The reason of a correction stands in its record, under the word that entries use."""
    journal.undo("Ann", NOW, because="wrong mark")
    assert journal.events()[-1].body["because"] == "wrong mark"


@pytest.mark.parametrize(
    ("entry", "frame", "slab"),
    [
        (Entry("12-P-f1", "laid-out", "Ann", {"slab": "A-07"}), 12, "A-07"),
        (Entry("12-P-f2", "roughed", "Ann"), 12, None),
        (Entry("A-07", "measured", "Ann", {"moisture_percent": 20}), None, "A-07"),
    ],
)
def test_frame_and_slab_are_carried_over(tmp_path, entry, frame, slab):
    """A record taken into another journal knows its frame and its slab as it did in its own."""
    with Journal(tmp_path / "one.sqlite") as one, Journal(tmp_path / "two.sqlite") as two:
        one.enter(entry, NOW)
        taken = two.take_in([*one.lines()])
        (event,) = two.events()
    assert (event.frame, event.slab) == (frame, slab)
    assert taken.added == 1


def test_nothing_is_taken_in_from_lines_with_a_fault(journal, tmp_path):
    """A line that is no entry is told, and neither it nor the others are added."""
    lines = [*journal.lines()]
    (tmp_path / "other").mkdir()
    with Journal(tmp_path / "other" / "journal.sqlite") as other:
        taken = other.take_in([lines[0], "no entry", *lines[1:]])
        assert (taken.added, len(other.events())) == (0, 0)
        assert [f.line for f in taken.findings] == [2]


def test_an_id_begins_with_its_moment(journal):
    """The sender's id sorts by time: its first half is the moment in milliseconds."""
    event = journal.events()[0]
    assert int(event.id.split("-")[0], 16) == int(NOW.timestamp() * 1000)
