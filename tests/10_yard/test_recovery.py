"""A damaged journal is said to be damaged and made good from itself and its dated copies."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from futtock.errors import Unreadable, Unwritable
from futtock.yard import Entry, Journal
from futtock.yard.journal import COPIES

NOW = datetime(2031, 5, 5, 9, 30, tzinfo=UTC)


def _fill(folder: Path, count: int = 60, days: int = 1) -> list[str]:
    """A journal of so many entries; their ids."""
    with Journal(folder / "journal.sqlite") as journal:
        ids = []
        for day in range(days):
            many = range(day * count // days, (day + 1) * count // days)
            text = "x" * 300
            entries = [Entry(f"{i % 27 + 1}-P-f1", "note", "Ann", {"text": text}) for i in many]
            ids += [e.event.id for e in journal.enter_all(entries, NOW + timedelta(days=day))]
    return ids


def _ids(folder: Path) -> list[str]:
    with Journal(folder / "journal.sqlite") as journal:
        return [e.id for e in journal.events()]


def _cut(path: Path, share: float) -> None:
    with path.open("r+b") as file:
        file.truncate(int(path.stat().st_size * share))


@pytest.mark.parametrize("share", [0.0, 0.02, 0.5, 0.97])
def test_cut_short(tmp_path, share):
    """A file cut short anywhere is told of, and every record comes back from the copies."""
    ids = _fill(tmp_path)
    _cut(tmp_path / "journal.sqlite", share)
    with Journal(tmp_path / "journal.sqlite") as journal:
        (finding,) = journal.findings
        assert finding.code == "Y024"
        assert "60 records were got back" in finding.message
        assert "none before the last of them is lost" in finding.message
        assert [e.id for e in journal.events()] == ids
        assert journal.verify() == (finding,)
    with Journal(tmp_path / "journal.sqlite") as journal:
        assert journal.findings == journal.verify() == ()
    assert (tmp_path / "journal-damaged-1.sqlite").exists() == (share > 0)


def test_cut_short_without_copies(tmp_path):
    """Without copies what can still be read of the file is kept, and what is lost is named."""
    ids = _fill(tmp_path, 400)
    shutil.rmtree(tmp_path / COPIES)
    _cut(tmp_path / "journal.sqlite", 0.6)
    with Journal(tmp_path / "journal.sqlite") as journal:
        kept = [e.id for e in journal.events()]
        message = journal.findings[0].message
    assert 50 < len(kept) < 400
    assert set(kept) <= set(ids)
    assert f"{len(kept)} records were got back, {len(kept)} from it" in message
    assert (tmp_path / "journal-damaged-1.sqlite").exists()


@pytest.mark.parametrize("where", [0.0, 0.3, 0.7])
def test_overwritten(tmp_path, where):
    """A file overwritten in part is made good, at the latest when it is verified or asked."""
    ids = _fill(tmp_path)
    path = tmp_path / "journal.sqlite"
    with path.open("r+b") as file:
        file.seek(int(path.stat().st_size * where) // 4096 * 4096)
        file.write(os.urandom(8192))
    assert _ids(tmp_path) == ids


def test_not_a_database(tmp_path):
    """A file that is no database, without copies, is told to be none and left as it is."""
    (tmp_path / "journal.sqlite").write_bytes(b"this is my shopping list\n" * 40)
    with pytest.raises(Unreadable, match="nothing can be read of it") as caught:
        Journal(tmp_path / "journal.sqlite")
    assert caught.value.findings[0].code == "Y020"
    assert (tmp_path / "journal.sqlite").read_bytes().startswith(b"this is my shopping list")


def test_file_gone(tmp_path):
    """A journal whose file is gone comes back whole from its copies, and says so."""
    ids = _fill(tmp_path)
    (tmp_path / "journal.sqlite").unlink()
    with Journal(tmp_path / "journal.sqlite") as journal:
        assert "the file is gone" in journal.findings[0].message
        assert [e.id for e in journal.events()] == ids


def test_older_file_put_back(tmp_path):
    """Where an older file was put in its place, the records since then come from the copies."""
    early = _fill(tmp_path, 20)
    shutil.copy(tmp_path / "journal.sqlite", tmp_path / "backup.sqlite")
    late = _fill(tmp_path, 20)
    shutil.copy(tmp_path / "backup.sqlite", tmp_path / "journal.sqlite")
    assert _ids(tmp_path) == early + late
    with Journal(tmp_path / "journal.sqlite") as journal:
        assert journal.verify() == ()


def test_log_lost(tmp_path):
    """Entries that were only in the write-ahead log come back when the log is lost with a crash."""
    code = f"""
import os, sys
sys.path[:0] = {sys.path!r}
from datetime import UTC, datetime
from pathlib import Path
from futtock.yard import Entry, Journal
journal = Journal(Path({str(tmp_path)!r}) / "journal.sqlite")
for i in range(30):
    journal.enter(Entry(f"{{i + 1}}-P-f1", "moulded", "Ann", id=f"k{{i}}"), datetime.now(UTC))
os._exit(9)
"""
    subprocess.run([sys.executable, "-c", code], check=False)
    log = tmp_path / "journal.sqlite-wal"
    assert log.stat().st_size > 0
    log.unlink()
    assert _ids(tmp_path) == [f"k{i}" for i in range(30)]


def test_damaged_while_open(tmp_path):
    """A journal damaged while it is open makes itself good at the next entry; none is lost."""
    ids = _fill(tmp_path, 30)
    path = tmp_path / "journal.sqlite"
    with Journal(path) as journal:
        _cut(path, 0.4)
        with Journal(path) as other:
            other_id = other.enter(Entry("1", "note", "Ben", {"text": "x"}), NOW).event.id
        mine = journal.enter(Entry("2", "note", "Ann", {"text": "y"}), NOW).event
        assert [e.id for e in journal.events()] == [*ids, other_id, mine.id]
    assert _ids(tmp_path) == [*ids, other_id, mine.id]


def test_copies_are_dated(tmp_path):
    """Each day has its copy, named by its first record; together they hold every record once."""
    _fill(tmp_path, 40, days=4)
    files = sorted((tmp_path / COPIES).iterdir())
    assert [f.name for f in files] == [
        f"{first:07d}-2031-05-{day:02d}.jsonl" for first, day in ((1, 5), (11, 6), (21, 7), (31, 8))
    ]
    records = [json.loads(t) for f in files for t in f.read_text("utf-8").splitlines()]
    assert [r["seq"] for r in records] == list(range(1, 41))


def test_restore_from_copies_alone(tmp_path):
    """The copies, carried to another place, are a journal again by importing them."""
    ids = _fill(tmp_path, 40, days=4)
    text = "".join(f.read_text("utf-8") for f in sorted((tmp_path / COPIES).iterdir()))
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    with Journal(elsewhere / "journal.sqlite") as journal:
        assert journal.take_in(text.splitlines()).added == 40
        assert [e.id for e in journal.events()] == ids
        assert journal.verify() == ()


def test_copy_cut_off_by_a_crash(tmp_path):
    """A line cut off in the copies costs nothing: it is written again, and the next is whole."""
    ids = _fill(tmp_path, 5)
    (copy,) = (tmp_path / COPIES).iterdir()
    copy.write_bytes(copy.read_bytes()[:-40])
    ids += _fill(tmp_path, 2)
    (tmp_path / "journal.sqlite").unlink()
    assert _ids(tmp_path) == ids


def test_copies_that_cannot_be_written(tmp_path):
    """Where the copies cannot be written the entry is kept all the same, and that is said."""
    (tmp_path / COPIES).write_text("a file stands where the folder should be")
    with Journal(tmp_path / "journal.sqlite") as journal:
        entered = journal.enter(Entry("1", "note", "Ann", {"text": "x"}), NOW)
        assert [f.code for f in entered.findings] == ["Y025"]
        assert journal.last() == 1


def test_folder_that_is_not_there(tmp_path):
    """A journal in a folder that is not there cannot be made, and says why."""
    with pytest.raises(Unwritable, match="could not be written"):
        Journal(tmp_path / "none" / "journal.sqlite")


def test_held_by_another(tmp_path, monkeypatch):
    """A journal held by another program is said to be held, and nothing is changed."""
    monkeypatch.setattr("futtock.yard.doors._WAIT_SECONDS", 0.2)
    path = tmp_path / "journal.sqlite"
    with Journal(path) as journal:
        journal.enter(Entry("1", "note", "Ann", {"text": "x"}), NOW)
        holder = sqlite3.connect(path, isolation_level=None)
        holder.execute("BEGIN IMMEDIATE")
        with pytest.raises(Unwritable, match="held by another program") as caught:
            journal.enter(Entry("2", "note", "Ann", {"text": "y"}), NOW)
        assert caught.value.findings[0].code == "Y023"
        holder.close()
        journal.enter(Entry("2", "note", "Ann", {"text": "y"}), NOW)
        assert journal.last() == 2


def test_disk_full(tmp_path):
    """On a full disk the entry is refused in words and nothing is lost; with room it goes on."""
    small = tmp_path / "small"
    small.mkdir()
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=400k", "tmpfs", small],
        capture_output=True,
        check=False,
    )
    if done.returncode:
        pytest.skip("no small disk can be mounted here")
    try:
        kept = []
        with Journal(small / "journal.sqlite", tmp_path / "copies") as journal:

            def fill() -> None:
                for i in range(2000):
                    entry = Entry(f"{i + 1}", "note", "Ann", {"text": "x" * 500})
                    kept.append(journal.enter(entry, NOW).event.id)

            with pytest.raises(Unwritable, match="disk is full") as caught:
                fill()
            assert caught.value.findings[0].code == "Y022"
            assert [e.id for e in journal.events()] == kept
        subprocess.run(["mount", "-o", "remount,size=4m", small], check=True)
        with Journal(small / "journal.sqlite", tmp_path / "copies") as journal:
            kept.append(journal.enter(Entry("1", "note", "Ann", {"text": "y"}), NOW).event.id)
            assert [e.id for e in journal.events()] == kept
            assert journal.verify() == ()
    finally:
        subprocess.run(["umount", small], check=False)


KILLED = """
import sys
sys.path[:0] = {path!r}
from datetime import UTC, datetime
from pathlib import Path
from futtock.yard import Entry, Journal
journal = Journal(Path({folder!r}) / "journal.sqlite")
i = 0
while True:
    i += 1
    name = f"{{{who!r}}}-{{i}}"
    entry = Entry(f"{{i % 40 + 1}}-P-f1", "note", {who!r}, {{"text": str(i)}}, id=name)
    event = journal.enter(entry, datetime.now(UTC)).event
    sys.stdout.write(event.id + "\\n")
    sys.stdout.flush()
"""


def kill_at_random(folder: Path, who: str, seconds: float) -> list[str]:
    """Start a writer, kill it so long after its first entry; the ids that it had acknowledged."""
    code = KILLED.format(path=sys.path, folder=str(folder), who=who)
    writer = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)
    assert writer.stdout is not None
    first = writer.stdout.readline()
    time.sleep(seconds)
    writer.kill()
    told = (first + writer.communicate()[0]).split("\n")
    return [t for t in told[:-1] if t]


def check_after_kills(folder: Path, told: list[str]) -> None:
    """Every acknowledged entry is there, whole, sealed, and each writer's in its order."""
    with Journal(folder / "journal.sqlite") as journal:
        assert journal.verify() == ()
        events = journal.events()
    there = [e.id for e in events]
    assert set(told) <= set(there)
    assert len(set(there)) == len(there)
    for who in {t.split("-")[0] for t in told}:
        mine = [int(i.split("-")[1]) for i in there if i.split("-")[0] == who]
        assert mine == list(range(1, len(mine) + 1))


def test_killed(tmp_path):
    """Killed a dozen times while writing, the journal has all it acknowledged, and none in half."""
    told: list[str] = []
    for n in range(12):
        told += kill_at_random(tmp_path, f"w{n}", 0.013 * n)
    assert told
    check_after_kills(tmp_path, told)


def test_several_writers(tmp_path):
    """Several programs writing at once lose nothing, and each one's order is kept."""
    writers = 5
    code = (
        KILLED.replace("{who!r}", "WHO")
        .replace("while True:", "while i < 30:")
        .replace("WHO", "{who!r}")
    )
    running = [
        subprocess.Popen(
            [sys.executable, "-c", code.format(path=sys.path, folder=str(tmp_path), who=f"w{n}")],
            stdout=subprocess.PIPE,
            text=True,
        )
        for n in range(writers)
    ]
    told = [t for r in running for t in r.communicate()[0].split()]
    assert len(told) == writers * 30
    check_after_kills(tmp_path, told)
    with Journal(tmp_path / "journal.sqlite") as journal:
        assert journal.last() == writers * 30


@pytest.mark.campaign
def test_killed_a_thousand_times(tmp_path):
    """Killed at random a thousand times while writing, no acknowledged entry is lost."""
    import random

    rng = random.Random(1)
    told: list[str] = []
    for n in range(1000):
        told += kill_at_random(tmp_path, f"w{n}", rng.uniform(0.0, 0.25))
    print(f"{len(told)} entries acknowledged over 1000 kills")
    check_after_kills(tmp_path, told)
