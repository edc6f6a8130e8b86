"""Moulds read back from paper: every outline point, every length written, every label clear."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pdfplumber
import pytest
from exact_frames import cone_frame
from readback import MM, dxf_polylines, nearest, read_pdf_paths, read_svg_paths
from whole_marram import HEADING, marram

from futtock.drawing.figures import degrees, lettered, standing
from futtock.drawing.half_pattern import half_pattern
from futtock.drawing.heading import FULL, title_block
from futtock.drawing.mould import mould_group, mould_outline, mould_sheet
from futtock.drawing.mould_checks import corners, edges_at, offset_table, tape_stations
from futtock.drawing.mould_look import MouldLook
from futtock.drawing.pattern_checks import tape_of
from futtock.sheet.dxf import dxf
from futtock.sheet.extent import text_corners
from futtock.sheet.items import Arc, Group, Path, Text, flat
from futtock.sheet.pdf import pdf
from futtock.sheet.svg import svg


def _some():
    return marram().moulds[::42]


@pytest.mark.parametrize("make", [mould_sheet, mould_group, mould_outline])
def test_every_outline_point_reads_back(make) -> None:
    """Both outlines' points lie within 0.05 mm in PDF, SVG and DXF, read by other libraries."""
    for mould in _some():
        sheet = make(mould, HEADING)
        both = np.vstack([mould.outline_up_mm, mould.outline_down_mm])
        origin = np.asarray(sheet.origin_mm)
        assert nearest(both + origin, read_pdf_paths(pdf([sheet]))) < 0.05
        paths, (ox, oy) = read_svg_paths(svg(sheet))
        assert nearest(np.array([ox, oy]) + both * (1, -1), paths) < 0.05
        data = dxf(sheet)
        for layer, ring in (
            ("OUTLINE-UP", mould.outline_up_mm),
            ("OUTLINE-DOWN", mould.outline_down_mm),
        ):
            closed = [p for p, shut in dxf_polylines(data, layer) if shut]
            assert len(closed) == 1
            assert np.abs(closed[0] - ring).max() < 1e-6


def test_check_lines_are_exact() -> None:
    """Each mould's sheet has 100.00 mm and 101.60 mm, across and up."""
    for mould in _some()[:4]:
        spans = [
            np.ptp(p, axis=0)
            for p in read_pdf_paths(pdf([mould_sheet(mould, HEADING)]))
            if len(p) == 2
        ]
        for axis in (0, 1):
            got = {round(float(s[axis]), 2) for s in spans if s[1 - axis] < 1e-6}
            assert {100.0, 101.6} <= got


def test_control_diagonals_say_their_length() -> None:
    """The lengths written beside the diagonals are those between the corners, to 0.05 mm."""
    for mould in _some():
        words = [i.text for i in flat(mould_sheet(mould, HEADING).items) if isinstance(i, Text)]
        c = corners(mould)
        for a, b in (("A", "D"), ("C", "B")):
            found = [w for w in words if w.startswith(f"{a}–{b} ")]
            assert len(found) == 1
            said = float(re.search(r" ([\d.]+) mm", found[0])[1])
            assert said == pytest.approx(float(np.hypot(*(c[a] - c[b]))), abs=0.05)


def test_tape_offsets_lie_on_the_outline() -> None:
    """Every offset of the table is a height at which the outline crosses that station."""
    import shapely

    for mould in _some():
        ring = shapely.Polygon(mould.outline_up_mm)
        rows = offset_table(mould, HEADING).rows
        assert len(rows) == len(tape_stations(mould, 150.0))
        for along, low, high in rows:
            x = float(along.split()[0])
            cut = ring.intersection(shapely.LineString([(x, -1e3), (x, 1e4)])).bounds
            assert (float(low), float(high)) == pytest.approx((cut[1], cut[3]), abs=0.06)


def test_offsets_beyond_the_outline_are_missing() -> None:
    """Where the outline does not reach, there is no offset (nan), not a guess."""
    low, high = edges_at(np.array([(0, 0), (1, 0), (1, 1)], float), 5.0)
    assert np.isnan(low)
    assert np.isnan(high)


def test_standing_bevels_are_those_whose_far_face_lies_outside() -> None:
    """The word on the paper agrees with the two outlines: standing outside, under inside.

    Checked on every bevel mark of the demo against a polygon test, which knows no signs.
    """
    import shapely

    checked = 0
    for mould in marram().moulds[::7]:
        wood = shapely.Polygon(mould.outline_up_mm)
        for edge, attr in ((mould.edges[0], "outer_deg"), (mould.edges[1], "inner_deg")):
            for mark in mould.marks[1:-1]:
                deg = getattr(mark, attr)
                if abs(deg) < 1.0:
                    continue
                at = np.interp(mark.at_mm, mould.edges[0].at_mm, np.arange(len(edge.up_mm)))
                far = [
                    np.interp(at, np.arange(len(edge.down_mm)), edge.down_mm[:, k]) for k in (0, 1)
                ]
                inside = bool(shapely.contains_xy(wood, *far))
                assert standing(mould.up, edge.name, deg) == ("under" if inside else "standing")
                checked += 1
    assert checked > 100


def test_labels_keep_off_the_outlines_and_each_other() -> None:
    """No words on a mould lie across an outline, and none on other words."""
    import shapely

    for mould in _some():
        words = [
            i for i in flat(mould_sheet(mould, HEADING).items) if isinstance(i, Text) and i.text
        ]
        boxes = [shapely.Polygon(text_corners(w)) for w in words]
        up = shapely.LinearRing(mould.outline_up_mm)
        crossed = [w.text for w, b in zip(words, boxes, strict=True) if b.intersects(up)]
        assert crossed == []
        for i, a in enumerate(boxes):
            for j in range(i + 1, len(boxes)):
                over = a.intersection(boxes[j]).area
                assert over < 0.05, (words[i].text, words[j].text)


def test_the_sheet_says_what_it_is() -> None:
    """Mark, frame, layer, side, face up, revision, date and vessel can be read off the page."""
    mould = marram().moulds[3]
    with pdfplumber.open(io.BytesIO(pdf([mould_sheet(mould, HEADING)]))) as doc:
        text = doc.pages[0].extract_text()
    for part in (mould.mark, "Marram", "14 March 2026", "7f3a21bc", "HEEL", "HEAD", "full size"):
        assert part in text


def test_a_long_name_stays_in_its_box() -> None:
    """A vessel with a very long name in three alphabets is shortened within its box."""
    name = "Святая Великомученица Екатерина, Ναυτικός Όμιλος of the Outer Banks"
    items = title_block((0.0, 0.0), 190.0, replace(HEADING, vessel=name), "Frame 12", FULL)
    words = [i for i in items if isinstance(i, Text)]
    assert any(t.text.endswith("…") and t.text.startswith("Святая") for t in words)
    by_row: dict[float, list[tuple[float, float]]] = {}
    for t in words:
        c = text_corners(t)
        by_row.setdefault(t.at_mm[1], []).append((c[:, 0].min(), c[:, 0].max()))
    assert len(by_row) == 2
    for row in by_row.values():
        row.sort()
        assert all(a[1] < b[0] for a, b in pairwise(row))


def test_the_code_can_be_scanned(tmp_path) -> None:
    """A camera's reader finds mark and revision in the printed code."""
    import cv2
    import pypdfium2

    mould = marram().moulds[100]
    page = pypdfium2.PdfDocument(pdf([mould_sheet(mould, HEADING)]))[0]
    picture = np.asarray(page.render(scale=3.0).to_pil().convert("L"))
    sheet = mould_sheet(mould, HEADING)
    (ink,) = [i for i in flat(sheet.items) if isinstance(i, Path) and i.layer == "CODE"]
    assert len(ink.holes_mm) > 100
    spots = np.vstack([ink.points_mm, *ink.holes_mm]) + np.asarray(sheet.origin_mm)
    side = np.ptp(spots, axis=0)
    assert side == pytest.approx((22.0, 22.0))
    x, y = (spots.min(axis=0) + spots.max(axis=0)) / 2
    k = 3.0 * MM
    h = picture.shape[0]
    r = int(22 * k)
    cx, cy = int(x * k), int(h - y * k)
    crop = picture[max(cy - r, 0) : cy + r, max(cx - r, 0) : cx + r]
    found, _, _ = cv2.QRCodeDetector().detectAndDecode(np.ascontiguousarray(crop))
    assert found == f"futtock:7f3a21bc:{mould.mark}"


def test_a_half_pattern_carries_both_layers() -> None:
    """The pattern has both layers' butts, both far faces, and its joint edge true to 0.05 mm."""
    frame = cone_frame(14.0, number=12, x_mm=7200.0, divisions={"f": (0.3, 0.62), "a": (0.45, 0.8)})
    sheet = half_pattern(frame, HEADING)
    data = dxf(sheet)
    assert len(dxf_polylines(data, "BUTT-F")) == 3
    assert len(dxf_polylines(data, "BUTT-A")) == 3
    edge = frame.joint.edge_mm + np.asarray(sheet.origin_mm)
    assert nearest(edge, read_pdf_paths(pdf([sheet]))) < 0.05
    for layer in frame.layers:
        ((far, _),) = dxf_polylines(data, f"FAR-EDGE-{layer.name.upper()}")
        assert np.abs(far - layer.far_edge_mm).max() < 1e-6


def test_a_half_pattern_proves_itself() -> None:
    """It carries both diagonals, a code, and offsets from the line A-B that lie on both edges."""
    import shapely

    frame = marram().framing.frames[12]
    sheet = half_pattern(frame, HEADING)
    said = [i.text for i in flat(sheet.items) if isinstance(i, Text)]
    e, i = frame.joint.edge_mm, frame.joint.inner_mm
    for name, p, q in (("A–D", e[0], i[-1]), ("C–B", i[0], e[-1])):
        (words,) = [w for w in said if w.startswith(f"{name} ")]
        assert float(words.split()[1]) == pytest.approx(float(np.hypot(*(q - p))), abs=0.05)
    rows = tape_of(frame).table().rows
    assert len(rows) == int((np.hypot(*(e[-1] - e[0])) - 5.0) // 150.0)
    ring = shapely.LinearRing(np.concatenate([e, i[::-1]]))
    u = (e[-1] - e[0]) / np.hypot(*(e[-1] - e[0]))
    out = np.array([u[1], -u[0]])
    for row in rows:
        assert set(row) <= set(said)
        for off in row[1:]:
            at = e[0] + float(row[0].split()[0]) * u + float(off) * out
            assert ring.distance(shapely.Point(at)) < 0.06
    (code,) = [g for g in sheet.items if isinstance(g, Group) and g.kind == "code"]
    assert code.name == f"futtock:7f3a21bc:{frame.plane.number}"


def test_a_heeled_frame_is_not_cut_from_edge_to_edge() -> None:
    """Where the timbers have heels the joint's outline is open there; else it is closed."""
    import shapely

    heeled = dxf_polylines(dxf(half_pattern(marram().framing.frames[12], HEADING)), "OUTLINE-JOINT")
    assert [closed for _, closed in heeled] == [False]
    # the heel's own line runs from the inner edge by the throat and the centre to the outer edge
    (joint, _), ((foot, _), *_) = (
        heeled[0],
        dxf_polylines(dxf(half_pattern(marram().framing.frames[12], HEADING)), "HEEL-F"),
    )
    edges = shapely.LineString(joint)
    assert shapely.distance(shapely.points(foot[[0, -1]]), edges) == pytest.approx(0, abs=0.05)
    assert np.abs(foot[:, 0]).min() < 0.01
    plain = dxf_polylines(dxf(half_pattern(cone_frame(14.0), HEADING)), "OUTLINE-JOINT")
    assert [closed for _, closed in plain] == [True]


def test_a_pattern_without_a_frame_is_drawn() -> None:
    """A pattern already made, with no frame, layer or place behind it, still has its sheet."""
    mould = replace(marram().moulds[3], frame=None, layer=None, side=None, place=None, labels=())
    sheet = mould_sheet(mould, HEADING)
    assert (
        nearest(mould.outline_up_mm + np.asarray(sheet.origin_mm), read_pdf_paths(pdf([sheet])))
        < 0.05
    )


def test_doubtful_lines_say_how_much_wood_to_leave() -> None:
    """Where the lines are uncertain the mould is ringed and says how much to leave."""
    sure = mould_sheet(marram().moulds[3], HEADING)
    unsure = mould_sheet(replace(marram().moulds[3], doubt_mm=4.0, leave_mm=8.0), HEADING)
    assert not [i for i in flat(sure.items) if isinstance(i, Arc) and i.layer == "EYE"]
    assert [i for i in flat(unsure.items) if isinstance(i, Arc) and i.layer == "EYE"]
    words = " ".join(i.text for i in flat(unsure.items) if isinstance(i, Text))
    assert "leave 8 mm" in words


def test_the_blank_leaves_what_was_asked() -> None:
    """The broken line round both faces stands off them by the allowance, to 0.05 mm."""
    import shapely

    mould = marram().moulds[3]
    sheet = mould_sheet(mould, HEADING, MouldLook(allowance_mm=9.5))
    ((ring, closed),) = dxf_polylines(dxf(sheet), "BLANK")
    assert closed
    both = shapely.Polygon(mould.outline_up_mm).union(shapely.Polygon(mould.outline_down_mm))
    off = [both.exterior.distance(shapely.Point(p)) for p in ring]
    assert off == pytest.approx([9.5] * len(ring), abs=0.05)
    assert not dxf_polylines(dxf(mould_sheet(mould, HEADING)), "BLANK")


def test_fractions_are_lettered_whole() -> None:
    """Halves to sixteenths become one sign each; the trade's offsets stay as they are."""
    assert lettered("3' 4 5/8\"") == "3' 4⅝\""
    assert lettered("1/16 in") == "¹⁄₁₆ in"
    assert lettered("13 7/16 in") == "13⁷⁄₁₆ in"
    assert lettered("2-6-4") == "2-6-4"
    assert degrees(-7.26) == "7¼°"


def test_degrees_keep_off_the_tape_lines_ticks() -> None:
    """No figure of a bevel lies across a tick of the tape line or a control diagonal."""
    import shapely

    for mould in _some():
        items = list(flat(mould_sheet(mould, HEADING).items))
        lines = [
            shapely.LineString(i.points_mm)
            for i in items
            if isinstance(i, Path) and i.layer == "CONTROL"
        ]
        for word in items:
            if isinstance(word, Text) and re.fullmatch(r"\d*[¼½¾]?° ?[su]?", word.text):
                box = shapely.Polygon(text_corners(word))
                assert not any(box.intersects(line) for line in lines), (mould.mark, word.text)
