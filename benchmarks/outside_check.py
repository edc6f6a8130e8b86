"""A layout checked from its documents alone, sharing no code with the product.

Every placed mould: each face inside its own slab face, clear of flaws, the kerf from its
neighbours, and the slope of grain read at the traced lines.
"""

from __future__ import annotations

import math

import numpy as np
from shapely import LineString, Point, Polygon
from shapely.affinity import affine_transform


def check(moulds, slabs, layout, kerf_mm):
    """Faults, and the slopes read (tangents)."""
    by_mark = {m["mark"]: m for m in moulds}
    by_name = {s["name"]: s for s in slabs}
    faults, slopes, blanks, seen = [], [], {}, set()
    for p in layout["placements"]:
        m, s = by_mark[p["mark"]], by_name[p["slab"]]
        if p["mark"] in seen:
            faults.append(f"{p['mark']} twice")
        seen.add(p["mark"])
        t, y = math.radians(p["turn_deg"]), -1.0 if p["mirrored"] else 1.0
        c, sn = math.cos(t), math.sin(t)
        to = [c, -sn * y, sn, c * y, *p["shift_mm"]]
        up = affine_transform(Polygon(m["outline_up"]).buffer(0), to)
        down = affine_transform(Polygon(m["outline_down"]).buffer(0), to)
        line = affine_transform(LineString(m["grain"]), to)
        on_top, on_bottom = (down, up) if p["mirrored"] else (up, down)
        top, bottom = Polygon(s["top"]).buffer(0), Polygon(s["bottom"]).buffer(0)
        if on_top.difference(top).area > 0.1 or on_bottom.difference(bottom).area > 0.1:
            faults.append(f"{p['mark']} outside {p['slab']}")
        blank = up.union(down)
        faults += [
            f"{p['mark']} on a {d['kind']}"
            for d in s["defects"]
            if blank.intersection(Polygon(d["outline"]).buffer(0)).area > 0.1
        ]
        faults += [
            f"{p['mark']} nearer than the kerf to {other}"
            for other, b in blanks.get(p["slab"], ())
            if blank.distance(b) < kerf_mm - 1e-3
        ]
        blanks.setdefault(p["slab"], []).append((p["mark"], blank))
        for traced in s["grain"]:
            g = np.asarray(traced)
            for a, b in zip(g[:-1], g[1:], strict=True):
                q = Point((a + b) / 2)
                if q.distance(line) < 12.0 and up.contains(q):
                    w = line.project(q)
                    u = line.interpolate(max(0.0, w - 20.0))
                    v = line.interpolate(min(line.length, w + 20.0))
                    off = math.atan2(v.y - u.y, v.x - u.x) - math.atan2(b[1] - a[1], b[0] - a[0])
                    slopes.append(abs(math.tan(off)))
    return faults, np.array(slopes or [0.0])
