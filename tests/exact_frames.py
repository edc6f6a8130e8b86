"""Double frames of a cone and a sphere, exact: closed forms that later rooms are tested against.

The cone's axis runs aft along x from its apex, with half-angle g; inside of planking has radius
r(x) = x tan g, so its lean is g everywhere and rulings square to the edge lie wholly in it. The
inner edge is the cone moulded_mm less in radius. The sphere stands about a centre at x_c. Sections
are arcs about the origin of (out, up); girth runs from the heel angle to the head angle, measured
from straight down towards outboard.
"""

from __future__ import annotations

import itertools

import numpy as np

from futtock.framing.frame import Face, Frame, FramePlane, Layer, Mark, Timber
from futtock.framing.outline import TimberShape


def arc(radius, angles):
    return radius * np.stack([np.sin(angles), -np.cos(angles)], axis=-1)


def round_frame(
    radius,
    lean_deg,
    *,
    number=1,
    x_mm=4000.0,
    sided_mm=50.0,
    moulded_mm=100.0,
    angles_deg=(15.0, 115.0),
    count=161,
    divisions=None,
    marks=(),
):
    """A frame whose sections are arcs of radius(x), its inner edge moulded_mm less, lean_deg(x).

    divisions: {"f": [girth fractions], "a": [...]}, butts of each layer.
    """
    divisions = divisions or {"f": (0.5,), "a": (0.25, 0.75)}
    angles = np.radians(np.linspace(*angles_deg, count))
    plane = FramePlane(number, x_mm, 0.0, 0.0, sided_mm)

    def face(name, s):
        x = x_mm + s
        r = radius(x)
        return Face(
            name,
            arc(r, angles),
            np.full(count, lean_deg(x)),
            arc(r - moulded_mm, angles),
            np.full(count, lean_deg(x)),
            r * (angles - angles[0]),
            np.stack([np.full(count, x), angles], axis=-1),
        )

    forward, joint, aft = face("forward", -sided_mm), face("joint", 0.0), face("aft", sided_mm)

    def layer(name, far, s):
        chord = np.degrees(np.arctan((radius(x_mm + s) - radius(x_mm)) / s))
        # how far the straight ruling stands off the arc between the faces, at worst
        inner = np.linspace(0, s, 33)
        straight = radius(x_mm) + inner * np.tan(np.radians(chord))
        off = straight - np.array([radius(x_mm + v) for v in inner])
        worst = off[np.argmax(np.abs(off))]
        return Layer(
            name,
            far.edge_mm,
            np.full(count, chord),
            far.inner_mm,
            np.full(count, chord),
            np.full(count, worst),
        )

    layers = (layer("f", forward, -sided_mm), layer("a", aft, sided_mm))
    girth = joint.girth_mm[-1]
    timbers = []
    for name in ("f", "a"):
        cuts = [0.0, *divisions[name], 1.0]
        for side in ("S", "P"):
            for k, (g0, g1) in enumerate(itertools.pairwise(cuts), 1):
                r = radius(x_mm)
                half = (g1 - g0) * girth / r / 2
                middle = r - moulded_mm / 2
                timbers.append(
                    Timber(
                        f"{number}-{side}-{name}{k}",
                        number,
                        name,
                        side,
                        k,
                        (g0 * girth, g1 * girth),
                        float(2 * middle * np.sin(half)),
                        float(r - (r - moulded_mm) * np.cos(half)),
                        float(middle * (1 - np.cos(half))),
                        sided_mm,
                    )
                )
    made_marks = tuple(
        Mark(n, kind, f * girth, tuple(arc(radius(x_mm), angles[0] + f * (angles[-1] - angles[0]))))
        for n, kind, f in marks
    )
    return Frame(plane, forward, joint, aft, layers, tuple(timbers), made_marks)


def cone_frame(g_deg=12.0, *, widens_aft=True, **kwargs):
    """A frame of a cone of half-angle g; not widens_aft: apex 12 m aft, lean -g."""
    g = np.radians(g_deg)
    sign = 1.0 if widens_aft else -1.0
    x0 = 0.0 if widens_aft else 12000.0
    return round_frame(lambda x: sign * (x - x0) * np.tan(g), lambda x: sign * g_deg, **kwargs)


def sphere_frame(radius_mm=5000.0, centre_mm=6000.0, **kwargs):
    """A frame of a sphere: radius sqrt(R^2 - d^2), lean -asin(d / R), d aft of the centre."""
    return round_frame(
        lambda x: np.sqrt(radius_mm**2 - (x - centre_mm) ** 2),
        lambda x: -np.degrees(np.arcsin((x - centre_mm) / radius_mm)),
        **kwargs,
    )


def shape_of(frame, timber):
    """The timber's faces: the frame's own matched points within its girth (butts lie on points)."""
    girth = frame.joint.girth_mm
    step = girth[1] - girth[0]
    inside = (girth > timber.girth_mm[0] - step / 2) & (girth < timber.girth_mm[1] + step / 2)
    layer = frame.layer(timber.layer)
    return TimberShape(
        frame.joint.edge_mm[inside],
        frame.joint.inner_mm[inside],
        layer.far_edge_mm[inside],
        layer.far_inner_mm[inside],
        girth[inside],
        layer.chord_deg[inside],
        layer.inner_chord_deg[inside],
    )
