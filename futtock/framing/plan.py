"""The frame plan: where every frame stands, how thick it is, its cant and its rake."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused
from futtock.framing.frame import FramePlane
from futtock.framing.settings import FramingSettings
from futtock.lines.surface import Hull

Array = NDArray[np.float64]


def places_mm(settings: FramingSettings) -> Array:
    """Places x of every joint face, forward to aft.

    Spacing changes and places left out count the regular plan's places from 1; added frames come
    in wherever they stand.
    """
    spacing = np.full(max(settings.count - 1, 0), settings.room_and_space_mm)
    for number, mm in sorted(settings.spacing_changes):
        if not mm > 0:
            raise Misused(f"The spacing from frame {number} on must be more than 0, {mm:g} came.")
        spacing[max(number - 1, 0) :] = mm
    x = settings.first_mm + np.concatenate([[0.0], np.cumsum(spacing)])
    gone = [n - 1 for n in settings.left_out if 1 <= n <= len(x)]
    x = np.delete(x, gone)
    return np.sort(np.concatenate([x, np.asarray(settings.added_mm, float)]))


def frame_planes(hull: Hull, settings: FramingSettings) -> tuple[FramePlane, ...]:
    """The planes of all frames, numbered from 1 forward to aft."""
    x = places_mm(settings)
    sided = np.full(len(x), settings.sided_mm)
    for number, mm in sorted(settings.sided_changes):
        sided[max(number - 1, 0) :] = mm
    cant = np.zeros(len(x))
    if not isinstance(settings.cants, str):
        for number, angle in settings.cants:
            if not 1 <= number <= len(x):
                raise Misused(
                    f"A cant is given for frame {number}, and there are frames 1 to {len(x)}."
                )
            cant[number - 1] = angle
    half = {n - 1 for n in settings.half_frames} if settings.half_frames != "propose" else set()
    for k, at in enumerate(settings.added_mm):  # an added frame is known by its place
        place = int(np.abs(x - at).argmin())
        if k < len(settings.added_cants_deg) and settings.added_cants_deg[k]:
            cant[place] = settings.added_cants_deg[k]
        if k < len(settings.added_half) and settings.added_half[k]:
            half.add(place)
    rake = rake_deg(hull, x) if settings.stand == "keel" else 0.0
    return tuple(
        FramePlane(k + 1, float(x[k]), float(cant[k]), rake, float(sided[k]), k not in half)
        for k in range(len(x))
    )


def rake_deg(hull: Hull, x: Array) -> float:
    """Rake of frames square to the keel: positive where her keel deepens going aft.

    The keel's run is the straight line that fits the middle half of it best: ``keel`` where the
    table has it, else ``keel top``, else ``rabbet``.

    Raises
    ------
    Misused
        Where no profile of the keel is known.
    """
    for name in ("keel", "keel top", "rabbet"):
        if name in hull.profiles:
            span = x[-1] - x[0]
            at = np.linspace(x[0] + span / 4, x[-1] - span / 4, 33)
            z = hull.profiles[name](at)
            known = np.isfinite(z)
            if known.sum() >= 2:
                slope = float(np.polyfit(at[known], z[known], 1)[0])
                return float(np.degrees(np.arctan(-slope)))
    raise Misused('Frames cannot stand square to the "keel": the table gives no line of the keel.')
