"""Slips that a newcomer makes, and what each is told: the right thing, once, and what to do."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from futtock.cli.app import app


def _run(*args: str) -> tuple[int, str]:
    result = CliRunner().invoke(app, list(args))
    return result.exit_code, result.stdout + result.stderr


@pytest.fixture
def mary(tmp_path: Path) -> Path:
    """A folder as ``futtock new`` makes it."""
    code, said = _run("new", str(tmp_path / "mary"))
    assert code == 0, said
    return tmp_path / "mary"


def test_no_such_folder_is_told_once(tmp_path):
    """A misspelt folder is one fault that says how to make one, and no rack is looked for."""
    code, said = _run("check", str(tmp_path / "marry"))
    assert code == 1
    assert said.count("fault") == 1
    assert "futtock new" in said
    assert "rack" not in said


def test_the_next_command_can_be_typed_as_it_stands(tmp_path):
    """A folder with a blank in its name is quoted in what comes next."""
    code, said = _run("new", str(tmp_path / "my teal"))
    assert code == 0
    assert f"futtock check '{tmp_path}/my teal'" in said


def test_a_statement_saved_under_another_name_is_found(mary):
    """vessel.toml that an editor saved as vessel.toml.txt is named, not asked to be made anew."""
    (mary / "vessel.toml").rename(mary / "vessel.toml.txt")
    code, said = _run("check", str(mary))
    assert code == 1
    assert "perhaps 'vessel.toml.txt' is meant" in said
    assert "Give that file the name vessel.toml." in said


def test_one_thing_does_not_fit(mary):
    """The account of one misfit is in the singular, and a default that contradicts what is
    stated is said to be one."""
    text = (mary / "vessel.toml").read_text("utf-8")
    text = text.replace('longest = "6-0-0"', 'longest = "1-3-0"')
    (mary / "vessel.toml").write_text(text.replace('butt_shift = "1-2-0"', 'butt_shift = "4 in"'))
    (mary / "offsets.csv").write_text(
        "line,at,0,1,2,3\nstation,,0-0-0,4-0-0,8-0-0,12-0-0\n"
        "height,sheer,4-2-4,3-6-1,3-1-0,2-10-6\nheight,rabbet,0-4-2,0-4-2,0-3-0,0-4-3\n"
        + "".join(
            f"halfbreadth,{at},0-2-4,1-2-0,2-0-0,2-2-0\n"
            for at in ("sheer", *(f"waterline {n} in" for n in (27, 23, 19, 15, 11)))
        )
    )
    code, said = _run("check", str(mary))
    assert code == 3, said
    assert "but 1 thing does not fit." in said
    assert "18 in (taken, for none is stated), is longer than the longest, 15 in" in said
    assert "State the shortest under [futtocks]" in said


def test_a_line_of_another_name_is_told_what_to_write(mary):
    """A row that calls the sheer the deck is told what names there are."""
    (mary / "offsets.csv").write_text(
        "line,at,0,1\nstation,,0-0-0,4-0-0\nheight,deck,1-0-0,1-0-0\n"
    )
    code, said = _run("check", str(mary))
    assert code == 1
    assert "'height deck' is no line that is known" in said
    assert "as sheer or waterline 2-3-0" in said


def test_a_tape_record_that_is_not_there_is_told_once(mary):
    """One fault, and none that sends a person to vessel.toml for a file named on the line."""
    code, said = _run("rack", "add", str(mary), "--tape", str(mary.parent / "slab.csv"))
    assert code == 1
    assert said.count("V002 fault: slab.csv: There is no such file.") == 1
    assert "vessel.toml" not in said


def test_forms_written_where_one_stands_are_here(mary, monkeypatch):
    """Without --out files are written here, and it says so in a word."""
    monkeypatch.chdir(mary)
    code, said = _run("rack", "form", "--name", "A-07")
    assert code == 0
    assert "Wrote 2 files here." in said


def test_a_slab_that_is_not_on_the_rack_is_told(mary):
    """An entry for a slab that the rack has not is kept, and a doubt says so."""
    square = [[0, 0], [2000, 0], [2000, 300], [0, 300]]
    slab = {"name": "A-07", "species": "white oak", "thickness_mm": 60, "top": square}
    (mary / "slabs.json").write_text(json.dumps([slab]))
    code, said = _run("did", str(mary), "A-70", "consumed", "--who", "Ann")
    assert code == 0
    assert "Y006 doubt" in said
    assert "No slab of the rack is called A-70." in said
    code, said = _run("did", str(mary), "A-07", "consumed", "--who", "Ann")
    assert code == 0
    assert "doubt" not in said


def test_a_rack_that_does_not_fit_is_in_the_account(tmp_path):
    """Where the rack has a misfit, the account above it says that something does not fit."""
    folder = tmp_path / "demo"
    _run("new", str(folder), "--demo")
    code, said = _run("check", str(folder))
    assert (code, said.split("\n")[0]) == (0, "Everything stated can be read.")
    rack = json.loads((folder / "slabs.json").read_text("utf-8"))
    rack[1]["name"] = rack[0]["name"]
    (folder / "slabs.json").write_text(json.dumps(rack))
    code, said = _run("check", str(folder))
    assert code == 3
    assert said.startswith("Everything stated is read, but 1 thing does not fit.\n")
    (folder / "offsets.csv").write_text("line,at,0\nstation,,0-0-0\nheight,deck,1-0-0\n")
    code, said = _run("check", str(folder))
    assert code == 1
    assert "cannot be read, and 1 thing does not fit.\n" in said
