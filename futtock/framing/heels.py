"""What is cut where a frame stands on the keel: notch, limber hole and the heel bolts' zone.

With a notch of some depth the heel is fitted over the keel: its foot reaches that far below the
keel's top outside the keel's sides, and the keel's own section is cut out of it with clearance for
bedding. The notch is drawn on the mould and, unless stated otherwise, sawn when the frame is
assembled; the timber's outline holds the wood for it. All in (out, up), starboard.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock.framing.frame import Face, Frame, HeelWork, Timber
from futtock.framing.settings import FramingSettings
from futtock.lines.surface import Hull, Profile

Array = NDArray[np.float64]


def heel_works(
    frames: Sequence[Frame], hull: Hull, settings: FramingSettings
) -> list[HeelWork | None]:
    """The work at every frame's heel; None where it does not stand on a keel's top.

    Parameters
    ----------
    frames
        Frames.
    hull
        Gives the keel's half siding (``rabbet breadth``) where the settings state none.
    settings
        Depth, setting in, clearance, limber and bolts.
    """
    stands = [f for f in frames if f.on_keel]
    if not stands:
        return [None] * len(frames)
    seats = _seats(stands, hull, settings)
    works = iter([_work(f, *seat, settings) for f, seat in zip(stands, seats, strict=True)])
    return [next(works) if f.on_keel else None for f in frames]


@dataclass(frozen=True, slots=True)
class HeelLine:
    """What is marked at a timber's heel on one of its faces, (k, 2) in (out, up).

    ``notch`` is the cut over the keel where it is sawn when the frame is assembled, ``limber`` the
    hole for the water, ``bolts`` (closed) the zone to keep clear for heel bolts.
    """

    kind: Literal["notch", "limber", "bolts"]
    points_mm: Array


def heel_lines(
    frame: Frame, timber: Timber, face: Literal["forward", "joint", "aft"] = "joint"
) -> tuple[HeelLine, ...]:
    """What is marked at the heel of a timber that stands on the keel; none on other timbers.

    A port timber's lines are its starboard twin's, as everywhere in framing; a floor's run over
    both sides.
    """
    work = frame.heel
    if work is None or timber.number != 1:
        return ()
    notch = {
        "forward": work.notch_forward_mm, "joint": work.notch_mm, "aft": work.notch_aft_mm,
    }[face]  # fmt: skip
    crosses = timber.side == "C"
    port = np.array([-1.0, 1.0])
    out = []
    if len(notch) and (crosses or not work.with_timber):
        whole = np.concatenate([(notch * port)[:0:-1], notch]) if crosses else notch
        out.append(HeelLine("notch", whole))
    if len(work.limber_mm):
        out.append(HeelLine("limber", work.limber_mm))
        if crosses:
            out.append(HeelLine("limber", work.limber_mm * port))
    if len(work.bolts_mm):
        out.append(HeelLine("bolts", work.bolts_mm))
    return tuple(out)


def _work(
    frame: Frame, rise: Array, centre: Array, side: Array, half: Array, x: Array,
    settings: FramingSettings,
) -> HeelWork:  # fmt: skip
    """One heel's work from its seat: arrays (3,) of the forward, joint and aft face."""
    faces = (frame.forward, frame.joint, frame.aft)
    seats = zip(faces, rise.tolist(), centre.tolist(), side.tolist(), strict=True)
    notches = [_notch(face, r, c, out, settings) for face, r, c, out in seats]
    low, height, high = (float(face.edge_mm[0, 1]) for face in faces)
    middle = 0.0 if settings.floors == "in frame" else float(half[1]) / 2
    top, bolt = height + _moulded(frame), settings.heel_bolt_mm
    a, b = middle - bolt, middle + bolt
    zone = np.array([[a, height], [b, height], [b, top], [a, top]])
    return HeelWork(
        notch_forward_mm=notches[0],
        notch_mm=notches[1],
        notch_aft_mm=notches[2],
        top_bevel_deg=math.degrees(math.atan2(high - low, 2 * frame.plane.sided_mm)),
        side_bevel_deg=math.degrees(math.atan2(half[2] - half[0], x[2] - x[0])),
        half_siding_mm=float(half[1]),
        limber_mm=_limber(frame, settings),
        bolts_mm=zone if bolt > 0 else np.empty((0, 2)),
        with_timber=settings.notch_sawn == "with the timber",
        rise=(float(rise[0]), float(rise[1]), float(rise[2])),
    )


def _seats(
    frames: Sequence[Frame], hull: Hull, settings: FramingSettings
) -> list[tuple[Array, Array, Array, Array, Array]]:
    """What each frame stands on, at its three faces: arrays (3,) a frame.

    Rise of the heel's line for each millimetre outboard; out of the centreline; out of the notch's
    side; half the keel's siding there, and x. A cant's side and centreline lie forward or aft of
    its toe, where the keel's top and siding are others.
    """
    _, out, up = (np.stack(v)[:, None] for v in zip(*(f.plane.axes() for f in frames), strict=True))
    origin = np.stack(
        [[f.plane.origin(s * f.plane.sided_mm) for s in (-1.0, 0.0, 1.0)] for f in frames]
    )
    toe = np.stack([[g.edge_mm[0] for g in (f.forward, f.joint, f.aft)] for f in frames])
    foot = origin + toe[..., 1:] * up  # at the toe's height, out 0
    centre = -foot[..., 1] / out[..., 1]
    canted = np.array([f.plane.cant_deg != 0 for f in frames])[:, None]

    rise = np.zeros(toe.shape[:2])
    profile = hull.profiles.get("keel top")
    if profile is not None and canted.any():
        middle = foot + centre[..., None] * out
        below = np.zeros_like(rise)
        for _ in range(4):  # a raked frame's centreline moves along the keel as it goes down
            x = middle[..., 0] - below * up[..., 0]
            below = (middle[..., 2] - _on(profile, x)) / up[..., 2]
        wide = toe[..., 0] - centre
        rise = np.where(canted & (wide > 1.0), below / np.maximum(wide, 1.0), 0.0)
        rise = np.where(np.isfinite(rise), rise, 0.0)

    breadth = hull.profiles.get("rabbet breadth")
    away = settings.notch_clear_mm - settings.setting_in_mm
    side = toe[..., 0]
    for _ in range(4 if canted.any() else 1):
        x = foot[..., 0] + side * out[..., 0]
        half = np.full(x.shape, settings.keel_siding_mm / 2)
        if settings.keel_siding_mm <= 0:
            half = toe[..., 0] if breadth is None else _on(breadth, x)
            half = np.where(np.isfinite(half), half, toe[..., 0])
        clear = np.maximum(half + away, settings.notch_clear_mm)
        side = (clear - foot[..., 1]) / out[..., 1]
    return list(zip(rise, centre, side, half, x, strict=True))


def _on(profile: Profile, x: Array) -> Array:
    """A profile's values at x of any shape."""
    return np.asarray(profile(x.ravel()), float).reshape(x.shape)


def _moulded(frame: Frame) -> float:
    return float(np.hypot(*(frame.joint.inner_mm[0] - frame.joint.edge_mm[0])))


def _notch(
    face: Face, rise: float, centre_mm: float, side_mm: float, settings: FramingSettings
) -> Array:
    """The cut line from the centreline over the keel's top and down its side."""
    depth = settings.notch_mm
    if depth <= 0:
        return np.empty((0, 2))
    toe, height = face.edge_mm[0].tolist()
    top = height + settings.notch_clear_mm
    middle, at_side = (top + rise * (out - toe) for out in (centre_mm, side_mm))
    down = at_side - depth - settings.notch_clear_mm
    return np.array([[centre_mm, middle], [side_mm, at_side], [side_mm, down]])


def _limber(frame: Frame, settings: FramingSettings) -> Array:
    """The limber hole: a half round on the outer edge from the heel; none without a size."""
    if settings.limber_mm <= 0:
        return np.empty((0, 2))
    wide = settings.limber_wide_mm or 2 * settings.limber_mm
    s = np.linspace(0, np.pi, 17)
    run = wide / 2 * (1 - np.cos(s))
    face = frame.joint
    base = np.stack([np.interp(run, face.girth_mm, c) for c in face.edge_mm.T], axis=1)
    inward = face.inner_mm[0] - face.edge_mm[0]
    inward = inward / np.hypot(*inward)
    arch: Array = base + (settings.limber_mm * np.sin(s))[:, None] * inward
    return arch
