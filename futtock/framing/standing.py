"""Standing sheets: where each frame stands, and what to measure against while she is set up.

Sizes are of the inside of planking at the joint face. A spread is the whole breadth between the
two sides, square to the centreline; a girth runs along the edge from the heel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from futtock.framing.frame import Frame
from futtock.framing.settings import FramingSettings
from futtock.lines.surface import Hull

Array = NDArray[np.float64]

_FOOT_MM = 304.8
_PORT = np.array([1.0, -1.0, 1.0])  # the other side's twin of a point


@dataclass(frozen=True, slots=True)
class Place:
    """A named place of the joint face's edge: height, half-breadth, girth, spread, horning length.

    ``horning_mm`` is the straight length from the centreline pin to it, the same on both sides of
    a frame that stands true.
    """

    name: str
    kind: str
    height_mm: float
    half_mm: float
    girth_mm: float
    spread_mm: float
    horning_mm: float


@dataclass(frozen=True, slots=True)
class StandingSheet:
    """What one frame is stood and proved by; mm and degrees.

    Attributes
    ----------
    frame, cant_deg, rake_deg
    along_keel_mm
        Length along the keel's top from the first frame's joint to this one's.
    keel_top_mm
        Height above base where its heel stands.
    declivity_deg
        How far the base line is down by the stern as she lies on the blocks.
    plumb_offset_mm
        How far aft of the heel's joint a bob falls that hangs from the head's level on the
        centreline, measured level as she lies; negative forward.
    places
        Sirmarks (ribband crossings), level lines, sheer and cross spall, heel to head.
    diagonal_mm
        From the port heel to the starboard head, to prove the assembly square.
    to_next_head_mm
        From this head to the next frame's on the same side; nan for the last.
    spall_height_mm, spall_length_mm
        The cross spall's height and its length between the sides' inner edges there; nan where
        the frame does not reach.
    within_mm
        How near it must come.
    """

    frame: int
    cant_deg: float
    rake_deg: float
    along_keel_mm: float
    keel_top_mm: float
    declivity_deg: float
    plumb_offset_mm: float
    places: tuple[Place, ...]
    diagonal_mm: float
    to_next_head_mm: float
    spall_height_mm: float
    spall_length_mm: float
    within_mm: float


def standing_sheets(
    frames: Sequence[Frame], hull: Hull, settings: FramingSettings
) -> tuple[StandingSheet, ...]:
    """A standing sheet for every frame, forward to aft."""
    along = _along_keel(frames, hull)
    heads = [_in_space(f, f.joint.edge_mm[-1]) for f in frames]
    out = []
    for k, f in enumerate(frames):
        edge = f.joint.edge_mm
        heel, head = _in_space(f, edge[0]), heads[k]
        pin = _pin(f, hull, heel[2], settings.horning_mm)
        spall = settings.cross_spall_mm or float(head[2]) - _FOOT_MM
        on_spall = _at_height(f, edge, spall)
        inside = _at_height(f, f.joint.inner_mm, spall)
        places = [
            _place(f, m.name, m.kind, np.asarray(m.at_mm), m.girth_mm, pin)
            for m in f.marks
            if m.kind != "centre"
        ]
        if on_spall is not None and not settings.cross_spall_mm:
            at, girth = on_spall
            places.append(_place(f, "cross spall", "spall", at, girth, pin))
        places.sort(key=lambda p: p.girth_mm)
        # the bob hangs from the centreline at the head's level; as she lies the whole is turned
        top = f.plane.origin(0.0) + edge[-1, 1] * f.plane.axes()[2]
        foot = f.plane.origin(0.0) + edge[0, 1] * f.plane.axes()[2]
        out.append(
            StandingSheet(
                f.number,
                f.plane.cant_deg,
                f.plane.rake_deg,
                along[k],
                float(heel[2]),
                settings.declivity_deg,
                _falls_aft(top - foot, settings.declivity_deg),
                tuple(places),
                float(np.linalg.norm(head - heel * _PORT)),
                float(np.linalg.norm(heads[k + 1] - head)) if k + 1 < len(frames) else float("nan"),
                spall if on_spall is not None else float("nan"),
                2 * float(inside[0][0]) if inside is not None else float("nan"),
                settings.stands_within_mm,
            )
        )
    return tuple(out)


def _falls_aft(rise: Array, declivity_deg: float) -> float:
    """How far aft of its foot the top of ``rise`` (x, y, z) lies when the stern is let down."""
    d = np.radians(declivity_deg)
    return float(rise[0] * np.cos(d) + rise[2] * np.sin(d))


def _in_space(f: Frame, at: Array) -> Array:
    _, out, up = f.plane.axes()
    point: Array = f.plane.origin(0.0) + at[0] * out + at[1] * up
    return point


def _along_keel(frames: Sequence[Frame], hull: Hull) -> list[float]:
    """Lengths along the keel's top (else level) from the first joint to each."""
    x = np.array([f.plane.x_mm for f in frames])
    run = [0.0]
    profile = hull.profiles.get("keel top")
    for a, b in pairwise(x.tolist()):
        s = np.linspace(a, b, 17)
        z = profile(s) if profile is not None else np.zeros_like(s)
        z = z if np.isfinite(z).all() else np.zeros_like(s)
        run.append(run[-1] + float(np.hypot(np.diff(s), np.diff(z)).sum()))
    return run


def _pin(f: Frame, hull: Hull, height: float, away: float) -> Array:
    """The pin on the centreline, on the keel's top ``away`` aft of the frame (else level)."""
    x = f.plane.x_mm + away
    profile = hull.profiles.get("keel top")
    z = float(profile(np.array([x]))[0]) if profile is not None else float("nan")
    return np.array([x, 0.0, z if np.isfinite(z) else height])


def _place(f: Frame, name: str, kind: str, at: Array, girth: float, pin: Array) -> Place:
    p = _in_space(f, at)
    return Place(
        name,
        kind,
        float(p[2]),
        float(p[1]),
        float(girth),
        2 * float(p[1]),
        float(np.linalg.norm(p - pin)),
    )


def _at_height(f: Frame, edge: Array, height: float) -> tuple[Array, float] | None:
    """Uppermost point of an edge at a height, and its girth along the joint edge."""
    _, out, up = f.plane.axes()
    z = edge[:, 0] * out[2] + edge[:, 1] * up[2] + f.plane.origin(0.0)[2]
    crosses = np.flatnonzero((z[:-1] < height) != (z[1:] < height))
    if not len(crosses):
        return None
    k = int(crosses[-1])
    share = (height - z[k]) / (z[k + 1] - z[k])
    g = f.joint.girth_mm
    return edge[k] + share * (edge[k + 1] - edge[k]), float(g[k] + share * (g[k + 1] - g[k]))
