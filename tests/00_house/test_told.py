"""Findings in words: each with its place and remedy, many of one kind in one line."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from futtock.findings import Finding, Kind, Severity, told

TWIST = Kind("B002", Severity.DOUBT, "The angle changes fast", "Feed slowly.")
SLIP = Kind("L001", Severity.MISFIT, "A figure is out", "Look at it again.")


def _twisted(mark: str, rate: float) -> Finding:
    said = f"{mark}: {rate} degrees a foot."
    return TWIST.found(said, line=mark, read=f"{rate} degrees", expected="7 degrees")


def test_many_of_a_kind_are_one_line():
    """Five alike name all five timbers once, and give the one farthest out in full."""
    marks = ["1-S-f1", "1-P-f1", "2-S-f1", "2-P-f1", "1-S-f1"]
    rates = [7.1, 7.2, 9.5, 7.4, 7.5]
    alike = [_twisted(m, r) for m, r in zip(marks, rates, strict=True)]
    other = SLIP.found("An inch too much.", file="offsets.csv", line=4)
    lines = told([*alike, other])
    assert lines == [
        "L001 misfit: offsets.csv, 4: An inch too much. Look at it again.",
        "B002 doubt, 5 alike: 1-S-f1; 1-P-f1; 2-S-f1; 2-P-f1. The farthest out: "
        "2-S-f1: 9.5 degrees a foot. Feed slowly.",
    ]


def test_a_few_are_told_one_by_one():
    """Three of a kind, or many at one place, each have their own line."""
    three = [_twisted(f"{n}-S-f1", 8.0) for n in range(3)]
    assert told(three) == [str(f) for f in three]
    here = [_twisted("1-S-f1", 8.0 + n) for n in range(6)]
    assert len(told(here)) == 6


def test_a_crowd_is_one_line_and_the_same_thing_is_told_once():
    """Seventy timbers without a place, each with a remedy of its own and no place, are one line
    that gives the first with its remedy; what is told twice is told once; faults are all named."""
    crowd = [SLIP.found(f"No place for {n}.", remedy=f"Buy {n}.") for n in range(70)]
    assert told(crowd) == ["L001 misfit, 70 alike. The first: No place for 0. Buy 0."]
    assert told([crowd[0], crowd[0]]) == ["L001 misfit: No place for 0. Buy 0."]
    fault = Kind("S401", Severity.FAULT, "It cannot be read", "Mend it.")
    assert len(told(fault.found(f"Figure {n}.", remedy=f"Mend {n}.") for n in range(70))) == 70


def test_a_place_is_said_once():
    """A message that begins with its place does not say it twice; another number is no place."""
    assert str(_twisted("1-S-f1", 8.0)) == "B002 doubt: 1-S-f1: 8.0 degrees a foot. Feed slowly."
    frame = Kind("F006", Severity.NOTE, "Butts in line").found("12 pairs are near.", line=1)
    assert str(frame) == "F006 note: 1: 12 pairs are near."


@given(st.lists(st.tuples(st.sampled_from(["B002", "L001"]), st.integers(0, 9)), max_size=30))
def test_no_place_is_left_out(made):
    """Whatever is found, every place of every kind stands in some line of that kind."""
    kinds = {"B002": TWIST, "L001": SLIP}
    lines = told([kinds[c].found("It is so.", line=f"<{n}>") for c, n in made])
    for code, n in made:
        assert any(line.startswith(code) and f"<{n}>" in line for line in lines)
