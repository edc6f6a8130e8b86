"""The state of the yard as the pages read it: anew where something was written, and only there."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from pathlib import Path

import pytest

from futtock import yard
from futtock.job.office.works import yard_state
from futtock.yard import Entry, Journal, place_of


def _enter(folder: Path, mark: str) -> None:
    with Journal(place_of(folder)) as journal:
        journal.enter(Entry(mark, "moulded", "Ines"), datetime.now(UTC))


def test_the_journal_is_read_again_only_where_it_was_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each entry of another process is seen by the next read, at once and after a while; between
    entries the journal is not opened at all.
    """
    (tmp_path / "vessel.toml").write_text('[vessel]\nname = "Marram"\n', encoding="utf-8")
    assert yard_state(tmp_path).last == 0
    for n, wait in enumerate((0.0, 0.0, 0.25, 0.0, 0.25), 1):
        _enter(tmp_path, f"{n}-P-f1")
        assert yard_state(tmp_path).last == n
        time.sleep(wait)
        state = yard_state(tmp_path)
        assert state.last == n
        assert state.has(f"{n}-P-f1", "moulded")

    class Opened(Exception):
        pass

    def opened(*_: object, **__: object) -> Journal:
        raise Opened

    with monkeypatch.context() as closed:
        closed.setattr(yard, "Journal", opened)
        assert yard_state(tmp_path).last == 5
    _enter(tmp_path, "6-P-f1")
    with monkeypatch.context() as closed:
        closed.setattr(yard, "Journal", opened)
        with pytest.raises(Opened):
            yard_state(tmp_path)
    assert yard_state(tmp_path).last == 6
