"""Bedding of the joint faces: area and quantity of compound."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from futtock.errors import Misused
from futtock.moulds.mould import Mould

Array = NDArray[np.float64]


@dataclass(frozen=True)
class BeddedFrame:
    """The joint of one frame: area where the two layers lie on one another, both sides."""

    frame: int
    joint_m2: float


@dataclass(frozen=True)
class Bedding:
    """Bedding for the vessel: one coat on the joint, at the stated coverage, and spare."""

    frames: tuple[BeddedFrame, ...]
    coverage_m2_per_litre: float
    spare_percent: float

    @property
    def joint_m2(self) -> float:
        """Area of all joints."""
        return sum(f.joint_m2 for f in self.frames)

    @property
    def litres(self) -> float:
        """Compound to have, spare included."""
        return self.joint_m2 / self.coverage_m2_per_litre * (1.0 + self.spare_percent / 100.0)


def bedding(
    moulds: Sequence[Mould], coverage_m2_per_litre: float, spare_percent: float = 10.0
) -> Bedding:
    """Area of the joints and compound for them.

    The joint of a frame is where the joint faces of its forward and after timbers overlap, taken
    in the frame's own axes, so that butts' gaps and heels that reach past one another do not count.

    Parameters
    ----------
    moulds
        Moulds with their place in the frame; others are passed over.
    coverage_m2_per_litre
        Stated by the yard or the maker.
    spare_percent
        Beyond what the area wants.
    """
    if coverage_m2_per_litre <= 0 or spare_percent < 0:
        raise Misused("Coverage must be more than nothing and spare not negative.")
    faces: dict[int, dict[str, list[shapely.Polygon]]] = {}
    for mould in moulds:
        if mould.place is None or mould.frame is None or mould.layer is None:
            continue
        joint_up = mould.up == ("aft" if mould.layer == "f" else "forward")
        ring = mould.outline_up_mm if joint_up else mould.outline_down_mm
        shape = shapely.Polygon(mould.place.to_frame(ring) * _side(mould))
        faces.setdefault(mould.frame, {"f": [], "a": []})[mould.layer].append(shape)
    frames = []
    for number, layers in sorted(faces.items()):
        both = [shapely.union_all(layers[name]) for name in ("f", "a")]
        frames.append(BeddedFrame(number, float(both[0].intersection(both[1]).area) * 1e-6))
    return Bedding(tuple(frames), coverage_m2_per_litre, spare_percent)


def _side(mould: Mould) -> Array:
    return np.array([-1.0 if mould.side == "P" else 1.0, 1.0])
