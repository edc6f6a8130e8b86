"""What is cut where a frame stands on the keel: notch, limber hole and the heel bolts' zone.

With a notch of some depth the heel is fitted over the keel: its foot reaches that far below the
keel's top outside the keel's sides, and the keel's own section is cut out of it with clearance for
bedding. The notch is drawn on the mould and, unless stated otherwise, sawn when the frame is
assembled; the timber's outline holds the wood for it. All in (out, up), starboard.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.framing.frame import Face, Frame, HeelWork
from futtock.framing.settings import FramingSettings
from futtock.lines.surface import Hull

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Keel:
    """The keel's top under a frame: half siding at each face and the slope of its sides."""

    half_mm: Array
    side_deg: float


def heel_work(frame: Frame, hull: Hull, settings: FramingSettings) -> HeelWork | None:
    """The heel's work, or None where the heel does not stand on a keel's top.

    Parameters
    ----------
    frame
        A frame.
    hull
        Gives the keel's half siding (``rabbet breadth``) where the settings state none.
    settings
        Depth, setting in, clearance, limber and bolts.
    """
    if not frame.on_keel:
        return None
    keel = _keel(frame, hull, settings)
    faces = (frame.forward, frame.joint, frame.aft)
    notches = tuple(
        _notch(face, float(half), settings) for face, half in zip(faces, keel.half_mm, strict=True)
    )
    heights = [float(face.edge_mm[0, 1]) for face in faces]
    fall = (heights[2] - heights[0]) / (2 * frame.plane.sided_mm)
    middle = 0.0 if settings.floors == "in frame" else float(keel.half_mm[1]) / 2
    top = heights[1] + _moulded(frame)
    bolt = settings.heel_bolt_mm
    zone = (
        np.array([[middle - bolt, heights[1]], [middle + bolt, heights[1]],
                  [middle + bolt, top], [middle - bolt, top]])
        if bolt > 0
        else np.empty((0, 2))
    )  # fmt: skip
    return HeelWork(
        notch_forward_mm=notches[0],
        notch_mm=notches[1],
        notch_aft_mm=notches[2],
        top_bevel_deg=float(np.degrees(np.arctan(fall))),
        side_bevel_deg=keel.side_deg,
        half_siding_mm=float(keel.half_mm[1]),
        limber_mm=_limber(frame, settings),
        bolts_mm=zone,
        with_timber=settings.notch_sawn == "with the timber",
    )


def _keel(frame: Frame, hull: Hull, settings: FramingSettings) -> _Keel:
    x = np.array(
        [frame.plane.origin(s)[0] for s in (-frame.plane.sided_mm, 0.0, frame.plane.sided_mm)]
    )
    if settings.keel_siding_mm > 0:
        return _Keel(np.full(3, settings.keel_siding_mm / 2), 0.0)
    breadth = hull.profiles.get("rabbet breadth")
    half = breadth(x) if breadth is not None else np.full(3, np.nan)
    if not np.isfinite(half).all():
        half = np.full(3, float(frame.joint.edge_mm[0, 0]))
    return _Keel(half, float(np.degrees(np.arctan2(half[2] - half[0], x[2] - x[0]))))


def _moulded(frame: Frame) -> float:
    return float(np.hypot(*(frame.joint.inner_mm[0] - frame.joint.edge_mm[0])))


def _notch(face: Face, half: float, settings: FramingSettings) -> Array:
    """The cut line from the centreline over the keel's top and down its side."""
    depth = settings.notch_mm
    if depth <= 0:
        return np.empty((0, 2))
    top = float(face.edge_mm[0, 1]) + settings.notch_clear_mm
    side = max(half - settings.setting_in_mm, 0.0) + settings.notch_clear_mm
    return np.array([[0.0, top], [side, top], [side, top - depth - settings.notch_clear_mm]])


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
