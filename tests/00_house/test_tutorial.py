"""The tutorial works as it is written: every command in it is run, in order."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "tutorial.md"
FILES = ROOT / "docs" / "tutorial"
RIGHT, WRONG = "3-9-4,3-9-4,3-5-6", "3-9-4,3-14-4,3-5-6"


def _put(what: str, folder: Path, mends: str) -> None:
    """Do what the reader does with an editor at this place of the page."""
    table = (FILES / "offsets.csv").read_text(encoding="utf-8")
    assert table.count(RIGHT) == 1
    if what == "typed-wrong":
        for file in FILES.iterdir():
            shutil.copy(file, folder)
        (folder / "offsets.csv").write_text(table.replace(RIGHT, WRONG), encoding="utf-8")
    elif what == "typed-right":
        (folder / "offsets.csv").write_text(table, encoding="utf-8")
    else:
        assert what == "mended"
        (folder / "mends.csv").write_text(mends, encoding="utf-8")


@pytest.mark.slow
def test_the_tutorial_runs_as_written(tmp_path: Path) -> None:
    """Each command leaves with the exit code told, and says each line that the page shows."""
    text = PAGE.read_text(encoding="utf-8")
    mends = re.search(r"```text\n(line,station,value,why\n.*?)```", text, re.DOTALL)
    assert mends is not None
    steps = re.findall(r"<!-- put: ([\w-]+) -->|```console\n(.*?)```", text, re.DOTALL)
    ran = 0
    for put, block in steps:
        if put:
            _put(put, tmp_path / "teal", mends[1])
            continue
        command, *shown = block.strip().splitlines()
        told = re.fullmatch(r"\(exit (\d)\)", shown[-1])
        words = command.removeprefix("$ futtock ").split()
        done = subprocess.run(
            [sys.executable, "-m", "futtock", *words],
            cwd=tmp_path,
            capture_output=True,
            text=True,
            timeout=300,
        )
        said = done.stdout + done.stderr
        assert "Traceback" not in said, said
        assert done.returncode in ({int(told[1])} if told else {0, 3}), f"{command}\n{said}"
        for line in shown[:-1] if told else shown:
            assert line in said, f"{command}\nsays no more: {line}\nbut:\n{said}"
        ran += 1
    assert ran >= 9
    assert len(list((tmp_path / "moulds").glob("*.pdf"))) >= 64
    assert any((tmp_path / "sheets").iterdir())
