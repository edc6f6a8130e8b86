"""Patterns already made: an outline with bevels beside it becomes a mould, with no hull behind it.

A pattern is read from DXF, SVG or a CSV of taped points. It gives the face that is up; the other
face is its own second outline (on a layer named DOWN) or is found from the bevels. Bevels are
leans in the vessel's sense, positive where the hull widens going aft; with the word ``standing``
(or s) the wood's inside angle at the face that is up is over a right angle, with ``under`` (or u)
below it, so that the two edges of one lean are one standing and one under.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from futtock.errors import Unreadable
from futtock.findings import Finding, Severity
from futtock.measure import read_angle
from futtock.moulds import kinds
from futtock.moulds.drawn import Drawn, read_dxf, read_svg
from futtock.moulds.flat import face_up
from futtock.moulds.marks import bevel_marks
from futtock.moulds.mould import Label, Mould, SawnEdge
from futtock.moulds.rings import (
    anticlockwise,
    between_faces,
    frozen,
    met_square,
    run_mm,
    signed_area,
    without_repeats,
)
from futtock.moulds.settings import MouldSettings
from futtock.moulds.split import split_ring
from futtock.moulds.taped import MARK, Traced, Up, read_taped

Array = NDArray[np.float64]
_BEVEL = re.compile(
    r"^\s*(?:(s|standing|u|under)\s+)?([-+]?[\d¼½¾⅛⅜⅝⅞][\d¼½¾⅛⅜⅝⅞\s./-]*)\s*(?:°|deg(?:rees)?)?"
    r"\s*(s|standing|u|under)?\.?\s*$",
    re.IGNORECASE,
)


def read_patterns(
    files: Mapping[str, bytes], sided_mm: float, settings: MouldSettings | None = None
) -> tuple[tuple[Mould, ...], tuple[Finding, ...]]:
    """Moulds of all patterns, in the order of their piece marks, and every finding.

    Parameters
    ----------
    files
        File name to contents, of ``.dxf``, ``.svg`` and ``.csv``; others are passed over.
    sided_mm
        Sided size where a pattern states none.
    settings
        Density, bevel marks, and which face is up where a pattern does not say.
    """
    chosen = settings or MouldSettings()
    moulds: dict[str, Mould] = {}
    findings: list[Finding] = []
    for name in sorted(files):
        if name.rsplit(".", 1)[-1].lower() not in ("dxf", "svg", "csv"):
            continue
        mould, found = read_pattern(name, files[name], sided_mm, chosen)
        findings += found
        if mould is None:
            continue
        if mould.mark in moulds:
            findings.append(
                kinds.PATTERN_MARK.found(
                    f"{name}: there is a pattern for {mould.mark} already.",
                    file=name,
                    read=mould.mark,
                    remedy="Give each timber one pattern.",
                )
            )
            continue
        moulds[mould.mark] = mould
    return tuple(moulds[m] for m in sorted(moulds, key=_by_mark)), tuple(findings)


def _by_mark(mark: str) -> tuple[int, str]:
    found = MARK.search(mark)
    return (int(found[1]) if found else 0, mark)


def read_pattern(
    name: str, data: bytes, sided_mm: float, settings: MouldSettings | None = None
) -> tuple[Mould | None, tuple[Finding, ...]]:
    """One pattern, or None with the findings that say why not."""
    settings = settings or MouldSettings()
    ending = name.rsplit(".", 1)[-1].lower()
    if ending == "csv":
        traced, found = read_taped(name, data)
    else:
        drawn = read_dxf(name, data) if ending == "dxf" else read_svg(name, data)
        traced, found = _trace(name, drawn, settings)
    findings = list(found)
    if traced is None or any(f.severity is Severity.FAULT for f in findings):
        return None, tuple(findings)
    mould = pattern_mould(traced, sided_mm, settings)
    if not shapely.Polygon(mould.outline_up_mm).is_valid:
        findings.append(
            kinds.PATTERN_OUTLINE.found(f"{name}: the outline crosses itself.", file=name)
        )
        return None, tuple(findings)
    if not traced.outer_deg and not traced.inner_deg and traced.down_mm is None:
        findings.append(
            kinds.PATTERN_BEVEL.found(f"{name}: no bevels were found beside the edges.", file=name)
        )
    return mould, tuple(findings)


def pattern_mould(traced: Traced, sided_mm: float, settings: MouldSettings) -> Mould:
    """The mould of a traced pattern: laid along x, its far face found from the bevels."""
    sided = traced.sided_mm or sided_mm
    count = max(24, int(max(run_mm(traced.outer_mm)[-1], run_mm(traced.inner_mm)[-1]) // 10.0))
    outer, inner = _even(traced.outer_mm, count), _even(traced.inner_mm, count)
    middle = 0.5 * (outer + inner)
    chord = middle[-1] - middle[0]
    turn = -np.arctan2(chord[1], chord[0])
    c, s = np.cos(turn), np.sin(turn)
    turned = np.array([[c, s], [-s, c]])
    outer, inner, middle = outer @ turned, inner @ turned, middle @ turned
    at = run_mm(outer)
    # A positive lean: forward of a face the vessel is narrower, aft of it wider.
    wider_below = traced.up == "forward"
    if traced.down_mm is not None:
        lower = [line @ turned for line in traced.down_mm]
        leans = [
            _leans(line, below, _outboard(line, outer, inner), sided, wider_below)
            for line, below in zip((outer, inner), lower, strict=True)
        ]
    else:
        leans = [
            np.interp(at, *np.array(sorted(pairs)).T) if pairs else np.zeros(count)
            for pairs in (traced.outer_deg, traced.inner_deg or traced.outer_deg)
        ]
    down = [
        line
        + _outboard(line, outer, inner)
        * (sided * np.tan(np.radians(lean)))[:, None]
        * (1.0 if wider_below else -1.0)
        for line, lean in zip((outer, inner), leans, strict=True)
    ]
    rings = [ring @ turned for ring in traced.rings_mm]
    low = np.concatenate([outer, inner, *down, *rings[:1]]).min(axis=0)
    rings = [ring - low for ring in rings]
    outer, inner, middle = outer - low, inner - low, middle - low
    down = [d - low for d in down]
    grain = 0.25 * (outer + inner + down[0] + down[1])
    ring_up = np.concatenate([outer, inner[::-1]])
    ring_down = np.concatenate([down[0], down[1][::-1]])
    volume, centre = between_faces(ring_up, ring_down, sided)
    edges = (
        SawnEdge("outer", frozen(outer), frozen(down[0]), frozen(at), frozen(leans[0])),
        SawnEdge("inner", frozen(inner), frozen(down[1]), frozen(run_mm(inner)), frozen(leans[1])),
    )
    ring_up = rings[0] if rings else ring_up
    ring_down = rings[1] if len(rings) > 1 else ring_down
    up = shapely.Polygon(ring_up)
    square = up.area
    if up.is_valid and shapely.Polygon(ring_down).is_valid:
        square = up.union(shapely.Polygon(ring_down)).area
    found = MARK.search(traced.mark)
    spot = (float(centre[0]), float(centre[1]))
    labels = [
        Label("mark", traced.mark, spot),
        Label("heel", "heel", (float(middle[0, 0]), float(middle[0, 1]))),
        Label("head", "head", (float(middle[-1, 0]), float(middle[-1, 1])), 180.0),
    ]
    for text, where in traced.sirmarks:
        p = [float(np.interp(where, at, outer[:, k])) for k in (0, 1)]
        q = [float(np.interp(where, at, inner[:, k])) for k in (0, 1)]
        way = float(np.degrees(np.arctan2(q[1] - p[1], q[0] - p[0])))
        labels.append(Label("sirmark", text, (p[0], p[1]), way))
    also = np.array([w for _, w in traced.sirmarks])
    return Mould(
        mark=traced.mark,
        up=traced.up,
        outline_up_mm=frozen(anticlockwise(without_repeats(ring_up))),
        outline_down_mm=frozen(anticlockwise(without_repeats(ring_down))),
        grain_mm=frozen(grain),
        edges=edges,
        marks=bevel_marks(edges[0], edges[1], settings.marks_every_mm, also),
        sided_mm=sided,
        square_m2=square * 1e-6,
        mass_kg=volume * 1e-9 * settings.density_kg_m3,
        labels=tuple(labels),
        frame=int(found[1]) if found else None,
        layer=found[3] if found else None,
        side=found[2] if found else None,
        volume_m3=volume * 1e-9,
        centre_mm=(spot[0], spot[1], float(centre[2])),
    )


def _even(line: Array, count: int) -> Array:
    """The line at even lengths; what lies between two of them is cut off by its sagitta."""
    run = run_mm(line)
    at = np.linspace(0.0, run[-1], count)
    return np.stack([np.interp(at, run, line[:, k]) for k in (0, 1)], axis=1)


def _leans(line: Array, below: Array, outboard: Array, sided: float, wider_below: bool) -> Array:
    """Lean of an edge at each point, from where the line below meets the plane square to it."""
    along = np.stack([outboard[:, 1], -outboard[:, 0]], axis=1)
    near = np.linspace(0, len(below) - 1, len(line)).round().astype(int)
    # The line below may run the other way along: ahead of each point it must grow.
    if (line[-1] - line[0]) @ along[len(line) // 2] < 0:
        along = -along
    met, _ = met_square(line, along, below, near)
    out = ((met - line) * outboard).sum(axis=1)
    leans: Array = np.degrees(np.arctan2(out, sided)) * (1.0 if wider_below else -1.0)
    return leans


def _outboard(line: Array, outer: Array, inner: Array) -> Array:
    """Unit normals (n, 2) of a line, pointing from the inner edge towards the outer."""
    along = np.gradient(line, run_mm(line), axis=0)
    along /= np.hypot(along[:, 0], along[:, 1])[:, None]
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
    sign = np.sign(((outer - inner) * normal).sum(axis=1).mean())
    turned: Array = normal * sign
    return turned


def _trace(name: str, drawn: Drawn, settings: MouldSettings) -> tuple[Traced | None, list[Finding]]:
    """Find the outline, the piece mark, the ends and the bevels of a drawing."""
    findings = list(drawn.findings)
    if any(f.severity is Severity.FAULT for f in findings):
        return None, findings
    found = next((m for _, t, _ in drawn.words if (m := MARK.search(t))), None)
    found = MARK.search(name) or found
    if found is None:
        findings.append(
            kinds.PATTERN_MARK.found(
                f"{name}: neither the name nor any word in it is a piece mark.",
                file=name,
                read=name,
                expected="a mark such as 12-P-f2",
            )
        )
        return None, findings
    ring = _up_ring(drawn.rings)
    if ring is None:
        findings.append(
            kinds.PATTERN_OUTLINE.found(
                f"{name}: {len(drawn.rings)} closed outlines, none of them a timber's.",
                file=name,
                read=f"{len(drawn.rings)} closed outlines",
                expected="one closed outline of the face that is up",
            )
        )
        return None, findings
    sides = split_ring(ring)
    if sides is None:
        findings.append(
            kinds.PATTERN_OUTLINE.found(
                f"{name}: the outline has no two ends between two long edges.", file=name
            )
        )
        return None, findings
    first, second = sides
    middle = 0.5 * (first[[0, -1]] + second[[0, -1]])
    words = {t.lower(): np.array(p) for _, t, p in drawn.words}
    heel, head = words.get("heel"), words.get("head")
    turned = False
    if heel is not None or head is not None:
        gap = [0.0, 0.0]
        for k in (0, 1):
            gap[k] += float(np.hypot(*(middle[k] - heel))) if heel is not None else 0.0
            gap[k] -= float(np.hypot(*(middle[k] - head))) if head is not None else 0.0
        turned = gap[1] < gap[0]
    else:
        turned = bool(middle[1, 0] < middle[0, 0])
        findings.append(
            kinds.PATTERN_ENDS.found(
                f"{name}: no word says heel or head; the left end is taken for the heel.",
                file=name,
            )
        )
    if turned:
        first, second = first[::-1], second[::-1]
    up = _said_up(drawn) or face_up(found[3], settings.up)
    outer, inner = _which_outer(first, second, drawn, up, found[2])
    bevels, bad = _bevels(name, drawn, outer, inner, up)
    findings += bad
    down = _down_edges(drawn.rings, outer, inner)
    return (
        Traced(
            found[0],
            up,
            outer,
            inner,
            tuple(bevels[0]),
            tuple(bevels[1]),
            down_mm=None if down is None else down[1:],
            rings_mm=(ring,) if down is None else (ring, down[0]),
        ),
        findings,
    )


def _down_edges(
    rings: Sequence[tuple[str, Array]], outer: Array, inner: Array
) -> tuple[Array, Array, Array] | None:
    """The other face's ring and its edges, outer and inner, heel to head; None where not drawn."""
    down = [r for layer, r in rings if re.search(r"down", layer, re.IGNORECASE) and len(r) > 3]
    if not down:
        return None
    ring = anticlockwise(max(down, key=lambda r: abs(signed_area(r))))
    sides = split_ring(ring)
    if sides is None:
        return None
    first, second = sides
    chord = outer[-1] - outer[0]
    if (first[-1] - first[0]) @ chord < 0:
        first, second = first[::-1], second[::-1]
    # Outer and inner lie across the chord in the same order on both faces.
    across = np.array([-chord[1], chord[0]])
    same = ((first.mean(axis=0) - second.mean(axis=0)) @ across) * (
        (outer.mean(axis=0) - inner.mean(axis=0)) @ across
    )
    return (ring, first, second) if same > 0 else (ring, second, first)


def _up_ring(rings: Sequence[tuple[str, Array]]) -> Array | None:
    """The ring of the up face: the largest on a layer that says so, else the largest of all."""
    told = [r for layer, r in rings if re.search(r"\bup\b|outline[-_ ]up", layer, re.IGNORECASE)]
    others = [
        r for layer, r in rings if not re.search(r"\bdown\b|hole|frame", layer, re.IGNORECASE)
    ]
    best = max(told or others, key=lambda r: abs(signed_area(r)), default=None)
    if best is None or abs(signed_area(best)) < 100.0:
        return None
    return anticlockwise(best)


def _said_up(drawn: Drawn) -> Up | None:
    """The face that is up where a word says so (``aft face up``, ``up: forward``)."""
    for _, text, _ in drawn.words:
        said = re.search(
            r"\b(forward|aft)\b(?:\s+face)?\s+up\b|\bup[:\s]+(forward|aft)\b", text.lower()
        )
        if said:
            return "aft" if "aft" in (said[1], said[2]) else "forward"
    return None


def _which_outer(
    first: Array, second: Array, drawn: Drawn, up: Up, side: str
) -> tuple[Array, Array]:
    """Outer edge and inner: by a word beside one, else by the hand it must lie on.

    Seen from aft, starboard lies right and its heel low, so that from heel to head the outer edge
    is on the right hand; seen from forward, on the left; port the other way about.
    """
    for _, text, at in drawn.words:
        for word in ("outer", "inner"):
            if text.lower().strip(" .:") in (word, f"{word} edge"):
                gaps = [shapely.LineString(p).distance(shapely.Point(at)) for p in (first, second)]
                near_first = gaps[0] <= gaps[1]
                return (first, second) if near_first == (word == "outer") else (second, first)
    right_hand = (up == "aft") == (side != "P")
    chord = first[-1] - first[0]
    across = first.mean(axis=0) - second.mean(axis=0)
    first_left = chord[0] * across[1] - chord[1] * across[0] > 0
    return (second, first) if first_left == right_hand else (first, second)


def _bevels(
    name: str, drawn: Drawn, outer: Array, inner: Array, up: Up
) -> tuple[tuple[list[tuple[float, float]], list[tuple[float, float]]], list[Finding]]:
    """Degrees written beside each edge, as (length along the outer edge, lean)."""
    lines = (shapely.LineString(outer), shapely.LineString(inner))
    found: tuple[list[tuple[float, float]], list[tuple[float, float]]] = ([], [])
    findings: list[Finding] = []
    for layer, text, at in drawn.words:
        on_layer = "bevel" in layer.lower()
        if not on_layer and not re.search(r"°|deg", text):
            continue
        said = _BEVEL.match(text.replace("−", "-"))
        if said is None:
            if not on_layer:
                continue
            findings.append(
                kinds.PATTERN_FIGURE.found(
                    f"{name}: {text!r} beside an edge is no bevel.",
                    file=name,
                    read=text,
                    expected="degrees, as 12 1/4",
                )
            )
            continue
        spot = shapely.Point(at)
        edge = int(np.argmin([line.distance(spot) for line in lines]))
        try:
            deg = float(read_angle(said[2].strip()))
        except Unreadable as wrong:
            findings += [
                kinds.PATTERN_FIGURE.found(
                    f"{name}: {wrong}", file=name, read=text, expected="degrees, as 12 1/4"
                )
            ]
            continue
        word = (said[1] or said[3] or "").lower()
        if word:
            # The outer edge stands where the face below is wider; the inner, where it is narrower.
            stands = word.startswith("s") == (edge == 0)
            deg = abs(deg) * (1.0 if stands == (up == "forward") else -1.0)
        share = lines[edge].project(spot, normalized=True)
        found[edge].append((share * lines[0].length, deg))
    return found, findings
