from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from futtock.errors import Misused, Unreadable
from futtock.findings import Severity
from futtock.stock.invent import invent_rack
from futtock.stock.rack import added, rack_from_text, rack_of, rack_text, read_rack, write_rack

SLAB = {
    "name": "A-07",
    "species": "white oak",
    "thickness_mm": 70,
    "top": [[0, 0], [1000, 0], [1000, 200], [0, 200]],
    "bottom": [[0, -10], [1000, -10], [1000, 210], [0, 210]],
    "grain": [[[10, 100], [990, 100]]],
    "defects": [{"kind": "knot", "outline": [[300, 90], [320, 90], [310, 110]], "face": "both"}],
}


def rack(**changes: object):
    """A rack of one slab with some keys changed, or left out where the change is None."""
    entry = {k: v for k, v in (SLAB | changes).items() if v is not None}
    return rack_from_text(json.dumps([entry]))


def codes(given_rack) -> list[str]:
    return [f.code for f in given_rack.findings]


def test_a_good_slab_gives_no_finding():
    """A slab in the form of the format is read whole and without remark."""
    got = rack()
    assert got.findings == ()
    assert got["A-07"].thickness_mm == 70
    assert got["A-07"].flaws[0].kind == "knot"


def test_the_demo_rack_reads_clean_and_writes_back_the_same():
    """Marram's two hundred slabs are read without a finding and written back key for key."""
    path = Path(__file__).parents[2] / "futtock" / "demo" / "slabs.json"
    got = read_rack(path)
    assert len(got.slabs) == 200
    assert got.findings == ()
    assert json.loads(rack_text(got)) == json.loads(path.read_text())


@pytest.mark.parametrize(
    ("changes", "code", "severity", "place"),
    [
        ({"top": [[0, 0], [1000, 200], [1000, 0], [0, 200]]}, "S101", "misfit", "top"),
        ({"top": [[0, 0], [0, 200], [1000, 200], [1000, 0]]}, "S102", "note", "top"),
        ({"top": [[0, 0], [1000, 0], [1000, 200], [0, 200], [0, 0]]}, "S103", "note", "top"),
        ({"top": [[0, 0], [1000, 0]]}, "S104", "misfit", "top"),
        ({"top": [[0, 0], [1000, 0], [1000, 1]]}, "S106", "misfit", "top"),
        ({"bottom": [[0, 900], [1000, 900], [1000, 1100], [0, 1100]]}, "S110", "misfit", "bottom"),
        (
            {"bottom": [[0, -200], [1000, -200], [1000, 0], [0, 0]]},
            "S111",
            "doubt",
            "bottom",
        ),
        ({"bottom": None}, "S112", "note", "bottom"),
        ({"face_top": [[0, 50], [1000, 50], [1000, 150], [0, 150]]}, "S113", "doubt", "face_top"),
        ({"grain": [[[10, 900], [990, 900]]]}, "S201", "misfit", "grain[0]"),
        ({"grain": [[[10, 100]]]}, "S202", "doubt", "grain[0]"),
        ({"grain": None}, "S203", "note", "grain"),
        ({"thickness_mm": 2.75}, "S301", "misfit", "thickness_mm"),
        ({"thickness_mm": 0.07}, "S301", "misfit", "thickness_mm"),
        ({"moisture_percent": 0.18}, "S303", "doubt", "moisture_percent"),
        ({"thickness_mm": "70"}, "S005", "fault", "thickness_mm"),
        ({"thickness_mm": -70}, "S005", "fault", "thickness_mm"),
        ({"thickness_mm": None}, "S004", "fault", "thickness_mm"),
        ({"top": None}, "S004", "fault", "top"),
        ({"top": [[0, 0], [1000], [1000, 200]]}, "S005", "fault", "top[1]"),
        ({"top": [[0, 0], [1000, float("nan")], [1000, 200]]}, "S005", "fault", "top[1]"),
        ({"name": None}, "S004", "fault", "name"),
        ({"name": 7}, "S005", "fault", "name"),
        ({"species": None}, "S004", "fault", "species"),
        ({"measured": "yes"}, "S005", "fault", "measured"),
        ({"colour": "brown"}, "S007", "note", "colour"),
        ({"defects": [{"kind": "wart", "outline": SLAB["top"]}]}, "S210", "doubt", None),
        (
            {"defects": [{"kind": "rot", "outline": SLAB["top"], "face": "up"}]},
            "S211",
            "doubt",
            None,
        ),
        (
            {"defects": [{"kind": "rot", "outline": [[0, 900], [9, 900], [9, 950]]}]},
            "S212",
            "doubt",
            "defects[0].outline",
        ),
        (
            {"defects": [{"kind": "rot", "outline": [[0, 0], [90, 90], [90, 0], [0, 90]]}]},
            "S213",
            "doubt",
            "defects[0].outline",
        ),
    ],
)
def test_each_fault_has_its_finding_with_a_place_and_a_remedy(changes, code, severity, place):
    """Whatever is wrong with a slab is named once, where it stands, with what to do."""
    found = [f for f in rack(**changes).findings if f.code == code]
    assert len(found) == 1, rack(**changes).findings
    finding = found[0]
    assert finding.severity == severity
    assert finding.file == "slabs.json"
    assert finding.remedy
    assert finding.expected
    assert finding.line in ("A-07", "slab 1")
    if place:
        assert finding.column == place


def test_the_unit_a_thickness_was_likely_written_in_is_named():
    """2.75 is named as inches and given in millimetres; nothing is converted on its own."""
    got = rack(thickness_mm=2.75)
    assert "in in it would be 70 mm" in got.findings[0].message
    assert got["A-07"].thickness_mm == 2.75


def test_an_outline_in_inches_is_named():
    """A slab 40 units long was hardly measured in millimetres."""
    small = [[x / 25.4, y / 25.4] for x, y in SLAB["top"]]
    got = rack(top=small, bottom=None, grain=None, defects=None)
    found = [f for f in got.findings if f.code == "S302"]
    assert len(found) == 1
    assert "in (1.00 m)" in found[0].message


def test_an_outline_left_open_along_a_side_is_doubted():
    """Points down one side only: the straight line that closes them is asked about."""
    side = [[x, 100 + 0.0002 * (x - 500) ** 2] for x in range(0, 1001, 50)]
    got = rack(top=side, bottom=None, grain=None, defects=None)
    assert "S105" in codes(got)


def test_a_mended_outline_says_so_and_keeps_its_shape():
    """A clockwise outline is turned about: same points, same wood, and a note of it."""
    got = rack(top=SLAB["top"][::-1])
    assert codes(got) == ["S102"]
    assert sorted(map(tuple, got["A-07"].top_mm)) == sorted(map(tuple, SLAB["top"]))


def test_two_slabs_of_one_name_are_both_kept_and_one_set_aside():
    """The second of a name is set aside, named in a finding, and written back all the same."""
    text = json.dumps([SLAB, SLAB | {"thickness_mm": 55}])
    got = rack_from_text(text)
    assert [s.thickness_mm for s in got.slabs] == [70]
    assert codes(got) == ["S006"]
    assert len(got.set_aside) == 1
    assert json.loads(rack_text(got))[1]["thickness_mm"] == 55


def test_what_cannot_be_used_is_written_back_as_it_stood():
    """A slab set aside, an odd entry and a key not known all survive a rewrite."""
    crossing = SLAB | {"name": "B-01", "top": [[0, 0], [1000, 200], [1000, 0], [0, 200]]}
    odd = SLAB | {"name": "C-01", "colour": "brown"}
    entries = [SLAB, crossing, "not a slab", odd]
    got = rack_from_text(json.dumps(entries))
    assert [s.name for s in got.slabs] == ["A-07", "C-01"]
    assert "S003" in codes(got)
    back = json.loads(rack_text(got))
    assert back[1] == crossing
    assert back[2] == "not a slab"
    assert back[3]["colour"] == "brown"


@pytest.mark.parametrize(
    ("text", "code"), [("[{", "S002"), ("7", "S003"), ("[" * 100_000, "S002"), ("", "S002")]
)
def test_a_file_that_is_no_rack_is_a_fault_not_a_traceback(text, code):
    """Broken JSON, a bare number, endless brackets and an empty file are findings."""
    got = rack_from_text(text)
    assert got.slabs == ()
    assert [f.code for f in got.findings] == [code]
    assert got.faults[0].severity is Severity.FAULT


def test_a_folder_without_a_rack_is_a_finding(tmp_path):
    """No rack file at all is said, with what to write."""
    got = read_rack(tmp_path)
    assert codes(got) == ["S001"]
    assert got.findings[0].remedy


def test_slabs_in_a_folder_of_files_are_read_in_the_order_of_names(tmp_path):
    """slabs/*.json may hold one slab or a list; faults carry the file's own name."""
    (tmp_path / "slabs").mkdir()
    (tmp_path / "slabs" / "b.json").write_text(json.dumps([SLAB | {"name": "B"}]))
    (tmp_path / "slabs" / "a.json").write_text(json.dumps(SLAB | {"name": "A", "thickness_mm": 3}))
    got = read_rack(tmp_path)
    assert [s.name for s in got.slabs] == ["A", "B"]
    assert got.findings[0].file == "slabs/a.json"


def test_bytes_that_are_not_text_are_a_finding(tmp_path):
    """A spreadsheet saved over slabs.json is said to be no text."""
    (tmp_path / "slabs.json").write_bytes(b"PK\x03\x04\xff\xfe\x00")
    assert codes(read_rack(tmp_path)) == ["S002"]


def test_a_rack_is_written_whole_and_read_back(tmp_path):
    """Invented slabs written to a file come back equal, array for array."""
    slabs = invent_rack(12, seed=4)
    write_rack(tmp_path / "slabs.json", slabs)
    back = read_rack(tmp_path)
    assert back.findings == ()
    for a, b in zip(slabs, back.slabs, strict=True):
        assert a.name == b.name
        assert a.measured == b.measured
        assert a.stack == b.stack
        for x, y in (
            (a.top_mm, b.top_mm),
            (a.bottom_mm, b.bottom_mm),
            *zip(a.grain_mm, b.grain_mm, strict=True),
        ):
            np.testing.assert_array_equal(x, y)
    assert [p.name for p in tmp_path.iterdir()] == ["slabs.json"]


def test_a_slab_is_added_once():
    """A new slab joins the rack; a second of its name is refused with a finding."""
    first, second = invent_rack(2, seed=1)
    more = added(rack_of([first]), second)
    assert len(more.slabs) == 2
    with pytest.raises(Unreadable, match="of that name") as caught:
        added(more, second)
    assert caught.value.findings[0].code == "S006"
    with pytest.raises(Misused, match="no slab named X"):
        more["X"]


json_values = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(max_size=4) | st.integers(),
    lambda kids: (
        st.lists(kids, max_size=4)
        | st.dictionaries(st.sampled_from([*SLAB, "x"]), kids, max_size=5)
    ),
    max_leaves=12,
)


@settings(max_examples=150, deadline=None)
@given(st.dictionaries(st.sampled_from(list(SLAB)), json_values, max_size=4))
def test_no_value_whatever_makes_a_traceback_or_is_lost(changes):
    """Any JSON value under any key gives findings, and the entry survives."""
    entry = SLAB | changes
    got = rack_from_text(json.dumps([entry]))
    assert len(got.slabs) + len(got.set_aside) == 1
    if got.set_aside:
        assert got.findings
        assert json.dumps(json.loads(rack_text(got))) == json.dumps([entry])
