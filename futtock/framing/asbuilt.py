"""She learns as built: measured frames, ribbands run again through them, and what to do.

Standing frames are measured (height, spread from the centreline). At some shares of the girth
their distances off the drawing are read, and a batten is run along the vessel through them: a
smoothing with squared second differences, re-weighted so that one frame that is out does not bend
it (Huber). What stands off the batten is that frame's own error, to be shimmed or eased; where the
batten itself stands off the drawing, frames not yet sawn are offered amended, so that the planking
runs fair. Standing frames are never altered.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from futtock.framing.build import division_of, redivided
from futtock.framing.curve import girths, tangents
from futtock.framing.frame import Face, Frame, Layer, Mark
from futtock.framing.settings import FramingSettings
from futtock.measure.shown import show
from futtock.vessel.smaller import AsBuilt

Array = NDArray[np.float64]

SHARES = (0.15, 0.3, 0.45, 0.6, 0.75, 0.9)
_WORDS = ("at the garboards", "at the floor", "at the turn of the bilge", "above the bilge",
          "at the wale", "at the head")  # fmt: skip
_ASTRAY_MM = 150.0
_STIFF = 4.0  # batten's stiffness: half of a wave 9 frames long comes through


@dataclass(frozen=True, slots=True)
class Ribbands:
    """Battens run along the vessel, at shares of the girth (rows) and frames (columns).

    Attributes
    ----------
    share : (R,)
    numbers : (F,)
    off_mm : (R, F)
        Measured distance off the drawing square to the edge, positive outboard; nan unmeasured.
        Port and starboard are taken together (mean).
    batten_mm : (R, F)
        Where the fair batten lies off the drawing.
    """

    share: Array
    numbers: tuple[int, ...]
    off_mm: Array
    batten_mm: Array

    @property
    def own_mm(self) -> Array:
        """What each measured frame stands off the batten; nan unmeasured."""
        own: Array = self.off_mm - self.batten_mm
        return own


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do about one frame, in words; ``off_mm`` off the batten, positive proud."""

    frame: int
    share: float
    off_mm: float
    words: str


def off_drawing(frame: Frame, measured: Iterable[AsBuilt]) -> tuple[Array, Array]:
    """Shares of the girth and distances off the drawing of measured points; (k,) each.

    A distance is square to the edge, positive outboard. Points beyond the edge's ends, and points
    so far off that they cannot be of this frame, are left out.
    """
    _, out, up = frame.plane.axes()
    face = frame.joint
    p, d = face.edge_mm[:-1], np.diff(face.edge_mm, axis=0)
    square = (d**2).sum(axis=1)
    share, off = [], []
    for m in measured:
        height = (m.height_mm - frame.plane.origin(0.0)[2]) / up[2]
        at = np.array([(m.spread_mm - height * up[1]) / out[1], height])
        s = ((at - p) * d).sum(axis=1) / square
        foot = p + np.clip(s, 0, 1)[:, None] * d
        k = int(((at - foot) ** 2).sum(axis=1).argmin())
        beyond = (k == 0 and s[0] < 0) or (k == len(p) - 1 and s[-1] > 1)
        if beyond or np.hypot(*(at - foot[k])) > _ASTRAY_MM:
            continue
        along = d[k] / np.sqrt(square[k])
        away = at - foot[k]
        # square to the edge: what lies along a corner between segments is not counted
        side = away[0] * along[1] - away[1] * along[0]
        off.append(np.copysign(np.hypot(*away), side))
        girth = face.girth_mm[k] + min(max(s[k], 0.0), 1.0) * (
            face.girth_mm[k + 1] - face.girth_mm[k]
        )
        share.append(girth / face.girth_mm[-1])
    return np.array(share), np.array(off)


def run_ribbands(
    frames: Sequence[Frame], measured: Sequence[AsBuilt], within_mm: float
) -> Ribbands:
    """Battens through all that is measured.

    Parameters
    ----------
    frames
        The frames as drawn.
    measured
        Points of ``as_built.csv``; a frame with one point gives it to the nearest share alone.
    within_mm
        How near a frame is expected to stand: the scale beyond which a frame counts as out.
    """
    share = np.array(SHARES)
    off = np.full((len(share), len(frames)), np.nan)
    for k, f in enumerate(frames):
        at, by = off_drawing(f, [m for m in measured if m.frame == f.number])
        if not len(at):
            continue
        # every share takes the points near it, those of both sides together
        weight = np.exp(-0.5 * ((share[:, None] - at) / 0.08) ** 2)
        near = weight.max(axis=1) > 0.1
        mean = (weight * by).sum(axis=1) / np.maximum(weight.sum(axis=1), 1e-12)
        off[near, k] = mean[near]
    x = np.array([f.plane.x_mm for f in frames])
    batten = np.stack([_batten(x, row, within_mm) for row in off])
    return Ribbands(share, tuple(f.number for f in frames), off, batten)


def _batten(x: Array, off: Array, within: float) -> Array:
    """A batten (F,) through measured offsets (nan where none); 0 without two of them."""
    n = len(x)
    known = np.isfinite(off)
    if known.sum() < 2 or n < 3:
        return np.zeros(n)
    space = float(np.median(np.diff(x)))
    h = np.diff(x) / space
    second = np.zeros((n - 2, n))
    for i in range(n - 2):
        a, b = h[i], h[i + 1]
        second[i, i : i + 3] = np.array([1 / a, -(1 / a + 1 / b), 1 / b]) / np.sqrt((a + b) / 2)
    # a light pull to the drawing keeps the batten's free ends from wandering off
    stiff = _STIFF * second.T @ second + 1e-3 * np.eye(n)
    weight = known.astype(float)
    values = np.where(known, off, 0.0)
    fair = np.zeros(n)
    for _ in range(30):
        fair = np.linalg.solve(stiff + np.diag(weight), weight * values)
        miss = np.abs(values - fair)
        new = np.where(known, np.minimum(1.0, within / np.maximum(miss, 1e-9)) ** 2, 0.0)
        if np.abs(new - weight).max() < 1e-6:
            break
        weight = new
    return fair


def advice(ribbands: Ribbands, within_mm: float, style: str = "imperial") -> tuple[Advice, ...]:
    """What to do about each measured frame that stands off its batten, worst place of each.

    A frame that is shy is shimmed, or its proud neighbour eased; one that is proud is eased.
    """
    own = ribbands.own_mm
    out = []
    for k, number in enumerate(ribbands.numbers):
        column = np.nan_to_num(own[:, k])
        r = int(np.abs(column).argmax())
        if abs(column[r]) <= within_mm:
            continue
        size = show(abs(float(column[r])), "metric" if style == "metric" else "imperial")
        where = _WORDS[r] if r < len(_WORDS) else f"at {ribbands.share[r]:.0%} of the girth"
        if column[r] > 0:
            words = f"frame {number} is {size} proud {where}: ease it"
        else:
            beside = [j for j in (k - 1, k + 1) if 0 <= j < own.shape[1] and own[r, j] > 0]
            proud = max(beside, key=lambda j: float(own[r, j]), default=None)
            words = f"frame {number} is {size} shy {where}: shim"
            if proud is not None and own[r, proud] > within_mm / 2:
                words += f", or ease {ribbands.numbers[proud]}"
        out.append(Advice(number, float(ribbands.share[r]), float(column[r]), words))
    return tuple(out)


def amended(
    frames: Sequence[Frame],
    ribbands: Ribbands,
    standing: Collection[int],
    within_mm: float,
    settings: FramingSettings,
) -> tuple[Frame, ...]:
    """Frames not yet standing whose edges the battens would move by more than ``within_mm``.

    Their faces, layers and marks are moved square to the edge by the batten's distance off the
    drawing, and their timbers cut afresh with the same butts, so that moulds can be made of them.
    Standing frames are never among them.
    """
    out = []
    for k, f in enumerate(frames):
        moves = ribbands.batten_mm[:, k]
        if f.number in standing or np.abs(moves).max() <= within_mm:
            continue
        moved = _moved(f, ribbands.share, moves)
        out.append(redivided(moved, division_of(f), settings) if f.timbers else moved)
    return tuple(out)


def _moved(frame: Frame, share: Array, moves: Array) -> Frame:
    faces = [_moved_face(f, share, moves) for f in (frame.forward, frame.joint, frame.aft)]
    g = frame.joint.girth_mm
    by = np.interp(g / g[-1], share, moves)[:, None]
    outward = _outward(frame.joint.edge_mm)
    layers: list[Layer] = [
        replace(
            layer,
            far_edge_mm=_frozen(layer.far_edge_mm + by * outward),
            far_inner_mm=_frozen(layer.far_inner_mm + by * outward),
        )
        for layer in frame.layers
    ]
    marks: list[Mark] = []
    for m in frame.marks:
        at = np.array(
            [np.interp(m.girth_mm, g, faces[1].edge_mm[:, i]) for i in (0, 1)], dtype=float
        )
        girth = float(np.interp(m.girth_mm, g, faces[1].girth_mm))
        marks.append(replace(m, girth_mm=girth, at_mm=(float(at[0]), float(at[1]))))
    return replace(
        frame,
        forward=faces[0],
        joint=faces[1],
        aft=faces[2],
        layers=(layers[0], layers[1]),
        marks=tuple(marks),
        timbers=(),
    )


def _moved_face(face: Face, share: Array, moves: Array) -> Face:
    by = np.interp(face.girth_mm / face.girth_mm[-1], share, moves)[:, None]
    outward = _outward(face.edge_mm)
    edge = face.edge_mm + by * outward
    return replace(
        face,
        edge_mm=_frozen(edge),
        inner_mm=_frozen(face.inner_mm + by * outward),
        girth_mm=_frozen(girths(edge, tangents(edge))),
    )


def _outward(edge: Array) -> Array:
    t = tangents(edge)
    return np.stack([t[:, 1], -t[:, 0]], axis=1)


def _frozen(values: Array) -> Array:
    values.setflags(write=False)
    return values
