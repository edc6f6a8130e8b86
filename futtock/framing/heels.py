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
from futtock.lines.surface import Hull

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
    return [_work(f, hull, settings) if f.on_keel else None for f in frames]


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


def _work(frame: Frame, hull: Hull, settings: FramingSettings) -> HeelWork:
    """One heel's work."""
    faces = (frame.forward, frame.joint, frame.aft)
    sided = frame.plane.sided_mm
    at = list(zip(faces, (-sided, 0.0, sided), strict=True))
    rises = [_rise(frame, face, s, hull) for face, s in at]
    sides = [_Side(frame, face, s, hull, settings) for face, s in at]
    notches = [
        _notch(face, side, rise, frame.plane.centre_mm(s, float(face.edge_mm[0, 1])), settings)
        for (face, s), side, rise in zip(at, sides, rises, strict=True)
    ]
    low, height, high = (float(face.edge_mm[0, 1]) for face in faces)
    half = sides[1].half_mm
    middle = 0.0 if settings.floors == "in frame" else half / 2
    top, bolt = height + _moulded(frame), settings.heel_bolt_mm
    a, b = middle - bolt, middle + bolt
    zone = np.array([[a, height], [b, height], [b, top], [a, top]])
    return HeelWork(
        notch_forward_mm=notches[0],
        notch_mm=notches[1],
        notch_aft_mm=notches[2],
        top_bevel_deg=math.degrees(math.atan2(high - low, 2 * sided)),
        side_bevel_deg=math.degrees(
            math.atan2(sides[2].half_mm - sides[0].half_mm, sides[2].x_mm - sides[0].x_mm)
        ),
        half_siding_mm=half,
        limber_mm=_limber(frame, settings),
        bolts_mm=zone if bolt > 0 else np.empty((0, 2)),
        with_timber=settings.notch_sawn == "with the timber",
        rise=(rises[0], rises[1], rises[2]),
    )


def _rise(frame: Frame, face: Face, s_mm: float, hull: Hull) -> float:
    """Rise of the heel's line for each millimetre outboard; 0 where the keel's top is not known."""
    profile = hull.profiles.get("keel top")
    toe, up_toe = face.edge_mm[0].tolist()
    middle = frame.plane.centre_mm(s_mm, up_toe)
    if profile is None or frame.plane.cant_deg == 0 or toe - middle < 1.0:
        return 0.0
    _, out, up = frame.plane.axes()
    foot = frame.plane.origin(s_mm) + middle * out
    at = up_toe
    for _ in range(4):  # a raked frame's centreline moves along the keel as it goes down
        z = float(profile(np.array([foot[0] + at * up[0]]))[0])
        at = (z - foot[2]) / up[2]
    return (up_toe - at) / (toe - middle) if math.isfinite(at) else 0.0


class _Side:
    """Where the keel's side crosses a face: x, half siding there, and out along the face."""

    def __init__(
        self, frame: Frame, face: Face, s_mm: float, hull: Hull, settings: FramingSettings
    ) -> None:
        _, across, up = frame.plane.axes()
        toe = face.edge_mm[0]
        foot = frame.plane.origin(s_mm) + toe[1] * up
        away = settings.notch_clear_mm - settings.setting_in_mm
        out = float(toe[0])
        for _ in range(4):  # the siding tapers, and a cant's side lies forward or aft of its foot
            self.x_mm = float(foot[0] + out * across[0])
            self.half_mm = self._half(self.x_mm, face, hull, settings)
            clear = max(self.half_mm + away, settings.notch_clear_mm)
            out = float((clear - foot[1]) / across[1])
        self.out_mm = out

    @staticmethod
    def _half(x: float, face: Face, hull: Hull, settings: FramingSettings) -> float:
        if settings.keel_siding_mm > 0:
            return settings.keel_siding_mm / 2
        breadth = hull.profiles.get("rabbet breadth")
        half = float("nan") if breadth is None else float(breadth(np.array([x]))[0])
        return half if math.isfinite(half) else float(face.edge_mm[0, 0])


def _moulded(frame: Frame) -> float:
    return float(np.hypot(*(frame.joint.inner_mm[0] - frame.joint.edge_mm[0])))


def _notch(
    face: Face, side: _Side, rise: float, centre_mm: float, settings: FramingSettings
) -> Array:
    """The cut line from the centreline over the keel's top and down its side."""
    depth = settings.notch_mm
    if depth <= 0:
        return np.empty((0, 2))
    toe, height = face.edge_mm[0].tolist()
    top = height + settings.notch_clear_mm
    middle, at_side = (top + rise * (out - toe) for out in (centre_mm, side.out_mm))
    down = at_side - depth - settings.notch_clear_mm
    return np.array([[centre_mm, middle], [side.out_mm, at_side], [side.out_mm, down]])


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
