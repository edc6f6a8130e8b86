"""Tiles laid cross on cross and strips cut from a roll give the drawing back."""

from __future__ import annotations

import io

import numpy as np
import pdfplumber
import pytest
import shapely
from readback import MM, curve, nearest, read_pdf_paths

from futtock.errors import Misused
from futtock.sheet import style as ink
from futtock.sheet.items import Group, Text, flat, path
from futtock.sheet.pdf import pdf
from futtock.sheet.roll import cut, rolled
from futtock.sheet.sheet import PAPERS, Sheet, fitted
from futtock.sheet.tiles import tiled

RING = curve(120, 700.0, 140.0)


def _sheet(name: str = "12-P-f2", ring: np.ndarray = RING) -> Sheet:
    return fitted(name, [path(ring, ink.SEEN, True, layer="OUTLINE")], 10.0, title=name)


def _crosses(data: bytes, page: int) -> dict[str, np.ndarray]:
    """Centre of every registration cross on a printed page, by the words beside it."""
    with pdfplumber.open(io.BytesIO(data)) as doc:
        p = doc.pages[page]
        words = [w for w in p.extract_words() if w["text"].startswith("+")]
        height = float(p.height)
    level = [
        q for q in read_pdf_paths(data, page) if len(q) == 2 and abs(np.ptp(q[:, 0]) - 8) < 0.01
    ]
    centres = np.array([q.mean(0) for q in level])
    out = {}
    for w in words:
        at = np.array([w["x0"], height - w["bottom"]]) / MM
        out[w["text"]] = centres[np.hypot(*(centres - at).T).argmin()]
    return out


@pytest.mark.parametrize("paper", ["A4", "Letter", "A3", "Tabloid"])
@pytest.mark.parametrize("stretch", [(1.0, 1.0), (0.997, 1.002)])
def test_tiles_put_together_equal_the_sheet(paper: str, stretch: tuple[float, float]) -> None:
    """Laid cross on cross after printing on a stretching printer, tiles give the outline back.

    The printer is played by multiplying what the PDF says by the stretch; each tile is then shifted
    so that its crosses meet those of tiles already lying. What its window shows must lie on the
    outline within 0.1 mm, and all tiles together must show all of it.
    """
    sheet = _sheet()
    tiling = tiled(sheet, paper, stretch=stretch)
    data = pdf(tiling.pages)
    known: dict[str, np.ndarray] = {}
    shown: list[shapely.Geometry] = []
    waiting = list(range(1, len(tiling.pages)))
    first = waiting[0]
    while waiting:
        for page in waiting:
            crosses = {k: v * stretch for k, v in _crosses(data, page).items()}
            shared = [k for k in crosses if k in known]
            if shared or not known:
                break
        else:
            pytest.fail("a tile shares no cross with the others")
        shift = np.mean([known[k] - crosses[k] for k in shared], axis=0) if shared else np.zeros(2)
        for k in shared:
            assert np.hypot(*(crosses[k] + shift - known[k])) < 0.02
        known |= {k: v + shift for k, v in crosses.items() if k not in known}
        w, h = tiling.pages[page].size_mm
        window = shapely.box(24.0, 26.0, w - 8.0, h - 14.0)
        for line in read_pdf_paths(data, page):
            if len(line) > 5:
                seen = shapely.intersection(shapely.LineString(line), window)
                shown.append(shapely.transform(seen, lambda p, by=shift: p * stretch + by))
        waiting.remove(page)
    corner = np.array(tiling.places[first - 1][1][:2])
    there = shapely.LinearRing(RING + sheet.origin_mm - corner + np.array([24.0, 26.0]) * stretch)
    together = shapely.union_all(shown)
    assert shapely.distance(shapely.points(shapely.get_coordinates(together)), there).max() < 0.1
    every = shapely.points(shapely.get_coordinates(shapely.segmentize(there, 1.0)))
    assert shapely.distance(every, together).max() < 0.1


def test_every_point_lies_in_some_tiles_window() -> None:
    """The windows of the tiles that are kept cover the whole outline."""
    sheet = _sheet()
    tiling = tiled(sheet, "A4")
    inside = np.zeros(len(RING), bool)
    on_paper = RING + np.asarray(sheet.origin_mm)
    for _, (x0, y0, x1, y1) in tiling.places:
        inside |= (
            (on_paper[:, 0] >= x0)
            & (on_paper[:, 0] <= x1)
            & (on_paper[:, 1] >= y0)
            & (on_paper[:, 1] <= y1)
        )
    assert inside.all()
    assert len(tiling.pages) == len(tiling.places) + 1
    assert all(p.size_mm in (PAPERS["A4"], PAPERS["A4"][::-1]) for p in tiling.pages)


def test_tiles_with_nothing_on_them_are_left_out() -> None:
    """A long thin diagonal needs far fewer tiles than its rectangle holds."""
    line = fitted("d", [path([(0, 0), (1500, 1500)])])
    tiling = tiled(line, "A4", lying=False)
    assert len(tiling.places) < 0.5 * tiling.columns * tiling.rows


def test_tiles_refuse_what_cannot_be() -> None:
    """An unknown paper, no overlap, or a stretch that no printer has, is said in words."""
    for bad, words in (
        ({"paper": "A9"}, "A9"),
        ({"overlap_mm": 1.0}, "overlap"),
        ({"stretch": (1.2, 1.0)}, "stretch"),
    ):
        with pytest.raises(Misused, match=words):
            tiled(_sheet(), **bad)  # type: ignore[arg-type]


def test_each_tile_has_four_check_lines() -> None:
    """Each tile carries 100.00 mm and 101.60 mm both ways, outside its window."""
    tiling = tiled(_sheet(), "A4")
    data = pdf(tiling.pages)
    for page in range(1, len(tiling.pages)):
        spans = [np.ptp(p, axis=0) for p in read_pdf_paths(data, page) if len(p) == 2]
        for axis in (0, 1):
            got = sorted(
                round(float(s[axis]), 2) for s in spans if s[axis] > 90 and s[1 - axis] < 1e-6
            )
            assert got == [100.0, 101.6]


def _laid(result, sheets):  # type: ignore[no-untyped-def]
    import shapely

    out = []
    by_name = {s.name: s for s in sheets}
    for name, page, (dx, dy), turn in result.places:
        t = np.radians(turn)
        p = RING_OF[name] + np.asarray(by_name[name].origin_mm)
        q = np.column_stack(
            [p[:, 0] * np.cos(t) - p[:, 1] * np.sin(t), p[:, 0] * np.sin(t) + p[:, 1] * np.cos(t)]
        )
        out.append((page, shapely.Polygon(q + np.array([dx, dy]))))
    return out


RING_OF = {f"m{k}": curve(60, 500.0 + 60 * k, 60.0 + 15 * k) * (1, 0.8) for k in range(14)}


def test_a_roll_holds_all_without_touching() -> None:
    """Every mould lies on a page of the roll, inside it, clear of others; paper is counted."""
    sheets = [_sheet(n, r) for n, r in RING_OF.items()]
    result = rolled(sheets, 914.0, gap_mm=6.0)
    assert sorted(p[0] for p in result.places) == sorted(RING_OF)
    laid = _laid(result, sheets)
    for k, (page, a) in enumerate(laid):
        x0, y0, x1, y1 = a.bounds
        w, h = result.pages[page].size_mm
        assert x0 >= 5
        assert y0 >= 5
        assert x1 <= w - 5
        assert y1 <= h - 5
        for other, b in laid[k + 1 :]:
            assert other != page or a.distance(b) > 5.0
    assert result.paper_m == pytest.approx(sum(p.size_mm[0] for p in result.pages) / 1000)
    assert all(p.size_mm[0] <= 5000 and p.size_mm[1] == 914 for p in result.pages)
    boxes = sum(np.prod(s.size_mm) for s in sheets)
    assert result.paper_m * 1000 * 914 < 0.85 * boxes, "curved moulds must nest"


def test_a_roll_prints_true() -> None:
    """The outline on the roll's page, read back from its PDF, has the mould's own lengths."""
    sheets = [_sheet(n, r) for n, r in list(RING_OF.items())[:3]]
    result = rolled(sheets, 610.0)
    data = pdf(result.pages)
    for (name, page, shift, turn), s in zip(
        result.places, [_sheet(p[0], RING_OF[p[0]]) for p in result.places], strict=True
    ):
        t = np.radians(turn)
        p = RING_OF[name] + np.asarray(s.origin_mm)
        q = np.column_stack(
            [p[:, 0] * np.cos(t) - p[:, 1] * np.sin(t), p[:, 0] * np.sin(t) + p[:, 1] * np.cos(t)]
        )
        assert nearest(q + shift, read_pdf_paths(data, page)) < 0.05


def test_a_roll_too_narrow_says_how_wide() -> None:
    """A mould wider than the roll is refused with both figures."""
    with pytest.raises(Misused, match="a roll of 100 mm"):
        rolled([_sheet()], 100.0)


def test_long_sheets_are_cut_with_match_marks() -> None:
    """Parts of a sheet longer than a page overlap, and carry the same marks at the same places."""
    ring = curve(400, 9000.0, 300.0)
    sheet = _sheet("long", ring)
    parts = cut(sheet, 4000.0)
    assert len(parts) == 3
    assert all(max(p.size_mm) <= 4000.0 for p in parts)
    marks: dict[str, list[float]] = {}
    for p in parts:
        for item in flat(p.items):
            if isinstance(item, Text) and item.text.startswith("match"):
                marks.setdefault(item.text, []).append(item.at_mm[0])
    assert len(marks) == 2
    for places in marks.values():
        assert len(places) == 2
        assert places[0] == pytest.approx(places[1], abs=1e-6)
    assert isinstance(parts[0].items[0], Group)
