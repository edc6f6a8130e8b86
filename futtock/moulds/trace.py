"""A drawing of a pattern traced: its outline, piece mark, ends, edges and bevels found."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from futtock.errors import Unreadable
from futtock.findings import Finding, Severity
from futtock.measure import read_angle
from futtock.moulds import kinds
from futtock.moulds.drawn import Drawn
from futtock.moulds.flat import face_up
from futtock.moulds.rings import anticlockwise, signed_area
from futtock.moulds.settings import MouldSettings
from futtock.moulds.split import split_ring
from futtock.moulds.taped import MARK, Traced, Up

Array = NDArray[np.float64]
_BEVEL = re.compile(
    r"^\s*(?:(s|standing|u|under)\s+)?([-+]?[\d¼½¾⅛⅜⅝⅞][\d¼½¾⅛⅜⅝⅞\s./-]*)\s*(?:°|deg(?:rees)?)?"
    r"\s*(s|standing|u|under)?\.?\s*$",
    re.IGNORECASE,
)


def trace(name: str, drawn: Drawn, settings: MouldSettings) -> tuple[Traced | None, list[Finding]]:
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
