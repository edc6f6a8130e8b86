"""Where a frame's treenails go: by rule, clear of edges, butts, ends and what is kept clear."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from futtock.bench import kinds
from futtock.bench.fastening import FasteningSettings, FrameHoles, Hole
from futtock.findings import Finding
from futtock.framing.frame import Frame, Timber
from futtock.moulds.mould import Mould
from futtock.moulds.rings import frozen
from futtock.progress import Progress, Report, quiet

Array = NDArray[np.float64]
IN_MM = 25.4


def lay_holes(
    frames: Sequence[Frame], settings: FasteningSettings, report: Report = quiet
) -> tuple[FrameHoles, ...]:
    """The holes of every frame, in order."""
    made = []
    for done, frame in enumerate(frames):
        if not report(Progress("treenail holes", done, len(frames), f"frame {frame.number}")):
            break
        made.append(frame_holes(frame, settings))
    return tuple(made)


@dataclass(frozen=True)
class _Band:
    """Depth in from the joint's outer edge, by girth, between which all four faces have wood."""

    girth: Array
    outer: Array
    inner: Array
    inward: Array

    def at(self, girth: float) -> tuple[float, float]:
        return (
            float(np.interp(girth, self.girth, self.outer)),
            float(np.interp(girth, self.girth, self.inner)),
        )


def _band(frame: Frame) -> _Band:
    """Where both layers have wood on every face, square in from the joint's outer edge."""
    joint = frame.joint
    keep = np.concatenate([[True], np.diff(joint.girth_mm) > 1e-9])
    edge, girth = joint.edge_mm[keep], joint.girth_mm[keep]
    along = np.gradient(edge, girth, axis=0)
    along /= np.hypot(along[:, 0], along[:, 1])[:, None]
    inward = np.stack([-along[:, 1], along[:, 0]], axis=1)
    inner = joint.inner_mm[keep]
    inward *= np.sign(((inner - edge) * inward).sum(axis=1).mean())
    outer_in = np.zeros(len(girth))
    inner_in = ((inner - edge) * inward).sum(axis=1)
    for layer in frame.layers:
        outer_in = np.maximum(outer_in, ((layer.far_edge_mm[keep] - edge) * inward).sum(axis=1))
        inner_in = np.minimum(inner_in, ((layer.far_inner_mm[keep] - edge) * inward).sum(axis=1))
    return _Band(girth, outer_in, inner_in, inward)


def frame_holes(frame: Frame, settings: FasteningSettings) -> FrameHoles:
    """The holes of one frame's starboard half (port is its mirror).

    Between one butt (of either layer) and the next, holes stand evenly, at least
    ``settings.least`` of them, ``settings.end`` clear of both; each is then moved out of what is
    kept clear. Findings say where there is no room.
    """
    band = _band(frame)
    halves = {name: _half(frame.timbers, name) for name in ("f", "a")}
    if not halves["f"] or not halves["a"]:
        return FrameHoles(frame.number, (), (), frame.plane.sided_mm, float(band.girth[-1]))
    low = max(0.0, *(max(0.0, h[0].girth_mm[0]) for h in halves.values()))
    high = min(h[-1].girth_mm[1] for h in halves.values())
    high = min(high, float(band.girth[-1]))
    butts = sorted((float(t.girth_mm[1]), name) for name, half in halves.items() for t in half[:-1])
    stops = [low, *(g for g, _ in butts if low < g < high), high]
    findings: list[Finding] = []
    placed: list[tuple[float, float, int, float]] = []
    tight: list[tuple[float, float, bool]] = []
    counts: list[int] = []
    for k, (start, end) in enumerate(pairwise(stops)):
        first = start + settings.end + (settings.heel_mm if k == 0 else 0.0)
        last = end - settings.end - (settings.head_mm if k == len(stops) - 2 else 0.0)
        girths = _along(first, last, frame, settings)
        rows = _in_rows(girths, band, settings, len(placed), tight)
        counts.append(len(rows))
        placed.extend((g, w, row, min(g - start, end - g)) for g, w, row in rows)
        if len(rows) < settings.least:
            findings.append(
                kinds.HOLES_TOO_FEW.found(
                    f"Frame {frame.number}, girth {start:.0f} to {end:.0f} mm: room for"
                    f" {len(rows)} treenails where the rule asks {settings.least}, keeping"
                    f" {settings.end:.0f} mm from butts and ends.",
                    line=frame.number,
                )
            )
    if tight:
        findings.insert(0, _no_room(frame, tight, settings))
    holes = tuple(
        _hole(n, g, w, row, end, frame, band, halves, settings)
        for n, (g, w, row, end) in enumerate(placed, 1)
    )
    at_butts = tuple(
        (name, g, counts[stops.index(g) - 1], counts[stops.index(g)])
        for g, name in butts
        if low < g < high
    )
    return FrameHoles(
        frame.number, holes, at_butts, frame.plane.sided_mm, float(band.girth[-1]), tuple(findings)
    )


def _half(timbers: Sequence[Timber], layer: str) -> list[Timber]:
    """The starboard half's timbers of a layer, from the keel out, with those across it."""
    own = [t for t in timbers if t.layer == layer and t.side in ("S", "C")]
    return sorted(own, key=lambda t: t.girth_mm[0])


def _along(first: float, last: float, frame: Frame, settings: FasteningSettings) -> list[float]:
    """Girths of the holes of one stretch: even, then out of what is kept clear."""
    if last < first:
        return []
    tightest = 2.0 * settings.diameter_mm
    count = max(settings.least, int(np.ceil((last - first) / settings.spacing)) + 1)
    while count > 1 and (last - first) / (count - 1) < tightest:
        count -= 1
    even = np.linspace(first, last, count) if count > 1 else np.array([0.5 * (first + last)])
    shut = [*settings.clear]
    if settings.sirmark_clear_mm > 0:
        half = settings.sirmark_clear_mm
        shut += [(m.girth_mm - half, m.girth_mm + half) for m in frame.marks if m.kind == "sirmark"]
    kept: list[float] = []
    for girth in even:
        choices = [float(girth)] + [g for pair in shut for g in pair]
        free = [
            g
            for g in choices
            if first - 1e-9 <= g <= last + 1e-9
            and not any(a < g < b for a, b in shut)
            and all(abs(g - other) >= tightest - 1e-9 for other in kept)
        ]
        if free:
            kept.append(min(free, key=lambda g: abs(g - girth)))
    return sorted(kept)


def _in_rows(
    girths: list[float],
    band: _Band,
    settings: FasteningSettings,
    before: int,
    tight: list[tuple[float, float, bool]],
) -> list[tuple[float, float, int]]:
    """Girth, depth from the outer edge, and row of each hole; ``tight`` gathers the cramped."""
    placed: list[tuple[float, float, int]] = []
    for girth in girths:
        outer, inner = band.at(girth)
        low = outer + max(settings.edge, settings.plank_depth_mm(girth))
        high = inner - settings.edge
        if high < low:
            bored = inner - outer >= 2.0 * settings.diameter_mm
            tight.append((girth, inner - outer, bored))
            if bored:
                placed.append((girth, 0.5 * (outer + inner), -1))
            continue
        apart = high - low >= 2.0 * settings.diameter_mm
        if settings.rows == "one" or not apart:
            placed.append((girth, 0.5 * (low + high), -1))
        elif settings.rows == "two":
            placed += [(girth, low, 0), (girth, high, 1)]
        else:
            row = (before + len(placed)) % 2
            placed.append((girth, high if row else low, row))
    return placed


def _no_room(
    frame: Frame, tight: list[tuple[float, float, bool]], settings: FasteningSettings
) -> Finding:
    girth, depth, _ = min(tight, key=lambda t: t[1])
    d = settings.diameter_mm
    wants = settings.edge + max(settings.edge, settings.plank_depth_mm(girth))
    lost = sum(not bored for _, _, bored in tight)
    seat = f"{len(tight) - lost} are bored in the middle"
    if lost:
        seat += f", {lost} left out where there is less than a diameter to each edge"
    return kinds.NO_ROOM.found(
        f"Frame {frame.number}: {len(tight)} holes a side have less than"
        f" {settings.edge / d:.1f} diameters of {d:.1f} mm to both edges, which want"
        f" {wants:.0f} mm. Least, at girth {girth:.0f} mm: all faces have {depth:.0f} mm"
        f" ({depth / IN_MM:.2f} in) of depth in common, {depth / 2.0 / d:.2f} diameters from the"
        f" middle. Of the holes {seat}.",
        line=frame.number,
        read=f"{depth:.0f} mm",
        expected=f"{wants:.0f} mm",
    )


def _hole(
    number: int,
    girth: float,
    depth: float,
    row: int,
    end: float,
    frame: Frame,
    band: _Band,
    halves: dict[str, list[Timber]],
    settings: FasteningSettings,
) -> Hole:
    joint = frame.joint
    edge = np.array([np.interp(girth, joint.girth_mm, joint.edge_mm[:, k]) for k in (0, 1)])
    inward = np.array([np.interp(girth, band.girth, band.inward[:, k]) for k in (0, 1)])
    inward /= np.hypot(*inward)
    at = edge + depth * inward
    outer, inner = band.at(girth)
    through = tuple(
        f"{name}{next((t.number for t in halves[name] if girth <= t.girth_mm[1]), 0)}"
        for name in ("f", "a")
    )
    return Hole(
        number,
        girth,
        depth,
        (float(at[0]), float(at[1])),
        -1 if row < 0 else 0 if row == 0 else 1,
        (through[0], through[1]),
        2.0 * frame.plane.sided_mm,
        min(depth - outer, inner - depth),
        end,
        float(np.degrees(np.arctan2(-inward[0], inward[1]))),
    )


def with_holes(moulds: Sequence[Mould], laid: Sequence[FrameHoles]) -> tuple[Mould, ...]:
    """The moulds with the centres of their treenail holes in ``holes_mm`` (k, 2), their own axes.

    A timber across the centreline gets the holes of both sides.
    """
    from dataclasses import replace

    by_frame = {h.frame: h for h in laid}
    made = []
    for mould in moulds:
        holes = by_frame.get(mould.frame or 0)
        if holes is None or mould.place is None or mould.layer is None:
            made.append(mould)
            continue
        # MARK ends in layer and number; a timber of either side has the starboard half's number.
        own = mould.mark.rsplit("-", 1)[-1]
        at = [h.at_mm for h in holes.holes if own in h.through]
        if mould.side == "C":
            at += [(-x, y) for x, y in at]
        points = np.array(at, float).reshape(-1, 2)
        made.append(replace(mould, holes_mm=frozen(mould.place.to_mould(points))))
    return tuple(made)
