"""vessel.toml: every key is read, and every fault of the file is told at once, with its line."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import futtock.vessel
from futtock.findings import Severity
from futtock.vessel import Vessel, known_keys, read_vessel
from futtock.vessel.keylines import KeyLines

BLANK = (Path(futtock.vessel.__file__).parent / "blank" / "vessel.toml").read_text("utf-8")
MARRAM = (Path(futtock.vessel.__file__).parents[1] / "demo" / "vessel.toml").read_text("utf-8")


def _uncommented() -> str:
    return re.sub(r"(?m)^# (?=([a-zA-Z_0-9]+ *=|\[[a-z]+\]))", "", BLANK)


def _all_keys(path: tuple[str, ...] = ()) -> set[tuple[str, ...]]:
    found = set()
    for key in known_keys(path):
        deeper = (*path, key)
        found.add(deeper)
        if known_keys(deeper) and known_keys(deeper) != known_keys(path):
            found |= _all_keys(deeper)
    return found


def _stated_keys(table: object, path: tuple[str, ...] = ()) -> set[tuple[str, ...]]:
    found = set()
    if isinstance(table, dict):
        for key, value in table.items():
            found |= {(*path, key)} | _stated_keys(value, (*path, key))
    elif isinstance(table, list):
        for item in table:
            found |= _stated_keys(item, path)
    return found


def test_marram():
    """The demo's statement is read without a finding, to the lengths it states."""
    vessel, findings = read_vessel(MARRAM)
    assert findings == ()
    assert vessel.name == "Marram"
    assert vessel.show == "imperial"
    assert vessel.lines.tolerance_mm == 25.4 / 16
    assert vessel.lines.waterline_mm == 1524.0
    assert vessel.planking.thickness_mm == 31.75
    assert vessel.framing.first_mm == 838.2
    assert vessel.framing.spacing_mm == 381.0
    assert vessel.framing.sided_of_mm(9) == 47.625
    assert vessel.framing.count == 27
    assert vessel.framing.moulded.table() == ((0.0, 127.0), (1.0, 82.55))
    assert vessel.framing.cants == "propose"
    assert vessel.diagonals["B"].slope_deg == -35
    assert vessel.futtocks.longest_mm == 1371.6
    assert vessel.timber.grain_slope == 10
    assert vessel.treenails.diameter_mm == 19.05
    assert vessel.treenails.edge_mm is None


def test_blank_and_uncommented_are_read():
    """The folder's guide is valid as it stands and with every example in it switched on."""
    assert read_vessel(BLANK)[1] == ()
    vessel, findings = read_vessel(_uncommented())
    assert findings == ()
    assert vessel.restore is not None
    assert len(vessel.planking.strakes) == 1
    assert vessel.treenails.edge_mm == pytest.approx(2.5 * 19.05)


def test_every_key_is_explained():
    """Each key that is known stands in the guide, and the guide names no other."""
    guide = _stated_keys(tomllib.loads(_uncommented()))
    # Tables of a user's own names, and tables whose examples stand in another form in a comment.
    own = {"diagonals", "machines", "hours"}
    named = {p for p in guide if p[0] not in own and not (len(p) == 3 and p[1] in own)}
    keys = _all_keys()
    top = {p for p in keys if len(p) <= 2 and p[0] not in own}
    assert {p for p in named if len(p) <= 2} == top
    for path in keys - top:
        assert re.search(rf"\b{path[-1]}\s*=|\[{path[-1]}\]", BLANK), path


def test_defaults_shown_in_the_guide_are_the_defaults():
    """Where the guide shows a value behind a # that is taken without it, it is the model's own."""
    stated, plain = read_vessel(_uncommented())[0], Vessel()
    for section, keys in {
        "futtocks": ["longest_mm", "shortest_mm", "butt_shift_mm", "butt_aim", "grain"],
        "timber": ["grain_slope", "kerf_mm", "rough_allowance_mm", "moisture_percent", "sapwood"],
        "treenails": ["species", "diameter_mm", "rows", "proud_mm", "drift_mm", "spoil_percent"],
        "saw": ["blade_width_mm", "blade_set_mm", "head_left_deg", "mark_spacing_mm", "step"],
        "heels": [
            "depth_mm",
            "clearance_mm",
            "sawn",
            "limber_wide_mm",
            "limber_high_mm",
            "bolt_mm",
        ],
        "moulds": ["up", "paper", "roll_mm", "stretch"],
        "layout": ["seconds", "seed", "guard_mm", "wane_mm", "plane_off_mm"],
        "enough": ["spoilage_percent", "drying_percent", "replicates", "chance_percent"],
        "yard": ["people", "machines", "days", "hours_a_day", "rest_days", "learning_frames"],
    }.items():
        for key in keys:
            a, b = getattr(getattr(stated, section), key), getattr(getattr(plain, section), key)
            assert a == pytest.approx(b) if isinstance(a, float) else a == b, (section, key)


FAULTS = [
    ('count = 27', 'count = "many"', "V013", "framing.count", "a whole number"),
    ('count = 27', "count = 0", "V013", "framing.count", "at least 1"),
    ('sided = "1-7/8 in"', 'sided = "1-7/8 inn"', "V013", "framing.sided", "'inn' is not a unit"),
    ('sided = "1-7/8 in"', 'sided = "-2 in"', "V013", "framing.sided", "more than 0"),
    ('heel = "5 in"', 'heel = "0-14-0"', "V013", "framing.moulded.heel", "inches run from 0 to 11"),
    ('tolerance = "1/16 in"', "tolerance = 2005-04-03", "V013", "lines.tolerance", "is a date"),
    ('unit = "mm"', 'unit = "fathom"', "V013", "lines.unit", "'ft'"),
    ("grain_slope = 10", 'grain_slope = "steep"', "V013", "timber.grain_slope", "a number"),
    ("slope_deg = -35 }\nB", "slope_deg = -350 }\nB", "V013", "diagonals.A.slope_deg", "least -90"),
    ("butt_shift =", "but_shift =", "V011", "futtocks.but_shift", "perhaps 'butt_shift' is meant"),
    ("[framing]\n", '[framing]\nkerf = "1/4 in"\n', "V011", "framing.kerf", "under [timber]"),
    ("[planking]", "[plankin]", "V011", "plankin", "perhaps 'planking' is meant"),
    ('first = "2-9-0"', "", "V012", "framing.first", "lacks 'first'"),
    ('show = "imperial"', 'show = "Imperial"', "V013", "vessel.show", "'imperial' or 'metric'"),
    ('cants = "propose"', "cants = [{ frame = 1 }]", "V012", "framing.cants[1].angle_deg", "lacks"),
    ('cants = "propose"', "cants = [1]", "V013", "framing.cants[1]", "{ frame = …, angle_"),
    ('cants = "propose"', 'cants = "some"', "V013", "framing.cants", "'none' or 'propose'"),
    ('floors = "separate"', "omit = [3, -1]", "V013", "framing.omit[2]", "at least 1"),
    ('tolerance = "1/16 in"', "tolerance = 1/16 in", "V010", None, "cannot be read as TOML"),
    ('species = "white oak"', 'species = "white oak', "V010", None, "cannot be read as TOML"),
    ("count = 27", "count = 27\ncount = 28", "V010", None, "cannot be read as TOML"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "code", "key", "words"), FAULTS, ids=[f[1] for f in FAULTS])
def test_each_fault_is_told_with_its_line(old, new, code, key, words):
    """One fault gives one finding: its code, key and line, and what was expected."""
    assert old in MARRAM
    text = MARRAM.replace(old, new, 1)
    _, (finding, *more) = read_vessel(text)
    assert more == []
    assert finding.code == code
    assert words in finding.message + str(finding.expected)
    if key:
        assert finding.column == key
    changed = [
        i for i, (a, b) in enumerate(zip(text.splitlines(), MARRAM.splitlines(), strict=False), 1)
        if a != b
    ]  # fmt: skip
    expected = {changed[0], changed[0] + 1} if code == "V010" else {changed[0]}
    if code == "V012":  # a missing key is told at its table
        expected = {text.splitlines().index("[framing]") + 1, changed[0]}
    assert finding.line in expected


def test_several_faults_of_one_item_leave_its_neighbours_alone():
    """A cant with a misspelt key lacks one and has one too many; the one after it is kept."""
    stated = "cants = [{ frame = 1, angle = 60 }, { frame = 2, angle_deg = 12 }]"
    vessel, found = read_vessel(MARRAM.replace('cants = "propose"', stated, 1))
    assert [f.code for f in found] == ["V012", "V011"]
    assert vessel.framing is not None
    assert [(c.frame, float(c.angle_deg)) for c in vessel.framing.cants] == [(2, 12.0)]


def test_all_faults_in_one_pass():
    """Faults of every kind in one file are all told at once, in the order of its lines."""
    text = MARRAM
    taken = [FAULTS[i] for i in (0, 2, 4, 5, 7, 8, 9, 13, 17)]
    taken = [f for f in taken if f[2] != "V010"]
    for old, new, *_ in taken:
        text = text.replace(old, new, 1)
    text = text.replace('waterline = "5-0-0"', "waterline = 5-0-0")
    _, findings = read_vessel(text)
    assert {f.column for f in findings if f.code != "V010"} == {f[3] for f in taken}
    assert sum(f.code == "V010" for f in findings) == 1
    assert [f.line for f in findings] == sorted(f.line for f in findings)


def test_what_is_wrong_is_left_out_and_the_rest_is_read():
    """A wrong key loses its own value only; a section without what it needs is None."""
    text = MARRAM.replace('kerf = "1/4 in"', 'kerf = "thin"').replace('sided = "1-7/8 in"', "")
    vessel, findings = read_vessel(text)
    assert vessel.framing is None
    assert vessel.timber.kerf_mm == 6.35
    assert vessel.timber.rough_mm == 63.5
    assert vessel.planking.thickness_mm == 31.75
    assert {f.code for f in findings} == {"V012", "V013"}


def test_broken_line_costs_only_itself():
    """After a line that is no TOML the rest of the file is still read."""
    vessel, findings = read_vessel(MARRAM.replace('thickness = "1-1/4 in"', "thickness 1-1/4"))
    assert [f.code for f in findings if f.code == "V010"] == ["V010"]
    assert vessel.framing is not None
    assert vessel.treenails.species == "osage orange"


def test_unclosed_list_costs_only_itself():
    """A list whose bracket is never closed does not take the rest of the file with it."""
    vessel, findings = read_vessel(MARRAM.replace('heads = "sheer"', "omit = [3, 4"))
    assert [f.code for f in findings] == ["V010"]
    assert vessel.framing.floors == "separate"
    assert vessel.futtocks.longest_mm == 1371.6


def test_bare_numbers_take_the_stated_unit():
    """A bare number is in the unit of [lines]."""
    text = '[lines]\nunit = "in"\n[planking]\nthickness = 1.25\n'
    assert read_vessel(text)[0].planking.thickness_mm == 31.75


def test_lists_along_the_vessel():
    """Spacing, siding and moulding may change along the vessel; a plain value is a list of one."""
    text = """
[framing]
first = 0
room_and_space = [{ spacing = 400 }, { from = "20-0-0", spacing = 450 }]
sided = [{ sided = 50 }, { from = 5, sided = 47 }]
moulded = { heel = 120, head = 80, points = [{ at = 0.5, moulded = 110 }] }
cants = [{ frame = 1, angle_deg = "12 1/4" }]
add = [{ x = 5000 }]
heads = "6-0-0"
half = [1, 2]
"""
    framing = read_vessel(text)[0].framing
    assert [s.spacing_mm for s in framing.room_and_space] == [400, 450]
    assert framing.room_and_space[1].from_mm == 6096
    assert [framing.sided_of_mm(n) for n in (1, 4, 5, 9)] == [50, 50, 47, 47]
    assert framing.moulded.table() == ((0, 120), (0.5, 110), (1, 80))
    assert framing.cants[0].angle_deg == 12.25
    assert framing.half == (1, 2)
    assert framing.heads == 1828.8
    assert framing.add[0].x_mm == 5000


def test_severities():
    """What cannot be read is a fault; a key that is not known is left out as a misfit."""
    _, (unknown,) = read_vessel("[vessel]\nnam = 'x'\n")
    _, (wrong,) = read_vessel("[timber]\nkerf = 'x'\n")
    assert (unknown.severity, wrong.severity) == (Severity.MISFIT, Severity.FAULT)


def test_key_lines():
    """Lines of keys: plain, dotted, in inline tables and in lists over several lines."""
    text = (
        "[a]\nb = 1\nc.d = { e = 1,\n  f = 2 }\n\n[[g]]\nh = [\n { i = 1 },\n { i = 2 },\n]\n"
        '[[g]]\nh = """\nb = 3\n"""\nj = 1\n'
    )
    where = KeyLines(text)
    assert [
        where.line(p) for p in [("a",), ("a", "b"), ("a", "c", "d", "e"), ("a", "c", "d", "f")]
    ] == [1, 2, 3, 4]
    assert [where.line(("g", 0, "h", n, "i")) for n in (0, 1)] == [8, 9]
    assert where.line(("g", 1, "j")) == 15
    assert where.line(("x",)) is None


@given(
    st.lists(st.tuples(st.integers(0, len(MARRAM) - 1), st.characters(codec="utf-8")), max_size=12)
)
def test_any_slip_of_the_pen_is_told(slips):
    """Whatever letters are changed, reading gives a model and findings, and never fails."""
    letters = list(MARRAM)
    for at, letter in slips:
        letters[at] = letter
    vessel, findings = read_vessel("".join(letters))
    assert isinstance(vessel, Vessel)
    assert all(f.remedy for f in findings)


@given(st.text(max_size=200))
def test_any_text_is_told(text):
    """Any text at all gives a model and findings."""
    assert isinstance(read_vessel(text)[0], Vessel)
