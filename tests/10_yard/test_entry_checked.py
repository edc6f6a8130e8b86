"""What an entry, a correction and a line taken in must hold, and what is said where they do not."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime, timedelta, timezone

import pytest

from futtock.errors import Misused
from futtock.yard import Entry, Journal
from futtock.yard.carrying import event_of, read_lines
from futtock.yard.event import FIRST, canonical, corrected, made, read_code, utc_text
from futtock.yard.rules import judge
from futtock.yard.stages import WORDS

NOW = datetime(2031, 5, 5, 9, 30, tzinfo=UTC)
MARK = "12-P-f1"


def _said(act) -> str:
    with pytest.raises(Misused) as told:
        act()
    return str(told.value)


def _note(**body):
    return made(Entry(MARK, "note", "Ann", {"text": "dry", **body}), NOW)


@pytest.mark.parametrize(
    ("key", "expected"),
    [
        ("slab", "a slab's name"),
        ("layout", "a layout's id"),
        ("to", "a place"),
        ("because", "a reason"),
        ("text", "text"),
        ("file", "a file's name"),
        ("hours", "hours"),
        ("moisture_percent", "percent"),
        ("found_mm", "millimetres"),
        ("wanted_mm", "millimetres"),
    ],
)
def test_each_particular_has_its_kind(key, expected):
    """A particular of another kind, or yes and no for a number, is refused in its own words."""
    for wrong in ([1], True):
        assert (
            _said(lambda w=wrong: _note(**{key: w}))
            == f"'{key}' is {wrong!r}; expected {expected}."
        )


@pytest.mark.parametrize(("key", "most"), [("moisture_percent", 300), ("hours", 1000)])
def test_figures_have_bounds(key, most):
    """Nought and the most are taken; a hair beyond is not."""
    for good in (0, most):
        assert _note(**{key: good}).body[key] == good
    for bad in (-0.5, most + 0.5):
        assert f"0 to {most}." in _said(lambda b=bad: _note(**{key: b}))


def test_particulars_are_plain_and_not_too_long():
    """What JSON cannot hold is refused; 65,536 letters are taken, one more is not."""
    assert _said(lambda: _note(x=float("nan"))) == "The particulars of an entry are no plain data."
    room = 65_536 - len(canonical({"text": ""}))
    assert len(_note(text="a" * room).body["text"]) == room
    assert "have 65537 letters" in _said(lambda: _note(text="a" * (room + 1)))


@pytest.mark.parametrize("typed", ["laid-out", "Laid_Out", " LAID OUT "])
def test_a_stage_is_known_however_typed(typed):
    """Capitals, blanks and underscores make no other word."""
    assert made(Entry(MARK, typed, "Ann"), NOW).stage == "laid-out"


def test_an_unknown_stage_names_the_nearest_or_all():
    """The one word nearest is offered; where none is near, all are listed."""
    said = _said(lambda: made(Entry(MARK, "bord", "Ann"), NOW))
    assert said == "'bord' is no stage; perhaps 'bored' is meant."
    said = _said(lambda: made(Entry(MARK, "qqq", "Ann"), NOW))
    assert said == f"'qqq' is no stage; known are {', '.join(WORDS)}."


@pytest.mark.parametrize(
    "code",
    ["futtock:r3:12-P-f1", "http://10.0.0.5/traveller/12-P-f1", "HTTPS://a/traveller/12-p-F1"],
)
def test_a_scanned_code_is_its_mark(code):
    """The code on a print, a link too, may be entered for the mark."""
    assert made(Entry(code, "moulded", "Ann"), NOW).mark == MARK
    assert read_code(code)[0] == MARK


def test_a_code_of_five_parts_is_none():
    """A code has a revision, a mark and at most a stage."""
    assert _said(lambda: read_code("futtock:r3:12:bedded:x")).endswith("is no code of this yard.")
    assert read_code("futtock:r3:12:bedded") == ("12", "bedded", "r3")


def test_names_are_named():
    """A name that is missing is called what it is, long ones are cut in what is said."""
    said = _said(lambda: made(Entry(MARK, "moulded", " "), NOW))
    assert said == "The name of who did it is ''; expected 1 to 80 letters."
    said = _said(lambda: made(Entry("a" * 99, "moulded", "Ann"), NOW))
    assert said == f"The mark is '{'a' * 90}'; expected 1 to 80 letters."
    said = _said(lambda: made(Entry(MARK, "moulded", "Ann", id="?" * 99), NOW))
    assert said == f"The id '{'?' * 90}' is none; expected letters, digits, . _ : -"


def test_a_slab_called_by_a_number_is_no_frame():
    """What is measured is a slab, though its name could be a frame's."""
    event = made(Entry("12", "measured", "Ann", {"moisture_percent": 20}), NOW)
    assert (event.seq, event.frame, event.slab) == (0, None, "12")
    kept = event_of(event.sealed(1, FIRST).as_json())
    assert (kept.frame, kept.slab) == (None, "12")


def test_a_moment_is_written_in_utc():
    """Half past nine two hours east is half past seven."""
    east = datetime(2031, 5, 5, 9, 30, tzinfo=timezone(timedelta(hours=2)))
    assert utc_text(east) == "2031-05-05T07:30:00.000000Z"


def test_the_seal_is_the_one_published():
    """SHA-256 over the fields in order, the body's keys sorted, no blanks, letters as they are."""
    entry = Entry(MARK, "note", "Åse", {"text": "ø", "hours": 2}, id="t-1", sender="tablet")
    event = made(entry, NOW).sealed(1, FIRST)
    at = "2031-05-05T09:30:00.000000Z"
    body = '{"hours":2,"text":"ø"}'
    fields = [FIRST, 1, "t-1", at, at, "Åse", MARK, "note", "tablet", body]
    text = "[" + ",".join(
        str(f) if isinstance(f, int) else '"' + f.replace('"', '\\"') + '"' for f in fields
    ) + "]"  # fmt: skip
    assert event.hash == hashlib.sha256(text.encode()).hexdigest()
    assert event.as_json() == {
        "seq": 1, "id": "t-1", "when": at, "entered": at, "who": "Åse", "mark": MARK,
        "stage": "note", "sender": "tablet", "body": {"text": "ø", "hours": 2},
        "previous": FIRST, "hash": event.hash,
    }  # fmt: skip
    assert event_of(event.as_json()) == event


def test_a_correction_is_whole():
    """It stands for the same mark, frame and slab, with what it corrects and why."""
    event = made(Entry(MARK, "laid-out", "Ann", {"slab": "A-07"}, id="t-1"), NOW)
    undone = corrected(event, " Ben ", NOW, because="wrong", id="t-2")
    at = "2031-05-05T09:30:00.000000Z"
    assert undone == (
        0, "t-2", at, at, "Ben", MARK, "correction", "",
        {"of": "t-1", "slab": "A-07", "undo": True, "because": "wrong"}, 12, "A-07", FIRST, "",
    )  # fmt: skip
    put = {"at": at, "who": "Cy", "body": {"hours": 1}}
    amended = corrected(event, "Ben", NOW, put=put)
    assert amended.body == {"of": "t-1", "slab": "A-07", "put": put}
    slab = made(Entry("A-07", "measured", "Ann", {"moisture_percent": 20}, id="t-3"), NOW)
    assert corrected(slab, "Ben", NOW).body == {"of": "t-3", "undo": True}


@pytest.mark.parametrize(
    ("put", "said"),
    [
        ({"mark": "1"}, "Only the time, the name and the particulars can be amended."),
        (
            {"body": {"slab": "B"}},
            "Another slab is another entry: undo this one and enter it anew.",
        ),
        (
            {"body": {"layout": "x"}},
            "Another slab is another entry: undo this one and enter it anew.",
        ),
        ({"body": {"text": "a" * 70_000}}, "The particulars of an entry have"),
    ],
)
def test_what_cannot_be_amended(put, said):
    """Only time, name and particulars, none of them the slab or too long, can be put right."""
    event = made(Entry(MARK, "laid-out", "Ann", {"slab": "A-07"}, id="t-1"), NOW)
    assert _said(lambda: corrected(event, "Ben", NOW, put=put)).startswith(said)
    assert corrected(event, "Ben", NOW, put={"who": "Cy"}).body["put"] == {"who": "Cy"}


def test_reasons_and_ids_of_corrections_are_the_senders(tmp_path):
    """Undoing and amending through the journal keep the reason and the sender's id."""
    with Journal(tmp_path / "journal.sqlite") as journal:
        first = journal.enter(Entry(MARK, "moulded", "Ann"), NOW).event
        journal.amend(first.id, {"who": "Cy"}, "Ben", NOW, because="his work")
        journal.undo("Ben", NOW, id=first.id, new_id="t-9")
        amended, undone = journal.events()[1:]
        again = journal.enter(Entry(MARK, "moulded", "Ann", id="x-1"), NOW)
        assert journal.enter(Entry(MARK, "moulded", "Ann", id="x-1"), NOW).event == again.event
    assert amended.body["because"] == "his work"
    assert undone.id == "t-9"
    assert "because" not in undone.body


def _told(events, entry, marks=None):
    near = [made(e, NOW).sealed(n, FIRST) for n, e in enumerate(events, start=1)]
    event = made(entry, NOW).sealed(len(near) + 1, FIRST)
    return [(f.code, f.message, f.column, f.read, f.expected) for f in judge(near, event, marks)]


def test_what_breaks_a_rule_is_told_whole():
    """Each finding names the mark, what was read and by whom and when it was done before."""
    by = "by Ann at 2031-05-05 09:30 UTC."
    done = Entry(MARK, "moulded", "Ann")
    assert [t[1:4] for t in _told([done], done)] == [
        (f"{MARK} was entered as moulded already, {by}", MARK, "moulded")
    ]
    given = Entry("12-P-f2", "laid-out", "Ann", {"slab": "A-07"})
    wanted = Entry(MARK, "laid-out", "Ben", {"slab": "A-07"})
    assert [t[1:4] for t in _told([given], wanted)] == [
        (f"Slab A-07 was given to 12-P-f2 already, {by}", MARK, "A-07")
    ]
    gone = Entry("A-07", "spoiled", "Ann", {"because": "shakes"})
    assert [t[1:4] for t in _told([gone], wanted)] == [
        ("Slab A-07 is used up or spoiled.", MARK, "A-07")
    ]
    assert [t[1:4] for t in _told([], done, ["12-P-f9"])] == [
        (f"No timber of the vessel is marked {MARK}.", "mark", MARK)
    ]


@pytest.mark.parametrize(
    ("count", "more"), [(5, ""), (6, ""), (7, " and 1 more"), (8, " and 2 more")]
)
def test_six_that_are_lacking_are_named_and_the_rest_counted(count, more):
    """A frame fitted before its timbers are ready names six of them and counts the rest."""
    marks = [f"12-P-f{n}" for n in range(1, count + 1)]
    ((_, said, column, read, expected),) = _told([], Entry("12", "dry-fitted", "Ann"), marks)
    assert expected.endswith(more or "bevelled")
    assert expected.count(",") == min(count, 6) - 1
    assert (said, column, read) == (
        f"12 is entered as dry-fitted without: {expected}.",
        "12",
        "dry-fitted",
    )


def test_a_reason_stands_beside_what_is_out_of_turn():
    """With a reason the finding tells it, and what was read."""
    entry = Entry(MARK, "roughed", "Ann", {"because": "try"})
    ((_, said, _, read, _),) = _told([], entry)
    assert said.endswith("Reason: try.")
    assert read == "roughed"


def _line(**changed):
    event = made(Entry(MARK, "moulded", "Ann", id="t-1", sender="tablet"), NOW).sealed(1, FIRST)
    return event.as_json() | changed


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[1]", "it is no table"),
        ("{" + "x" * 99, "it is no JSON"),
        (json.dumps(_line(seq=0)), "its 'seq' is no number from 1"),
        (json.dumps(_line(seq=True)), "its 'seq' is no number from 1"),
        (json.dumps(_line(body=[])), "its 'body' is no table"),
    ],
)
def test_a_line_that_is_no_entry_is_told_whole(text, said):
    """The finding has the file, the line, what was read (80 letters) and what was expected."""
    (told,) = read_lines(["", text], "in.jsonl")
    assert told.message == f"The line is no entry: {said}."
    assert (told.file, told.line, told.read) == ("in.jsonl", 2, text[:80])
    assert told.expected == "a JSON object with seq, id, when, who, mark, stage, hash"


def test_a_line_changed_is_told_and_the_next_read():
    """A record that is not what was sealed is told with both seals; those after it still come."""
    good = _line()
    told, kept = read_lines([json.dumps(good | {"who": "Ben"}), json.dumps(good)], "in.jsonl")
    assert (told.line, told.read) == (1, good["hash"][:12])
    assert len(told.expected) == 12
    assert kept.as_json() == good
    assert (kept.sender, kept.body) == ("tablet", {})


def test_a_line_may_leave_out_sender_and_body():
    """A record without them has an empty one of each."""
    short = {k: v for k, v in _line().items() if k not in ("sender", "body")}
    event = event_of(short)
    assert (event.sender, event.body) == ("", {})


def test_a_batch_sent_again_with_more_keeps_the_more(tmp_path):
    """Entries that are there already are told as known; those behind them are still kept."""
    first, second, third = (Entry(f"12-P-f{n}", "moulded", "Ann", id=f"t-{n}") for n in range(1, 4))
    with Journal(tmp_path / "journal.sqlite") as journal:
        assert [e.known for e in journal.enter_all([second], NOW)] == [False]
        told = journal.enter_all([first, second, third], NOW)
        assert [e.known for e in told] == [False, True, False]
        assert [e.id for e in journal.events()] == ["t-2", "t-1", "t-3"]
