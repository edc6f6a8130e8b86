"""The timbers of all frames: marks, heels, and the figures a pile is searched by."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from futtock.framing.curve import at, tangents
from futtock.framing.edges import Edges
from futtock.framing.frame import LAYERS, Frame, LayerName, Side, Timber
from futtock.framing.settings import FramingSettings

Array = NDArray[np.float64]

_TIP_MM = 2.0
_SAMPLES = 49  # along each edge, for length, width and sweep (good to a tenth of a millimetre)


def head_girths_mm(frames: Sequence[Frame], head_over_mm: float) -> Array:
    """Girths (F, 2) at which both layers' heads are cut square, forward layer first.

    As high as both faces of a layer need to reach their own heads.
    """
    on = np.stack([f.joint.edge_mm[-6:] for f in frames])
    far = np.stack([[f.forward.edge_mm[-1], f.aft.edge_mm[-1]] for f in frames])
    beyond = ((far - on[:, -1:]) * tangents(on)[:, -1:]).sum(axis=-1)
    top = np.array([[f.joint.girth_mm[-1]] for f in frames])
    girths: Array = top + np.maximum(beyond, 0.0) + head_over_mm
    return girths


def feet_mm(frames: Sequence[Frame], settings: FramingSettings) -> Array:
    """Heights (F,) of heels' feet on the joint face: below the keel's top by the notch's wood.

    A notch reaches no deeper than where the outer edges, carried on past their heels, come in to
    the keel's side: wood inboard of that is cut away with the keel's section.
    """
    depth = np.full(len(frames), max(settings.notch_mm, 0.0))
    stands = [(k, f, f.heel) for k, f in enumerate(frames) if f.heel is not None]
    if settings.notch_mm > 0 and stands:
        edges = np.stack([g.edge_mm for _, f, _ in stands for g in (f.joint, f.forward, f.aft)])
        on = np.broadcast_to(np.linspace(0.0, -0.5 * edges.shape[1], 321), (len(edges), 321))
        past = at(edges, tangents(edges), on)[0]
        # below the keel's top there, which a cant crosses aslant
        rise = np.array([work.rise for _, _, work in stands])[:, [1, 0, 2]].reshape(-1, 1)
        down = edges[:, :1, 1] - past[..., 1] + rise * (past[..., 0] - edges[:, :1, 0])
        reach = zip(down.reshape(-1, 3, 321), past[..., 0].reshape(-1, 3, 321), strict=True)
        for (k, _, work), (mine, out) in zip(stands, reach, strict=True):
            notches = (work.notch_mm, work.notch_forward_mm, work.notch_aft_mm)
            # a tip of wood is left outside the notch, which is bedded that far clear of the keel
            reaches = [
                _falls_to(d, o, float(line[1, 0]) + _TIP_MM)
                for d, o, line in zip(mine, out, notches, strict=True)
            ]
            depth[k] = min(settings.notch_mm, *reaches)
    tops = np.array([f.joint.edge_mm[0, 1] for f in frames])
    return np.asarray(tops - settings.heel_over_mm - depth)


def _falls_to(down: Array, out: Array, side: float) -> float:
    """How far down an edge carried on past its heel reaches: to the keel's side, or its lowest."""
    fall = np.diff(down) > 0
    stop = len(fall) if fall.all() else int(fall.argmin())  # the last point before it turns up
    inside = np.flatnonzero(out[: stop + 1] < side)
    if not len(inside):
        return float(down[stop])
    k = int(inside[0])
    if k == 0:
        return 0.0
    share = (out[k - 1] - side) / (out[k - 1] - out[k])
    return float(down[k - 1] + share * (down[k] - down[k - 1]))


def has_floor(frame: Frame, settings: FramingSettings) -> bool:
    """Whether a timber of the frame crosses the keel; a cant's two sides lie in two planes."""
    whole = frame.plane.full and frame.plane.cant_deg == 0
    return settings.floors == "in frame" and frame.on_keel and whole


class Divided(Protocol):
    """Butts of both layers of a half frame, and of the port side where they differ."""

    @property
    def port(self) -> Divided | None:
        """The port side's, where it differs."""
        ...

    def butts(self, layer: LayerName) -> tuple[float, ...]:
        """The starboard butts of a layer."""
        ...


def cut_timbers(
    frames: Sequence[Frame], divisions: Sequence[Divided], settings: FramingSettings
) -> list[tuple[Timber, ...]]:
    """All timbers of each frame: forward layer then after, heel to head, starboard before port.

    Parameters
    ----------
    frames
        Frames; their own ``timbers`` are not read.
    divisions
        Butts of both layers of each frame.
    settings
        ``floors``, ``head_over_mm``, ``heel_over_mm`` and the like.
    """
    edges = Edges(frames)
    drawn: list[tuple[int, Timber, tuple[Side, ...]]] = []
    heads, feet = head_girths_mm(frames, settings.head_over_mm), feet_mm(frames, settings)
    for k, (frame, division) in enumerate(zip(frames, divisions, strict=True)):
        for name, head in zip(LAYERS, heads[k].tolist(), strict=True):
            stops = (head, float(feet[k]))
            layer = 2 * k + (name == "a")
            port = None if division.port is None else division.port.butts(name)
            own = _layer_timbers(frame, name, division.butts(name), stops, settings)
            twins: tuple[Side, ...] = ("S", "P") if port is None else ("S",)
            drawn += [(layer, t, ("C",) if t.side == "C" else twins) for t in own]
            if port is not None:
                others = _layer_timbers(frame, name, port, stops, settings)
                drawn += [(layer, t, ("P",)) for t in others if t.side != "C"]
    out: list[list[Timber]] = [[] for _ in frames]
    figures = _figures(edges, [(layer, t) for layer, t, _ in drawn])
    for (layer, t, sides), (length, wide, sweep, heel) in zip(drawn, figures, strict=True):
        for side in sides:
            mark = f"{t.frame}-{side}-{t.layer}{t.number}"
            out[layer // 2].append(
                Timber(
                    mark,
                    t.frame,
                    t.layer,
                    side,
                    t.number,
                    t.girth_mm,
                    length,
                    wide,
                    sweep,
                    t.sided_mm,
                    heel,
                )
            )
    return [tuple(timbers) for timbers in out]


def _layer_timbers(
    frame: Frame,
    name: LayerName,
    butts: tuple[float, ...],
    stops: tuple[float, float],
    settings: FramingSettings,
) -> list[Timber]:
    """One layer's starboard timbers (or the floor), without their figures.

    ``stops`` are the girth of the head and the height of the foot.
    """
    keel = frame.on_keel
    crosses = settings.floor_layer == name and has_floor(frame, settings)
    start = 0.0 if keel else 0.0 - settings.heel_over_mm
    head, up = stops
    ends = [start, *butts, head]
    timbers = []
    for number, (g0, g1) in enumerate(pairwise(ends), 1):
        first = number == 1
        across = first and crosses
        timbers.append(
            Timber(
                mark="",
                frame=frame.number,
                layer=name,
                side="C" if across else "S",
                number=number,
                girth_mm=(-g1 if across else g0, g1),
                length_mm=0.0,
                wide_mm=0.0,
                sweep_mm=0.0,
                sided_mm=frame.plane.sided_mm,
                heel_mm=np.array([[frame.joint.edge_mm[0, 0], up]])
                if first and keel
                else np.empty((0, 2)),
            )
        )
    return timbers


def _figures(
    edges: Edges, timbers: Sequence[tuple[int, Timber]]
) -> list[tuple[float, float, float, Array]]:
    """Length, width, sweep and the heel's outline of every timber, all at once."""
    ends = edges.ends(timbers)
    q = len(timbers)
    layer = np.array([k for k, _ in timbers], dtype=np.intp)
    share = np.linspace(0, 1, _SAMPLES)
    w = _spread(ends.start, ends.stop, share)
    place = edges.at(np.repeat(layer, _SAMPLES), w.reshape(4, -1)).reshape(4, q, -1, 2)
    crossing = np.array([t.side == "C" for _, t in timbers])
    for c in np.flatnonzero(crossing).tolist():  # a floor's throat: see the outlines
        for inner in (1, 3):
            low = place[inner, c, : _SAMPLES // 2, 1]
            np.maximum(low, place[inner - 1, c, 0, 1] + edges.heel_mm[layer[c]], out=low)
    middle = place.mean(axis=0)
    corners = place[::2, :, 0].copy()  # (2, q, 2): the outer edge's start where there is no corner
    for k, both in enumerate(ends.corners):
        for face, corner in enumerate(both):
            if len(corner):
                corners[face, k] = corner[0]
    ring = np.concatenate(
        [np.moveaxis(place, 0, 1).reshape(q, -1, 2), np.moveaxis(corners, 0, 1)], axis=1
    )
    along = middle[:, -1] - middle[:, 0]
    along[crossing] = [1.0, 0.0]
    along /= np.hypot(along[:, 0], along[:, 1])[:, None]
    run = (ring * along[:, None]).sum(axis=-1)
    off = ring[..., 1] * along[:, :1] - ring[..., 0] * along[:, 1:]
    bow = middle - np.where(crossing[:, None], middle[:, -1], middle[:, 0])[:, None]
    sweep = np.abs(bow[..., 1] * along[:, :1] - bow[..., 0] * along[:, 1:]).max(axis=1)
    length = np.where(crossing, 2 * run.max(axis=1), np.ptp(run, axis=1))
    wide = np.ptp(off, axis=1)
    heels = [_heel(t, place[:, k, 0], ends.corners[k][0]) for k, (_, t) in enumerate(timbers)]
    return list(zip(length.tolist(), wide.tolist(), sweep.tolist(), heels, strict=True))


def _spread(start: Array, stop: Array, share: Array) -> Array:
    """Indices (4, Q, S) on the four edges from starts to stops (Q, 4).

    As in outlines, what an edge's end is shifted by against the joint's outer edge dies away over
    six times as many points.
    """
    span = (stop[:, :1] - start[:, :1])[:, 0]
    run = span[:, None] * share
    w = np.repeat((start[:, :1] + run)[None], 4, axis=0)
    for shift, away in (
        ((start - start[:, :1]).T[..., None], run),
        ((stop - stop[:, :1]).T[..., None], span[:, None] - run),
    ):
        reach = np.clip(6 * np.abs(shift), 1.0, span[:, None])
        fade = np.clip(1 - away / reach, 0.0, 1.0)
        w += shift * np.where(2 * np.abs(shift) < reach, fade * fade, fade)
    return w


def _heel(timber: Timber, start: Array, corner: Array) -> Array:
    """The heel's outline on the joint face, from the inner edge's end to the outer edge's."""
    if not len(timber.heel_mm):
        return timber.heel_mm
    outer = start[0]
    if timber.side == "C":
        return np.array([[-outer[0], outer[1]], outer])
    return np.concatenate([start[1][None], corner, outer[None]])
