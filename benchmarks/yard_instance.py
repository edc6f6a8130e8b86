"""A seeded yard: the futtocks of a vessel and a rack of slabs, for measuring layout.

358 timbers of 179 shapes (a port and a starboard of each), 54 m2 or so, from thirty-four stations;
racks of any number of slabs, 2.5 to 5 m long, straight, swept and crooked, with sapwood, knots,
checks and rot. ``long=True`` divides the frames less: timbers to 2.5 m and sweeps to 300 mm.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from futtock.moulds.mould import Mould, SawnEdge
from futtock.stock.slab import Flaw, Slab

SIDED_MM = 45.0


def _wander(rng, n, apart, size):
    k = max(2, int(n / apart) + 2)
    return np.interp(np.linspace(0, 1, n), np.linspace(0, 1, k), rng.normal(0, size, k))


def make_mould(mark, line, half, *, bevel=None, frame=None, layer=None, side=None, flip=False):
    """A mould from a middle line (n, 2) and half widths; ``bevel`` shifts the down face sideways."""
    d = np.gradient(line, axis=0)
    t = d / np.hypot(*d.T)[:, None]
    n = np.c_[-t[:, 1], t[:, 0]]
    over = np.zeros(len(line)) if bevel is None else bevel
    up = (line + n * half[:, None], line - n * half[:, None])
    down = (up[0] + n * over[:, None], up[1] + n * over[:, None])
    m = np.array([1.0, -1.0 if flip else 1.0])

    def ring(left, right):
        r = np.vstack([right, left[::-1]]) * m
        return np.ascontiguousarray(r[::-1] if flip else r)

    at = np.r_[0.0, np.cumsum(np.hypot(*np.diff(line, axis=0).T))]
    edges = tuple(
        SawnEdge(name, up[e] * m, down[e] * m, at, np.degrees(np.arctan2(over, SIDED_MM)))
        for e, name in enumerate(("outer", "inner"))
    )
    area = float((half[1:] + half[:-1]) @ np.diff(at)) / 1e6
    return Mould(
        mark,
        "aft",
        ring(*up),
        ring(*down),
        line * m,
        edges,
        (),
        SIDED_MM,
        area,
        area * SIDED_MM * 0.75,
        frame=frame,
        layer=layer,
        side=side,
    )


def timbers(seed=0, stations=34, long=False):
    """The moulds."""
    rng = np.random.default_rng(seed)
    out = []
    for st in range(stations):
        t = (st + 1.5) / (stations + 2)
        m = np.sin(np.pi * t) ** 0.55
        beam = 2000 * (0.32 + 0.68 * m)
        foot, sheer = 220 * (2 * t - 1) ** 2, 1950 + 420 * (2 * t - 1) ** 2
        phi = np.linspace(0, np.pi / 2, 1500)
        power = 2 / (1.45 + 1.15 * m)
        y, z = beam * np.sin(phi) ** power, foot + (sheer - foot) * (1 - np.cos(phi) ** power)
        y = y + 0.10 * (z - foot) * (1.3 - m)
        d = np.r_[0, np.cumsum(np.hypot(np.diff(y), np.diff(z)))]
        s_all = d[-1]
        if long:
            layers = ((130, 0.62 * s_all, s_all), (130, 0.34 * s_all, s_all))
        else:
            a = (130, 0.36 * s_all, 0.68 * s_all, s_all)
            b = (130, 0.52 * s_all, s_all) if st % 4 else (130, 0.30 * s_all, 0.58 * s_all, s_all)
            layers = (a, b)
        for layer, cuts in zip("fa", layers, strict=True):
            for j, (s0, s1) in enumerate(zip(cuts[:-1], cuts[1:], strict=True)):
                s = np.linspace(s0, s1, 97)
                c = np.c_[np.interp(s, d, y), np.interp(s, d, z)]
                w = (165 - 70 * (s / s_all)) * (0.92 + 0.16 * m) * rng.uniform(0.95, 1.05)
                half = np.clip(w, 80, 200) / 2
                fit = [np.polynomial.Polynomial.fit(s, c[:, q], 4)(s) for q in (0, 1)]
                c = np.stack(fit, 1)
                chord = c[-1] - c[0]
                u = chord / np.hypot(*chord)
                line = (c - c[0]) @ np.array([u, [-u[1], u[0]]]).T
                for side in "PS":
                    out.append(
                        make_mould(
                            f"{st + 1}-{side}-{layer}{j + 1}",
                            line[::4],
                            half[::4],
                            frame=st + 1,
                            layer=layer,
                            side=side,
                            flip=side == "S",
                        )
                    )
    return out


def slab(rng, name):
    """One slab."""
    kind = rng.random()
    long = rng.uniform(2500, 3400) if kind >= 0.7 else rng.uniform(2500, 5000)
    if kind < 0.30:
        bend = rng.normal(0, 0.03)
    elif kind < 0.70:
        bend = rng.uniform(0.05, 0.35)
    else:
        bend = rng.uniform(0.3, 0.75)
    step = 5.0
    n = int(long / step) + 1
    x = np.arange(n) * step
    k = bend * (1 + 0.5 * np.cos(2 * np.pi * (x / long - rng.uniform(0.3, 0.7))))
    k = k + _wander(rng, n, 120, 0.03)
    th = np.cumsum(k) * step / 1000
    th -= th.mean()
    tilt = np.tan(np.clip(th, -1.1, 1.1))
    c = np.cumsum(tilt) * step
    wide = rng.uniform(280, 560)
    w = wide * (1.06 - 0.22 * x / long) + _wander(rng, n, 60, 12)
    up, low = w / 2 + _wander(rng, n, 24, 5), w / 2 + _wander(rng, n, 24, 5)
    normal = np.c_[-np.sin(np.arctan(tilt)), np.cos(np.arctan(tilt))]
    middle = np.c_[x, c]

    def face(inset):
        pick = np.unique(np.r_[np.arange(0, n, 9), n - 1])
        left = (middle + normal * (up - inset)[:, None])[pick]
        right = (middle - normal * (low - inset)[:, None])[pick]
        return np.round(np.vstack([right, left[::-1]]), 1)

    sap = rng.uniform(12, 32)
    flaws, knots = [], []
    for _ in range(rng.poisson(0.88 * long / 1000)):
        i, v = rng.integers(n), rng.uniform(-0.45, 0.45) * wide
        r = rng.gamma(3, 6) + 6
        at = middle[i] + normal[i] * v
        a = np.linspace(0, 2 * np.pi, 16, endpoint=False)
        flaws.append(Flaw("knot", np.round(at + r * np.c_[np.cos(a), np.sin(a)], 1), "both"))
        knots.append((at, r, th[i]))
    for _ in range(rng.poisson(1.0)):
        run, v = rng.uniform(80, 500), rng.uniform(-0.35, 0.35) * wide
        far = rng.random() < 0.5
        pick = np.nonzero(x < run if far else x > long - run)[0][::8]
        if len(pick) > 1:
            line = middle[pick] + normal[pick] * v
            ring = np.vstack([line - normal[pick] * 5, (line + normal[pick] * 5)[::-1]])
            flaws.append(Flaw("check", np.round(ring, 1), "both"))
    if rng.random() < 0.15:
        i, v = rng.integers(n), rng.uniform(-0.4, 0.4) * wide
        p, q = rng.uniform(60, 250), rng.uniform(30, 80)
        a = np.linspace(0, 2 * np.pi, 24, endpoint=False)
        co, si = np.cos(th[i]), np.sin(th[i])
        e = np.c_[p * np.cos(a), q * np.sin(a)] @ np.array([[co, si], [-si, co]])
        flaws.append(Flaw("rot", np.round(middle[i] + normal[i] * v + e, 1), "both"))
    waver = (rng.uniform(300, 700), rng.uniform(0, 6))
    lines = []
    for share in (-0.36, -0.12, 0.12, 0.36):
        # the line of growth through its place, bent round the knots it passes
        at = np.array([40.0, c[8] + share * wide])
        run = [at]
        while at[0] < long - 45:
            i = min(n - 1, max(0, int(at[0] / step)))
            v = (at[1] - c[i]) * np.cos(np.arctan(tilt[i]))
            g = np.arctan(tilt[i]) + 0.02 * np.sin(at[0] / waver[0] + waver[1]) * v / wide
            for centre, r, a in knots:
                d = at - centre
                r2 = float(d @ d)
                if r2 < (8 * r) ** 2:
                    f = np.arctan2(d[1], d[0]) - a
                    g -= 0.9 * np.sin(2 * f) * r * r / max(r2, r * r)
            at = at + 20.0 * np.array([np.cos(g), np.sin(g)])
            run.append(at)
        lines.append(np.round(np.array(run)[::3], 1))
    whole, sound = face(0.0), face(sap)
    return Slab(
        name,
        "white oak",
        70.0,
        18.0,
        sound,
        sound,
        tuple(lines),
        tuple(flaws),
        face_top_mm=whole,
        face_bottom_mm=whole,
    )


def rack(count, seed=1):
    """A rack of slabs."""
    rng = np.random.default_rng(seed)
    return [slab(rng, f"R{j + 1:03d}") for j in range(count)]


def ring_area(ring):
    x, y = ring[:, 0], ring[:, 1]
    return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2


def write_json(folder, moulds, slabs, layout):
    """The three documents that the outside check reads."""
    folder = Path(folder)
    m = [
        {
            "mark": q.mark,
            "up": q.up,
            "outline_up": q.outline_up_mm.tolist(),
            "outline_down": q.outline_down_mm.tolist(),
            "grain": q.grain_mm.tolist(),
        }
        for q in moulds
    ]
    s = [
        {
            "name": q.name,
            "thickness_mm": q.thickness_mm,
            "top": q.top_mm.tolist(),
            "bottom": q.bottom_mm.tolist(),
            "grain": [g.tolist() for g in q.grain_mm],
            "defects": [
                {"kind": f.kind, "outline": f.outline_mm.tolist(), "face": f.face} for f in q.flaws
            ],
        }
        for q in slabs
    ]
    (folder / "moulds.json").write_text(json.dumps({"moulds": m}))
    (folder / "slabs.json").write_text(json.dumps(s))
    (folder / "lay.json").write_text(json.dumps(layout))


if __name__ == "__main__":
    for long in (False, True):
        moulds = timbers(long=long)
        area = sum(ring_area(q.outline_up_mm) for q in moulds) / 1e6
        length = [np.hypot(*np.diff(q.grain_mm, axis=0).T).sum() for q in moulds]
        sweep = [np.abs(q.grain_mm[:, 1]).max() for q in moulds]
        print(
            len(moulds),
            "timbers",
            round(area, 1),
            "m2, length",
            np.percentile(length, [0, 50, 100]).round(),
            "sweep",
            np.percentile(sweep, [0, 50, 100]).round(),
        )
    slabs = rack(200)
    print(
        "gross",
        sum(ring_area(q.face_bottom_mm) for q in slabs) / 1e6,
        "sound",
        sum(ring_area(q.bottom_mm) for q in slabs) / 1e6,
    )
