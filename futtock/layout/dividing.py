"""Butts chosen with the rack in view: each frame's division and the layout, found together.

A frame may be butted in many legal ways (:func:`futtock.framing.divide.divisions`). A division that
is hard on this pile may be exchanged for another: its timbers are taken off their slabs, those of
the other are laid in what room there is, and the exchange stands where the timbers left over and
the slabs begun come to no more. Between exchanges slabs are emptied and filled again.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from futtock.framing.build import division_of, redivided
from futtock.framing.divide import Division, divisions
from futtock.framing.frame import Frame
from futtock.framing.settings import FramingSettings
from futtock.layout.islands import Island, begin, new_island, rules_of
from futtock.layout.problem import Problem
from futtock.moulds.flat import moulds as lay_flat
from futtock.moulds.mould import Mould
from futtock.moulds.settings import MouldSettings
from futtock.progress import Progress, Report, quiet

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

EACH = 5  # divisions tried of a frame, besides its own
MOVES = 600
_AGAIN = 0.25  # share of moves that change no division
_REACH = 14  # slabs on which the timbers of an exchange are tried
_DEAR = 6.0  # a square metre left over counts as so many of slab begun


@dataclass(frozen=True)
class Choice:
    """One way to divide one frame, and its timbers as numbers into :attr:`Choices.moulds`."""

    division: Division
    moulds: tuple[int, ...]


@dataclass(frozen=True)
class Choices:
    """The ways that every frame may be divided; the first of each is the one it has.

    ``moulds`` are marked by their piece mark and a number, as ``5-S-f1@2``: one mould serves
    every division in which a timber runs between the same two places.
    """

    frames: tuple[Frame, ...]
    of: tuple[tuple[Choice, ...], ...]
    moulds: tuple[Mould, ...]

    def marks(self, chosen: Sequence[int]) -> list[str]:
        """The moulds' marks of a choice for every frame."""
        return [
            self.moulds[j].mark
            for options, c in zip(self.of, chosen, strict=True)
            for j in options[c].moulds
        ]


@dataclass(frozen=True)
class Divided:
    """What was chosen: an option number a frame, and the divisions.

    ``short_m2`` timbers that the search itself left over, with the frames' own divisions and with
    those chosen; ``changed`` frames by number.
    """

    chosen: tuple[int, ...]
    divisions: tuple[Division, ...]
    changed: tuple[int, ...]
    short_m2: tuple[float, float]


def plain_mark(mark: str) -> str:
    """The piece mark of a mould among choices."""
    return mark.partition("@")[0]


def choices(
    frames: Sequence[Frame],
    framing: FramingSettings,
    flat: MouldSettings,
    report: Report = quiet,
    *,
    each: int = EACH,
    held: Collection[int] = (),
) -> Choices:
    """The divisions to choose among.

    A frame whose butts the builder states keeps them, and so do frames that are ``held``. Both
    sides of a frame are divided alike, so that one pattern serves them.
    """
    stated = {d.frame for d in framing.divisions} | set(held)
    found: list[tuple[Choice, ...]] = []
    moulds: list[Mould] = []
    for done, frame in enumerate(frames):
        report(Progress("dividing frames", done, len(frames), f"frame {frame.number}"))
        own = division_of(frame)
        ways = [own]
        if frame.number not in stated and own.port is None:
            ways += spread_out(divisions(frame, framing, most=24), own, each)
        number: dict[tuple[str, str, float, float], int] = {}
        options = []
        for way in ways:
            cut = frame if way is own else redivided(frame, way, framing)
            key = {
                t.mark: (t.layer, t.side, *np.round(t.girth_mm, 1).tolist()) for t in cut.timbers
            }
            new = [t for t in cut.timbers if key[t.mark] not in number]
            for m in lay_flat([replace(cut, timbers=tuple(new))], flat) if new else ():
                number[key[m.mark]] = len(moulds)
                moulds.append(replace(m, mark=f"{m.mark}@{len(moulds)}", same_as=None))
            options.append(Choice(way, tuple(number[key[t.mark]] for t in cut.timbers)))
        found.append(tuple(options))
    return Choices(tuple(frames), tuple(found), tuple(moulds))


def spread_out(ways: Sequence[Division], own: Division, each: int) -> list[Division]:
    """``each`` divisions that differ: of every count of butts and start, the best first."""
    kinds: dict[tuple[int, int], list[Division]] = {}
    for way in ways:
        if (way.forward, way.aft) != (own.forward, own.aft):
            kinds.setdefault((len(way.forward), len(way.aft)), []).append(way)
    out: list[Division] = []
    turn = 0
    while len(out) < each and any(len(k) > turn for k in kinds.values()):
        out += [k[turn] for k in kinds.values() if len(k) > turn]
        turn += 1
    return out[:each]


def divide_for(
    problem: Problem,
    options: Choices,
    report: Report = quiet,
    *,
    moves: int = MOVES,
    seed: int = 0,
) -> Divided:
    """Choose a division for every frame so that the pile gives the most and the least is begun.

    Parameters
    ----------
    problem
        All moulds of ``options``, tried on the slabs.
    moves
        Exchanges tried; the same choice every time for one seed.
    """
    search = _Exchange(problem, options, seed)
    before = search.short()
    best, best_cost, best_short = tuple(search.chosen), search.cost(), before
    for move in range(moves):
        if not report(Progress("dividing for the rack", move, moves, search.says())):
            break
        search.move(1.0 - move / moves)
        if search.cost() < best_cost - 1e-9:
            best, best_cost, best_short = tuple(search.chosen), search.cost(), search.short()
    return Divided(
        best,
        tuple(o[c].division for o, c in zip(options.of, best, strict=True)),
        tuple(f.number for f, c in zip(options.frames, best, strict=True) if c),
        (before, best_short),
    )


class _Exchange:
    """A layout of one choice of divisions, changed a frame at a time."""

    def __init__(self, problem: Problem, options: Choices, seed: int) -> None:
        self.problem, self.options = problem, options
        self.rng = np.random.default_rng([seed, 11])
        self.rules = rules_of(problem.settings)
        number = {m.mark: j for j, m in enumerate(problem.moulds)}
        patterns = len(problem.patterns.area)
        # a mould that cannot be used is wanted all the same: it is left over wherever it is chosen
        self.wants = [
            [
                np.bincount(
                    [
                        problem.member[number[options.moulds[j].mark]].pattern
                        for j in option.moulds
                        if options.moulds[j].mark in number
                    ],
                    minlength=patterns,
                ).astype(np.int64)
                for option in ways
            ]
            for ways in options.of
        ]
        self.chosen = [0] * len(options.of)
        demand = np.sum([w[0] for w in self.wants], axis=0).astype(np.int64)
        self.island: Island = new_island(problem, demand, seed)
        begin(problem, self.island, demand, self.rules)
        fits = problem.poses.ok.sum(1)
        self.dear = problem.patterns.area * (100.0 / np.maximum(fits, 0.3)) ** 0.6
        self.every = np.arange(len(problem.slabs))

    def short(self) -> float:
        """Area of timbers left over, m2."""
        return float(self.island.left @ self.problem.patterns.area)

    def cost(self) -> float:
        """What is left over and begun, in m2 of slab; fewer timbers where these are even."""
        begun = float(self.problem.ground.cost[self.island.count > 0].sum())
        timbers = sum(len(o[c].moulds) for o, c in zip(self.options.of, self.chosen, strict=True))
        return _DEAR * self.short() + begun + 1e-3 * timbers

    def says(self) -> str:
        """How far it has come."""
        changed = sum(c > 0 for c in self.chosen)
        begun = int((self.island.count > 0).sum())
        return (
            f"{int(self.island.left.sum())} timbers left over, {begun} slabs begun, "
            f"{changed} frames divided otherwise"
        )

    def move(self, heat: float) -> None:
        """One exchange, or what is left over laid in again; kept where it costs no more, or little
        more while ``heat`` (1 at first, 0 at last) lasts.
        """
        island = self.island
        kept = (island.items.copy(), island.count.copy(), island.left.copy(), list(self.chosen))
        before = self.cost()
        # now and then only what is left over is laid in, on other slabs than were tried before
        again = bool(self.island.left.any()) and self.rng.random() < _AGAIN
        self._lay_in(np.empty(0, np.int64) if again else self._exchange())
        self._eke(4)
        allowed = 0.06 * heat * float(self.rng.exponential())
        if self.cost() > before + allowed:
            island.items[:], island.count[:], island.left[:] = kept[:3]
            self.chosen = kept[3]

    def _exchange(self) -> Ints:
        """Take another division of a frame; the slabs that its old timbers leave."""
        island, rng = self.island, self.rng
        owed = np.array(
            [float(w[c] @ (island.left > 0)) for w, c in zip(self.wants, self.chosen, strict=True)]
        )
        odds = owed + 0.15
        odds[[len(w) < 2 for w in self.wants]] = 0.0
        if odds.sum() <= 0.0:
            return np.empty(0, np.int64)
        f = int(rng.choice(len(odds), p=odds / odds.sum()))
        own = self.chosen[f]
        others = [o for o in range(len(self.wants[f])) if o != own]
        price = np.array([float(self.wants[f][o] @ self.dear) for o in others])
        odds = np.exp(-3.0 * (price - price.min()) / max(float(price.mean()), 1e-9))
        new = others[int(rng.choice(len(others), p=odds / odds.sum()))]
        change = self.wants[f][new] - self.wants[f][own]
        self.chosen[f] = new
        touched = []
        for i in np.flatnonzero(change < 0):
            for _ in range(-int(change[i])):
                if island.left[i] > 0:
                    island.left[i] -= 1
                else:
                    touched.append(self._take_off(int(i)))
        island.left[change > 0] += change[change > 0]
        return np.unique(np.array(touched, np.int64))

    def _take_off(self, i: int) -> int:
        """Take one timber of a pattern off a slab, one of the emptiest; that slab."""
        island = self.island
        where = np.argwhere(
            (island.items[:, :, 0] == i)
            & (np.arange(island.items.shape[1]) < island.count[:, None])
        )
        k, j = where[np.argmin(island.count[where[:, 0]])]
        last = island.count[k] - 1
        island.items[k, j:last] = island.items[k, j + 1 : last + 1]
        island.count[k] = last
        return int(k)

    def _lay_in(self, touched: Ints) -> None:
        """Lay what is left over where there is room: touched slabs, others begun, new ones."""
        from futtock.layout import filling

        island, problem = self.island, self.problem
        useful = problem.poses.ok[island.left > 0].any(0)
        begun = island.count > 0
        rest = self.every[useful & begun]
        fresh = self.every[useful & ~begun]
        order = [*touched.tolist(), *self.rng.permutation(rest).tolist()[:_REACH]]
        order += self.rng.permutation(fresh).tolist()[: _REACH // 2]
        key = problem.poses.worth[1]
        for k in order:
            if not island.left.any():
                return
            kept = int(island.count[k])
            out = island.items[k]
            island.count[k] = filling.fill(
                problem.patterns, problem.ground, problem.poses, k, island.left, key, 0.2,
                self.rules.end, self.rules.grain, 1, 24, self.rules.gap, island.top,
                island.bottom, out, kept, island.state,
            )  # fmt: skip
            for j in range(kept, int(island.count[k])):
                island.left[int(out[j, 0])] -= 1

    def _eke(self, moves: int) -> None:
        from futtock.layout import piles

        island, problem = self.island, self.problem
        begun = self.every[island.count > 0]
        if not len(begun) or not island.left.any():
            return
        items, count = island.items[begun].copy(), island.count[begun].copy()
        piles.eked_out(
            problem.patterns, problem.ground, problem.poses, self.rules, begun, island.left, moves,
            island.top, island.bottom, island.state, items, count,
        )  # fmt: skip
        island.items[begun], island.count[begun] = items, count
