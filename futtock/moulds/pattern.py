"""Patterns already made: an outline with bevels beside it becomes a mould, with no hull behind it.

A pattern is read from DXF, SVG or a CSV of taped points. It gives the face that is up; the other
face is its own second outline (on a layer named DOWN) or is found from the bevels. Bevels are
leans in the vessel's sense, positive where the hull widens going aft; with the word ``standing``
(or s) the wood's inside angle at the face that is up is over a right angle, with ``under`` (or u)
below it, so that the two edges of one lean are one standing and one under.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import shapely
from numpy.typing import NDArray

from futtock.findings import Finding, Severity
from futtock.moulds import kinds
from futtock.moulds.drawn import read_dxf, read_svg
from futtock.moulds.marks import bevel_marks
from futtock.moulds.mould import Label, Mould, SawnEdge
from futtock.moulds.rings import (
    anticlockwise,
    between_faces,
    frozen,
    met_square,
    run_mm,
    without_repeats,
)
from futtock.moulds.settings import MouldSettings
from futtock.moulds.taped import MARK, Traced, read_taped
from futtock.moulds.trace import trace

Array = NDArray[np.float64]


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
        traced, found = trace(name, drawn, settings)
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
