"""Compiled: the search that ruins and recreates part of a layout, round by round.

Each round takes one to three slabs apart, wholly or in part, and fills them again (or begins
another in their place) from the timbers set free and those not yet placed. What comes out is taken
when it is better, or by chance when it is not much worse; both the chance and the patience with
unplaced timbers shrink as the search goes on.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from futtock.layout.chances import chance, pick
from futtock.layout.discs import compiled
from futtock.layout.filling import MOST, Poses, Rules, fill_in_place, worth_of
from futtock.layout.ground import Ground
from futtock.layout.pattern import Patterns
from futtock.layout.whole import cost_of

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Raster = NDArray[np.float32]


@compiled
def rounds(
    P: Patterns,
    G: Ground,
    Q: Poses,
    rules: Rules,
    items: Array,
    count: Ints,
    left: Ints,
    best_items: Array,
    best_count: Ints,
    best_left: Ints,
    best: Array,
    moves: int,
    done_from: float,
    done_to: float,
    top: Raster,
    bottom: Raster,
    state: NDArray[np.uint64],
) -> Ints:
    """Search ``moves`` rounds on from a layout, cooling from ``done_from`` to ``done_to`` of all.

    ``best`` (2,): area not placed and cost of the best layout so far, kept in ``best_*``.
    ``top`` and ``bottom`` are the uncut ground. Returns tries, takes and gains of each move (6, 3).
    """
    m = G.cost.shape[0]
    n = P.area.shape[0]
    told = np.zeros((6, 3), np.int64)
    spare = np.empty((4, MOST, 7))  # the new fillings
    made = np.empty(4, np.int64)
    slabs_new = np.empty(4, np.int64)
    gone = np.empty(4, np.int64)
    pool = np.empty(n, np.int64)
    trial = np.empty((MOST, 7))
    names = np.empty(m, np.int64)
    weights = np.empty(m)
    key = np.empty(n)
    for move_no in range(moves):
        done = done_from + (done_to - done_from) * move_no / moves
        heat = 0.12 * (1.0 - done) ** 1.5 + 1e-5
        price = 2.6 + 4.4 * max(0.0, done - 0.5) * 2.0
        last = done > 0.9
        u = 0
        for k in range(m):
            if count[k] > 0:
                names[u] = k
                u += 1
        short = 0
        for i in range(n):
            short += left[i]
            pool[i] = left[i]
        dice = chance(state)
        if short > 0 and dice < 0.40:
            move = 0
        elif short > 0 and dice < (0.60 if last else 0.46):
            move = 1
        else:
            dice = chance(state)
            if dice < 0.16:
                move = 2
            elif dice < 0.26:
                move = 3
            elif dice < 0.92 or last:
                move = 5
            else:
                move = 4
        if u == 0:
            move = 1
        grade = pick(state, Q.worth.shape[0])
        key[:] = Q.worth[grade]
        shake = (0.05, 0.3, 0.8)[pick(state, 3)]
        to_end = 0.0 if chance(state) < 0.5 else rules.end
        to_grain = rules.grain * (0.35 if chance(state) < 0.5 else 1.0)
        look = 3 if chance(state) < 0.25 else 1
        ng = 0
        nn = 0
        if move == 0:  # pack a slab again with the timbers not placed
            at = pick(state, short)
            i = 0
            while at >= left[i]:
                at -= left[i]
                i += 1
            c = 0
            for q in range(u):
                if Q.ok[i, names[q]]:
                    names[c] = names[q]
                    c += 1
            if c == 0:
                continue
            k = names[pick(state, c)]
            gone[0] = k
            ng = 1
            if chance(state) < 0.6:
                key[i] *= 10.0
            keep = (0.0, 0.0, 0.5, 0.8)[pick(state, 4)]
            kept = 0
            for j in range(count[k]):
                if chance(state) < keep:
                    spare[0, kept] = items[k, j]
                    kept += 1
                else:
                    pool[int(items[k, j, 0])] += 1
            made[0] = fill_in_place(
                P,
                G,
                Q,
                k,
                pool,
                key,
                shake,
                to_end,
                to_grain,
                look,
                30,
                rules.gap,
                top,
                bottom,
                spare[0],
                kept,
                state,
            )
            for j in range(kept, made[0]):
                pool[int(spare[0, j, 0])] -= 1
            slabs_new[0] = k
            nn = 1
        elif move == 1 or move == 2:  # begin a slab; or give up a poor one for another
            most = 1e18
            if move == 2:
                w = 0.0
                for q in range(u):
                    k = names[q]
                    weights[q] = np.exp(
                        -8.0 * worth_of(P, items[k], count[k]) / max(G.cost[k], 1e-6)
                    )
                    w += weights[q]
                at2 = chance(state) * w
                q = 0
                while q < u - 1 and at2 > weights[q]:
                    at2 -= weights[q]
                    q += 1
                k0 = names[q]
                gone[0] = k0
                ng = 1
                most = G.cost[k0] + 0.15
                for j in range(count[k0]):
                    pool[int(items[k0, j, 0])] += 1
            c = 0
            for k in range(m):
                if count[k] > 0 or G.cost[k] > most:
                    continue
                good = 0
                if move == 1:
                    for i in range(n):
                        if left[i] > 0 and Q.ok[i, k]:
                            good = 1
                            break
                else:
                    fit = 0
                    for j in range(count[k0]):
                        if Q.ok[int(items[k0, j, 0]), k]:
                            fit += 1
                    if fit >= max(1, count[k0] - 1):
                        good = 1
                if good == 1:
                    names[c] = k
                    c += 1
            if c == 0:
                continue
            gain = 1e18
            for _ in range(min(2, c)):
                at = pick(state, c)
                k = names[at]
                c -= 1
                names[at] = names[c]
                got = fill_in_place(
                    P,
                    G,
                    Q,
                    k,
                    pool,
                    key,
                    shake,
                    to_end,
                    to_grain,
                    look,
                    30,
                    rules.gap,
                    top,
                    bottom,
                    trial,
                    0,
                    state,
                )
                if got == 0:
                    continue
                g = G.cost[k] - price * worth_of(P, trial, got)
                if g < gain:
                    gain = g
                    slabs_new[0] = k
                    made[0] = got
                    spare[0] = trial
                    nn = 1
            if nn == 0:
                continue
            for j in range(made[0]):
                pool[int(spare[0, j, 0])] -= 1
        elif move == 3 or move == 5:  # two or three kindred slabs again, wholly or in part
            k0 = names[pick(state, u)]
            want = 3 if chance(state) < 0.33 else 2
            want = min(want, u)
            gone[0] = k0
            ng = 1
            for q in range(u):
                k = names[q]
                kin = -1e9
                if k != k0:
                    kin = 0.0
                    for j in range(count[k]):
                        if Q.ok[int(items[k, j, 0]), k0]:
                            kin += 1.0
                    for j in range(count[k0]):
                        if Q.ok[int(items[k0, j, 0]), k]:
                            kin += 1.0
                    kin -= 1.5 * np.log(-np.log(max(chance(state), 1e-300)) + 1e-300)
                weights[q] = kin
            while ng < want:
                q = int(np.argmax(weights[:u]))
                gone[ng] = names[q]
                weights[q] = -1e18
                ng += 1
            keep = 0.0 if move == 3 else (0.4, 0.6, 0.8)[pick(state, 3)]
            for g2 in range(ng):  # any order: the kindred first as often as not
                h = g2 + pick(state, ng - g2)
                gone[g2], gone[h] = gone[h], gone[g2]
            kept3 = np.zeros(4, np.int64)
            for g2 in range(ng):
                k = gone[g2]
                for j in range(count[k]):
                    if keep > 0.0 and chance(state) < keep:
                        spare[g2, kept3[g2]] = items[k, j]
                        kept3[g2] += 1
                    else:
                        pool[int(items[k, j, 0])] += 1
            for g2 in range(ng):
                k = gone[g2]
                got = fill_in_place(
                    P,
                    G,
                    Q,
                    k,
                    pool,
                    key,
                    shake,
                    to_end,
                    to_grain,
                    look,
                    30,
                    rules.gap,
                    top,
                    bottom,
                    spare[g2],
                    kept3[g2],
                    state,
                )
                slabs_new[g2] = k
                made[g2] = got
                for j in range(kept3[g2], got):
                    pool[int(spare[g2, j, 0])] -= 1
            nn = ng
        else:  # give up a poor slab
            w = 0.0
            for q in range(u):
                k = names[q]
                weights[q] = np.exp(-15.0 * worth_of(P, items[k], count[k]) / max(G.cost[k], 1e-6))
                w += weights[q]
            at2 = chance(state) * w
            q = 0
            while q < u - 1 and at2 > weights[q]:
                at2 -= weights[q]
                q += 1
            gone[0] = names[q]
            ng = 1
            for j in range(count[gone[0]]):
                pool[int(items[gone[0], j, 0])] += 1
        d = 0.0
        for g2 in range(ng):
            d -= G.cost[gone[g2]]
        for g2 in range(nn):
            if made[g2] > 0:
                d += G.cost[slabs_new[g2]]
        for i in range(n):
            d += price * (pool[i] - left[i]) * P.area[i]
        told[move, 0] += 1
        if d > 1e-9 and chance(state) >= np.exp(-d / heat):
            continue
        told[move, 1] += 1
        if d < -1e-9:
            told[move, 2] += 1
        for g2 in range(ng):
            count[gone[g2]] = 0
        for g2 in range(nn):
            k = slabs_new[g2]
            count[k] = made[g2]
            for j in range(made[g2]):
                items[k, j] = spare[g2, j]
        for i in range(n):
            left[i] = pool[i]
        cost, miss = cost_of(P, G, count, left)
        if miss < best[0] - 1e-9 or (miss < best[0] + 1e-9 and cost < best[1] - 1e-9):
            best[0] = miss
            best[1] = cost
            best_items[:] = items
            best_count[:] = count
            best_left[:] = left
    return told
