"""No reader answers with a traceback, whatever its file holds."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from fuzz_readers import CORPUS, READERS, meet
from hypothesis import given, settings
from hypothesis import strategies as st

KEPT = sorted(p for r in READERS for p in (CORPUS / r).iterdir())
SCRIPT = Path(__file__).parents[1] / "fuzz_readers.py"


@pytest.mark.parametrize("path", KEPT, ids=lambda p: f"{p.parent.name}/{p.name}")
def test_what_was_found_before(path: Path) -> None:
    """Files that are sound, and those that once broke a reader, are all borne."""
    meet(path.parent.name, path.read_bytes())


def test_a_reader_that_breaks_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    """The check above sees an error that is not our own."""
    monkeypatch.setitem(READERS, "offsets", lambda content: content[99])
    with pytest.raises(IndexError):
        meet("offsets", b"")


@pytest.mark.parametrize("reader", sorted(READERS))
@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_a_file_cut_and_spoiled(reader: str, data: st.DataObject) -> None:
    """A sound file, cut short, with bytes put in, taken out and changed, is borne."""
    seed = data.draw(st.sampled_from(sorted((CORPUS / reader).iterdir())))
    content = bytearray(seed.read_bytes())
    for _ in range(data.draw(st.integers(0, 4))):
        at = data.draw(st.integers(0, len(content)))
        content[at : at + data.draw(st.integers(0, 9))] = data.draw(st.binary(max_size=9))
    meet(reader, bytes(content[: data.draw(st.integers(0, len(content)))]))


@pytest.mark.campaign
@pytest.mark.parametrize("reader", sorted(READERS))
def test_a_million_files(reader: str, tmp_path: Path) -> None:
    """A million files made from the kept ones, guided by what they reach, are borne.

    FUZZ_RUNS gives another number.
    """
    runs = os.environ.get("FUZZ_RUNS", "1000000")
    words = [sys.executable, str(SCRIPT), reader, str(tmp_path / "corpus"), f"-runs={runs}"]
    done = subprocess.run(words, capture_output=True, text=True, cwd=tmp_path, check=False)
    assert done.returncode == 0, done.stderr[-4000:]
    assert f"Done {runs} runs" in done.stderr
