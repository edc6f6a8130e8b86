"""Is the chance that ``enough`` tells true? ``python benchmarks/enough.py --help``.

Small yards are invented whole: timbers, and a pile of two stacks of six to nine slabs from the seeded
generator, each of its own make-up. Of each pile eight to ten slabs are measured (eight is what the
product itself asks for) and the chance is asked. Then the yard is
lived through: slabs are lost in drying, timbers spoiled, and what is left is laid out with all
slabs known, by the full search. So the truth owes nothing to the way the chance was worked out.

Yards from 100000 on were for settling the method; those from 2000 on (the default) for judging it.
Told: for every tenth of stated chance how often the pile was enough, with a 95 % interval (Wilson);
the Brier score beside that of always saying the base rate; and how often the answer after measuring
five more fell within what had been said 8 times in 10.
"""

from __future__ import annotations

import argparse
import json
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
from yard_instance import make_mould

from futtock.layout import drawn
from futtock.layout.alike import alike
from futtock.layout.drawn import EnoughSettings
from futtock.layout.enough import enough
from futtock.layout.lay import lay
from futtock.layout.problem import prepare
from futtock.layout.settings import LaySettings
from futtock.stock.invent import PILE, SHAPES, invent_slab

SETTINGS = LaySettings(kerf_mm=6.0, grain_slope=8.0)
ROUNDS = 200
PILES = 60
drawn.MORE = 0.0  # how many slabs beyond the pile would be wanted is not asked here
FAR = 5  # timbers left over after 60 rounds that no longer search was seen to place
LIKE = 4


def timber(rng, k):
    """A futtock: 500 to 1100 mm, nearly straight to well swept, 80 to 130 mm wide."""
    long, turn = rng.uniform(500, 1100), rng.uniform(0.0, 0.75)
    wide = rng.uniform(80, 130)
    a = np.linspace(-turn / 2, turn / 2, 33)
    step = long / 32
    line = np.vstack([[0.0, 0.0], np.cumsum(step * np.c_[np.cos(a), np.sin(a)][1:], axis=0)])
    taper = np.linspace(1.08, 0.92, 33)
    return make_mould(f"{k + 1}-S-f1", line, wide / 2 * taper, frame=k + 1, layer="f", side="S")


def yard(seed):
    """Timbers, slabs (measured first in each stack), and the settings of losses."""
    rng = np.random.default_rng([seed, 5])
    slabs = []
    for stack in "AB":
        odds = rng.dirichlet([0.8, 1.5, 2.0, 0.3])
        size = int(rng.integers(6, 10))
        for n in range(size):
            shape = SHAPES[int(rng.choice(4, p=odds))]
            slabs.append(invent_slab(rng, f"{stack}-{n + 1:02d}", shape, PILE, stack, False))
    count = int(np.clip(np.exp(rng.normal(np.log(0.9 * len(slabs)), 0.35)), 4, 40))
    return [timber(rng, k) for k in range(count)], slabs


def ask(moulds, slabs, measured, seed, each=LIKE):
    """The answer from these numbers measured of the pile."""
    known = [replace(s, measured=True) for k, s in enumerate(slabs) if k in measured]
    rest = {
        stack: sum(s.stack == stack and k not in measured for k, s in enumerate(slabs))
        for stack in "AB"
    }
    like = alike(known, each, seed)
    problem = prepare(moulds, [*known, *like.slabs], SETTINGS)
    return enough(problem, rest, EnoughSettings(0.04, 0.02, PILES), like=like.parent, seed=seed)


def settled(progress):
    """Whether to search on: not once all are placed, nor where many are still left over."""
    placed, _, of, *_ = progress.says.split(maxsplit=3)
    return 0 < int(of) - int(placed) < FAR or progress.done == 0


def lived(moulds, slabs, seed):
    """Timbers missing in the end; where they are many, about how many."""
    rng = np.random.default_rng([seed, 6])
    left = [s for s in slabs if rng.random() >= 0.02]
    again = [replace(m, mark=f"{m.mark}x") for m in moulds if rng.random() < 0.04]
    wanted = [*moulds, *again]
    problem = prepare(wanted, left, SETTINGS)
    done = lay(wanted, left, SETTINGS, settled, seed=seed, rounds=ROUNDS, problem=problem)
    return len(done.unplaced)


def made_good(seed):
    """Of one known pile: timbers short by the quick search, pile by pile, and by the full one."""
    moulds, slabs = yard(seed)
    problem = prepare(moulds, slabs, SETTINGS)
    quick = enough(problem, {}, EnoughSettings(0.0, 0.0, 8), seed=seed)
    full = lay(moulds, slabs, SETTINGS, seed=seed, rounds=ROUNDS, problem=problem)
    return quick.short.tolist(), len(full.unplaced)


def one(task):
    seed, extra = task
    moulds, slabs = yard(seed)
    rng = np.random.default_rng([seed, 7])
    order = rng.permutation(len(slabs))
    count = int(rng.integers(8, 11))
    first = set(order[:count].tolist())
    row = {"seed": seed, "timbers": len(moulds), "slabs": len(slabs), "measured": len(first)}
    answer = ask(moulds, slabs, first, seed)
    row["stated"] = answer.probability
    row["short"] = float(answer.short.mean())
    row["missing"] = lived(moulds, slabs, seed)
    if not extra:
        return row
    row["plain"] = ask(moulds, slabs, first, seed, each=0).probability
    if answer.narrowing.steps and answer.narrowing.steps[0].further == 5:
        step = answer.narrowing.steps[0]
        more = set(first)
        for stack, n in step.measure:
            own = [k for k in order.tolist() if slabs[k].stack == stack and k not in more]
            more |= set(own[:n])
        row["step"] = [step.low, step.high]
        row["after"] = ask(moulds, slabs, more, seed).probability
    return row


def wilson(hits, n, z=1.96):
    if n == 0:
        return 0.0, 1.0
    p = hits / n
    middle = (p + z * z / (2 * n)) / (1 + z * z / n)
    half = z * np.sqrt(p * (1 - p) / n + z * z / (4 * n * n)) / (1 + z * z / n)
    return middle - half, middle + half


def tenths(stated, enough_):
    """Rows (from, to, yards, mean stated, share enough, low, high) for every tenth."""
    rows = []
    for k in range(10):
        here = (stated >= k / 10) & ((stated < (k + 1) / 10) | (k == 9))
        n, hits = int(here.sum()), int(enough_[here].sum())
        low, high = wilson(hits, n)
        mean = float(stated[here].mean()) if n else float("nan")
        rows.append((k / 10, (k + 1) / 10, n, mean, hits / n if n else float("nan"), low, high))
    return rows


def picture(rows, brier, base, path):
    """The calibration plot as a sheet's SVG."""
    from futtock.sheet.items import Face, Text
    from futtock.sheet.items import path as line
    from futtock.sheet.sheet import fitted
    from futtock.sheet.style import DIMENSION, EDGE, RULE, SEEN, Tone
    from futtock.sheet.svg import svg

    side = 100.0
    out = [line([(0, 0), (side, 0), (side, side), (0, side)], EDGE, closed=True)]
    for k in range(1, 10):
        out += [
            line([(10 * k, 0), (10 * k, side)], RULE),
            line([(0, 10 * k), (side, 10 * k)], RULE),
        ]
    out.append(line([(0, 0), (side, side)], DIMENSION))
    for k in range(0, 11, 2):
        out.append(Text(f"{10 * k}", (10 * k, -5.0), 3.4, Face.FIGURES, "middle"))
        out.append(Text(f"{10 * k}", (-2.0, 10 * k), 3.4, Face.FIGURES, "end", "middle"))
    for _a, _b, n, mean, share, low, high in rows:
        if not n:
            continue
        x = side * mean
        out.append(line([(x, side * low), (x, side * high)], SEEN))
        d = 1.4
        out.append(
            line(
                [(x - d, side * share), (x, side * share - d), (x + d, side * share), (x, side * share + d)],
                SEEN, closed=True, fill=Tone.OAK,
            )
        )  # fmt: skip
        out.append(Text(f"{n}", (x + 2.2, side * share - 3.4), 2.8, Face.FIGURES, halo=Tone.WHITE))
    words = "chance told, %; beside each mark the number of yards"
    out.append(Text(words, (side / 2, -11.0), 3.4, Face.WORDS, "middle"))
    out.append(
        Text(
            "piles that were enough, %",
            (-11.0, side / 2),
            3.4,
            Face.WORDS,
            "middle",
            "middle",
            90.0,
        )
    )
    said = f"Brier score {brier:.3f}; always saying the base rate {base:.3f}"
    out.append(Text(said, (0.0, side + 4.0), 3.4, Face.FIGURES))
    sheet = fitted("enough-calibration", out, 4.0, title="Chance told against what came of it")
    Path(path).write_text(svg(sheet, "picture"))


def told(rows, plot=None):
    stated = np.array([r["stated"] for r in rows])
    both = np.array(["plain" in r for r in rows])
    plain = np.array([r.get("plain", np.nan) for r in rows])
    came = np.array([r["missing"] == 0 for r in rows])
    base = float(came.mean())
    scores = {
        "stated": float(((stated - came) ** 2).mean()),
        "base rate": float(base * (1 - base)),
    }
    print(f"{len(rows)} yards, {100 * base:.1f} % of the piles were enough\n")
    print("| chance told | yards | mean told | were enough | 95 % interval | within |")
    print("| --- | --- | --- | --- | --- | --- |")
    table = tenths(stated, came)
    for a, b, n, mean, share, low, high in table:
        if n:
            print(
                f"| {100 * a:.0f} to {100 * b:.0f} % | {n} | {100 * mean:.1f} % | {100 * share:.1f} % "
                f"| {100 * low:.1f} to {100 * high:.1f} % | {'yes' if low <= mean <= high else 'no'} |"
            )
    print("\nBrier score: " + ", ".join(f"{k} {v:.4f}" for k, v in scores.items()))
    print(f"mean told {100 * stated.mean():.1f} %")
    if both.any():
        a, b = (float(((v - came)[both] ** 2).mean()) for v in (stated, plain))
        print(
            f"of {both.sum()} yards asked both ways: Brier {a:.4f} with slabs like the measured, "
            f"{b:.4f} drawing the measured alone (mean told {100 * stated[both].mean():.1f} and "
            f"{100 * plain[both].mean():.1f} %, enough {100 * came[both].mean():.1f} %)"
        )
    after = [r for r in rows if "after" in r]
    if after:
        slack = 0.005  # 200 piles
        within = np.mean(
            [r["step"][0] - slack <= r["after"] <= r["step"][1] + slack for r in after]
        )
        open_ = [r for r in after if 0.05 < r["stated"] < 0.95]
        inner = np.mean([r["step"][0] - slack <= r["after"] <= r["step"][1] + slack for r in open_])
        print(
            f"after five more measured the answer lay within what was said 8 times in 10 in "
            f"{100 * within:.0f} % of {len(after)} yards, and in {100 * inner:.0f} % of the "
            f"{len(open_)} whose chance was between 5 and 95 %"
        )
    if plot:
        picture(table, scores["stated"], scores["base rate"], plot)


def main():
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("--yards", type=int, default=600)
    p.add_argument("--first", type=int, default=2000)
    p.add_argument("--more", type=int, default=200, help="yards of which five more are measured")
    p.add_argument("--processes", type=int, default=2)
    p.add_argument("--kept", help="file of rows: those there are not done again")
    p.add_argument("--plot")
    a = p.parse_args()
    kept = Path(a.kept) if a.kept else None
    rows = [json.loads(t) for t in kept.read_text().splitlines()] if kept and kept.exists() else []
    have = {r["seed"] for r in rows}
    tasks = [(s, s - a.first < a.more) for s in range(a.first, a.first + a.yards) if s not in have]
    began = time.perf_counter()
    if tasks:
        one(tasks[0])  # compiled once, before there are several of us
        with ProcessPoolExecutor(a.processes) as pool:
            for row in pool.map(one, tasks):
                rows.append(row)
                if kept:
                    with kept.open("a") as file:
                        file.write(json.dumps(row) + "\n")
        print(f"{len(tasks)} yards in {time.perf_counter() - began:.0f} s")
    told(sorted(rows, key=lambda r: r["seed"])[: a.yards], a.plot)


if __name__ == "__main__":
    main()
