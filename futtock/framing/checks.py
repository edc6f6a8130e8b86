"""What a shipwright would object to, as findings; none is law, all have a setting."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from futtock.findings import Finding
from futtock.framing import kinds
from futtock.framing.frame import LAYERS, Frame, Timber
from futtock.framing.settings import FramingSettings
from futtock.measure import Style, close, show

Array = NDArray[np.float64]

_NEAR_MM = 0.5
_CANTED = "Turn her less or further under [framing] cants, or take the bevel by hand."
_BEARS_MM = (
    25.0  # least of a heel over the keel worth calling a bearing; common practice, no source
)


def check_frames(frames: Sequence[Frame], settings: FramingSettings) -> list[Finding]:
    """Findings about finished frames, frame by frame, then between neighbours, then in all."""
    found: list[Finding] = []
    for f in frames:
        found += _bevels(f, settings)
        found += _butts(f, settings)
        found += _timbers(f, settings)
        found += _heels(f, settings)
    for a, b in pairwise(frames):
        found += _neighbours(a, b, settings)
    found += _butts_in_line(frames, settings)
    found += _short_grain(frames, settings)
    return found


def _bevels(f: Frame, settings: FramingSettings) -> Iterator[Finding]:
    leans = np.concatenate([f.forward.lean_deg, f.joint.lean_deg, f.aft.lean_deg])
    worst = float(np.abs(leans).max())
    if worst > settings.largest_bevel_deg:
        yield kinds.BEVEL_LARGE.found(
            f"Frame {f.number} has a bevel of {worst:.1f} degrees.",
            line=f.number,
            read=f"{worst:.2f}",
            expected=f"at most {settings.largest_bevel_deg:g}",
            remedy=_CANTED if f.plane.cant_deg else None,
        )
    for layer in f.layers:
        chord = float(np.abs(np.concatenate([layer.chord_deg, layer.inner_chord_deg])).max())
        if chord > settings.saw_bevel_deg:
            yield kinds.BEVEL_BEYOND_SAW.found(
                f"Frame {f.number}, layer {layer.name}, wants a cut of {chord:.1f} degrees.",
                line=f.number,
                column=layer.name,
                read=f"{chord:.2f}",
                expected=f"at most {settings.saw_bevel_deg:g}",
            )
        if float(np.abs(layer.departure_mm).max()) <= settings.departure_mm:
            continue
        for t in f.timbers:
            if t.layer != layer.name or t.side == "P":
                continue
            off = departure_of(f, t)
            if abs(off) > settings.departure_mm:
                yield kinds.DEPARTURE.found(
                    f"{t.mark}: the straight saw cut stands {close(abs(off), settings.show)}"
                    f" {'proud of' if off > 0 else 'inside'} the true surface.",
                    line=t.mark,
                    read=f"{off:.2f}",
                    expected=f"at most {settings.departure_mm:g}",
                )


def departure_of(frame: Frame, timber: Timber) -> float:
    """How far the ruled cut of a timber's outer edge stands off the true surface at its worst, mm.

    Positive where wood is left proud.
    """
    layer = frame.layer(timber.layer)
    g = frame.joint.girth_mm
    low = max(timber.girth_mm[0], 0.0)
    i, j = np.searchsorted(g, (low, timber.girth_mm[1]))
    own = layer.departure_mm[max(int(i) - 1, 0) : int(j) + 1]
    return float(own[np.abs(own).argmax()])


def _butts(f: Frame, settings: FramingSettings) -> Iterator[Finding]:
    for side in ("S", "P"):
        ends = {
            name: [t.girth_mm[1] for t in f.timbers if t.layer == name and t.side in (side, "C")][
                :-1
            ]
            for name in LAYERS
        }
        if side == "P" and ends == {
            name: [t.girth_mm[1] for t in f.timbers if t.layer == name and t.side in ("S", "C")][
                :-1
            ]
            for name in LAYERS
        }:
            continue
        for a in ends["f"]:
            for b in ends["a"]:
                if abs(a - b) < settings.butt_shift_mm - _NEAR_MM:
                    yield kinds.BUTTS_NEAR.found(
                        f"Frame {f.number}: butts of the two layers at {_size(a, settings)} and"
                        f" {_size(b, settings)} of girth are {_size(abs(a - b), settings)} apart.",
                        line=f.number,
                        column=side,
                        read=f"{abs(a - b):.1f}",
                        expected=f"at least {settings.butt_shift_mm:g}",
                    )


def _timbers(f: Frame, settings: FramingSettings) -> Iterator[Finding]:
    for t in f.timbers:
        if t.side == "P" and any(
            o.side == "S" and (o.layer, o.girth_mm) == (t.layer, t.girth_mm) for o in f.timbers
        ):
            continue  # its twin has been looked at
        whole = len([o for o in f.timbers if o.layer == t.layer and o.side == t.side]) == 1
        if t.length_mm > settings.longest_mm + _NEAR_MM:
            yield kinds.TIMBER_LONG.found(
                f"{t.mark} is {_size(t.length_mm, settings)} long.",
                line=t.mark,
                read=f"{t.length_mm:.1f}",
                expected=f"at most {settings.longest_mm:g}",
            )
        girth = t.girth_mm[1] - t.girth_mm[0]
        if girth < settings.shortest_mm - _NEAR_MM and not whole:
            yield kinds.TIMBER_SHORT.found(
                f"{t.mark} is only {_size(girth, settings)} of girth.",
                line=t.mark,
                read=f"{girth:.1f}",
                expected=f"at least {settings.shortest_mm:g}",
            )
        if 0 < settings.widest_mm < t.wide_mm:
            yield _too_wide(t, settings.widest_mm, settings.show)


def too_wide(
    frames: Sequence[Frame], widest_mm: float, style: Style = "metric"
) -> tuple[Finding, ...]:
    """A finding for every timber that needs more width than the widest slab has; twins once."""
    return tuple(
        _too_wide(t, widest_mm, style)
        for f in frames
        for t in f.timbers
        if t.wide_mm > widest_mm
        and not any(
            o.side == "S" and t.side == "P" and (o.layer, o.girth_mm) == (t.layer, t.girth_mm)
            for o in f.timbers
        )
    )


def _size(mm: float, settings: FramingSettings) -> str:
    return show(mm, settings.show, places=0)


def _too_wide(t: Timber, widest_mm: float, style: Style) -> Finding:
    return kinds.TIMBER_WIDE.found(
        f"{t.mark} needs {show(t.wide_mm, style, places=0)} of width.",
        line=t.mark,
        read=f"{t.wide_mm:.1f}",
        expected=f"at most {widest_mm:.0f}",
    )


def _heels(f: Frame, settings: FramingSettings) -> Iterator[Finding]:
    """Half timbers that stand beside the keel, or hardly on it."""
    if f.heel is None:
        return
    half, style = f.heel.half_siding_mm, settings.show
    for t in f.timbers:
        if t.side != "S" or not len(t.heel_mm):
            continue
        bears = min(half, float(t.heel_mm[-1, 0])) - float(t.heel_mm[0, 0])
        if bears <= 0:
            yield kinds.HEEL_MISSES.found(
                f"{t.mark}: the heel begins {close(-bears, style)} outside the keel's side.",
                line=t.mark,
                read=f"{bears:.1f}",
                expected=f"inside {close(half, style)} of the centreline",
            )
        elif bears < _BEARS_MM:
            yield kinds.HEEL_BEARS_LITTLE.found(
                f"{t.mark}: the heel bears on {close(bears, style)} of the keel's top.",
                line=t.mark,
                read=f"{bears:.1f}",
                expected=f"at least {_BEARS_MM:g}",
            )


def gap_mm(ahead: Frame, behind: Frame) -> float:
    """Least clear distance between two neighbouring frames, square to the after one's face.

    Negative where they cross.
    """
    a, _, _ = behind.plane.axes()
    level = a @ behind.plane.origin(-behind.plane.sided_mm)
    return float(level - (_space(ahead, "aft") @ a).max())


def heel_gap_mm(ahead: Frame, behind: Frame) -> float:
    """Clear distance between the heels of two neighbouring frames, along the keel."""
    return float(_space(behind, "forward")[0, 0] - _space(ahead, "aft")[0, 0])


def _space(frame: Frame, name: str) -> Array:
    """Points (2 n, 3) of a face's edges in the vessel's axes, outer edge first."""
    face = frame.face(name)
    _, out, up = frame.plane.axes()
    s = {"forward": -1.0, "joint": 0.0, "aft": 1.0}[name] * frame.plane.sided_mm
    both = np.concatenate([face.edge_mm, face.inner_mm])
    points: Array = frame.plane.origin(s) + both[:, :1] * out + both[:, 1:] * up
    return points


def _neighbours(a: Frame, b: Frame, settings: FramingSettings) -> Iterator[Finding]:
    gap = gap_mm(a, b)
    if gap < 0:
        yield kinds.FRAMES_CROSS.found(
            f"Frames {a.number} and {b.number} run {close(-gap, settings.show)} into each other.",
            line=b.number,
            read=f"{gap:.1f}",
            expected="more than 0",
        )
    elif (a.plane.cant_deg or b.plane.cant_deg) and heel_gap_mm(a, b) < settings.heel_gap_mm:
        yield kinds.HEELS_NEAR.found(
            f"The heels of frames {a.number} and {b.number} are"
            f" {close(heel_gap_mm(a, b), settings.show)} apart.",
            line=b.number,
            read=f"{heel_gap_mm(a, b):.1f}",
            expected=f"at least {settings.heel_gap_mm:g}",
        )


def _butts_in_line(frames: Sequence[Frame], settings: FramingSettings) -> Iterator[Finding]:
    if settings.butt_line_mm <= 0:
        return
    ends = [
        sorted({t.girth_mm[1] for t in f.timbers if t.side != "P" and t.number < _last(f, t)})
        for f in frames
    ]
    near = [
        (abs(p - q), b.number, p, q)
        for (a, ends_a), (b, ends_b) in pairwise(zip(frames, ends, strict=True))
        for p in ends_a
        for q in ends_b
        if abs(p - q) < settings.butt_line_mm - _NEAR_MM
    ]
    if near:
        gap, number, p, q = min(near)
        pairs = len({n for _, n, _, _ in near})
        yield kinds.BUTTS_IN_LINE.found(
            f"{pairs} of {len(frames) - 1} pairs of neighbouring frames have butts nearer than"
            f" {_size(settings.butt_line_mm, settings)} in line; the nearest are in frames"
            f" {number - 1} and {number}, at {_size(p, settings)} and {_size(q, settings)} of"
            " girth.",
            line=number,
            read=f"{gap:.1f}",
            expected=f"at least {settings.butt_line_mm:g}",
        )


def _last(f: Frame, t: Timber) -> int:
    return max(o.number for o in f.timbers if o.layer == t.layer and o.side != "P")


def grain_slopes(frames: Sequence[Frame]) -> Array:
    """Steepest slope (tangent) of each half timber's outer edge to its chord, at its ends.

    That is the slope of grain a timber would have from straight plank; ``nan`` for timbers that
    cross the keel. In the order of the frames' timbers.
    """
    timbers = [(k, t) for k, f in enumerate(frames) for t in f.timbers]
    row = np.array([k for k, _ in timbers], dtype=np.intp)
    girth = np.stack([f.joint.girth_mm for f in frames])
    edge = np.stack([f.joint.edge_mm for f in frames])
    n = girth.shape[1]
    ends = np.clip(np.array([t.girth_mm for _, t in timbers]), 0.0, girth[row, -1:])
    share = np.array([0.0, 0.05, 0.95, 1.0])
    at = ends[:, :1] + (ends[:, 1:] - ends[:, :1]) * share
    # girths are nearly even along an edge, so one step from the even index finds the place
    j = np.clip((at / girth[row, -1:] * (n - 1)).astype(np.intp), 0, n - 2)
    rows = row[:, None]
    span = girth[rows, j + 1] - girth[rows, j]
    w = ((at - girth[rows, j]) / span)[..., None]
    p = edge[rows, j] + w * (edge[rows, j + 1] - edge[rows, j])
    chord = p[:, 3] - p[:, 0]
    worst = np.zeros(len(timbers))
    for run in (p[:, 1] - p[:, 0], p[:, 3] - p[:, 2]):
        cross = np.abs(run[:, 0] * chord[:, 1] - run[:, 1] * chord[:, 0])
        worst = np.maximum(worst, cross / np.maximum((run * chord).sum(axis=1), 1e-9))
    return np.where([t.side == "C" for _, t in timbers], np.nan, worst)


def _short_grain(frames: Sequence[Frame], settings: FramingSettings) -> Iterator[Finding]:
    if not settings.grain_slope:
        return
    slopes = grain_slopes(frames)
    halves = int(np.isfinite(slopes).sum())
    steep = int((slopes * settings.grain_slope > 1.0).sum())
    if steep:
        k = int(np.nanargmax(slopes))
        t = [t for f in frames for t in f.timbers][k]
        yield kinds.SHORT_GRAIN.found(
            f"{steep} of {halves} timbers would have grain steeper than 1 in"
            f" {settings.grain_slope:g} from straight plank; the steepest is {t.mark}, 1 in"
            f" {1 / slopes[k]:.1f}.",
            line=t.mark,
            read=f"1 in {1 / slopes[k]:.1f}",
            expected=f"1 in {settings.grain_slope:g}",
        )
