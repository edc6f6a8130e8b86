"""Parts of a standing hull kept as found: there frames must fit what is measured, not what is fair.

Where planking, deck or clamp stays, the surface is the measured one, wear and all; elsewhere it is
the restored one. Between the two they are eased into each other over a stated length, and the step
between them is told.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock.findings import Finding
from futtock.lines import kinds
from futtock.lines.heightfield import HeightField
from futtock.lines.surface import Hull
from futtock.measure import Style, close, show

Array = NDArray[np.float64]
Sides = Literal["both", "port", "starboard"]


@dataclass(frozen=True, slots=True)
class Zone:
    """A part kept as found: between two x and, where given, two heights (mm), of one side or both.

    A zone of both sides is not one side's mirror image: each is kept as it was found.
    """

    name: str
    from_mm: float
    to_mm: float
    low_mm: float | None = None
    high_mm: float | None = None
    side: Sides = "both"


@dataclass(frozen=True, slots=True)
class Step:
    """How far one side stands off the restored lines in one zone (mm, outside positive).

    ``side`` is ``both`` where the points are of one side and it stands for both.
    """

    zone: str
    side: Sides
    least_mm: float
    most_mm: float
    rms_mm: float


@dataclass(frozen=True)
class AsFound(HeightField):
    """The restored field with one zone eased into the field as found.

    Attributes
    ----------
    restored, found
        The two fields, over the plain diagonal.
    zone
        Where the found one rules; ``None`` heights reach without end.
    blend
        Length of the easing outside the zone, mm.
    """

    restored: HeightField | None = None
    found: HeightField | None = None
    zone: Zone | None = None
    blend: float = 600.0

    def heights(self, u: Array, v: Array) -> Array:
        """h, hx, ht, hxx, hxt, htt at matching places (...): shape (..., 6)."""
        assert self.restored is not None
        assert self.found is not None
        u, v = np.broadcast_arrays(np.asarray(u, float), np.asarray(v, float))
        x, t = u.ravel(), v.ravel()
        a = self.restored.heights(x, t)
        w = self._weight(x, t, a)
        live = w[:, 0] > 0
        out = a.copy()
        if live.any():
            gap = self.found.heights(x[live], t[live]) - a[live]
            k = w[live]
            out[live, 0] += k[:, 0] * gap[:, 0]
            out[live, 1] += k[:, 1] * gap[:, 0] + k[:, 0] * gap[:, 1]
            out[live, 2] += k[:, 2] * gap[:, 0] + k[:, 0] * gap[:, 2]
            out[live, 3] += k[:, 3] * gap[:, 0] + 2 * k[:, 1] * gap[:, 1] + k[:, 0] * gap[:, 3]
            out[live, 4] += (
                k[:, 4] * gap[:, 0]
                + k[:, 1] * gap[:, 2]
                + k[:, 2] * gap[:, 1]
                + k[:, 0] * gap[:, 4]
            )
            out[live, 5] += k[:, 5] * gap[:, 0] + 2 * k[:, 2] * gap[:, 2] + k[:, 0] * gap[:, 5]
        return np.asarray(out.reshape(*u.shape, 6))

    def _weight(self, x: Array, t: Array, a: Array) -> Array:
        """The found field's share and its derivatives over (x, t), ordered as heights are."""
        zone = self.zone
        assert zone is not None
        p, p1, p2 = _window(x, zone.from_mm, zone.to_mm, self.blend)
        # height of the restored surface and its derivatives: z = t cos a - h sin a
        _, et, eh = self.turn.axes
        z = et[2] * t + eh[2] * a[:, 0]
        zx, zt = eh[2] * a[:, 1], et[2] + eh[2] * a[:, 2]
        zxx, zxt, ztt = eh[2] * a[:, 3], eh[2] * a[:, 4], eh[2] * a[:, 5]
        low = -np.inf if zone.low_mm is None else zone.low_mm
        high = np.inf if zone.high_mm is None else zone.high_mm
        q, q1, q2 = _window(z, low, high, self.blend)
        return np.stack(
            [
                p * q,
                p1 * q + p * q1 * zx,
                p * q1 * zt,
                p2 * q + 2 * p1 * q1 * zx + p * (q2 * zx * zx + q1 * zxx),
                p1 * q1 * zt + p * (q2 * zx * zt + q1 * zxt),
                p * (q2 * zt * zt + q1 * ztt),
            ],
            axis=-1,
        )


def _window(at: Array, low: float, high: float, blend: float) -> tuple[Array, Array, Array]:
    """One between low and high, nought beyond the blend; with first and second derivatives."""
    up = _quintic((at - (low - blend)) / blend) if np.isfinite(low) else (1.0, 0.0, 0.0)
    down = _quintic(((high + blend) - at) / blend) if np.isfinite(high) else (1.0, 0.0, 0.0)
    a, a1, a2 = (np.broadcast_to(k, at.shape) for k in up)
    b, b1, b2 = (np.broadcast_to(k, at.shape) for k in down)
    first = (a1 * b - a * b1) / blend
    second = (a2 * b - 2 * a1 * b1 + a * b2) / blend**2
    return a * b, first, second


def _quintic(s: Array) -> tuple[Array, Array, Array]:
    s = np.clip(s, 0, 1)
    return (
        s**3 * (10 - 15 * s + 6 * s * s),
        30 * s * s * (1 - s) ** 2,
        60 * s * (1 - s) * (1 - 2 * s),
    )


def keep_as_found(
    hull: Hull,
    found: HeightField,
    zones: tuple[Zone, ...],
    blend_mm: float,
    side: Sides = "both",
    style: Style = "metric",
) -> tuple[Hull, tuple[Step, ...], tuple[Finding, ...]]:
    """A restored hull with zones kept as found.

    Parameters
    ----------
    hull
        The restored hull; its surface is a height field over the plain diagonal.
    found
        The surface as measured, wear and all, over the plain diagonal.
    zones
        Parts that stay.
    blend_mm
        Length over which the two run into each other, outside each zone.
    side
        Whose points ``found`` was faired through.
    style
        How lengths are written in what is told.
    """
    field = hull.surface
    assert isinstance(field, HeightField)
    steps, notes = [], []
    for zone in zones:
        field = AsFound(
            field.along,
            field.across,
            field.coef,
            field.turn,
            field.warp,
            field.origin,
            field.length,
            restored=field,
            found=found,
            zone=zone,
            blend=max(blend_mm, 1.0),
        )
        step = _step(hull, found, zone, side)
        steps.append(step)
        whose = "she" if side == "both" else f"her {side} side"
        said = (
            f"In {zone.name or 'the zone as found'} {whose} stands {_way(step.least_mm, style)} to "
            f"{_way(step.most_mm, style)} her restored lines; eased over {show(blend_mm, style)}."
        )
        notes.append(kinds.STEPPED.found(said, column=zone.name or None))
    return replace(hull, surface=field), tuple(steps), tuple(notes)


def _way(mm: float, style: Style) -> str:
    """How far inside or outside, in words."""
    return f"{close(abs(mm), style)} {'outside' if mm >= 0 else 'inside'}"


def _step(hull: Hull, found: HeightField, zone: Zone, side: Sides) -> Step:
    low, high = max(zone.from_mm, hull.u_range[0]), min(zone.to_mm, hull.u_range[1])
    u = np.linspace(low, high, 41)
    v0, v1 = hull.trim.low(u), hull.trim.high(u)
    w = np.linspace(0, 1, 41)
    uu = np.repeat(u[:, None], 41, axis=1)
    points = hull.surface.derivatives(uu, v0[:, None] + (v1 - v0)[:, None] * w)[..., 0, :]
    points = points.reshape(-1, 3)
    z = points[:, 2]
    inside = (z >= (-np.inf if zone.low_mm is None else zone.low_mm)) & (
        z <= (np.inf if zone.high_mm is None else zone.high_mm)
    )
    if not inside.any():
        return Step(zone.name, side, 0.0, 0.0, 0.0)
    e, gradient, _ = found.offs(points[inside])
    off = -e / np.linalg.norm(gradient, axis=1)
    rms = float(np.sqrt((off**2).mean()))
    return Step(zone.name, side, float(off.min()), float(off.max()), rms)
