"""Strips, the order of sawing, and the saw's own test piece."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from exact_frames import cone_frame, sphere_frame
from hypothesis import given
from hypothesis import strategies as st

from futtock.bench.calibration import TrialCut, head_error, trial_piece, true_deg
from futtock.bench.order import _sorted, sawing_order
from futtock.bench.saw import HeadError, SawSettings
from futtock.bench.sawing import saw_sheet, saw_sheets
from futtock.bench.strip import saw_strips
from futtock.errors import Misused
from futtock.moulds.flat import moulds
from futtock.moulds.settings import MouldSettings


@pytest.fixture(scope="module")
def made():
    frames = [cone_frame(12.0, number=1), sphere_frame(number=2)]
    return moulds(frames, MouldSettings())


@pytest.mark.parametrize("feed", ["heel first", "head first"])
@pytest.mark.parametrize("stand", ["feed", "out", "left", "right"])
def test_strip_lies_as_the_wood_goes(made, feed, stand):
    """Wood going right on the paper: the leading end is right, the wood kept above or below the
    line as it is left or right of the feeder, and letters stand upright to the cranker.
    """
    settings = SawSettings(feed=feed, crank_from=stand)
    for mould in made[:6]:
        sheet = saw_sheet(mould, settings)
        for cut, strip in zip(sheet.cuts, saw_strips(sheet, settings), strict=True):
            assert strip.right_end == feed.split()[0]
            assert strip.length_mm == pytest.approx(cut.length_mm)
            assert strip.line_side == {"left": "bottom", "right": "top"}[cut.kept]
            # where he stands and looks: x the way the wood goes, y the feeder's left
            look = {"feed": (1, 0), "out": (-1, 0), "left": (0, -1), "right": (0, 1)}[stand]
            right_hand = np.array([look[1], -look[0]])
            t = np.radians(strip.text_deg)
            assert np.array([np.cos(t), np.sin(t)]) == pytest.approx(right_hand, abs=1e-12)


def test_strip_carries_the_marks_at_their_places(made):
    """Every mark of the cut stands on the strip at its own distance from the leading end."""
    for feed in ("heel first", "head first"):
        settings = SawSettings(feed=feed)
        sheet = saw_sheet(made[-1], settings)
        for cut, strip in zip(sheet.cuts, saw_strips(sheet, settings), strict=True):
            bold = [m for m in strip.marks if not m.fine]
            ordered = cut.in_feeding_order()[::-1]
            assert [m.deg for m in bold] == [m.deg for m in ordered]
            for on_strip, m in zip(bold, ordered, strict=True):
                run = m.at_mm if feed == "heel first" else cut.length_mm - m.at_mm
                assert on_strip.along_mm == pytest.approx(cut.length_mm - run)


def test_fine_ticks_interpolate(made):
    """Between marks a tick an inch gives the straight-line angle to the step."""
    mould = made[-1]
    twisted = replace(
        mould.edges[0],
        down_mm=mould.edges[0].up_mm
        + (mould.edges[0].down_mm - mould.edges[0].up_mm)
        * np.linspace(0.2, 1.5, len(mould.edges[0].at_mm))[:, None],
    )
    settings = SawSettings()
    sheet = saw_sheet(replace(mould, edges=(twisted, mould.edges[1])), settings)
    strip = saw_strips(sheet, settings)[0]
    at = np.array([m.along_mm for m in strip.marks])
    bold = [m for m in strip.marks if not m.fine]
    signed = [m.deg * (1 if m.head == "left" else -1) for m in bold]
    assert len(strip.marks) > 2 * len(bold)
    assert np.diff(at)[1:-1].min() > 20.0
    assert np.diff(at).max() < 2 * 25.4
    for m in strip.marks:
        if m.fine:
            line = np.interp(m.along_mm, [b.along_mm for b in bold], signed)
            assert abs(m.deg * (1 if m.head == "left" else -1) - line) <= 0.125 + 1e-9


def test_order_saves_turning_and_loses_no_cut(made):
    """The order holds each cut once, batched by thickness and blade, and turns the head less."""
    thin = [replace(m, sided_mm=40.0, mark=m.mark + "t") for m in made[:8]]
    sheets = saw_sheets([*made, *thin], SawSettings())
    order = sawing_order(sheets, SawSettings(), (38.1, 25.4, 12.7))
    got = sorted((c.mark, c.edge) for b in order.batches for c in b.cuts)
    assert got == sorted((s.mark, c.edge) for s in sheets for c in s.cuts)
    assert order.turn_deg < 0.5 * order.unsorted_deg
    assert [b.sided_mm for b in order.batches] == sorted(b.sided_mm for b in order.batches)
    for batch in order.batches:
        widths = {
            c.mark: s
            for s in sheets
            for c in s.cuts
            if (c.mark, c.edge) in {(t.mark, t.edge) for t in batch.cuts}
        }
        assert all(s.sided_mm == batch.sided_mm for s in widths.values())
        at = 0.0
        for turned in batch.cuts:
            assert turned.turn_before_deg == pytest.approx(abs(turned.starts_left_deg - at))
            at = turned.ends_left_deg


@pytest.mark.parametrize("whole", [True, False])
def test_order_is_the_best_of_all(whole):
    """For six cuts no order of all 720 turns the head less, from square and back to square."""
    rng = np.random.default_rng(3)
    for _ in range(40):
        ends = rng.uniform(-20, 20, (6, 2)) if whole else rng.integers(-4, 4, (6, 2)).astype(float)

        def turn(order, ends=ends):
            at, total = 0.0, 0.0
            for k in order:
                total += abs(ends[k, 0] - at)
                at = ends[k, 1]
            return total + abs(at)

        best = min(turn(p) for p in itertools.permutations(range(6)))
        got = _sorted(ends)
        assert sorted(got) == list(range(6))
        assert turn(got) == pytest.approx(best)


def test_trial_piece_goes_up_and_back():
    """The test piece is cut at every step to both hands, cranked left and then right."""
    piece = trial_piece(30.0, 15.0, 15.0, 80.0)
    assert [c[0] for c in piece.cuts] == [-15, 0, 15, 30, 30, 15, 0, -15]
    assert [c[1] for c in piece.cuts] == ["left"] * 4 + ["right"] * 4
    assert np.diff([c[2] for c in piece.cuts]) == pytest.approx(80.0)
    assert piece.board_mm == pytest.approx(80.0 * 9)
    with pytest.raises(Misused):
        trial_piece(step_deg=0.0)


@given(
    zero=st.floats(-3, 3),
    scale=st.floats(0.9, 1.1),
    backlash=st.floats(0, 3),
)
def test_head_error_is_found_from_its_own_cuts(zero, scale, backlash):
    """A head of known error cuts the piece; the fit gives the error back and the reading to set."""
    cuts = [
        TrialCut(read, zero + scale * read + (-0.5 if way == "left" else 0.5) * backlash, way)
        for read, way, _ in trial_piece().cuts
    ]
    error, findings = head_error(cuts)
    assert findings == ()
    assert error.zero_deg == pytest.approx(zero, abs=1e-9)
    assert error.scale == pytest.approx(scale, abs=1e-9)
    assert error.backlash_deg == pytest.approx(backlash, abs=1e-9)
    for true, way, slack in ((12.0, "left", -0.5), (-7.5, "right", 0.5)):
        read = error.reading(true, way)
        assert zero + scale * read + slack * backlash == pytest.approx(true, abs=1e-9)


def test_bad_test_pieces_are_said():
    """Cuts that disagree are a doubt that names the worst; one reading alone is refused."""
    cuts = [TrialCut(r, r + 0.2, "left") for r in (-20.0, -10.0, 10.0, 20.0)]
    cuts.append(TrialCut(0.0, 4.0, "left"))
    _, findings = head_error(cuts)
    assert [f.code for f in findings] == ["B005"]
    assert "the cut at 0 going left" in findings[0].message
    with pytest.raises(Misused, match="Two different"):
        head_error([TrialCut(5.0, 5.0, "left")] * 3)


def test_angle_of_a_cut_by_its_offset():
    """A cut that leans its own thickness over is at 45 degrees."""
    assert true_deg(50.0, 50.0) == pytest.approx(45.0)
    assert true_deg(-50.0 * np.tan(np.radians(7)), 50.0) == pytest.approx(-7.0)
    assert HeadError().reading(12.0, "left") == 12.0
