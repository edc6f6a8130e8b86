"""Layout measured on a seeded yard: ``python benchmarks/layout.py --help``.

Each run is checked from outside by ``outside_check.py``. Times to a yield are read off the
progress that the search itself reports. On a shared machine the wall clock says little: with
``--cpu-seconds`` the search is timed by its own processor time, both threads together, so that 120
of them are a minute of two quiet cores.
"""

from __future__ import annotations

import argparse
import json
import re
import resource
import tempfile
import time
from pathlib import Path

import numpy as np
import outside_check
import yard_instance
from yard_instance import ring_area

from futtock.layout.document import layout_json
from futtock.layout.lay import lay, warm
from futtock.layout.problem import prepare
from futtock.layout.settings import LaySettings
from futtock.layout.store import FolderStore

KERF_MM = 6.0


def documents(folder, moulds, slabs, layout):
    yard_instance.write_json(folder, moulds, slabs, layout)
    return [json.loads((Path(folder) / n).read_text()) for n in ("moulds.json", "slabs.json")]


def one(problem, moulds, slabs, seed, seconds, rounds, clock):
    """One run's figures."""
    at = {}
    began, wall = clock(), time.perf_counter()

    def report(p):
        found = re.search(r"(\d+) of (\d+) timbers.*yield ([\d.]+)", p.says)
        if p.task == "laying out" and found and found[1] == found[2]:
            for level in (45, 50, 55):
                if float(found[3]) >= level and level not in at:
                    at[level] = round(clock() - began)
        return True

    cpu = time.process_time()
    layout = lay(
        moulds,
        slabs,
        problem.settings,
        report,
        seed=seed,
        seconds=seconds,
        rounds=rounds,
        clock=clock,
        problem=problem,
    )
    cpu, wall = time.process_time() - cpu, time.perf_counter() - wall
    with tempfile.TemporaryDirectory() as folder:
        m, s = documents(folder, moulds, slabs, layout_json(layout))
    faults, slopes = outside_check.check(m["moulds"], s, layout_json(layout), KERF_MM)
    used = {p.slab for p in layout.placements}
    gross = sum(ring_area(q.face_bottom_mm) for q in slabs if q.name in used)
    area = sum(ring_area(q.outline_up_mm) for q in moulds if q.mark not in layout.unplaced)
    mean = np.mean([p.slope_mean for p in layout.placements]) if layout.placements else 0.0
    limit = 1.0 / problem.settings.grain_slope
    return {
        "seed": seed,
        "placed": f"{len(layout.placements)}/{len(moulds)}",
        "slabs": layout.slabs_used,
        "gross %": round(100 * area / gross, 1) if gross else 0.0,
        "sound %": round(100 * layout.yield_, 1),
        "slope worst": round(float(slopes.max()), 3),
        "95th": round(float(np.percentile(slopes, 95)), 3),
        "mean": round(float(mean), 3),
        "over": int((slopes > limit + 1e-6).sum()),
        "to 45/50/55 % sound, s": "/".join(str(at.get(q, "-")) for q in (45, 50, 55)),
        "bound m2": round(layout.bound.value, 1),
        "gap %": round(100 * layout.bound.gap, 1),
        "faults": len(faults),
        "cpu s": round(cpu),
        "wall s": round(wall),
    }


def main():
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("--slabs", type=int, default=200)
    p.add_argument("--limit", type=float, default=10.0)
    p.add_argument("--long", action="store_true")
    p.add_argument("--seconds", type=float)
    p.add_argument("--cpu-seconds", type=float)
    p.add_argument("--rounds", type=int)
    p.add_argument("--seeds", type=int, default=1)
    p.add_argument("--first-seed", type=int, default=0)
    p.add_argument("--store", default=None, help="folder in which found poses are kept")
    a = p.parse_args()
    warm()
    moulds, slabs = yard_instance.timbers(long=a.long), yard_instance.rack(a.slabs)
    settings = LaySettings(kerf_mm=KERF_MM, grain_slope=a.limit)
    t = time.perf_counter()
    problem = prepare(moulds, slabs, settings, store=FolderStore(a.store) if a.store else None)
    ready = time.perf_counter() - t
    seconds, clock = a.seconds, time.perf_counter
    if a.cpu_seconds is not None:
        seconds, clock = a.cpu_seconds, time.process_time
    print(
        f"{len(moulds)} timbers, {a.slabs} slabs, 1 in {a.limit:g}, long={a.long}, "
        f"seconds={a.seconds}, cpu={a.cpu_seconds}, rounds={a.rounds}; made ready in {ready:.0f} s; "
        f"{100 * problem.poses.ok.mean():.0f} % of pairs have a pose\n",
        flush=True,
    )
    for q in range(a.seeds):
        row = one(problem, moulds, slabs, a.first_seed + q, seconds, a.rounds, clock)
        if q == 0:
            print("| " + " | ".join(row) + " |")
            print("|" + "---|" * len(row))
        print("| " + " | ".join(str(v) for v in row.values()) + " |", flush=True)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    print(f"\npeak memory {peak:.2f} GB")


if __name__ == "__main__":
    main()
