"""Journals of every earlier version are brought up to this one, on SQLite and on PostgreSQL."""

from __future__ import annotations

import re
import sqlite3
from datetime import UTC, datetime

import pytest

from futtock.errors import Unreadable
from futtock.yard import Entry, Journal
from futtock.yard.migrate import bring_up
from futtock.yard.schema import HEAD, SQLITE, VERSIONS

NOW = datetime(2031, 5, 6, 9, 30, tzinfo=UTC)
OLD = [
    (1, "a", "2031-05-05T09:30:00.000000Z", "Ann", "12-P-f1", "laid-out", '{"slab":"A-07"}'),
    (2, "b", "2031-05-05T09:31:00.000000Z", "Ann", "A-07", "moved", '{"to":"shed"}'),
    (3, "c", "2031-05-05T09:32:00.000000Z", "Änn", "vessel", "note", '{"text":"a, \\"b\\" – c"}'),
    (4, "d", "2031-05-05T09:33:00.000000Z", "Ann", "12", "bedded", "{}"),
]
INSERT = "INSERT INTO events (seq, id, at, who, mark, stage, body) VALUES (?, ?, ?, ?, ?, ?, ?)"


def _schema(path):
    db = sqlite3.connect(path)
    rows = db.execute("SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL").fetchall()
    db.close()
    return {(t, n): re.sub(r"\s+", " ", s.replace('"', "").replace("\t", " ")) for t, n, s in rows}


def test_versions_are_those_of_the_migrations():
    """The versions that the code knows are those of the scripts, and the last is the head."""
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    from futtock.yard import migrate

    config.set_main_option("script_location", str(migrate._SCRIPTS))
    scripts = [s.revision for s in ScriptDirectory.from_config(config).walk_revisions()]
    assert tuple(reversed(scripts)) == VERSIONS
    assert VERSIONS[-1] == HEAD


def test_new_journal_is_what_the_migrations_make(tmp_path):
    """The schema made directly equals, object by object, that which the migrations make."""
    bring_up(tmp_path / "migrated.sqlite")
    with Journal(tmp_path / "journal.sqlite"):
        pass
    direct, migrated = _schema(tmp_path / "journal.sqlite"), _schema(tmp_path / "migrated.sqlite")
    assert direct.keys() == migrated.keys()
    for name, sql in direct.items():
        assert re.sub(r"[\s,()]+", " ", sql) == re.sub(r"[\s,()]+", " ", migrated[name])
    assert len(direct) == len(SQLITE) - 1


@pytest.mark.parametrize("version", VERSIONS[:-1])
def test_older_file_is_brought_up(tmp_path, version):
    """A file of an earlier version opens with its records sealed, and a whole copy beside it."""
    path = tmp_path / "journal.sqlite"
    bring_up(path, version)
    with sqlite3.connect(path) as db:
        db.executemany(INSERT, OLD)
    db.close()
    with Journal(path) as journal:
        assert [e.id for e in journal.events()] == ["a", "b", "c", "d"]
        assert [(e.frame, e.slab) for e in journal.events()] == [
            (12, "A-07"), (None, "A-07"), (None, None), (12, None),
        ]  # fmt: skip
        assert journal.verify() == ()
        assert journal.events()[2].body == {"text": 'a, "b" – c'}
        journal.enter(Entry("13", "note", "Ann", {"text": "x"}), NOW)
        assert journal.verify() == ()
    before = sqlite3.connect(tmp_path / f"journal-before-{HEAD}.sqlite")
    assert before.execute("SELECT count(*) FROM events").fetchone() == (4,)
    before.close()


def test_failed_migration_leaves_the_old_file(tmp_path):
    """Where a record cannot be brought over nothing is changed at all."""
    path = tmp_path / "journal.sqlite"
    bring_up(path, "0001")
    with sqlite3.connect(path) as db:
        db.executemany(INSERT, [*OLD[:2], (3, "c", "x", "Ann", "12", "note", "no json")])
    db.close()
    with pytest.raises(ValueError, match="Expecting value"):
        bring_up(path)
    db = sqlite3.connect(path)
    assert db.execute("SELECT count(*) FROM events").fetchone() == (3,)
    assert db.execute("SELECT version_num FROM alembic_version").fetchone() == ("0001",)
    db.close()


def test_newer_journal_is_told(tmp_path):
    """A journal of a later version is not touched, and said to be later."""
    with Journal(tmp_path / "journal.sqlite") as journal:
        journal.enter(Entry("13", "note", "Ann", {"text": "x"}), NOW)
    with sqlite3.connect(tmp_path / "journal.sqlite") as db:
        db.execute("UPDATE alembic_version SET version_num = '0099'")
    db.close()
    with pytest.raises(Unreadable, match="0099") as caught:
        Journal(tmp_path / "journal.sqlite")
    assert caught.value.findings[0].code == "Y021"
