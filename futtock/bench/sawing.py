"""Saw sheets: the angle and hand of the head at every mark, found from the mould's own geometry.

The timber lies with its up face up; the feeder faces the teeth, so that heel first he looks along
it from head towards heel. The blade passes through both ends of a ruling: its top leans the way
from the lower end to the upper, and its angle is that of the sawn face from square, measured in
the plane square to the edge. No table of hands is used anywhere: left and right come from vectors.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock.bench import kinds
from futtock.bench.cuts import Beyond, Cut, CutMark, SawSheet, Turn
from futtock.bench.head import head_angles, parts, tightest_turn_mm
from futtock.bench.saw import (
    FEEDS,
    FT_MM,
    Feed,
    Hand,
    SawSettings,
    blade_radius,
    twist_limit_deg_ft,
)
from futtock.findings import Finding
from futtock.moulds.mould import Mould, SawnEdge
from futtock.progress import Progress, Report, quiet

Array = NDArray[np.float64]


def saw_sheets(
    moulds: Sequence[Mould], settings: SawSettings, report: Report = quiet
) -> tuple[SawSheet, ...]:
    """A saw sheet for every mould, in order; those done so far where the report says stop."""
    sheets: list[SawSheet] = []
    for done, mould in enumerate(moulds):
        if done % 50 == 0 and not report(Progress("saw sheets", done, len(moulds))):
            break
        sheets.append(saw_sheet(mould, settings))
    return tuple(sheets)


def saw_sheet(mould: Mould, settings: SawSettings) -> SawSheet:
    """The sheet of one timber.

    Findings say where the blade, the head or the twist is past what the saw can do.
    """
    cuts, findings = [], []
    for edge, other in (mould.edges, mould.edges[::-1]):
        for part in parts(edge):
            cut = _cut(mould, edge, other, part, settings)
            cuts.append(cut)
            findings.extend(_doubts(cut, settings))
    if abs(mould.departure_mm) > 0.5:
        way = "proud" if mould.departure_mm > 0 else "short"
        findings.append(
            kinds.RULED.found(
                f"{mould.mark}: the straight cut leaves up to {abs(mould.departure_mm):.1f} mm"
                f" {way} between the faces.",
                line=mould.mark,
            )
        )
    return SawSheet(mould.mark, mould.up, mould.sided_mm, tuple(cuts), tuple(findings))


def _cut(mould: Mould, edge: SawnEdge, other: SawnEdge, part: slice, settings: SawSettings) -> Cut:
    at, heel_first, kept_left = head_angles(edge, other, mould.sided_mm, part)
    marks_at = _marks_at(at, heel_first, settings)
    feed = _feed(np.interp(marks_at, at, heel_first), settings)
    turned = feed == "head first"
    left = -heel_first if turned else heel_first
    kept: Literal["left", "right"] = "left" if kept_left != turned else "right"
    exact = np.interp(marks_at, at, left)
    marks = _marks(marks_at, exact, feed, settings)
    turns = _turns(marks, feed, settings)
    fastest = max((t.deg_ft for t in turns), default=0.0)
    feed_mm_min, crank = _pace(turns, settings)
    biggest = max(marks, key=lambda m: m.deg)
    return Cut(
        mould.mark,
        edge.name,
        feed,
        kept,
        biggest.head,
        marks,
        turns,
        _still(turns),
        float(at[-1] - at[0]),
        tightest_turn_mm(edge, part),
        blade_radius(settings.blade_width_mm, settings.blade_set_mm).radius_mm,
        fastest,
        twist_limit_deg_ft(settings, mould.sided_mm),
        feed_mm_min,
        crank,
        _beyond(at, left, mould.sided_mm, settings),
    )


def _feed(heel_first: Array, settings: SawSettings) -> Feed:
    """Which end meets the teeth first; for one hand, that which keeps the largest angle there."""
    if settings.feed != "one hand":
        return settings.feed
    written = _to_step(heel_first, settings.step_deg)
    biggest = written[np.argmax(np.abs(written))]
    wanted = 1.0 if settings.hand == "left" else -1.0
    return FEEDS[0] if biggest * wanted >= 0 else FEEDS[1]


def _to_step(deg: Array, step: float) -> Array:
    """Degrees to the nearest step, halves away from nothing."""
    rounded: Array = np.sign(deg) * np.floor(np.abs(deg) / step + 0.5) * step
    return rounded


def _marks_at(at: Array, left: Array, settings: SawSettings) -> Array:
    """Even distances from the heel, both ends, and more until no straight line errs too much.

    The line is drawn between the angles as written (to the step), so that rounding counts too.
    """
    every = settings.marks_every_mm
    even = np.arange(np.ceil(at[0] / every), np.ceil(at[-1] / every)) * every
    even = even[(even - at[0] > 5.0) & (at[-1] - even > 5.0)]
    marks = np.concatenate([at[:1], even, at[-1:]])
    for _ in range(len(at)):
        written = _to_step(np.interp(marks, at, left), settings.step_deg)
        off = np.abs(np.interp(at, marks, written) - left)
        worst = int(np.argmax(off))
        if off[worst] <= settings.between_deg:
            break
        marks = np.sort(np.append(marks, at[worst]))
    return marks


def _marks(at: Array, exact: Array, feed: Feed, settings: SawSettings) -> tuple[CutMark, ...]:
    written = _to_step(exact, settings.step_deg)
    order = range(len(at)) if feed == "heel first" else range(len(at) - 1, -1, -1)
    going: Literal["left", "right"] = "left"
    before: float | None = None
    made: dict[int, CutMark] = {}
    for k in order:
        angle = float(written[k])
        if before is None:
            # The first setting is made from square, moving towards its own hand.
            going = "left" if angle >= 0 else "right"
        elif angle != before:
            going = "left" if angle > before else "right"
        before = angle
        head: Hand = "square" if angle == 0 else "left" if angle > 0 else "right"
        scale = settings.head.reading(angle, going)
        made[k] = CutMark(float(at[k]), abs(angle), head, float(exact[k]), scale)
    return tuple(made[k] for k in range(len(at)))


def _turns(marks: tuple[CutMark, ...], feed: Feed, settings: SawSettings) -> tuple[Turn, ...]:
    ordered = marks if feed == "heel first" else marks[::-1]
    made = []
    for a, b in pairwise(ordered):
        change = b.set_left_deg - a.set_left_deg
        way: Hand = "square" if change == 0 else "left" if change > 0 else "right"
        # The rate is that of the exact angles: rounding would make a short stretch look steep.
        rate = abs(b.left_deg - a.left_deg) / abs(b.at_mm - a.at_mm) * FT_MM
        gear = settings.turns_per_deg
        turns = None if gear is None else abs(change) * gear
        made.append(Turn(a.at_mm, b.at_mm, abs(change), turns, way, rate))
    return tuple(made)


def _still(turns: tuple[Turn, ...]) -> tuple[tuple[float, float], ...]:
    """Stretches where the head stands still, joined where they follow one another."""
    joined: list[tuple[float, float]] = []
    for turn in turns:
        if turn.deg:
            continue
        if joined and joined[-1][1] == turn.from_mm:
            joined[-1] = (joined[-1][0], turn.to_mm)
        else:
            joined.append((turn.from_mm, turn.to_mm))
    return tuple(joined)


def _pace(turns: tuple[Turn, ...], settings: SawSettings) -> tuple[float, float | None]:
    """Feed (mm a minute) and the crank's fastest turning (a minute) that go together."""
    if settings.turns_per_deg is None:
        return settings.feed_mm_min, None
    per_mm = max((t.deg_ft for t in turns), default=0.0) / FT_MM * settings.turns_per_deg
    feed = settings.feed_mm_min
    if per_mm > 0:
        feed = min(feed, settings.turns_a_minute / per_mm)
    return feed, feed * per_mm


def _beyond(at: Array, left: Array, sided_mm: float, settings: SawSettings) -> tuple[Beyond, ...]:
    limit = np.where(left > 0, settings.left_deg, settings.right_deg)
    past = np.abs(left) > limit + 1e-9
    if not past.any():
        return ()
    edges = np.flatnonzero(np.diff(np.concatenate([[0], past.astype(int), [0]])))
    found = []
    for first, stop in zip(edges[::2], edges[1::2], strict=True):
        stretch = slice(first, stop)
        k = first + int(np.argmax(np.abs(left[stretch])))
        over = np.tan(np.radians(np.abs(left[k]))) - np.tan(np.radians(limit[k]))
        other = settings.right_deg if left[k] > 0 else settings.left_deg
        found.append(
            Beyond(
                float(at[first]),
                float(at[stop - 1]),
                float(left[k]),
                float(limit[k]),
                float(sided_mm * over),
                bool(abs(left[k]) <= other),
            )
        )
    return tuple(found)


def _doubts(cut: Cut, settings: SawSettings) -> list[Finding]:
    found = []
    where = f"{cut.mark}, {cut.edge} edge"
    if not cut.blade_ok:
        found.append(
            kinds.BLADE_TOO_WIDE.found(
                f"{where}: tightest turn {cut.radius_mm:.0f} mm; a blade"
                f" {settings.blade_width_mm:.0f} mm wide follows {cut.blade_radius_mm:.0f} mm.",
                line=cut.mark,
                read=f"{cut.radius_mm:.0f} mm",
                expected=f"{cut.blade_radius_mm:.0f} mm",
            )
        )
    if not cut.twist_ok:
        found.append(
            kinds.TWIST.found(
                f"{where}: {cut.deg_ft:.1f} degrees a foot; the blade binds from about"
                f" {cut.twist_limit_deg_ft:.1f}.",
                line=cut.mark,
                read=f"{cut.deg_ft:.1f} degrees a foot",
                expected=f"{cut.twist_limit_deg_ft:.1f} degrees a foot",
            )
        )
    for b in cut.beyond:
        hand = "left" if b.worst_deg > 0 else "right"
        help_ = "feed the other end first" if b.other_feed else f"hew up to {b.hew_mm:.1f} mm"
        found.append(
            kinds.HEAD_RANGE.found(
                f"{where}, {b.from_mm:.0f} to {b.to_mm:.0f} mm: {abs(b.worst_deg):.1f} degrees"
                f" {hand}, and the head goes to {b.limit_deg:.1f}; {help_}.",
                line=cut.mark,
                read=f"{abs(b.worst_deg):.1f} degrees",
                expected=f"{b.limit_deg:.1f} degrees",
            )
        )
    return found
