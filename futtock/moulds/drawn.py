"""What a drawing of a pattern holds: rings and words in millimetres, y away from the reader.

Readers for DXF and SVG. They take the file's bytes; nothing here opens a file.
"""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.findings import Finding
from futtock.moulds import kinds
from futtock.moulds.svg_path import NUMBER, path_lines

Array = NDArray[np.float64]
_FLAT_MM = 0.02
_FARTHEST_MM = 1e6


@dataclass(frozen=True)
class Drawn:
    """Closed rings and words of a drawing, each with the name of its layer or group.

    ``rings`` are (layer, (n, 2)), ``words`` (layer, text, (x, y)).
    """

    rings: tuple[tuple[str, Array], ...]
    words: tuple[tuple[str, str, tuple[float, float]], ...]
    findings: tuple[Finding, ...] = ()


def read_dxf(name: str, data: bytes) -> Drawn:
    """Closed curves and texts of a DXF's model space, in millimetres by its $INSUNITS."""
    from ezdxf import recover, units
    from ezdxf.enums import InsertUnits
    from ezdxf.lldxf.const import DXFError
    from ezdxf.path import make_path

    try:
        doc, _ = recover.read(io.BytesIO(data))
    except (DXFError, OSError, ValueError, UnicodeDecodeError) as wrong:
        return Drawn((), (), (_unreadable(name, "DXF", wrong),))
    findings: list[Finding] = []
    scale = 1.0
    known = doc.units in set(map(int, InsertUnits))
    if doc.units and known:
        scale = units.conversion_factor(InsertUnits(doc.units), InsertUnits.Millimeters)
    else:
        findings.append(kinds.PATTERN_UNITS.found(f"{name} names no unit ($INSUNITS).", file=name))
    rings, words = [], []
    for entity in doc.modelspace():
        layer = str(entity.dxf.get("layer", "0"))
        kind = entity.dxftype()
        try:
            if kind in ("LWPOLYLINE", "POLYLINE", "SPLINE", "CIRCLE", "ELLIPSE"):
                path = make_path(entity)
                _no_farther(np.array([(p.x, p.y) for p in path.control_vertices()]) * scale)
                points = [(p.x, p.y) for p in path.flattening(_FLAT_MM / scale)]
                if len(points) > 3 and path.is_closed:
                    rings.append((layer, _ring(np.array(points) * scale)))
            elif kind in ("TEXT", "MTEXT"):
                text = entity.plain_text() if hasattr(entity, "plain_text") else entity.dxf.text
                at = entity.dxf.insert
                words.append((layer, str(text).strip(), (at.x * scale, at.y * scale)))
        except Exception as wrong:  # of a broken entity ezdxf lets out what its parts raise
            findings.append(_unreadable(name, f"DXF {kind}", wrong))
    return Drawn(tuple(rings), tuple(words), tuple(findings))


def _no_farther(points: Array) -> None:
    """Refuse what lies farther out than any timber, before it is followed in small steps."""
    if not np.isfinite(points).all() or np.abs(points).max(initial=0.0) > _FARTHEST_MM:
        raise ValueError(f"it holds a figure beyond {_FARTHEST_MM / 1000:g} m")


def read_svg(name: str, data: bytes) -> Drawn:
    """Closed paths and texts of an SVG, in millimetres by its width and viewBox; y turned up.

    Straight lines, Bezier curves and arcs of paths are flattened to 0.02 mm; polygons are read too.
    Transforms of groups and shapes are followed.
    """
    try:
        root = ET.fromstring(data)
        shapes = list(_walk(root, np.eye(3), ""))
    except (ET.ParseError, RecursionError) as wrong:
        return Drawn((), (), (_unreadable(name, "SVG", wrong),))
    findings: list[Finding] = []
    scale = _svg_scale(root)
    if scale is None:
        findings.append(
            kinds.PATTERN_UNITS.found(f"{name} gives no width in mm, cm or in.", file=name)
        )
        scale = 1.0
    rings, words = [], []
    flip = np.array([1.0, -1.0])
    for element, matrix, layer in shapes:
        tag = element.tag.rsplit("}", 1)[-1]
        try:
            if tag == "path":
                lines = path_lines(element.get("d", ""), _FLAT_MM / scale)
            elif tag == "polygon":
                points = np.array([float(v) for v in NUMBER.findall(element.get("points", ""))])
                lines = [(points.reshape(-1, 2), True)]
            else:
                lines = []
        except ValueError as wrong:
            findings.append(_unreadable(name, "SVG path", wrong))
            continue
        for points, closed in lines:
            if closed and len(points) >= 3:
                ring = _moved(points, matrix) * scale * flip
                try:
                    _no_farther(ring)
                except ValueError as wrong:
                    findings.append(_unreadable(name, "SVG path", wrong))
                    continue
                rings.append((layer, _ring(ring)))
        if tag == "text":
            text = "".join(element.itertext()).strip()
            found = [NUMBER.match((element.get(k) or "").strip()) for k in ("x", "y")]
            at = [float(n[0]) if n else 0.0 for n in found]
            x, y = _moved(np.array([at]), matrix)[0] * scale * flip
            words.append((layer, text, (float(x), float(y))))
    return Drawn(tuple(rings), tuple(words), tuple(findings))


def _unreadable(name: str, what: str, wrong: Exception) -> Finding:
    said = str(wrong).splitlines()[0][:120] if str(wrong) else type(wrong).__name__
    return kinds.PATTERN_UNREADABLE.found(
        f"{name} is no {what} that can be read: {said}.", file=name, read=said, expected=what
    )


def _ring(points: Array) -> Array:
    """A ring without its first point again at its end."""
    if np.hypot(*(points[0] - points[-1])) < 1e-6:
        points = points[:-1]
    return points


_UNIT_MM = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6}


def _svg_scale(root: ET.Element) -> float | None:
    """Millimetres in a user unit, or None where the file does not say."""
    size = re.fullmatch(rf"\s*({NUMBER.pattern})\s*([a-z]+)\s*", root.get("width") or "")
    if size is None or size[2] not in _UNIT_MM or not 0.0 < float(size[1]) < _FARTHEST_MM:
        return None
    box = [float(v) for v in NUMBER.findall(root.get("viewBox") or "")]
    wide = float(size[1]) * _UNIT_MM[size[2]]
    return wide / box[2] if len(box) == 4 and box[2] > 0 else _UNIT_MM[size[2]]


def _walk(
    element: ET.Element, matrix: Array, layer: str
) -> Iterator[tuple[ET.Element, Array, str]]:
    """Every element with its transform and the nearest group's name; definitions left out."""
    tag = str(element.tag).rsplit("}", 1)[-1]
    if tag in ("defs", "clipPath", "mask", "pattern", "symbol", "marker"):
        return
    matrix = matrix @ _transform(element.get("transform") or "")
    if tag == "g":
        label = next((v for k, v in element.attrib.items() if k.endswith("label")), None)
        layer = label or element.get("data-layer") or element.get("id") or layer
    yield element, matrix, element.get("data-layer") or layer
    for child in element:
        yield from _walk(child, matrix, layer)


def _transform(text: str) -> Array:
    whole = np.eye(3)
    for name, inside in re.findall(r"(\w+)\s*\(([^)]*)\)", text):
        v = [float(n) for n in NUMBER.findall(inside)]
        step = np.eye(3)
        if name == "matrix" and len(v) == 6:
            step[:2] = np.array(v).reshape(3, 2).T
        elif name == "translate" and v:
            step[:2, 2] = [v[0], v[1] if len(v) > 1 else 0.0]
        elif name == "scale" and v:
            step[0, 0], step[1, 1] = v[0], v[1] if len(v) > 1 else v[0]
        elif name == "rotate" and v:
            c, s = np.cos(np.radians(v[0])), np.sin(np.radians(v[0]))
            about = np.array(v[1:3]) if len(v) == 3 else np.zeros(2)
            step[:2, :2] = [[c, -s], [s, c]]
            step[:2, 2] = about - step[:2, :2] @ about
        whole = whole @ step
    return whole


def _moved(points: Array, matrix: Array) -> Array:
    moved: Array = points @ matrix[:2, :2].T + matrix[:2, 2]
    return moved
