"""What is written can be read back by another library, true to the fiftieth of a millimetre."""

from __future__ import annotations

import io
import json
import xml.etree.ElementTree as ET

import ezdxf
import numpy as np
import pdfplumber
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pdfminer.pdftypes import resolve1
from readback import (
    MM,
    SVG,
    curve,
    dxf_polylines,
    nearest,
    read_dxf_entities,
    read_pdf_paths,
    read_svg_paths,
)

from futtock.errors import Misused
from futtock.sheet import style as ink
from futtock.sheet.check import check_cross, check_line
from futtock.sheet.dxf import dxf
from futtock.sheet.extent import box_of, text_corners
from futtock.sheet.hatch import hatched
from futtock.sheet.items import Arc, Face, Group, Move, Text, flat, moved, path
from futtock.sheet.pdf import pdf
from futtock.sheet.sheet import Sheet, fitted
from futtock.sheet.svg import page_css, svg

RING = curve()


@pytest.fixture(scope="module")
def sheet() -> Sheet:
    items = [
        path(RING, ink.SEEN, closed=True, layer="OUTLINE"),
        path(RING * (1, 1.02), ink.BEHIND, closed=True, layer="FAR"),
        Arc((300.0, 80.0), 9.525, ink.EDGE),
        Arc((400.0, 80.0), 20.0, ink.EDGE, from_deg=10, to_deg=250),
        Text(
            "12-P-f2", (500.0, 130.0), 6.0, Face.FIGURES_BOLD, angle_deg=12.0, halo=ink.Tone.WHITE
        ),
        Text("7½° δοκός футокс & <heel>", (100.0, 20.0), 4.0),
        Group((Text("heel", (0.0, 0.0)),), name="end"),
    ]
    return fitted("mould", items, 12.0, title="Mould 12-P-f2")


def test_pdf_outline_reads_back(sheet: Sheet) -> None:
    """Every outline point lies within 0.005 mm of where pdfplumber finds it."""
    shifted = RING + np.asarray(sheet.origin_mm)
    assert nearest(shifted, read_pdf_paths(pdf([sheet]))) < 0.005


def test_pdf_page_is_full_size(sheet: Sheet) -> None:
    """The page has the sheet's own size, and says where its origin lies."""
    with pdfplumber.open(io.BytesIO(pdf([sheet]))) as doc:
        page = doc.pages[0]
        assert float(page.width) / MM == pytest.approx(sheet.size_mm[0], abs=1e-3)
        assert float(page.height) / MM == pytest.approx(sheet.size_mm[1], abs=1e-3)
        stated = json.loads(doc.metadata["Keywords"])["page_origin_mm"]
        assert stated == pytest.approx(sheet.origin_mm, abs=1e-5)
        wish = doc.doc.catalog["ViewerPreferences"]
        wish = wish.resolve() if hasattr(wish, "resolve") else wish
        assert wish["PrintScaling"].name == "None"


def test_pdf_is_the_same_twice_and_embeds_its_letters(sheet: Sheet) -> None:
    """The same sheet gives the same bytes; every font in them carries its own outlines."""
    data = pdf([sheet, sheet])
    assert data == pdf([sheet, sheet])
    with pdfplumber.open(io.BytesIO(data)) as doc:
        words = doc.pages[0].extract_text()
        fonts = [resolve1(f) for f in resolve1(doc.pages[0].page_obj.resources["Font"]).values()]
        assert len(fonts) >= 2
        for font in fonts:
            assert "FontFile2" in resolve1(font["FontDescriptor"])
    for part in ("12-P-f2", "7½°", "футокс", "δοκός"):
        assert part in words.replace("\n", " ")


def test_svg_outline_reads_back(sheet: Sheet) -> None:
    """A point (x, y) stands at (ox + x, oy - y) of the page, in millimetres, within 0.001 mm."""
    text = svg(sheet)
    paths, (ox, oy) = read_svg_paths(text)
    assert nearest(np.array([ox, oy]) + RING * (1, -1), paths) < 0.001
    root = ET.fromstring(text)
    assert root.attrib["width"].endswith("mm")
    assert json.loads(root.find(SVG + "metadata").text)["page_origin_mm"] == pytest.approx([ox, oy])
    w = float(root.attrib["viewBox"].split()[2])
    assert float(root.attrib["width"][:-2]) == pytest.approx(w)


def test_svg_for_a_page_keeps_its_strokes(sheet: Sheet) -> None:
    """On a page each line has a class that the rules know, and does not grow with the picture."""
    root = ET.fromstring(svg(sheet, "page"))
    rules = page_css()
    assert "width" not in root.attrib
    drawn = [n for n in root.iter() if n.tag in (SVG + "path", SVG + "circle")]
    assert len(drawn) == 4
    for node in drawn:
        assert node.attrib["vector-effect"] == "non-scaling-stroke"
        assert all(f".dr .{c}" in rules for c in node.attrib["class"].split())


def test_dxf_outline_reads_back(sheet: Sheet) -> None:
    """A reader of our own finds the outline closed, on its layer, unshifted, in millimetres."""
    data = dxf(sheet)
    ((points, closed),) = dxf_polylines(data, "OUTLINE")
    assert closed
    assert np.abs(points - RING).max() < 1e-6
    assert len(dxf_polylines(data, "FAR")) == 1
    text = data.decode()
    head = text[: text.index("ENDSEC")].splitlines()
    assert head[head.index("$INSUNITS") + 2].strip() == "4"
    assert head[head.index("$ACADVER") + 2].strip() == "AC1024"
    kinds = [name for name, _ in read_dxf_entities(data)]
    assert kinds.count("CIRCLE") == 1
    assert kinds.count("ARC") == 1
    assert kinds.count("TEXT") == 3


def test_dxf_is_clean_and_the_same_twice(sheet: Sheet) -> None:
    """An audit finds nothing, and the same sheet gives the same bytes."""
    data = dxf(sheet)
    assert data == dxf(sheet)
    doc = ezdxf.read(io.StringIO(data.decode()))
    auditor = doc.audit()
    assert not auditor.has_errors
    assert not auditor.has_fixes
    assert doc.units == 4


def test_check_lines_are_exact() -> None:
    """100 mm is 100.00 mm and 4 in is 101.60 mm in all four lines of the printed page."""
    s = fitted("check", [check_cross((0.0, 0.0))])
    long = sorted(
        round(float(np.hypot(*(p[-1] - p[0]))), 2)
        for p in read_pdf_paths(pdf([s]))
        if np.hypot(*(p[-1] - p[0])) > 20
    )
    assert long == [100.0, 100.0, 101.6, 101.6]


def test_check_line_makes_good_a_stretch() -> None:
    """A line for a printer that prints 100 as 99.7 is drawn 100 / 0.997 long."""
    group = check_line((0.0, 0.0), stretch=0.997)
    first = next(flat([group]))
    assert np.ptp(first.points_mm[:, 0]) == pytest.approx(100 / 0.997)


def test_a_page_beyond_the_format_is_refused() -> None:
    """A page over 5.08 m, or a document without pages, says so in words."""
    with pytest.raises(Misused, match="6000 mm long"):
        pdf([Sheet("long", (6000.0, 300.0), (0.0, 0.0), ())])
    with pytest.raises(Misused, match="one sheet"):
        pdf([])


def test_black_alone_has_no_other_colour(sheet: Sheet) -> None:
    """For a printer with black alone, everything stroked or filled is grey, black or white."""
    s = fitted("b", [path(RING, ink.EYE, True, ink.Tone.OAK), Text("?", (0, 0), tone=ink.Tone.RED)])
    with pdfplumber.open(io.BytesIO(pdf([s], black=True))) as doc:
        p = doc.pages[0]
        for item in [*p.curves, *p.chars]:
            for key in ("stroking_color", "non_stroking_color"):
                c = item[key]
                assert c is None or len(set(c)) == 1


def test_bad_points_are_refused() -> None:
    """A figure that is not finite never reaches paper."""
    with pytest.raises(Misused, match="not finite"):
        path([(0.0, 0.0), (float("nan"), 1.0)])


def test_hatching_stays_inside() -> None:
    """Hatch lines and dots of every kind lie inside the ring that they fill."""
    import shapely

    area = shapely.Polygon(RING).buffer(1e-6)
    for way in ("slants", "bars", "cross", "dots"):
        items = hatched(RING, way, 9.0)
        assert len(items) > 10
        for item in items:
            p = np.array([item.centre_mm]) if isinstance(item, Arc) else item.points_mm
            assert shapely.contains_xy(area, p).all()
    assert hatched([(0, 0), (1, 1)], "bars") == []


angles = st.floats(-360, 360)
places = st.floats(-500, 500)


@given(x=places, y=places, turn=angles, dx=places, dy=places)
def test_moving_words_moves_their_box(
    x: float, y: float, turn: float, dx: float, dy: float
) -> None:
    """The corners of a moved label are the moved corners of the label."""
    text = Text("12-P-f2", (x, y), 4.0, anchor="end", rise="middle", angle_deg=20.0)
    by = Move(dx, dy, turn)
    there = text_corners(moved(text, by))  # type: ignore[arg-type]
    assert np.allclose(there, by.points(text_corners(text)), atol=1e-9)


@given(x=places, y=places, turn=angles)
def test_a_moved_path_keeps_its_length(x: float, y: float, turn: float) -> None:
    """Turning and shifting change no length; the box holds every point."""
    ring = moved(path(RING, closed=True), Move(x, y, turn))
    a = np.hypot(*np.diff(RING, axis=0).T).sum()
    b = np.hypot(*np.diff(ring.points_mm, axis=0).T).sum()  # type: ignore[union-attr]
    assert b == pytest.approx(a, rel=1e-12)
    box = box_of([ring])
    assert box is not None
    assert (ring.points_mm >= (box[0], box[1])).all()  # type: ignore[union-attr]
