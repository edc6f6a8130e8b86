"""Shapes that the sheet's tests share, and readers of our own for what the writers wrote."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET

import numpy as np
import pdfplumber
from scipy.spatial import KDTree

MM = 72.0 / 25.4
SVG = "{http://www.w3.org/2000/svg}"


def curve(n: int = 160, length: float = 1400.0, sweep: float = 180.0) -> np.ndarray:
    """A closed bent strip (2 n, 2) such as a futtock's mould."""
    t = np.linspace(0, 1, n)
    mid = np.column_stack([length * t, 4 * sweep * t * (1 - t)])
    d = np.gradient(mid, axis=0)
    normal = np.column_stack([-d[:, 1], d[:, 0]]) / np.hypot(*d.T)[:, None]
    return np.vstack([mid - normal * 60, (mid + normal * 60)[::-1]]) + np.array([17.25, -31.5])


def read_pdf_paths(data: bytes, page: int = 0) -> list[np.ndarray]:
    """Every stroked path of a page, (n, 2) in mm from the lower left corner, y up."""
    with pdfplumber.open(io.BytesIO(data)) as doc:
        p = doc.pages[page]
        out = []
        for kind in (p.curves, p.lines, p.rects):
            for item in kind:
                pts = np.array([xy for step in item["path"] for xy in step[1:] if len(step) > 1])
                pts = pts.reshape(-1, 2)
                pts[:, 1] = float(p.height) - pts[:, 1]
                out.append(pts / MM)
    return out


def read_svg_paths(text: str) -> tuple[list[np.ndarray], tuple[float, float]]:
    """Every path of straight parts in page millimetres (y down), and page_origin_mm."""
    root = ET.fromstring(text)
    ox, oy = map(float, root.attrib["data-page_origin_mm"].split())
    out = []
    for node in root.iter(SVG + "path"):
        d = node.attrib["d"]
        if "A" in d:
            continue
        out.append(
            np.array([[float(a), float(b)] for a, b in re.findall(r"([-\d.]+),([-\d.]+)", d)])
        )
    return out, (ox, oy)


def read_dxf_entities(data: bytes) -> list[tuple[str, list[tuple[int, str]]]]:
    """Entities of a DXF as (name, pairs), by the format's own rule: code line, value line."""
    lines = data.decode("utf-8").splitlines()
    pairs = [(int(c), v.strip()) for c, v in zip(lines[0::2], lines[1::2], strict=True)]
    inside, out = False, []
    for k, (code, value) in enumerate(pairs):
        if code == 2 and value == "ENTITIES" and pairs[k - 1] == (0, "SECTION"):
            inside = True
        elif inside and code == 0 and value == "ENDSEC":
            break
        elif inside and code == 0:
            out.append((value, []))
        elif inside and out:
            out[-1][1].append((code, value))
    return out


def dxf_polylines(data: bytes, layer: str | None = None) -> list[tuple[np.ndarray, bool]]:
    """(points (n, 2), closed) of every LWPOLYLINE, perhaps of one layer."""
    out = []
    for name, pairs in read_dxf_entities(data):
        if name != "LWPOLYLINE" or (layer and (8, layer) not in pairs):
            continue
        xs = [float(v) for c, v in pairs if c == 10]
        ys = [float(v) for c, v in pairs if c == 20]
        closed = any(c == 70 and int(v) & 1 for c, v in pairs)
        out.append((np.column_stack([xs, ys]), closed))
    return out


def nearest(points: np.ndarray, paths: list[np.ndarray]) -> float:
    """Greatest distance from each of the points to its nearest corner on the paths."""
    return float(KDTree(np.vstack(paths)).query(points)[0].max())
