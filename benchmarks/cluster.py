"""How resampling scales over workers, and what it sends: ``python benchmarks/cluster.py``.

A seeded yard; the same piles drawn here by one thread and on a local Dask scheduler with one and two
workers of one thread each. Told: seconds by the clock and the load of the machine, processor seconds
a pile and of each worker, and the bytes that go to each worker once and come back for each pile.
"""

from __future__ import annotations

import argparse
import os
import pickle
import time

import yard_instance

from futtock.job.cluster import on_cluster
from futtock.layout import drawn
from futtock.layout.alike import alike
from futtock.layout.problem import prepare
from futtock.layout.settings import LaySettings
from futtock.stock.invent import invent_rack

SETTINGS = LaySettings(kerf_mm=6.0)


def main():
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("--timbers", type=int, default=40)
    p.add_argument("--measured", type=int, default=20)
    p.add_argument("--piles", type=int, default=32)
    a = p.parse_args()
    from distributed import Client, LocalCluster

    moulds = yard_instance.timbers()[: a.timbers]
    slabs = invent_rack(a.measured, 3)
    like = alike(slabs, 4)
    began = time.process_time()
    problem = prepare(moulds, [*slabs, *like.slabs], SETTINGS)
    print(f"{len(problem.patterns.area)} patterns on {len(problem.slabs)} slabs", end=", ")
    print(f"tried in {time.process_time() - began:.1f} processor seconds")
    rest = dict.fromkeys({q.stack for q in slabs}, 6)
    case = drawn.case_of(problem, rest, drawn.EnoughSettings(), like.parent, 0)
    drawn.draw(case, 0)
    began = time.process_time()
    here = [drawn.draw(case, r) for r in range(a.piles)]
    each = (time.process_time() - began) / a.piles
    pair = len(problem.patterns.area) * len(problem.slabs)
    poses = problem.poses.row.nbytes
    ground = problem.ground.top.nbytes * 2 + problem.ground.grain.nbytes
    print(
        f"{1e3 * each:.0f} ms of processor a pile; sent once {len(pickle.dumps(case)) / 1e6:.1f} MB"
    )
    print(
        f"  poses {poses / pair:.0f} bytes a pair, rasters {ground / len(problem.slabs) / 1e6:.2f} MB a slab"
    )
    print(f"  back {len(pickle.dumps(here[0])) / 1e3:.1f} kB a pile")
    for workers in (1, 2):
        with (
            LocalCluster(
                n_workers=workers, threads_per_worker=1, dashboard_address=None, protocol="tcp"
            ) as cluster,
            Client(cluster, set_as_default=False) as client,
        ):
            list(on_cluster(client, drawn.draw, case, range(2 * workers)))  # compiled
            spent = client.run(time.process_time)
            began = time.perf_counter()
            there = list(on_cluster(client, drawn.draw, case, range(a.piles)))
            took = time.perf_counter() - began
            spent = [after - spent[w] for w, after in client.run(time.process_time).items()]
        same = all((x.short == y.short).all() for x, y in zip(here, there, strict=True))
        print(
            f"{workers} workers: {took:.1f} s by the clock, load {os.getloadavg()[0]:.0f}, same {same}; "
            f"processor seconds of each {', '.join(f'{q:.2f}' for q in spent)}"
        )


if __name__ == "__main__":
    main()
