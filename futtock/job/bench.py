"""The bench's lists of one vessel, written: sawing, thicknessing, fastening, lifting, saw test."""

from __future__ import annotations

from typing import TYPE_CHECKING

from futtock.errors import Misused
from futtock.job import settings
from futtock.job.title import heading
from futtock.job.written import write_pdf

if TYPE_CHECKING:
    from futtock.bench.calibration import TrialPiece
    from futtock.bench.treenails import GroupStrength
    from futtock.findings import Finding
    from futtock.job.whole import Job
    from futtock.job.written import Written
    from futtock.stock.pins import Squares

PINS = "pins.csv"


def write_lists(job: Job, written: Written) -> None:
    """Order of sawing, thicknessing, fastening, weights and lifts, and the saw's test piece."""
    from futtock.drawing.bench_lists import (
        fastening_list,
        order_list,
        thickness_list,
        weight_list,
    )
    from futtock.drawing.saw_test import trial_sheet

    head, vessel = heading(job), job.sound.vessel
    write_pdf(written, "order-of-sawing", order_list(job.sawing_order, head))
    if job.thicknessing is not None:
        write_pdf(written, "thicknessing", thickness_list(job.thicknessing, head))
    fastened = fastening_list(
        job.fastenings,
        settings.fastening_settings(vessel),
        job.bedding,
        head,
        strength(job),
        vessel.bedding.compound,
    )
    write_pdf(written, "fastening", fastened)
    write_pdf(written, "weights-and-lifts", weight_list(job.weights, head))
    write_pdf(written, "saw-test-piece", [trial_sheet(trial(job), head)])


def noticed(job: Job) -> tuple[Finding, ...]:
    """What the saw's test piece, the thicknessing and the weights give to notice."""
    thick = job.thicknessing.findings if job.thicknessing is not None else ()
    error = settings.saw_error(job.sound.vessel)[1]
    return (*error, *thick, *job.weights.findings, *_short_of_pins(job))


def pin_stock(job: Job) -> tuple[tuple[Squares, ...], tuple[Finding, ...]]:
    """Squares for treenails and wedges, of ``pins.csv``; none where there is no such file."""
    from futtock.stock.pins import read_squares
    from futtock.vessel.papers import Papers

    if not (job.folder / PINS).is_file():
        return (), ()
    return read_squares(Papers(job.folder), PINS, job.stated.vessel.lines.unit)


def _short_of_pins(job: Job) -> tuple[Finding, ...]:
    """What of the treenails and wedges does not come out of the squares in stock."""
    from futtock.stock.pins import cut_lengths

    squares, amiss = pin_stock(job)
    if not squares:
        return amiss
    whole = job.fastenings
    nails = [c.length_mm for c in whole.lengths for _ in range(c.to_make)]
    got = cut_lengths(squares, nails, whole.stock.square_mm)
    wedges = [whole.wedges.long_mm] * whole.wedges.count
    split = cut_lengths(squares, wedges, whole.wedges.wide_mm, use="wedge")
    return (*amiss, *got.findings, *split.findings)


def trial(job: Job) -> TrialPiece:
    """The test piece for the head's range, in steps that keep the board to a dozen cuts or so."""
    from futtock.bench.calibration import trial_piece

    saw = job.sound.vessel.saw
    widest = max(saw.head_left_deg, saw.head_right_deg)
    step = next((s for s in (5.0, 10.0, 15.0, 20.0) if 2 * widest / s <= 6.0), 30.0)
    return trial_piece(saw.head_left_deg, saw.head_right_deg, step)


def strength(job: Job) -> GroupStrength | None:
    """Of the fewest treenails on one side of any butt; None without a figure for their wood."""
    from futtock.bench.treenails import group_strength

    nails = job.sound.vessel.treenails
    counts = [n for h in job.holes for _, _, *both in h.at_butts for n in both]
    if not counts:
        return None
    try:
        return group_strength(min(counts), nails.diameter_mm, nails.species, nails.shear_kpa)
    except Misused:
        return None
