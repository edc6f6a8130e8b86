"""Butts chosen with the rack in view, against the fixed division: ``python benchmarks/dividing.py``.

The frames of the demo vessel on seeded racks. Both divisions are laid out by the full search with
the same rounds and seed. Every layout is checked from outside (``outside_check.py``), and so are the
rules of division: butts of the two layers apart by the shift, no timber longer than the longest
(measured on its own outline), every layer whole from heel to head.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from pathlib import Path

import numpy as np
import outside_check
import yard_instance

from futtock.framing.build import redivided
from futtock.job import settings
from futtock.job.whole import Job
from futtock.layout.dividing import choices, divide_for
from futtock.layout.document import layout_json
from futtock.layout.lay import lay, warm
from futtock.layout.part import part_of
from futtock.layout.problem import prepare
from futtock.stock.invent import invent_rack
from futtock.vessel import write_new


def rule_faults(frames, moulds, framing):
    """Broken rules of division, in words, from girths and outlines alone."""
    outline = {m.mark: m.outline_up_mm for m in moulds}
    said = []
    for f in frames:
        for side in "SP":
            layers = {
                name: sorted(
                    t.girth_mm for t in f.timbers if t.layer == name and t.side in (side, "C")
                )
                for name in "fa"
            }
            ends = {k: [g[1] for g in v[:-1]] for k, v in layers.items()}
            for a in ends["f"]:
                for b in ends["a"]:
                    if abs(a - b) < framing.butt_shift_mm - 0.5:
                        said.append(f"{f.number}{side}: butts {a:.0f} and {b:.0f}")
            for v in layers.values():
                for one, two in zip(v[:-1], v[1:], strict=True):
                    if abs(one[1] - two[0]) > 0.5:
                        said.append(f"{f.number}{side}: a gap at {one[1]:.0f}")
        for t in f.timbers:
            long = float(np.ptp(outline[t.mark][:, 0]))
            if max(long, t.length_mm) > framing.longest_mm + 0.5:
                said.append(f"{t.mark}: {max(long, t.length_mm):.1f} mm long")
    return said


def one(job, options, framing, lay_settings, problem, which, seed, rounds, moves):
    """Rows for the fixed and the chosen division on some of the slabs."""
    rack = part_of(problem, None, which)
    number = {m.mark: j for j, m in enumerate(rack.moulds)}
    began = time.process_time()
    found = divide_for(rack, options, moves=moves, seed=seed)
    spent = time.process_time() - began
    rows = []
    for name, chosen in (("fixed", [0] * len(options.of)), ("chosen", found.chosen)):
        part = part_of(rack, [number[m] for m in options.marks(chosen) if m in number])
        began = time.process_time()
        layout = lay(part.moulds, part.slabs, lay_settings, seed=seed, rounds=rounds, problem=part)
        took = time.process_time() - began
        with tempfile.TemporaryDirectory() as folder:
            yard_instance.write_json(folder, part.moulds, part.slabs, layout_json(layout))
            m, s = (
                json.loads((Path(folder) / n).read_text()) for n in ("moulds.json", "slabs.json")
            )
        faults, slopes = outside_check.check(
            m["moulds"], s, layout_json(layout), lay_settings.kerf_mm
        )
        frames = [
            f if not c else redivided(f, o[c].division, framing)
            for f, o, c in zip(options.frames, options.of, chosen, strict=True)
        ]
        named = [
            renamed(options.moulds[j], t.mark)
            for f, o, c in zip(frames, options.of, chosen, strict=True)
            for t, j in zip(f.timbers, o[c].moulds, strict=True)
        ]
        left = set(layout.unplaced)
        limit = 1.0 / lay_settings.grain_slope
        rows.append(
            {
                "division": name,
                "slabs": len(which),
                "seed": seed,
                "timbers": len(part.moulds),
                "without a place": len(left),
                "of m2": round(sum(q.square_m2 for q in part.moulds if q.mark in left), 2),
                "begun": layout.slabs_used,
                "yield %": round(100 * layout.yield_, 1),
                "frames changed": sum(c > 0 for c in chosen),
                "rules broken": len(rule_faults(frames, named, framing)),
                "layout faults": len(faults),
                "grain over": int((slopes > limit + 1e-6).sum()) if len(slopes) else 0,
                "cpu s": round(took + (spent if name == "chosen" else 0.0)),
            }
        )
    return rows


def renamed(mould, mark):
    from dataclasses import replace

    return replace(mould, mark=mark)


def told(rows):
    print(
        "| rack | seeds | timbers fixed / chosen | without a place | m2 without a place | begun | yield % | better, seeds | rules broken | layout faults |"
    )
    print("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |")
    for size in sorted({r["slabs"] for r in rows}):
        pairs = {}
        for r in rows:
            if r["slabs"] == size:
                pairs.setdefault(r["seed"], {})[r["division"]] = r
        pairs = [p for p in pairs.values() if len(p) == 2]

        def both(key, pairs=pairs):
            a, b = (np.mean([p[n][key] for p in pairs]) for n in ("fixed", "chosen"))
            return f"{a:.1f} / {b:.1f}"

        better = sum(
            (p["chosen"]["of m2"], p["chosen"]["begun"])
            < (p["fixed"]["of m2"], p["fixed"]["begun"])
            for p in pairs
        )
        broken = sum(p[n]["rules broken"] for p in pairs for n in p)
        faults = sum(p[n]["layout faults"] + p[n]["grain over"] for p in pairs for n in p)
        print(
            f"| {size} | {len(pairs)} | {both('timbers')} | {both('without a place')} | {both('of m2')} "
            f"| {both('begun')} | {both('yield %')} | {better} of {len(pairs)} | {broken} | {faults} |"
        )


def main():
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("--seeds", type=int, default=10)
    p.add_argument("--first", type=int, default=0)
    p.add_argument("--each", type=int, default=3)
    p.add_argument("--moves", type=int, default=300)
    p.add_argument("--rounds", type=int, default=300)
    p.add_argument("--sizes", default="120,160,200")
    p.add_argument("--kept", help="file of rows: seeds there are not done again")
    a = p.parse_args()
    kept = Path(a.kept) if a.kept else None
    rows = [json.loads(t) for t in kept.read_text().splitlines()] if kept and kept.exists() else []
    have = {(r["seed"], r["slabs"]) for r in rows}
    sizes = [int(v) for v in a.sizes.split(",")]
    warm()
    with tempfile.TemporaryDirectory() as folder:
        write_new(Path(folder) / "demo", demo=True)
        job = Job(Path(folder) / "demo")
        vessel = job.sound.vessel
        framing = settings.framing_settings(vessel, job.fairing.hull, job.sound.divisions)
        lay_settings = settings.lay_settings(vessel)
        options = choices(job.framing.frames, framing, settings.mould_settings(vessel), each=a.each)
    for seed in range(a.first, a.first + a.seeds):
        todo = [n for n in sizes if (seed, n) not in have]
        if not todo:
            continue
        slabs = invent_rack(max(sizes), seed)
        problem = prepare(options.moulds, slabs, lay_settings)
        for size in todo:
            # as many from the top of every stack
            stacks = len({s.stack for s in slabs})
            which = [k for k, s in enumerate(slabs) if int(s.name.split("-")[1]) <= size // stacks]
            for row in one(
                job, options, framing, lay_settings, problem, which, seed, a.rounds, a.moves
            ):
                rows.append(row)
                print(row, flush=True)
                if kept:
                    with kept.open("a") as file:
                        file.write(json.dumps(row) + "\n")
    told(rows)


if __name__ == "__main__":
    main()
