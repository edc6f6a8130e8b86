"""Every mould of the demo as it is written: read back by libraries that did not write it.

The PDF by PDFium, the DXF by trimesh, the SVG by fontTools.
"""

from __future__ import annotations

import ctypes
import io
import json
import re

import ezdxf
import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
import shapely
from fontTools.pens.recordingPen import RecordingPen
from fontTools.svgLib import SVGPath
from readback import MM
from scipy.spatial import KDTree
from trimesh.path.exchange.dxf import load_dxf
from whole_marram import HEADING, marram

from futtock.drawing.mould_papers import MouldPapers, every_mould

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def papers() -> dict[str, MouldPapers]:
    """What the yard is given of each mould, by its mark."""
    return {p.mark: p for p in every_mould(marram().moulds, HEADING)}


def _stroked(data: bytes) -> tuple[np.ndarray, np.ndarray]:
    """Corners (n, 2) of all stroked lines of a one-page PDF in mm, and its stated origin."""
    document = pypdfium2.PdfDocument(data)
    page = document[0]
    x, y = ctypes.c_float(), ctypes.c_float()
    fill, stroke = ctypes.c_int(), ctypes.c_int()
    corners = []
    for k in range(pdfium.FPDFPage_CountObjects(page)):
        item = pdfium.FPDFPage_GetObject(page, k)
        if pdfium.FPDFPageObj_GetType(item) != pdfium.FPDF_PAGEOBJ_PATH:
            continue
        pdfium.FPDFPath_GetDrawMode(item, fill, stroke)
        if stroke.value:
            for j in range(pdfium.FPDFPath_CountSegments(item)):
                segment = pdfium.FPDFPath_GetPathSegment(item, j)
                pdfium.FPDFPathSegment_GetPoint(segment, x, y)
                corners.append((x.value, y.value))
    origin = json.loads(document.get_metadata_dict()["Keywords"])["page_origin_mm"]
    return np.array(corners) / MM, np.array(origin)


def _outlined(text: str) -> tuple[np.ndarray, np.ndarray]:
    """Corners (n, 2) of all paths of an SVG, y down, and its stated origin."""
    pen = RecordingPen()
    SVGPath.fromstring(text.encode()).draw(pen)
    corners = np.array([p for _, points in pen.value for p in points])
    stated = re.search(r'data-page_origin_mm="([-\d.]+) ([-\d.]+)"', text)
    assert stated is not None
    return corners, np.array(stated.groups(), float)


def _off(points: np.ndarray, corners: np.ndarray) -> float:
    return float(KDTree(corners).query(points)[0].max())


def test_every_outline_point_of_every_mould_reads_back(papers: dict[str, MouldPapers]) -> None:
    """Both outlines of every mould are within 0.05 mm in PDF, SVG and DXF."""
    worst = {"pdf": 0.0, "svg": 0.0, "dxf": 0.0}
    assert set(papers) == {m.mark for m in marram().moulds}
    for mould in marram().moulds:
        made = papers[mould.mark]
        both = np.vstack([mould.outline_up_mm, mould.outline_down_mm])
        corners, origin = _stroked(made.pdf)
        worst["pdf"] = max(worst["pdf"], _off(both + origin, corners))
        corners, origin = _outlined(made.svg.decode())
        worst["svg"] = max(worst["svg"], _off(origin + both * (1, -1), corners))
        drawn = load_dxf(io.BytesIO(made.dxf))
        for layer, ring in (
            ("OUTLINE-UP", mould.outline_up_mm),
            ("OUTLINE-DOWN", mould.outline_down_mm),
        ):
            lines = [drawn["vertices"][e.points] for e in drawn["entities"] if e.layer == layer]
            (own,) = [line for line in lines if np.array_equal(line[0], line[-1])]
            worst["dxf"] = max(worst["dxf"], _off(ring, own))
            # and nothing stands off the outline between its corners
            far = shapely.distance(shapely.points(own), shapely.LinearRing(ring)).max()
            worst["dxf"] = max(worst["dxf"], float(far))
    assert max(worst.values()) < 0.05, worst


def test_every_dxf_is_audited_clean(papers: dict[str, MouldPapers]) -> None:
    """An audit finds nothing to mend in any mould's file, which is R2010 in millimetres."""
    for mark in sorted(papers)[::4]:
        document = ezdxf.read(io.StringIO(papers[mark].dxf.decode()))
        auditor = document.audit()
        assert not auditor.errors, mark
        assert not auditor.fixes, mark
        assert (document.dxfversion, document.units) == ("AC1024", 4)


def test_check_lines_of_every_print_are_exact(papers: dict[str, MouldPapers]) -> None:
    """Lines of 100.00 and 101.60 mm both ways are on every mould's print."""
    for mark, made in papers.items():
        document = pypdfium2.PdfDocument(made.pdf)
        page = document[0]
        spans = []
        for k in range(pdfium.FPDFPage_CountObjects(page)):
            item = pdfium.FPDFPage_GetObject(page, k)
            if (
                pdfium.FPDFPageObj_GetType(item) == pdfium.FPDF_PAGEOBJ_PATH
                and pdfium.FPDFPath_CountSegments(item) == 2
            ):
                ends = [_end(item, j) for j in (0, 1)]
                spans.append(np.abs(np.subtract(*ends)) / MM)
        found = np.array(spans)
        for axis in (0, 1):
            own = found[found[:, 1 - axis] < 1e-3, axis]
            for long in (100.0, 101.6):
                assert np.abs(own - long).min() < 0.005, (mark, axis, long)


def _end(item: object, j: int) -> tuple[float, float]:
    x, y = ctypes.c_float(), ctypes.c_float()
    pdfium.FPDFPathSegment_GetPoint(pdfium.FPDFPath_GetPathSegment(item, j), x, y)
    return (x.value, y.value)
