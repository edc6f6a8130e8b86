"""The bench's lists as printed: every figure of the bench stands on them, and nothing is lost."""

from __future__ import annotations

import io
from dataclasses import replace

import pdfplumber
import pytest
from exact_frames import cone_frame, sphere_frame

from futtock.bench.bedding import bedding
from futtock.bench.calibration import TrialCut, head_error, trial_piece
from futtock.bench.fastening import FasteningSettings, published
from futtock.bench.holes import lay_holes
from futtock.bench.order import sawing_order
from futtock.bench.saw import SawSettings
from futtock.bench.sawing import saw_sheets
from futtock.bench.strip import saw_strips
from futtock.bench.thicknessing import Rough, thickness_pieces
from futtock.bench.traveller import travellers
from futtock.bench.treenails import fastenings, group_strength
from futtock.bench.weights import weigh
from futtock.drawing.bench_lists import fastening_list, order_list, thickness_list, weight_list
from futtock.drawing.heading import Heading
from futtock.drawing.saw_sheet import saw_page, strip_sheet
from futtock.drawing.saw_test import trial_sheet
from futtock.drawing.traveller import traveller
from futtock.moulds.flat import moulds
from futtock.moulds.settings import MouldSettings
from futtock.sheet.items import Text, flat
from futtock.sheet.pdf import pdf
from futtock.yard.stages import STAGES

HEADING = Heading("Marram", "14 March 2031", "7f3a21bc", "metric")
RULE = FasteningSettings(moisture_percent=8.0, frame_moisture_percent=15.0)


@pytest.fixture(scope="module")
def bench():
    """Two exact frames with their moulds and holes."""
    frames = [cone_frame(12.0, number=1), sphere_frame(number=2)]
    made = moulds(frames, MouldSettings())
    return frames, made, lay_holes(frames, RULE)


def words(pages) -> str:
    """All that is lettered on the pages, as a PDF reader finds it."""
    with pdfplumber.open(io.BytesIO(pdf(pages))) as doc:
        return " ".join(" ".join((p.extract_text() or "").split()) for p in doc.pages)


def lettered(sheet) -> str:
    """The words of one sheet in the order they were set, however they are turned."""
    return " ".join(i.text for i in flat(sheet.items) if isinstance(i, Text))


def test_every_cut_stands_in_the_order_of_sawing(bench):
    """Each timber twice (outer, inner), with the head's turning and a box to tick."""
    _, made, _ = bench
    order = sawing_order(saw_sheets(made, SawSettings()), SawSettings())
    said = words(order_list(order, HEADING))
    for mould in made:
        assert said.count(f"{mould.mark} ") == 2
    assert f"turned {order.turn_deg:.0f}°" in said
    assert "Hearing" in said  # safety_limits.csv L22, the saw's own caution


def test_thicknessing_tells_passes_what_remains_and_what_fails():
    """Two pieces of one size: the depths add up to rough less sided, and the thin one is named."""
    plan = thickness_pieces(
        [Rough("A", 70.0, 2000.0, 300.0, cup_mm=2.0), Rough("B", 49.0, 2000.0, 300.0)], 50.0
    )
    said = words(thickness_list(plan, HEADING))
    assert "Too thin or too warped: B." in said
    good = next(p for p in plan.pieces if p.name == "A")
    assert f"{good.flatness_mm:.1f}" in said
    assert f"{good.spare_mm:.1f}" in said
    # what the passes leave is what is aimed at (own arithmetic)
    assert good.passes[-1].left_mm == pytest.approx(50.0)


def test_the_fastening_list_holds_all_that_is_to_be_made(bench):
    """Holes, bore, treenails, wedges, bedding, and every published rule with its source."""
    _, made, laid = bench
    whole = fastenings(laid, RULE)
    bed = bedding(made, 1.5)
    said = words(fastening_list(whole, RULE, bed, HEADING))
    for part in (
        f"{whole.holes} holes of {RULE.bore_mm:.1f} mm",
        str(whole.wedges.count),
        f"{bed.litres:.1f} litres",
        "they swell and hold",
        "No published shear figure for pins of osage orange",
    ):
        assert part in said
    for rule in published():
        assert rule.code in said
    wet = replace(RULE, moisture_percent=20.0)
    assert "not drier" in words(fastening_list(whole, wet, bed, HEADING))
    mine = group_strength(4, 19.05, "osage orange", 40_000.0)
    told = words(fastening_list(whole, RULE, bed, HEADING, mine))
    # 4 x pi/4 x 19.05 mm squared x 40 MPa = 45.6 kN
    assert "45.6 kN" in told
    assert "not a design" in told


def test_weights_tell_every_frame_and_timber(bench):
    """Each frame and timber with its mass; NIOSH's 23 kg in the caution (L01)."""
    frames, made, _ = bench
    weights = weigh(frames, made)
    said = words(weight_list(weights, HEADING))
    for piece in weights.pieces:
        assert piece.mark in said
    assert "23 kg" in said


def test_the_test_piece_gives_back_the_saws_error_and_the_sheets_bear_it(bench):
    """Cuts made as the sheet says on a saw that is out give its zero, scale and backlash, and each
    mark of page and strip then bears the scale's own reading, not the true angle.
    """
    piece = trial_piece(45.0, 45.0)
    assert f"{len(piece.cuts)} " in words([trial_sheet(piece, HEADING)])
    zero, scale, slack = 0.75, 1.02, 0.4
    cuts = [
        TrialCut(read, zero + scale * read - (slack / 2 if way == "left" else -slack / 2), way)
        for read, way, _ in piece.cuts
    ]
    error, found = head_error(cuts)
    assert found == ()
    assert (error.zero_deg, error.scale, error.backlash_deg) == pytest.approx((zero, scale, slack))
    _, made, _ = bench
    plain, corrected = SawSettings(), SawSettings(head=error)
    mould = made[0]
    sheet = saw_sheets([mould], corrected)[0]
    page = words([saw_page(sheet, mould, HEADING)[0]])
    strip = lettered(strip_sheet(saw_strips(sheet, corrected)[0], HEADING))
    for mark in sheet.cuts[0].marks:
        assert f"{abs(mark.scale_deg):.1f}°" in page
        assert f"{abs(mark.scale_deg):.1f}°" in strip
    assert "set scale to" in page
    same = saw_sheets([mould], plain)[0]
    assert "set scale to" not in words([saw_page(same, mould, HEADING)[0]])


def test_the_traveller_of_a_side_holds_what_the_side_needs(bench):
    """Timbers with slabs, holes, treenails, wedges, checks with tolerance, cautions by step."""
    frames, made, laid = bench
    weights = weigh(frames, made)
    sides = travellers(
        frames[0], made, laid[0], weights, RULE, slabs={made[0].mark: "A-07"}, cross_spall_mm=100.0
    )
    for side in sides:
        card = traveller(frames[0], HEADING, link="x", stages=STAGES, side=side)
        said = lettered(card)
        for timber in side.timbers:
            assert timber.mark in said
        assert f"{side.holes} of {RULE.bore_mm:.1f} mm" in said
        assert "cross spall" in said
        assert "within found" in said
        for stage in STAGES:
            assert stage in said
        for _, given in side.cautions:
            for caution in given:
                assert caution.text in said
    both = words([traveller(frames[0], HEADING, link="x", stages=STAGES, side=s) for s in sides])
    assert "A-07" in both
