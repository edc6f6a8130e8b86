"""Lines plan, frames, slabs, bench sheets and the book: true to scale, titled, readable."""

from __future__ import annotations

import io
from functools import lru_cache
from itertools import combinations

import numpy as np
import pdfplumber
import pytest
from readback import dxf_polylines, read_pdf_paths
from sheet_words import words_over_lines
from whole_marram import HEADING, marram

from futtock.bench.calibration import trial_piece
from futtock.bench.strip import saw_strips
from futtock.drawing.bevel_board import bevel_board, bevel_table_sheet, bevels_at, board_places
from futtock.drawing.book import Book, shop_book
from futtock.drawing.code import code_text
from futtock.drawing.figures import close_length, degrees
from futtock.drawing.floor import check_sheet, floor_drawing, hole_template
from futtock.drawing.frame import frame_drawing
from futtock.drawing.framing_plan import bevel_map, framing_plan
from futtock.drawing.heading import room_on, scale_to_fit, scales
from futtock.drawing.lines_plan import LinesData, body_plan, lines_data, lines_plan
from futtock.drawing.saw_sheet import saw_page, strip_sheet
from futtock.drawing.saw_test import trial_sheet
from futtock.drawing.slab import slab_sheet, transfer_sheet
from futtock.drawing.traveller import traveller
from futtock.layout.placement import Placement
from futtock.sheet.dxf import dxf
from futtock.sheet.extent import text_corners
from futtock.sheet.items import Group, Path, Text, flat
from futtock.sheet.pdf import pdf
from futtock.sheet.sheet import Sheet
from futtock.yard.stages import STAGES


@lru_cache(maxsize=1)
def _lines() -> LinesData:
    return lines_data(marram().fairing.hull, marram().table)


def _placed():
    slab = marram().rack.slabs[3]
    mould = marram().moulds[100]
    middle = slab.top_mm.mean(axis=0) - (mould.length_mm / 2, mould.wide_mm / 2)
    return slab, mould, Placement(mould.mark, slab.name, 7.0, tuple(middle), True, 0.05, 0.09)


@lru_cache(maxsize=1)
def _all() -> dict[str, Sheet]:
    job = marram()
    frame = job.framing.frames[11]
    holes = next(h for h in job.holes if h.frame == frame.number)
    slab, mould, place = _placed()
    saw = next(s for s in job.saw_sheets if s.mark == mould.mark)
    by = {mould.mark: mould}
    return {
        "lines plan": lines_plan(_lines(), HEADING),
        "body plan": body_plan(_lines(), HEADING),
        "framing plan": framing_plan(job.fairing.hull, job.framing.frames, HEADING, doubtful=[6]),
        "bevel map": bevel_map(job.framing.frames, HEADING),
        "frame": frame_drawing(frame, HEADING),
        "frame forward": frame_drawing(job.framing.frames[1], HEADING),
        "bevel board": bevel_board(frame, HEADING),
        "bevels": bevel_table_sheet(frame, HEADING),
        "floor": floor_drawing(frame, HEADING, holes, checks=job.checks(frame)),
        "holes": hole_template(frame, holes, HEADING),
        "checks": check_sheet(frame, HEADING),
        "slab": slab_sheet(slab, [place], by, HEADING),
        "transfer": transfer_sheet(slab, [place], by, HEADING),
        "saw": saw_page(saw, mould, HEADING)[0],
        "traveller": traveller(frame, HEADING, link="futtock:7f3a21bc:12", stages=STAGES),
        "traveller port": traveller(
            frame,
            HEADING,
            link="futtock:7f3a21bc:12",
            stages=STAGES,
            side=job.travellers(frame, {"12-P-f1": "A-07"})[0],
            weight_kg=38.0,
        ),
        "saw test": trial_sheet(trial_piece(45.0, 45.0), HEADING),
    }


NAMES = (
    "lines plan", "body plan", "framing plan", "bevel map", "frame", "frame forward", "bevel board",
    "bevels", "floor", "holes", "checks", "slab", "transfer", "saw", "traveller",
    "traveller port", "saw test",
)  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_every_sheet_is_titled_and_can_be_measured(name: str) -> None:
    """Vessel, sheet, date and revision can be read off it; its check line is 100.00 mm."""
    data = pdf([_all()[name]])
    with pdfplumber.open(io.BytesIO(data)) as doc:
        text = doc.pages[0].extract_text()
    for part in ("Marram", "14 March 2026", "7f3a21bc", "vessel", "sheet", "scale"):
        assert part in text
    spans = [np.ptp(p, axis=0) for p in read_pdf_paths(data) if len(p) == 2]
    assert any(abs(s[0] - 100.0) < 0.005 and s[1] < 1e-6 for s in spans)


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_cut_off_and_no_words_lie_on_words(name: str) -> None:
    """All that is drawn lies on the paper, and no words cover other words."""
    import shapely

    sheet = _all()[name]
    x0, y0, x1, y1 = sheet.window_mm
    words = [i for i in flat(sheet.items) if isinstance(i, Text) and i.text.strip()]
    for item in flat(sheet.items):
        p = item.points_mm if isinstance(item, Path) else None
        if isinstance(item, Text):
            p = text_corners(item)
        if p is not None and len(p):
            assert p[:, 0].min() >= x0 - 0.01, item
            assert p[:, 0].max() <= x1 + 0.01, item
            assert p[:, 1].min() >= y0 - 0.01, item
            assert p[:, 1].max() <= y1 + 0.01, item
    boxes = [shapely.Polygon(text_corners(w)) for w in words]
    lying = [
        (words[i].text, words[j].text)
        for i, j in combinations(range(len(words)), 2)
        if boxes[i].intersection(boxes[j]).area > 0.25 * min(boxes[i].area, boxes[j].area)
    ]
    assert lying == []


@pytest.mark.parametrize("name", NAMES)
def test_no_words_lie_over_a_line_that_matters(name: str) -> None:
    """Words keep off outlines, butts, checks, borders; only what carries them is broken by them."""
    assert words_over_lines(_all()[name]) == []


def test_a_scaled_drawing_is_to_scale() -> None:
    """The sheer drawn on the lines plan, multiplied by the scale, is the hull's own sheer."""
    sheet = _all()["lines plan"]
    data = _lines()
    ((drawn, _),) = dxf_polylines(dxf(sheet), "SHEER")[:1]
    real = (data.box[1] - data.box[0], data.box[3])
    ratio = np.ptp(data.bounds["sheer"][:, 0]) / np.ptp(drawn[:, 0])
    assert any(ratio == pytest.approx(s.ratio, rel=1e-6) for s in scales("imperial"))
    assert np.abs(drawn * ratio - data.bounds["sheer"][:, [0, 2]]).max() < 0.01
    assert real[0] / ratio < room_on("A2")[0]


def test_the_largest_scale_that_fits_is_taken() -> None:
    """A drawing fits at the scale chosen, and would not at the next larger."""
    for style in ("imperial", "metric"):
        ladder = scales(style)
        got = scale_to_fit((5000.0, 2000.0), (380.0, 200.0), style)
        assert 5000.0 / got.ratio <= 380.0
        larger = ladder[ladder.index(got) - 1]
        assert 5000.0 / larger.ratio > 380.0 or 2000.0 / larger.ratio > 200.0


def test_body_plan_sections_are_the_hulls() -> None:
    """Fore body sections stand to the right of the centre line at their true half-breadths."""
    data = _lines()
    sheet = _all()["body plan"]
    curves = [p for p, _ in dxf_polylines(dxf(sheet), "SECTIONS")]
    widest = max(float(c[:, 1].max()) for v in data.sections.values() for c in v)
    ratio = widest / max(c[:, 0].max() for c in curves)
    assert any(ratio == pytest.approx(s.ratio, rel=1e-6) for s in scales("imperial"))
    names = list(data.stations)
    for name in (names[4], names[-3]):
        section = data.sections[name][0][:, 1:]
        way = 1.0 if data.stations[name] < data.stations[names[7]] else -1.0
        same = [c for c in curves if c.shape == section.shape]
        off = min(float(np.abs(c * ratio * (way, 1.0) - section).max()) for c in same)
        assert off < 0.01


def test_bevel_board_lines_stand_at_their_angles() -> None:
    """Each line on the board leaves its edge at the bevel of that place, to a hundredth degree."""
    frame = marram().framing.frames[4]
    sheet = bevel_board(frame, HEADING)
    lines = [p for p, _ in dxf_polylines(dxf(sheet), "BEVELS")]
    places = board_places(frame, 304.8)
    want = [abs(bevels_at(frame, "f", g)[0]) for _, g in places]
    want += [abs(bevels_at(frame, "a", g)[0]) for _, g in places]
    got = [abs(np.degrees(np.arctan2(*(p[1] - p[0])[::-1]))) for p in lines]
    assert got == pytest.approx(want, abs=0.01)
    assert len(got) == 2 * len(places)


def test_the_floor_drawing_is_full_size() -> None:
    """The port timbers' joint edges and every hole lie at their true places."""
    job = marram()
    frame = job.framing.frames[11]
    holes = next(h for h in job.holes if h.frame == frame.number)
    sheet = _all()["floor"]
    from futtock.sheet.items import Arc

    arcs = [i for i in flat(sheet.items) if isinstance(i, Arc) and i.layer == "HOLES"]
    centres = np.array([i.centre_mm for i in arcs])
    foot = float(min(frame.joint.edge_mm[:, 1].min(), 1e9))
    port = centres[centres[:, 0] > 0]
    star = centres[centres[:, 0] < 0]
    assert len(port) == len(star) == len(holes.holes)
    at = np.array([h.at_mm for h in holes.holes])
    gap = np.sort(port, axis=0) - np.sort(at, axis=0)
    assert np.ptp(gap, axis=0).max() < 1e-6
    assert np.abs(gap[:, 0]).max() < 1e-6
    assert np.abs(np.sort(port, axis=0) - np.sort(star * (-1, 1), axis=0)).max() < 1e-6
    assert foot > 0


def test_the_checks_are_the_benchs() -> None:
    """Every length to measure is on the floor drawing, with the figure the bench gives."""
    frame = marram().framing.frames[11]
    said = " ".join(i.text for i in flat(_all()["floor"].items) if isinstance(i, Text))
    checks = marram().checks(frame)
    assert {c.kind for c in checks} >= {"breadth", "diagonal", "height", "cross-spall"}
    for check in checks:
        if "level" not in check.name:
            assert f"{check.name} {close_length(check.mm, 'imperial')}" in said


def test_placed_moulds_lie_where_the_layout_says() -> None:
    """On the slab's sheet a mould stands at its placement, turned over where it is mirrored."""
    slab, mould, place = _placed()
    sheet = _all()["transfer"]
    (group,) = [i for i in sheet.items if isinstance(i, Group) and i.kind == "placement"]
    up = next(i for i in group.items if isinstance(i, Path) and i.layer == "OUTLINE-UP")
    assert np.abs(up.points_mm - place.lay(mould.outline_up_mm)).max() < 1e-9
    ((top, closed),) = dxf_polylines(dxf(sheet), "TOP")
    assert closed
    assert np.abs(top - slab.top_mm).max() < 1e-6


def test_saw_page_gives_every_mark_and_the_hands() -> None:
    """Angle and hand of every mark, the feed, the kept side and the cautions are on the page."""
    job = marram()
    mould = job.moulds[100]
    saw = next(s for s in job.saw_sheets if s.mark == mould.mark)
    for page, cut in zip(saw_page(saw, mould, HEADING), saw.cuts, strict=True):
        words = [i.text for i in flat(page.items) if isinstance(i, Text)]
        for mark in cut.marks:
            assert degrees(mark.deg) in words
        heads = [w for w in words if w in ("LEFT", "RIGHT", "SQUARE")]
        kept = cut.kept.upper()
        assert heads == [kept, *(m.head.upper() for m in cut.in_feeding_order())]
        assert cut.feed in words
        assert any("Local rules" in w for w in words)


def test_a_strip_is_as_long_as_its_cut() -> None:
    """The strip's edge is the cut's length and its marks stand at their lengths along it."""
    from futtock.job.settings import saw_settings

    job = marram()
    sheet = job.saw_sheets[100]
    for strip in saw_strips(sheet, saw_settings(job.sound.vessel)):
        drawn = strip_sheet(strip, HEADING)
        ((line, _),) = dxf_polylines(dxf(drawn), "LINE")
        assert np.ptp(line[:, 0]) == pytest.approx(strip.length_mm)
        ticks = sorted(
            float(p[0, 0]) for p, _ in dxf_polylines(dxf(drawn), "SEEN") if np.ptp(p[:, 0]) < 1e-9
        )
        assert ticks == pytest.approx(sorted(m.along_mm for m in strip.marks if not m.fine))


def test_what_a_code_says() -> None:
    """A link gets its mark and revision; without one the code says both itself."""
    assert code_text("12-P-f2", "7f3a") == "futtock:7f3a:12-P-f2"
    assert code_text("12", "7f", "http://yard/{mark}?r={revision}") == "http://yard/12?r=7f"


@lru_cache(maxsize=1)
def _book():
    job = marram()
    return shop_book(
        Book(
            HEADING,
            job.fairing.hull,
            _lines(),
            job.fairing.points,
            job.fairing.hydrostatics,
            job.framing.frames[10:13],
            job.moulds[90:120],
            None,
            {},
            {h.frame: h for h in job.holes[10:13]},
            job.fastenings,
            job.fairing.findings,
            (("planking", "1¼ in"),),
            ("offsets.csv",),
        )
    )


def test_the_book_has_contents_that_are_true() -> None:
    """Each line of the contents gives the page on which that heading stands."""
    book = _book()
    first = [i for i in flat(book.pages[0].items) if isinstance(i, Text)]
    rows: dict[float, list[Text]] = {}
    for t in first:
        rows.setdefault(round(t.at_mm[1], 2), []).append(t)
    listed = [
        sorted(r, key=lambda t: t.at_mm[0])
        for r in rows.values()
        if len(r) == 2 and r[1].text.isdigit()
    ]
    assert len(listed) >= 8
    for words, page in listed:
        there = [i.text for i in flat(book.pages[int(page.text) - 1].items) if isinstance(i, Text)]
        assert words.text in there


def test_no_words_of_the_book_lie_over_lines() -> None:
    """On no page, figures and tables alike."""
    found = {k: over for k, p in enumerate(_book().pages, 1) if (over := words_over_lines(p))}
    assert found == {}


def test_the_book_says_what_it_must() -> None:
    """Page numbers, bevels, doubtful figures, cautions with sources, and that it is no design."""
    book = _book()
    data = pdf(book.pages, contents=book.contents, black=True)
    assert data == pdf(book.pages, contents=book.contents, black=True)
    with pdfplumber.open(io.BytesIO(data)) as doc:
        texts = [p.extract_text() for p in doc.pages]
    n = len(texts)
    assert all(f"{k} of {n}" in t for k, t in enumerate(texts, 1))
    whole = "\n".join(texts)
    for part in (
        "not a design", "Bevels of frame 12", "Doubtful figures", "Cautions", "source:",
        "Framing list", "Treenail holes of frame 12", "Hydrostatics",
    ):  # fmt: skip
        assert part in whole
    doubts = [p for p in marram().fairing.points if p.doubtful]
    assert f"{len(doubts)} doubtful" in whole
