"""She learns as built: measured frames, ribbands run again through them, and what to do.

Standing frames are measured (height, spread from the centreline). At some shares of the girth
their distances off the drawing are read, and a batten is run along the vessel through them: a
smoothing with squared second differences, re-weighted so that one frame that is out does not bend
it (Huber). What stands off the batten is that frame's own error, to be shimmed or eased; where the
batten itself stands off the drawing, frames not yet sawn are offered amended, so that the planking
runs fair, their bevels with the batten's slope along the vessel. Heels stay where they stand on the
keel. Standing frames are never altered.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from futtock.findings import Finding
from futtock.framing import kinds
from futtock.framing.build import division_of, redivided
from futtock.framing.curve import girths, tangents
from futtock.framing.frame import Face, Frame, Layer, Mark
from futtock.framing.settings import FramingSettings
from futtock.measure import Style, offset, show
from futtock.vessel.smaller import AsBuilt

Array = NDArray[np.float64]

SHARES = (0.15, 0.3, 0.45, 0.6, 0.75, 0.9)
_WORDS = ("at the garboards", "at the floor", "at the turn of the bilge", "above the bilge",
          "at the wale", "at the head")  # fmt: skip
_ASTRAY_MM = 150.0
_DOUBTED_MM = 20.0  # short of an inch misread; frames set up with care do not stand so far off
_PAST_MM = 25.0  # how far past a heel or a head a point may lie and still be of it
_STIFF = 4.0  # batten's stiffness: half of a wave 9 frames long comes through
_NEAR, _FADE = 2, 6  # frames past the last measured one that a batten runs free, then comes back in
_DRAWN_IN = 0.1  # how firmly, against a measurement


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
    so far off that they cannot be of this frame, are left out: see :func:`astray`.
    """
    read = [r for m in measured if (r := _read_off(frame, m)) is not None]
    share, off = np.array(read).reshape(-1, 2).T
    return share, off


def astray(
    frames: Sequence[Frame], measured: Iterable[AsBuilt], style: Style = "metric"
) -> tuple[Finding, ...]:
    """A finding for every measured point that no use can be made of, or that is hardly meant."""
    by_number = {f.number: f for f in frames}
    found = []
    for m in measured:
        frame = by_number.get(m.frame)
        file, line = ("as_built.csv", m.file_line) if m.file_line else (None, None)
        if frame is None:
            said = f"There is no frame {m.frame}."
        elif (read := _read_off(frame, m)) is not None:
            if abs(read[1]) > _DOUBTED_MM:
                way = "outside" if read[1] > 0 else "inside"
                by = show(abs(read[1]), style, places=0)
                said = (
                    f"Frame {m.frame}: the point {offset(m.height_mm, style)} high and"
                    f" {offset(m.spread_mm, style)} out stands {by} {way} her drawing: is the tape"
                    " misread?"
                )
                found.append(kinds.AS_BUILT_DOUBTFUL.found(said, file=file, line=line))
            continue
        else:
            said = (
                f"Frame {m.frame}: the point {offset(m.height_mm, style)} high and"
                f" {offset(m.spread_mm, style)} out lies beyond her ends or far off her drawing,"
                " and is left out."
            )
        found.append(kinds.AS_BUILT_ASTRAY.found(said, file=file, line=line))
    return tuple(found)


def _read_off(frame: Frame, m: AsBuilt) -> tuple[float, float] | None:
    """Share of the girth and distance off the drawing of one point; None where it is astray."""
    _, out, up = frame.plane.axes()
    face = frame.joint
    p, d = face.edge_mm[:-1], np.diff(face.edge_mm, axis=0)
    length = np.hypot(d[:, 0], d[:, 1])
    height = (m.height_mm - frame.plane.origin(0.0)[2]) / up[2]
    at = np.array([(m.spread_mm - height * up[1]) / out[1], height])
    s = ((at - p) * d).sum(axis=1) / length**2
    foot = p + np.clip(s, 0, 1)[:, None] * d
    k = int(((at - foot) ** 2).sum(axis=1).argmin())
    past = length[k] * max(-s[k], s[k] - 1.0) if k in (0, len(p) - 1) else 0.0
    if past > _PAST_MM or np.hypot(*(at - foot[k])) > _ASTRAY_MM:
        return None
    along = d[k] / length[k]
    away = at - (p[k] + s[k] * d[k] if past > 0 else foot[k])
    # square to the edge: what lies along a corner between segments is not counted
    side = away[0] * along[1] - away[1] * along[0]
    part = min(max(s[k], 0.0), 1.0)
    girth = face.girth_mm[k] + part * (face.girth_mm[k + 1] - face.girth_mm[k])
    return float(girth / face.girth_mm[-1]), float(np.copysign(np.hypot(*away), side))


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
    # A batten between what stands and frames that are only drawn comes back to the drawing: past
    # two frames from the nearest measured one it is drawn in, most firmly from eight.
    away = np.abs(np.arange(n)[:, None] - np.flatnonzero(known)).min(axis=1)
    drawn_in = _DRAWN_IN * np.clip((away - _NEAR) / _FADE, 0.0, 1.0) ** 2
    stiff = _STIFF * second.T @ second + np.diag(1e-3 + drawn_in)
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
    x = np.array([f.plane.x_mm for f in frames])
    slope = (
        np.gradient(ribbands.batten_mm, x, axis=1)
        if len(x) > 1
        else np.zeros_like(ribbands.batten_mm)
    )
    out = []
    for k, f in enumerate(frames):
        moves = ribbands.batten_mm[:, k]
        if f.number in standing or np.abs(moves).max() <= within_mm:
            continue
        moved = _moved(f, ribbands.share, moves, slope[:, k])
        out.append(redivided(moved, division_of(f), settings) if f.timbers else moved)
    return tuple(out)


def _moved(frame: Frame, share: Array, moves: Array, slope: Array) -> Frame:
    """The frame with its edges moved by the batten, and its bevels turned by the batten's slope.

    ``slope`` (R,) is how much more the batten moves the edge per millimetre aft.
    """
    # from nothing at the heel, which stands on the keel where it is
    share = np.concatenate([[0.0], share])
    moves, slope = np.concatenate([[0.0], moves]), np.concatenate([[0.0], slope])
    sided, per_mm = frame.plane.sided_mm, slope * np.cos(np.radians(frame.plane.cant_deg))
    faces = [
        _moved_face(f, share, moves + s * per_mm, per_mm)
        for f, s in ((frame.forward, -sided), (frame.joint, 0.0), (frame.aft, sided))
    ]
    g = frame.joint.girth_mm
    outward = _outward(frame.joint.edge_mm)
    turn = np.interp(g / g[-1], share, per_mm)
    layers: list[Layer] = []
    for layer, s in zip(frame.layers, (-sided, sided), strict=True):
        by = np.interp(g / g[-1], share, moves + s * per_mm)[:, None] * outward
        layers.append(
            replace(
                layer,
                far_edge_mm=_frozen(layer.far_edge_mm + by),
                far_inner_mm=_frozen(layer.far_inner_mm + by),
                chord_deg=_frozen(_turned(layer.chord_deg, turn)),
                inner_chord_deg=_frozen(_turned(layer.inner_chord_deg, turn)),
            )
        )
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


def _moved_face(face: Face, share: Array, moves: Array, per_mm: Array) -> Face:
    at = face.girth_mm / face.girth_mm[-1]
    by, turn = np.interp(at, share, moves)[:, None], np.interp(at, share, per_mm)
    outward = _outward(face.edge_mm)
    edge = face.edge_mm + by * outward
    return replace(
        face,
        edge_mm=_frozen(edge),
        lean_deg=_frozen(_turned(face.lean_deg, turn)),
        inner_mm=_frozen(face.inner_mm + by * outward),
        inner_lean_deg=_frozen(_turned(face.inner_lean_deg, turn)),
        girth_mm=_frozen(girths(edge, tangents(edge))),
    )


def _turned(lean_deg: Array, per_mm: Array) -> Array:
    """Leans of a surface that is moved out by so much more per millimetre aft."""
    turned: Array = np.degrees(np.arctan(np.tan(np.radians(lean_deg)) + per_mm))
    return turned


def _outward(edge: Array) -> Array:
    t = tangents(edge)
    return np.stack([t[:, 1], -t[:, 0]], axis=1)


def _frozen(values: Array) -> Array:
    values.setflags(write=False)
    return values
