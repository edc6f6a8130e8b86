"""A vessel folder and journal written by an earlier state of the house are opened whole.

``tests/data/older/0.1``: a small folder, its journal at each earlier version of the schema, its
prints, and beside them what they meant when they were written (``meant.json``, ``said.jsonl``).
"""

from __future__ import annotations

import json
import shutil
import sqlite3
import tarfile
from datetime import UTC, datetime

import pytest
from conftest import DATA

from futtock.job.accepted import read_accepted
from futtock.job.prints import printed
from futtock.job.whole import Job
from futtock.progress import quiet
from futtock.stock.rack import read_rack
from futtock.yard import Entry, Journal

OLDER = DATA / "older" / "0.1"
SAID = [json.loads(line) for line in (OLDER / "said.jsonl").read_text("utf-8").splitlines()]


@pytest.fixture
def folder(tmp_path):
    """The folder as it was left, prints unpacked, without its journal."""
    at = tmp_path / "teal"
    at.mkdir()
    for name in ("vessel.toml", "offsets.csv", "ends.csv", "mends.csv", "slabs.json"):
        shutil.copy(OLDER / name, at)
    shutil.copy(OLDER / "layout.json", at)
    with tarfile.open(OLDER / "prints.tar.xz") as prints:
        prints.extractall(at, filter="data")
    return at


def test_what_was_stated_is_read_as_it_was_meant(folder):
    """Every key of the older vessel.toml is known, and says in mm and degrees what it said."""
    stated = Job(folder).sound
    assert stated.findings == ()
    meant = json.loads((OLDER / "meant.json").read_text("utf-8"))
    assert stated.vessel.model_dump(mode="json", by_alias=True, exclude_unset=True) == meant


def test_slabs_layout_and_prints_are_all_there(folder):
    """No slab, placement or print of the older folder is lost, and the layout lies on its slabs."""
    rack = read_rack(folder)
    assert not rack.faults
    names = {s["name"] for s in json.loads((folder / "slabs.json").read_text())}
    assert {s.name for s in rack.slabs} == names
    written = json.loads((folder / "layout.json").read_text())["placements"]
    accepted = read_accepted(folder).placements
    assert [(p.mark, p.slab, p.mirrored) for p in accepted] == [
        (w["mark"], w["slab"], w["mirrored"]) for w in written
    ]
    job = Job(folder, quiet)
    marks = {m.mark for m in job.moulds}
    assert {p.mark for p in accepted} <= marks
    (moulds,) = printed(job).values()
    assert {m.mark for m in moulds} == marks


@pytest.mark.parametrize("version", ["0001", "0002"])
def test_every_entry_of_an_older_journal_is_still_said(folder, version):
    """Each record keeps its order, id, hour, hand, mark, stage and words; it can be added to."""
    db = sqlite3.connect(folder / "journal.sqlite")
    db.executescript((OLDER / f"journal-{version}.sql").read_text("utf-8"))
    db.close()
    with Journal(folder / "journal.sqlite") as journal:
        events = journal.events()
        assert [(e.seq, e.id, e.who, e.mark, e.stage, dict(e.body)) for e in events] == [
            (s["seq"], s["id"], s["who"], s["mark"], s["stage"], s["body"]) for s in SAID
        ]
        assert [e.when.isoformat()[:26] for e in events] == [s["when"][:26] for s in SAID]
        assert not journal.verify()
        state = journal.state()
        assert state.has("1-S-a1", "roughed")
        assert not state.has("1-S-a1", "rested")
        journal.enter(Entry("1-S-a1", "rested", "AB"), datetime(2031, 5, 6, 9, tzinfo=UTC))
        assert journal.state().has("1-S-a1", "rested")
