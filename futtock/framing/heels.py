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
    x = np.array(
        [[f.plane.origin(s * f.plane.sided_mm)[0] for s in (-1.0, 0.0, 1.0)] for f in frames]
    )
    half = np.full(x.shape, settings.keel_siding_mm / 2)
    if settings.keel_siding_mm <= 0:
        breadth = hull.profiles.get("rabbet breadth")
        half = breadth(x.ravel()).reshape(x.shape) if breadth is not None else x * np.nan
        own = np.array([f.joint.edge_mm[0, 0] for f in frames])[:, None]
        half = np.where(np.isfinite(half).all(axis=1, keepdims=True), half, own)
    return [
        _work(f, at, h, settings) if f.on_keel else None
        for f, at, h in zip(frames, x, half, strict=True)
    ]


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


def _work(frame: Frame, x: Array, half: Array, settings: FramingSettings) -> HeelWork:
    """One heel's work, from x and the keel's half siding (3,) at the three faces."""
    faces = (frame.forward, frame.joint, frame.aft)
    notches = [_notch(face, h, settings) for face, h in zip(faces, half.tolist(), strict=True)]
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
    )


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
