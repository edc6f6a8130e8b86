"""How soon the shipwright's own questions are answered, on the seeded yard with a whole layout.

Processor seconds, found places read from disk: best places for one timber, what is in a slab,
a placement judged, a timber spoiled, a slab lost, a slab newly measured.
"""

from __future__ import annotations

import argparse
import time

import numpy as np
import yard_instance

from futtock.layout.hand import best_for_slab, best_places, judge_by_hand
from futtock.layout.heal import gain_of, heal
from futtock.layout.lay import lay, warm
from futtock.layout.problem import prepare
from futtock.layout.settings import LaySettings
from futtock.layout.store import FolderStore


def timed(what, ask):
    wall, cpu = time.perf_counter(), time.process_time()
    answer = ask()
    cpu, wall = time.process_time() - cpu, time.perf_counter() - wall
    print(f"| {what} | {cpu:.2f} | {wall:.2f} |", flush=True)
    return answer


def main():
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("--store", required=True)
    p.add_argument("--rounds", type=int, default=0)
    a = p.parse_args()
    warm()
    store = FolderStore(a.store)
    moulds, slabs = yard_instance.timbers(), yard_instance.rack(200)
    settings = LaySettings(kerf_mm=6.0)
    problem = prepare(moulds, slabs, settings, store=store)
    best_for_slab(problem, slabs[0].name)  # compile
    layout = lay(moulds, slabs, settings, rounds=a.rounds, problem=problem)
    at = layout.placements[len(layout.placements) // 2]
    mould = next(m for m in moulds if m.mark == at.mark)
    print("| asked | cpu s | wall s |\n| --- | --- | --- |")
    timed("a placement judged", lambda: judge_by_hand(moulds, slabs, settings, at))
    rest = [q for q in layout.placements if q.mark != at.mark]
    best_places(mould, slabs[:4], settings, store=store)
    places = timed(
        "ten best places over 200 slabs, beside what is laid",
        lambda: best_places(mould, slabs, settings, taken=rest, moulds=moulds, store=store),
    )
    by = np.argsort(-problem.poses.ok.sum(0), kind="stable")
    answer = timed("what is in a slab", lambda: best_for_slab(problem, slabs[by[3]].name))
    one = timed("a timber spoiled", lambda: heal(problem, layout, spoiled=[at.mark]))
    two = timed("a slab lost", lambda: heal(problem, layout, lost=[at.slab]))
    used = {q.slab for q in layout.placements}
    new = next(slabs[k].name for k in by if slabs[k].name not in used)
    timed("a slab newly measured", lambda: gain_of(problem, layout, new))
    print(
        f"\n{len(places)} places; {len(answer.placements)} timbers in the slab, "
        f"{100 * answer.yield_:.0f} % of it; {len(one.changes)} and {len(two.changes)} changes."
    )


if __name__ == "__main__":
    main()
