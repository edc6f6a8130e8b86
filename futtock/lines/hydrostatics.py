"""Volume, centres and form of the body between the rabbet and a waterline, both sides.

Sections are integrated by Gauss's rule between rabbet and waterline, then along the hull between
breaks; the keel below the rabbet is apart. Areas and moments follow from Green's theorem on the
section: A = integral y dz.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from futtock.lines.surface import Hull

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Hydrostatics:
    """Figures of the body to one waterline; lengths mm, areas m2, volumes m3.

    ``lcb_mm`` is x, ``vcb_mm`` z; ``lcf_mm`` the centre of the waterplane; ``bm_mm`` the transverse
    and ``bml_mm`` the lengthwise metacentric radius. Coefficients on waterline length, waterline
    breadth, depth from waterline to lowest rabbet and the largest section.
    """

    waterline_mm: float
    volume_m3: float
    lcb_mm: float
    vcb_mm: float
    waterplane_m2: float
    wetted_m2: float
    cb: float
    cp: float
    cm: float
    cw: float
    lcf_mm: float
    bm_mm: float
    bml_mm: float
    length_mm: float
    breadth_mm: float
    depth_mm: float
    section_m2: float


def _gauss(n: int) -> tuple[Array, Array]:
    x, w = np.polynomial.legendre.leggauss(n)
    return (x + 1) / 2, w / 2


def hydrostatics(hull: Hull, waterline_mm: float, panels: int = 24) -> Hydrostatics | None:
    """Figures of the body to a waterline; None where the hull does not reach it.

    Parameters
    ----------
    hull
        Any hull.
    waterline_mm
        Height z of the waterline.
    panels
        Panels along the hull, each with five sections of 24 points.
    """
    span = _wet_span(hull, waterline_mm)
    if span is None:
        return None
    node, weight = _gauss(5)
    p = np.linspace(0, 1, panels + 1)
    cuts = span[0] + (span[1] - span[0]) * (0.5 * p + 0.5 * (0.5 - 0.5 * np.cos(np.pi * p)))
    u = (cuts[:-1, None] + np.diff(cuts)[:, None] * node).ravel()
    wu = (np.diff(cuts)[:, None] * weight).ravel()
    low = hull.trim.low(u)
    top = _v_at(hull, u, waterline_mm)
    tn, tw = _gauss(24)
    v = low[:, None] + (top - low)[:, None] * tn
    wv = (top - low)[:, None] * tw
    d = hull.surface.derivatives(np.broadcast_to(u[:, None], v.shape), v)
    s, su, sv = d[..., 0, :], d[..., 1, :], d[..., 2, :]
    n = hull.surface.outward * np.cross(su, sv)
    both = 2 * wu[:, None] * wv
    # flux of (0, y, 0) through the side; the lid and the strip at the rabbet carry none of it
    volume = float((both * s[..., 1] * n[..., 1]).sum())
    mx = float((both * s[..., 0] * s[..., 1] * n[..., 1]).sum())
    mz = float((both * s[..., 2] * s[..., 1] * n[..., 1]).sum())
    wetted = float((both * np.linalg.norm(n, axis=-1)).sum())
    e = hull.surface.derivatives(u, top)
    x, y = e[:, 0, 0], np.maximum(e[:, 0, 1], 0.0)
    # dx along the waterline: u and v move together so that z stays
    dx = e[:, 1, 0] - e[:, 2, 0] * e[:, 1, 2] / np.where(e[:, 2, 2] == 0, 1e-12, e[:, 2, 2])
    wx = wu * dx
    plane = float(2 * (wx * y).sum())
    if volume <= 0 or plane <= 0:
        return None
    lcf = float(2 * (wx * x * y).sum() / plane)
    transverse = float(2 / 3 * (wx * y**3).sum())
    lengthwise = float(2 * (wx * y * (x - lcf) ** 2).sum())
    area = 2 * (wv * s[..., 1] * sv[..., 2]).sum(axis=1)
    lowest = float(s[..., 2].min())
    edge = hull.surface.derivatives(u, low)[:, 0, 2]
    depth = waterline_mm - min(lowest, float(edge.min()))
    ends = hull.surface.derivatives(np.array(span), _v_at(hull, np.array(span), waterline_mm))
    length = float(ends[1, 0, 0] - ends[0, 0, 0])
    breadth = float(2 * _peak(x, y))
    largest = float(_peak(x, area))
    return Hydrostatics(
        waterline_mm=waterline_mm,
        volume_m3=volume / 1e9,
        lcb_mm=mx / volume,
        vcb_mm=mz / volume,
        waterplane_m2=plane / 1e6,
        wetted_m2=wetted / 1e6,
        cb=volume / (length * breadth * depth),
        cp=volume / (largest * length),
        cm=largest / (breadth * depth),
        cw=plane / (length * breadth),
        lcf_mm=lcf,
        bm_mm=transverse / volume,
        bml_mm=lengthwise / volume,
        length_mm=length,
        breadth_mm=breadth,
        depth_mm=depth,
        section_m2=largest / 1e6,
    )


def _v_at(hull: Hull, u: Array, z: float) -> Array:
    """Parameter v where the section at u reaches height z, held between its bounds."""
    low, high = hull.trim.low(u), hull.trim.high(u)
    w = np.linspace(0, 1, 41)
    v = low[:, None] + (high - low)[:, None] * w
    gap = hull.surface.derivatives(np.broadcast_to(u[:, None], v.shape), v)[..., 0, 2] - z
    at = np.where(gap[:, -1] < 0, high, low)
    for i in range(len(u)):
        cross = np.flatnonzero((gap[i, :-1] < 0) & (gap[i, 1:] >= 0))
        if len(cross):
            k = cross[0]
            at[i] = v[i, k] + (v[i, k + 1] - v[i, k]) * gap[i, k] / (gap[i, k] - gap[i, k + 1])
    for _ in range(20):
        d = hull.surface.derivatives(u, at)
        slope = np.where(np.abs(d[:, 2, 2]) < 1e-3, 1e-3, d[:, 2, 2])
        step = (d[:, 0, 2] - z) / slope
        new = np.clip(at - step, low, high)
        moved = float(np.abs(new - at).max(initial=0))
        at = new
        if moved < 1e-9:
            break
    return at


def _wet_span(hull: Hull, z: float) -> tuple[float, float] | None:
    """Parameters between which the rabbet lies below the waterline."""
    a, b = hull.u_range

    def above(u: float) -> float:
        at = np.array([u])
        return float(hull.surface.derivatives(at, hull.trim.low(at))[0, 0, 2]) - z

    u = np.linspace(a, b, 801)
    lift = hull.surface.derivatives(u, hull.trim.low(u))[:, 0, 2] - z
    reach = np.nanmax(hull.surface.derivatives(u, hull.trim.high(u))[:, 0, 2])
    wet = np.flatnonzero(lift < 0)
    if not len(wet) or reach < z - 1e-6:
        return None
    i, j = int(wet[0]), int(wet[-1])
    fore, aft = a if i == 0 else float(u[i]), b if j == len(u) - 1 else float(u[j])
    # a bad table may leave the rabbet without a height beside the water: then it ends there
    if i > 0 and np.isfinite(lift[i - 1]):
        fore = float(brentq(above, u[i - 1], u[i]))
    if j < len(u) - 1 and np.isfinite(lift[j + 1]):
        aft = float(brentq(above, u[j], u[j + 1]))
    return fore, aft


def _peak(x: Array, y: Array) -> float:
    """Largest value of a smooth sampled curve, by the parabola through its highest three."""
    k = int(np.argmax(y))
    if not 0 < k < len(y) - 1:
        return float(y[k])
    a, b, c = np.polyfit(x[k - 1 : k + 2] - x[k], y[k - 1 : k + 2], 2)
    return float(c - b * b / (4 * a)) if a < 0 else float(y[k])
