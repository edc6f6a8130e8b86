"""Exact surfaces in closed form, as hulls that framing can be tested on.

Each gives the outside of planking by parameters (u, v) with all first and second derivatives, and
knows what framing must find. Sources: elementary geometry of the sphere, cone, cylinder, ellipsoid.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from futtock.framing.settings import FramingSettings
from futtock.lines.surface import Hull


def _stack(*rows):
    return np.stack([np.stack(np.broadcast_arrays(*r), axis=-1) for r in rows], axis=-2)


@dataclass
class Bounds:
    """v from low to high whatever u."""

    v_low: float
    v_high: float

    def low(self, u):
        return np.full_like(u, self.v_low)

    def high(self, u):
        return np.full_like(u, self.v_high)


@dataclass
class Ellipsoid:
    """Centre (x_c, 0, z_c), semi-axes (a, b, c); u runs aft from -1 to 1, v from keel (0) up.

    S = centre + (a sin u, b cos u sin v, -c cos u cos v): u the angle aft of amidships, v the
    angle about the fore-and-aft axis from straight down.
    """

    centre: tuple[float, float] = (6000.0, 3000.0)
    axes: tuple[float, float, float] = (2500.0, 2500.0, 2500.0)
    outward: int = -1  # Su x Sv points into her

    def derivatives(self, u, v):
        a, b, c = self.axes
        su, cu, sv, cv = np.sin(u), np.cos(u), np.sin(v), np.cos(v)
        x0, z0 = self.centre
        zero = np.zeros_like(su)
        return _stack(
            (x0 + a * su, b * cu * sv, z0 - c * cu * cv),
            (a * cu, -b * su * sv, c * su * cv),
            (zero, b * cu * cv, c * cu * sv),
            (-a * su, -b * cu * sv, c * cu * cv),
            (zero, -b * su * cv, -c * su * sv),
            (zero, -b * cu * sv, c * cu * cv),
        )


@dataclass
class Cone:
    """Apex at (apex_x, 0, z_c), axis aft along x, half-angle g; u = x, v the angle from down."""

    apex_x: float = -4000.0
    z_c: float = 3000.0
    half_angle_deg: float = 12.0
    outward: int = -1  # Su x Sv points into her

    def derivatives(self, u, v):
        k = np.tan(np.radians(self.half_angle_deg))
        r = (u - self.apex_x) * k
        sv, cv = np.sin(v), np.cos(v)
        zero, one = np.zeros_like(r), np.ones_like(r)
        return _stack(
            (u, r * sv, self.z_c - r * cv),
            (one, k * sv, -k * cv),
            (zero, r * cv, r * sv),
            (zero, zero, zero),
            (zero, k * cv, k * sv),
            (zero, -r * sv, r * cv),
        )


@dataclass
class TiltedCylinder:
    """Radius r about an axis through (6000, 0, z_c) along (cos p cos q, sin p cos q, sin q).

    u is the length along the axis, v the angle about it. ``frame`` holds the axis and two unit
    vectors square to it.
    """

    radius: float = 1500.0
    yaw_deg: float = 6.0
    pitch_deg: float = 4.0
    z_c: float = 3000.0
    outward: int = -1  # Su x Sv points into her

    def frame(self):
        p, q = np.radians(self.yaw_deg), np.radians(self.pitch_deg)
        axis = np.array([np.cos(p) * np.cos(q), np.sin(p) * np.cos(q), np.sin(q)])
        level = np.array([-np.sin(p), np.cos(p), 0.0])
        return axis, level, np.cross(axis, level)

    def derivatives(self, u, v):
        axis, level, upright = self.frame()
        u, v = np.broadcast_arrays(u, v)
        ring = np.sin(v)[..., None] * level - np.cos(v)[..., None] * upright
        turn = np.cos(v)[..., None] * level + np.sin(v)[..., None] * upright
        centre = np.array([6000.0, 0.0, self.z_c])
        zero = np.zeros_like(ring)
        return np.stack(
            [
                centre + u[..., None] * axis + self.radius * ring,
                np.broadcast_to(axis, ring.shape),
                self.radius * turn,
                zero,
                zero,
                -self.radius * ring,
            ],
            axis=-2,
        )


def hull_of(surface, *, v=(0.25, 1.9), u=(-0.9, 0.9), **profiles):
    """A hull of an exact surface between angles v, measured outside."""
    return Hull(surface, Bounds(*v), False, u, dict(profiles))


def sphere(radius=2500.0, **kwargs):
    return hull_of(Ellipsoid(axes=(radius,) * 3), **kwargs)


TAU = 31.75


def settings(**changes):
    stated = {
        "first_mm": 4800.0,
        "room_and_space_mm": 600.0,
        "count": 4,
        "sided_mm": 47.0,
        "moulded_mm": ((0.0, 127.0), (1.0, 82.0)),
        "planking_mm": TAU,
        "cants": ((1, 17.0), (4, -11.0)),
    }
    return FramingSettings(**{**stated, **changes})


def in_space(frame, name):
    """Points (n, 3) of a face's edge in the vessel's axes, its normal a, and its leans."""
    face = frame.face(name)
    a, out, up = frame.plane.axes()
    origin = frame.plane.origin({"forward": -1, "joint": 0, "aft": 1}[name] * frame.plane.sided_mm)
    return origin + face.edge_mm[:, :1] * out + face.edge_mm[:, 1:] * up, a, face.lean_deg


def faces_of(framing):
    return [(f, name) for f in framing.frames for name in ("forward", "joint", "aft")]


@dataclass
class Floor:
    """A flat bottom of one deadrise, straight fore and aft: u = x, v the length up its slope."""

    deadrise_deg: float = 25.0
    half_siding: float = 100.0
    rabbet_up: float = 500.0
    outward: int = -1  # Su x Sv points into her

    def derivatives(self, u, v):
        b = np.radians(self.deadrise_deg)
        zero, one = np.zeros_like(u), np.ones_like(u)
        return _stack(
            (u, self.half_siding + v * np.cos(b), self.rabbet_up + v * np.sin(b)),
            (one, zero, zero),
            (zero, np.cos(b) * one, np.sin(b) * one),
            (zero, zero, zero),
            (zero, zero, zero),
            (zero, zero, zero),
        )


def keeled(**kwargs):
    """A deep ellipsoid on a keel: heels on the keel's top, heads at a curved sheer."""

    def keel_top(x):
        return 1450.0 + 0.01 * (x - 6000.0) + 2.2e-5 * (x - 6000.0) ** 2

    def sheer(x):
        return 2900.0 + 1e-5 * (x - 6500.0) ** 2

    return hull_of(
        Ellipsoid(centre=(6000.0, 3900.0), axes=(9000.0, 1500.0, 2500.0)),
        v=(0.02, 1.5),
        u=(-0.5, 0.5),
        **{
            "keel top": keel_top,
            "sheer": sheer,
            "rabbet": lambda x: 1405.0 + 0.0 * x,
            "rabbet breadth": lambda x: 90.0 + 0.0 * x,
            **kwargs,
        },
    )
