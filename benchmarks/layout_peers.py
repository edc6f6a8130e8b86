"""Layout beside its peers: a careful hand's way, and a general nesting library on plain strips.

The careful hand takes the most crooked and longest timber first and lays it where it fits best:
on a slab already begun if any takes it, else on the smallest new one. The library packs the same
pieces with grain ignored into a plain strip; futtock's search, made for slabs, is given perfect
planks of the same breadth with grain allowed to run at 1 in 1.
"""

from __future__ import annotations

import argparse
import time

import numpy as np
import yard_instance
from yard_instance import ring_area

from futtock.layout.lay import lay, warm
from futtock.layout.problem import prepare
from futtock.layout.settings import LaySettings
from futtock.layout.store import FolderStore
from futtock.stock.slab import Slab


def careful_hand(problem):
    """Items by slab, and patterns left over."""
    from futtock.layout import filling
    from futtock.layout.islands import rules_of

    P, G, Q = problem.patterns, problem.ground, problem.poses
    rules = rules_of(problem.settings)
    order = []
    for j, mould in enumerate(problem.moulds):
        line = mould.grain_mm
        chord = line[-1] - line[0]
        rise = np.abs((line - line[0]) @ np.array([-chord[1], chord[0]])).max() / np.hypot(*chord)
        order.append((-rise, -np.hypot(*chord), j))
    begun, laid, left = {}, {}, []
    for _r, _l, j in sorted(order):
        i = problem.member[j].pattern
        best = None
        row = np.empty(7)
        for k, (top, bottom) in begun.items():
            if Q.ok[i, k]:
                score = filling.try_place(P, G, Q, k, i, top, bottom, 8.0, 6.0, row)
                if score < 1e17 and (best is None or score < best[0]):
                    best = (score, k, row.copy())
        if best is None:
            for k in sorted(np.flatnonzero(Q.ok[i]), key=lambda k: problem.sound_m2[k]):
                if k in begun:
                    continue
                n = int(G.off[k + 1] - G.off[k])
                top, bottom = np.empty(n, np.float32), np.empty(n, np.float32)
                filling.copy_ground(G, k, top, bottom)
                if filling.try_place(P, G, Q, k, i, top, bottom, 8.0, 6.0, row) < 1e17:
                    begun[k] = (top, bottom)
                    best = (0.0, k, row.copy())
                    break
        if best is None:
            left.append(j)
            continue
        k = best[1]
        filling.cut_item(P, G, k, *begun[k], best[2], rules.gap)
        laid.setdefault(k, []).append(best[2])
    return laid, left


def strip_by_library(moulds, height, seconds):
    """Density that the library spyrrow reaches with these pieces in a strip of this height."""
    import spyrrow

    items = [
        spyrrow.Item(
            m.mark,
            [(float(x), float(y)) for x, y in m.outline_up_mm],
            demand=1,
            allowed_orientations=[0.0, 180.0],
        )
        for m in moulds
    ]
    config = spyrrow.StripPackingConfig(total_computation_time=seconds, num_workers=2, seed=0)
    return spyrrow.StripPackingInstance("futtocks", strip_height=height, items=items).solve(config)


def planks(count, long, wide):
    ring = np.array([[0.0, 0.0], [long, 0.0], [long, wide], [0.0, wide]])
    x = np.linspace(1.0, long - 1.0, 40)
    grain = tuple(np.c_[x, np.full(40, y)] for y in (0.2 * wide, 0.5 * wide, 0.8 * wide))
    return [Slab(f"Q{k}", "white oak", 70.0, 18.0, ring, ring, grain, ()) for k in range(count)]


def main():
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("--slabs", type=int, default=200)
    p.add_argument("--store", default=None)
    p.add_argument("--strip-seconds", type=int, default=30)
    p.add_argument("--rounds", type=int, default=1500)
    p.add_argument("--every", type=int, default=4, help="of the timbers, one in this many")
    p.add_argument(
        "--shares", type=float, nargs="*", default=[0.97, 1.0, 1.03, 1.06, 1.1, 1.2, 1.3]
    )
    a = p.parse_args()
    warm()
    moulds, slabs = yard_instance.timbers(), yard_instance.rack(a.slabs)
    problem = prepare(
        moulds, slabs, LaySettings(kerf_mm=6.0), store=FolderStore(a.store) if a.store else None
    )
    t = time.process_time()
    laid, left = careful_hand(problem)
    area = sum(problem.patterns.area[int(r[0])] for rows in laid.values() for r in rows)
    sound = problem.sound_m2[list(laid)].sum()
    gross = sum(ring_area(slabs[k].face_bottom_mm) for k in laid) / 1e6
    print(
        f"careful hand: {len(moulds) - len(left)}/{len(moulds)} placed on {len(laid)} slabs, "
        f"sound yield {100 * area / sound:.1f} %, gross {100 * area / gross:.1f} %, "
        f"{time.process_time() - t:.0f} cpu s",
        flush=True,
    )
    if a.strip_seconds:
        height = 1250.0
        some = moulds[:: a.every]
        s = strip_by_library(some, height, a.strip_seconds)
        total = sum(ring_area(m.outline_up_mm) for m in some)
        print(
            f"spyrrow, {len(some)} pieces, no kerf, strip {height:.0f} mm, {a.strip_seconds} s: "
            f"length {s.width:.0f} mm, density {100 * total / (s.width * height):.1f} %",
            flush=True,
        )
        for share in a.shares:
            long = s.width * share / 3
            plain = LaySettings(kerf_mm=0.0, guard_mm=0.0, grain_slope=1.0)
            layout = lay(some, planks(3, long, height), plain, rounds=a.rounds)
            print(
                f"futtock, three planks of {long:.0f} x {height:.0f}: {len(layout.placements)}/"
                f"{len(some)} placed, density {100 * sum(ring_area(m.outline_up_mm) for m in some if m.mark not in layout.unplaced) / (3 * long * height):.1f} %",
                flush=True,
            )
            if not layout.unplaced:
                break


if __name__ == "__main__":
    main()
