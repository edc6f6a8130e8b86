"""Plain packing on the classic open instances: the general library spyrrow beside our own search.

``python benchmarks/layout_classic.py FOLDER``: a JSON file an instance, with ``strip_height`` and
``items`` of ``demand``, ``turns_deg`` and ``outline``. Only instances whose pieces lie as they are
or turned half round are taken: grain leaves our search no other turns. Its pieces may be laid over
besides, as timbers may, which the library's may not. Everything is scaled to a strip of a metre.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import numpy as np
import spyrrow
from layout_peers import planks
from yard_instance import ring_area

from futtock.layout.lay import lay, warm
from futtock.layout.settings import LaySettings
from futtock.moulds.mould import Mould

HEIGHT = 1000.0


def pieces(instance):
    """A mould of each piece, as often as it is asked for."""
    scale = HEIGHT / instance["strip_height"]
    out = []
    for n, item in enumerate(instance["items"]):
        ring = np.array(item["outline"], float) * scale
        if np.allclose(ring[0], ring[-1]):
            ring = ring[:-1]
        ring -= ring.min(0)
        x, y = ring.T
        if x @ np.roll(y, -1) < y @ np.roll(x, -1):
            ring = ring[::-1]
        x, y = ring.max(0)
        line = np.c_[np.linspace(0, x, 9), np.full(9, y / 2)]
        area = ring_area(ring) / 1e6
        for k in range(item["demand"]):
            out.append(
                Mould(
                    f"{n + 1}-{k + 1}",
                    "aft",
                    ring,
                    ring,
                    line,
                    (),
                    (),
                    45.0,
                    area,
                    area * 45e-3,
                    frame=n + 1,
                    layer="f",
                    side="S",
                )
            )
    return out


def by_library(instance, some, seconds):
    """Length of strip that the library needs, in mm."""
    items = []
    for n, item in enumerate(instance["items"]):
        ring = next(m for m in some if m.frame == n + 1).outline_up_mm
        points = [(float(x), float(y)) for x, y in ring]
        items.append(
            spyrrow.Item(
                str(n + 1), points, demand=item["demand"], allowed_orientations=item["turns_deg"]
            )
        )
    config = spyrrow.StripPackingConfig(total_computation_time=seconds, num_workers=1, seed=0)
    solved = spyrrow.StripPackingInstance(instance["name"], strip_height=HEIGHT, items=items).solve(
        config
    )
    return solved.width


def ours(some, best, rounds):
    """Length of the shortest plank of those tried on which all have a place, in mm."""
    asked = LaySettings(kerf_mm=0.0, guard_mm=0.0, grain_slope=1.0)
    for share in np.arange(1.0, 1.6, 0.03):
        layout = lay(some, planks(1, best * share, HEIGHT), asked, rounds=rounds)
        if not layout.unplaced:
            return best * share
    return np.inf


def main():
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("folder", type=Path)
    p.add_argument("--seconds", type=int, default=20)
    p.add_argument("--rounds", type=int, default=100)
    a = p.parse_args()
    warm()
    print("| instance | pieces | library, density % | ours, density % |\n| --- | --- | --- | --- |")
    for file in sorted(a.folder.glob("*.json")):
        instance = json.loads(file.read_text())
        if any(not set(i["turns_deg"] or (90,)) <= {0.0, 180.0} for i in instance["items"]):
            continue
        some = pieces(instance)
        total = sum(ring_area(m.outline_up_mm) for m in some) / HEIGHT
        best = by_library(instance, some, a.seconds)
        length = ours(some, best, a.rounds)
        print(
            f"| {instance['name']} | {len(some)} | {100 * total / best:.1f} | "
            f"{100 * total / length:.1f} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
