"""What a mould says in words, and where on the wood it says it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from futtock.drawing.figures import (
    layer_name,
    length,
    mass,
    side_name,
    standing,
)
from futtock.drawing.heading import Heading
from futtock.drawing.mould_look import MouldLook
from futtock.drawing.signs import (
    along,
    arrow,
    at_length,
    bearing,
    ring_with,
    run_of,
    upright,
)
from futtock.moulds.mould import Mould
from futtock.sheet.extent import box_of
from futtock.sheet.items import Face, Item, Text
from futtock.sheet.labels import Labels
from futtock.sheet.letters import shortened, width_mm
from futtock.sheet.style import Tone

Array = NDArray[np.float64]
_FACTS_MM = 3.2
_NAME_MM = 26.0  # of a vessel's name among the facts on the wood; the title block has it whole


def about(mould: Mould) -> str:
    """What the sheet shows, in a sentence."""
    face = "joint face" if _joint_up(mould) else "face"
    return (
        f"Full-size mould of timber {mould.mark}, {layer_name(mould.layer)}, "
        f"{side_name(mould.side)}; {mould.up} {face} up."
    )


def _joint_up(mould: Mould) -> bool:
    return mould.layer is not None and (mould.up == "aft") == (mould.layer == "f")


def facts_of(mould: Mould, heading: Heading) -> list[str]:
    """What the wood's own lettering says, a line each."""
    style = heading.show
    vessel = shortened(heading.vessel, _FACTS_MM, Face.FIGURES, _NAME_MM)
    said = [
        f"{vessel} frame {mould.frame}, {layer_name(mould.layer)}, {side_name(mould.side)}"
        if mould.frame is not None
        else f"{vessel} {mould.mark}",
        f"up: {mould.up} face" + (", the joint" if _joint_up(mould) else ""),
        f"sided {length(mould.sided_mm, style)}; {length(mould.length_mm, style)} long",
        f"sweep {length(mould.sweep_mm, style)}; finished {mass(mould.mass_kg, style)}",
        _bevel_words(mould),
    ]
    if mould.same_as:
        said.append(f"the mould of {mould.same_as}, turned over")
    if abs(mould.departure_mm) > 0.5:
        way = "proud" if mould.departure_mm > 0 else "short"
        said.append(f"the straight cut stands {abs(mould.departure_mm):.1f} mm {way} at worst")
    return said


def _bevel_words(mould: Mould) -> str:
    kinds = {standing(mould.up, "outer", m.outer_deg) for m in mould.marks} - {"square"}
    if not kinds:
        return "outer edge square all along"
    if len(kinds) == 1:
        return f"outer bevel {kinds.pop()} all along"
    return "outer bevel changes hand: mind the letters"


def mark_on(mould: Mould, labels: Labels) -> Text:
    """The piece mark along the timber, as near its middle as there is room."""
    run = run_of(mould.grain_mm)
    room = _depth_at_middle(mould)
    size = float(np.clip(0.2 * room, 6.0, 14.0))
    text = Text(mould.mark, (0, 0), size, Face.FIGURES_BOLD, halo=Tone.WHITE)
    return along(labels, text, mould.grain_mm, 0.5 * run[-1], (0.0, 0.2 * room, -0.2 * room), 15)


def _depth_at_middle(mould: Mould) -> float:
    outer, inner = mould.edges
    k = len(outer.up_mm) // 2
    return float(np.hypot(*(outer.up_mm[k] - inner.up_mm[k])))


def lettering(mould: Mould, heading: Heading, labels: Labels, look: MouldLook) -> list[Item]:
    """Heel and head, arrows, facts, and where the lines are in doubt."""
    out: list[Item] = []
    run = run_of(mould.grain_mm)
    total = float(run[-1])
    room = _depth_at_middle(mould)
    by_kind = {p.kind: p for p in mould.labels}
    for kind, at in (("heel", 0.07), ("head", 0.93)):
        # a floor has no heel: its ends are port and starboard
        said = by_kind[kind].text if kind in by_kind else kind
        text = Text(said.upper(), (0, 0), 5.0, Face.FIGURES_BOLD, halo=Tone.WHITE)
        out.append(
            along(labels, text, mould.grain_mm, at * total, (0.0, 0.25 * room, -0.25 * room), 5)
        )
    for kind, at in (("up", 0.2), ("out", 0.8)):
        label = by_kind.get(kind)
        if label is None:
            continue
        out += _way(
            mould, labels, label.text, label.direction_deg, at * total, min(0.22 * room, 22.0)
        )
    facts = facts_of(mould, heading)
    if look.allowance_mm > 0:
        facts.append(
            f"broken line: blank with {length(look.allowance_mm, heading.show)} left round"
        )
    if heading.revision:
        facts.append(f"revision {heading.revision}" + (f", {heading.date}" if heading.date else ""))
    out += _block(facts, mould, labels, room)
    if mould.leave_mm > 0:
        leave = f"lines in doubt: leave {mould.leave_mm:.0f} mm on the outer edge"
        text = Text(leave, (0, 0), 3.6, Face.FIGURES_BOLD, tone=Tone.RED, halo=Tone.WHITE)
        placed = along(labels, text, mould.grain_mm, 0.55 * total, 0.3 * room, 15)
        out.append(placed)
        where = _least_known(mould)
        worst = mould.edges[0].up_mm[where]
        away = bearing(worst - mould.edges[1].up_mm[where])
        out += ring_with(worst, "", 5.0)
        sign = Text("?", (0, 0), 6.0, Face.FIGURES_BOLD, tone=Tone.RED, halo=Tone.WHITE)
        out += labels.beside(sign, (float(worst[0]), float(worst[1])), away, (6.0, 9.0, 13.0, 18.0))
    return out


def _least_known(mould: Mould) -> int:
    """Point of the outer edge where the lines are least certain; its middle where none says."""
    edge = mould.edges[0].at_mm
    worst = next((d for d in mould.doubts if (d.edge, d.face) == ("outer", "up")), None)
    if worst is None or not len(worst.mm):
        return len(edge) // 2
    return int(np.argmin(np.abs(edge - worst.at_mm[int(np.argmax(worst.mm))])))


def _block(lines: Sequence[str], mould: Mould, labels: Labels, room: float) -> list[Item]:
    """Lines of words one under another along the timber, all together where they are free."""
    grain = mould.grain_mm
    run = run_of(grain)
    size, step = _FACTS_MM, 4.3
    wide = max(width_mm(line, size) for line in lines)
    best: tuple[int, list[Text]] | None = None
    for part in (0.3, 0.7, 0.36, 0.64, 0.24, 0.76, 0.42, 0.58, 0.5, 0.18, 0.82):
        p, t = at_length(grain, run, part * float(run[-1]))
        turn = upright(bearing(t))
        a = np.radians(turn)
        u, v = np.array([np.cos(a), np.sin(a)]), np.array([-np.sin(a), np.cos(a)])
        for high in np.linspace(0.5, -0.5, 9) * max(room - step * len(lines) - 6.0, 0.0):
            corner = p - u * wide / 2 + v * (high + step * len(lines) / 2)
            block = [
                _set(line, corner - v * step * (k + 1), size, turn) for k, line in enumerate(lines)
            ]
            tall = v * step * len(lines)
            foot = corner - tall
            cost = labels.crossed(np.array([foot, foot + u * wide, corner + u * wide, corner]))
            if best is None or cost < best[0]:
                best = (cost, block)
            if cost == 0:
                return [labels.put(text) for text in block]
    assert best is not None
    return [labels.put(text) for text in best[1]]


def _set(words: str, at: Array, size: float, turn: float) -> Text:
    return Text(words, (float(at[0]), float(at[1])), size, angle_deg=turn, halo=Tone.WHITE)


def _beyond(words: str, tip: Array, way: Array) -> Text:
    """A word whose box begins just beyond an arrow's point."""
    high = 3.2
    half = np.array([width_mm(words, high, Face.FIGURES_BOLD) / 2, 0.5 * high])
    x, y = (tip + way * (0.9 + float(np.abs(way) @ half))).tolist()
    return Text(words, (x, y), high, Face.FIGURES_BOLD, "middle", "middle", halo=Tone.WHITE)


def _way(
    mould: Mould, labels: Labels, words: str, way_deg: float, at: float, size: float
) -> list[Item]:
    """An arrow on the wood with its word at the tip, where it is free."""
    run = run_of(mould.grain_mm)
    best: tuple[int, list[Item]] | None = None
    room = _depth_at_middle(mould)
    for k, off in [(k, o) for k in range(21) for o in (0.0, 0.22 * room, -0.22 * room)]:
        shift = 0.04 * run[-1] * ((k + 1) // 2) * (1 if k % 2 else -1)
        s = float(np.clip(at + shift, 0.08 * run[-1], 0.92 * run[-1]))
        p, along_it = at_length(mould.grain_mm, run, s)
        p = p + np.array([-along_it[1], along_it[0]]) * off
        t = np.radians(way_deg)
        u = np.array([np.cos(t), np.sin(t)])
        tail = p - u * size / 2
        tip = p + u * size / 2
        text = _beyond(words, tip, u)
        box = box_of(arrow(tail, way_deg, size))
        assert box is not None
        cost = sum(labels.collisions(text)) + labels.crowded(box)
        if best is None or cost < best[0]:
            best = (cost, [*arrow(tail, way_deg, size, layer="MARKS"), text])
            if cost == 0:
                break
    assert best is not None
    items = best[1]
    labels.keep_off_items(items)
    return items
