"""A mould full size: outlines of both faces, bevels on their ticks, marks, and its checks.

The sheet's own axes are the mould's: a point of the outline stands on paper where the mould has it.
Along y = 0 runs the tape line from which offsets are pricked through to plywood; corners A to D
carry the two control diagonals.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from futtock.drawing.code import code, code_text
from futtock.drawing.figures import (
    close_length,
    degrees,
    kilograms,
    layer_name,
    length,
    level_name,
    side_name,
    standing,
)
from futtock.drawing.heading import FULL, Heading, titled
from futtock.drawing.signs import (
    along,
    arrow,
    at_length,
    bearing,
    butt,
    lozenge,
    ring_with,
    run_of,
    tick,
    upright,
)
from futtock.moulds.mould import Mould
from futtock.sheet.check import INCH_MM, check_line
from futtock.sheet.items import Arc, Face, Group, Item, Text, box_of, path
from futtock.sheet.labels import Labels
from futtock.sheet.letters import width_mm
from futtock.sheet.sheet import Sheet, fitted
from futtock.sheet.style import BEHIND, EDGE, GRAIN, LEVEL, SEEN, THIN, Tone
from futtock.sheet.table import Table, set_table

Array = NDArray[np.float64]

NOTES = (
    "Heavy line: the face that is up. Dashed: the far face. Degrees are square to the edge:",
    "s standing, the far face lies outside the line; u under, it lies inside.",
    "Paper moves: prick A, B, C, D and the offsets through to plywood and check both diagonals.",
)


_last: tuple[Mould, tuple[Heading, float, float], tuple[Item, ...]] | None = None
# the last mould drawn: a yard's papers want each of them alone, on a roll and in tiles in turn


def mould_items(
    mould: Mould,
    heading: Heading,
    *,
    offsets_every_mm: float = 150.0,
    doubtful_over_mm: float = 2.0,
) -> list[Item]:
    """Everything that is drawn on and about one mould, full size, without border or table.

    Parameters
    ----------
    offsets_every_mm
        Distance of the tape offsets along the tape line.
    doubtful_over_mm
        A standard error of the lines above which the mould says how much wood to leave.
    """
    global _last
    if (
        _last is not None
        and _last[0] is mould
        and _last[1] == (heading, offsets_every_mm, doubtful_over_mm)
    ):
        return list(_last[2])
    out = _composed(mould, heading, offsets_every_mm, doubtful_over_mm)
    _last = (mould, (heading, offsets_every_mm, doubtful_over_mm), tuple(out))
    return out


def _composed(
    mould: Mould, heading: Heading, offsets_every_mm: float, doubtful_over_mm: float
) -> list[Item]:
    up, down = mould.outline_up_mm, mould.outline_down_mm
    labels = Labels(gap_mm=0.8)
    labels.keep_off(up, closed=True)
    labels.keep_off(down, closed=True)
    for line in _control_lines(mould):
        labels.keep_off(line)
    out: list[Item] = [
        path(down, BEHIND, closed=True, layer="OUTLINE-DOWN"),
        path(mould.grain_mm, GRAIN, layer="GRAIN"),
        path(up, SEEN, closed=True, layer="OUTLINE-UP"),
    ]
    out += _ends(mould)
    out += _holes(mould, labels)
    # marks and degrees have their place at the edge; the rest of the lettering gives way to them
    out += _marks(mould, labels, heading)
    out += _bevels(mould, labels)
    out += _controls(mould, heading, labels, offsets_every_mm)
    out += _code(mould, heading, labels)
    out += _lettering(mould, heading, labels, doubtful_over_mm)
    return out


def mould_group(mould: Mould, heading: Heading) -> Sheet:
    """The mould with a table of its tape offsets, on paper just large enough: for a roll."""
    items = mould_items(mould, heading)
    return fitted(
        mould.mark,
        [Group(tuple(items), name=mould.mark, kind="mould"), *_table_beside(mould, heading, items)],
        4.0,
        title=f"{heading.vessel} {mould.mark}".strip(),
        about=_about(mould),
    )


def mould_sheet(mould: Mould, heading: Heading) -> Sheet:
    """The mould on a sheet of its own, full size, with border, title block and check lines."""
    items = mould_items(mould, heading)
    drawn: list[Item] = [Group(tuple(items), name=mould.mark, kind="mould")]
    drawn += _table_beside(mould, heading, items)
    box = box_of(drawn) or (0.0, 0.0, 0.0, 0.0)
    for k, (long, words) in enumerate(((100.0, "100 mm"), (4 * INCH_MM, "4 in"))):
        drawn.append(check_line((box[2] + 10 + 9 * k, box[1]), long, words, way="up"))
    return titled(
        mould.mark,
        drawn,
        heading,
        f"Mould {mould.mark}",
        FULL,
        about=_about(mould),
        notes=NOTES,
        inches=True,
    )


def mould_outline(mould: Mould, heading: Heading) -> Sheet:
    """What a router or a laser wants: outlines, grain, marks and mark, in the mould's own axes."""
    labels = Labels()
    items: list[Item] = [
        path(mould.outline_up_mm, SEEN, closed=True, layer="OUTLINE-UP"),
        path(mould.outline_down_mm, BEHIND, closed=True, layer="OUTLINE-DOWN"),
        path(mould.grain_mm, GRAIN, layer="GRAIN"),
        *_holes(mould, labels),
        *_marks(mould, labels, heading),
        *_bevels(mould, labels),
        _mark_on(mould, labels),
    ]
    return fitted(mould.mark, items, 10.0, title=mould.mark, about=_about(mould))


def offset_table(mould: Mould, heading: Heading, every_mm: float = 150.0) -> Table:
    """Tape offsets: at each length along the tape line, the height of both edges above it."""
    rows = []
    for x in tape_stations(mould, every_mm):
        low, high = edges_at(mould.outline_up_mm, x)
        rows.append(
            (
                f"{x:.0f} mm",
                f"{low:.1f}",
                f"{high:.1f}",
            )
        )
    title = "Tape offsets, mm above the tape line"
    return Table(("along", "lower edge", "upper edge"), tuple(rows), "rrr", title)


def tape_stations(mould: Mould, every_mm: float) -> list[float]:
    """Lengths along the tape line at which offsets are given, both ends included."""
    x0, x1 = float(mould.outline_up_mm[:, 0].min()), float(mould.outline_up_mm[:, 0].max())
    n = int(x1 // every_mm)
    inner = [every_mm * k for k in range(int(x0 // every_mm) + 1, n + 1)]
    return [x for x in inner if x0 + 5 < x < x1 - 5]


def edges_at(ring: Array, x: float) -> tuple[float, float]:
    """Lowest and highest y of a closed ring at x; nan where it does not reach."""
    p, q = ring, np.roll(ring, -1, axis=0)
    between = (np.minimum(p[:, 0], q[:, 0]) <= x) & (np.maximum(p[:, 0], q[:, 0]) >= x)
    between &= p[:, 0] != q[:, 0]
    if not between.any():
        return (float("nan"), float("nan"))
    a, b = p[between], q[between]
    y = a[:, 1] + (b[:, 1] - a[:, 1]) * (x - a[:, 0]) / (b[:, 0] - a[:, 0])
    return (float(y.min()), float(y.max()))


def corners(mould: Mould) -> dict[str, Array]:
    """Corners of the up face: A, B of the outer edge heel and head, C, D of the inner."""
    outer, inner = mould.edges
    return {"A": outer.up_mm[0], "B": outer.up_mm[-1], "C": inner.up_mm[0], "D": inner.up_mm[-1]}


def _about(mould: Mould) -> str:
    face = "joint face" if _joint_up(mould) else "face"
    return (
        f"Full-size mould of timber {mould.mark}, {layer_name(mould.layer)}, "
        f"{side_name(mould.side)}; {mould.up} {face} up."
    )


def _joint_up(mould: Mould) -> bool:
    return mould.layer is not None and (mould.up == "aft") == (mould.layer == "f")


def _facts(mould: Mould, heading: Heading) -> list[str]:
    style = heading.show
    said = [
        f"{heading.vessel} frame {mould.frame}, {layer_name(mould.layer)}, {side_name(mould.side)}"
        if mould.frame is not None
        else f"{heading.vessel} {mould.mark}",
        f"up: {mould.up} face" + (", the joint" if _joint_up(mould) else ""),
        f"sided {length(mould.sided_mm, style)}; {length(mould.length_mm, style)} long",
        f"sweep {length(mould.sweep_mm, style)}; finished {kilograms(mould.mass_kg)}",
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


def _ends(mould: Mould) -> list[Item]:
    outer, inner = mould.edges
    heel = _ring_between(mould, inner.up_mm[0], outer.up_mm[0])
    return [
        path(heel, SEEN, layer="OUTLINE-UP")
        if len(heel) > 2
        else butt(outer.up_mm[0], inner.up_mm[0]),
        butt(outer.up_mm[-1], inner.up_mm[-1]),
    ]


def _ring_between(mould: Mould, a: Array, b: Array) -> Array:
    """The shorter way round the up outline from one of its points to another."""
    ring = mould.outline_up_mm
    i = int(np.hypot(*(ring - a).T).argmin())
    j = int(np.hypot(*(ring - b).T).argmin())
    n = len(ring)
    ahead, back = (j - i) % n, (i - j) % n
    steps = np.arange(ahead + 1) if ahead <= back else -np.arange(back + 1)
    return ring[(i + steps) % n]


def _holes(mould: Mould, labels: Labels) -> list[Item]:
    out: list[Item] = []
    size = next((p.size_mm for p in mould.labels if p.kind == "hole"), 0.0) or 19.05
    for x, y in np.asarray(mould.holes_mm).reshape(-1, 2).tolist():
        r = size / 2
        out.append(Arc((x, y), r, EDGE, layer="HOLES"))
        out += [
            path([(x - r - 3, y), (x + r + 3, y)], THIN, layer="HOLES"),
            path([(x, y - r - 3), (x, y + r + 3)], THIN, layer="HOLES"),
        ]
        labels.taken((x - r - 2, y - r - 2, x + r + 2, y + r + 2))
    return out


def _outward(mould: Mould, edge: int, p: Array, tangent: Array) -> Array:
    """Unit normal of an edge at a point, away from the wood."""
    other = mould.edges[1 - edge].up_mm
    n = np.array([-tangent[1], tangent[0]])
    across = other[int(np.hypot(*(other - p).T).argmin())] - p
    return n if n @ across < 0 else -n


def _bevels(mould: Mould, labels: Labels) -> list[Item]:
    """Ticks outside both edges with degrees on them, clear of the far face's line."""
    out: list[Item] = []
    outer = mould.edges[0]
    index = np.arange(len(outer.at_mm), dtype=float)
    for k, m in enumerate(mould.marks):
        at = float(np.interp(m.at_mm, outer.at_mm, index))
        for e, deg in ((0, m.outer_deg), (1, m.inner_deg)):
            edge = mould.edges[e]
            run = run_of(edge.up_mm)
            here = float(np.interp(at, index, run))
            # a tick at the very corner would be taken for the butt
            here = float(np.clip(here, 0.0, run[-1]))
            p, t = at_length(edge.up_mm, run, here)
            n = _outward(mould, e, p, t)
            far = np.array([np.interp(at, index, edge.down_mm[:, c]) for c in (0, 1)])
            beyond = max(float((far - p) @ n), 0.0)
            mark = tick(p, n, 5.0, layer="BEVEL-MARKS")
            out.append(mark)
            hand = standing(mould.up, edge.name, deg)
            if _repeats(mould, k, e):
                # the same figure a hand's breadth on says nothing; the tick is enough
                continue
            words = degrees(deg) + {"standing": " s", "under": " u", "square": ""}[hand]
            size = 4.2 if e == 0 else 3.4
            turn = upright(bearing(t))
            # 7 mm is clear of the tick; where the far face runs through, stand beyond it
            reach = max(8.5, beyond + 4.0 + size / 2 if beyond > 3.0 else 0.0)
            places = []
            slides = (0.0, 6.0, -6.0, 12.0, -12.0)
            for further, off in [(f, o) for f in (0.0, 5.0, 10.0) for o in slides]:
                c = p + n * (reach + further) + t * off
                places.append(
                    Text(
                        words,
                        (float(c[0]), float(c[1])),
                        size,
                        Face.FIGURES_BOLD,
                        "middle",
                        "middle",
                        turn,
                    )
                )
            ends = k in (0, len(mould.marks) - 1)
            if ends:
                inward = t if k == 0 else -t
                c = p + n * reach + inward * 8.0
                places.insert(0, replace(places[0], at_mm=(float(c[0]), float(c[1]))))
            labels.keep_off([p, p + n * 5.0])
            out.append(labels.place(places[0], places))
    return out


def _repeats(mould: Mould, k: int, edge: int) -> bool:
    """True where a mark has the same degrees, near by, as the one before it."""
    if k == 0:
        return False
    a, b = mould.marks[k - 1], mould.marks[k]
    before, here = (a.outer_deg, b.outer_deg) if edge == 0 else (a.inner_deg, b.inner_deg)
    return b.at_mm - a.at_mm < 40.0 and degrees(before) == degrees(here) and before * here >= 0


def _marks(mould: Mould, labels: Labels, heading: Heading) -> list[Item]:
    """Sirmarks, level lines, sheer, ribbands, butts of the other layer: on the wood, named."""
    out: list[Item] = []
    wood = _Wood(mould)
    for mark in mould.labels:
        if mark.kind not in ("sirmark", "level", "sheer", "ribband", "centre", "butt"):
            continue
        p = np.asarray(mark.at_mm, float)
        t = np.radians(mark.direction_deg)
        way = np.array([np.cos(t), np.sin(t)])
        if mark.kind in ("level", "sheer"):
            end = wood.across(p, way)
            line = [p, end]
            out.append(path(line, LEVEL, layer="LEVEL"))
            out.append(lozenge((p + end) / 2, mark.direction_deg))
            labels.keep_off(line)
            words = level_name(mark.text, heading.show).replace(" above base", "")
        elif mark.kind == "butt":
            end = wood.across(p, way)
            out.append(path([p, end], BEHIND, layer="BUTT-OTHER"))
            labels.keep_off([p, end])
            words = mark.text
        else:
            reach = 14.0 if mark.kind == "sirmark" else 10.0
            end = p + way * reach
            out.append(path([p, end], SEEN, layer="MARKS"))
            if mark.kind == "sirmark":
                side = np.array([-way[1], way[0]])
                gem = [p + way * 3 + side * 2.4, p + way * 7, p + way * 3 - side * 2.4]
                out.append(path(gem, SEEN, closed=True, layer="MARKS"))
            labels.keep_off([p, end])
            words = mark.text
        along_it = upright(mark.direction_deg)
        s = np.array([-way[1], way[0]])
        places = []
        for inset in (18.0, 26.0, 12.0, 36.0, 48.0):
            for beside in (3.4, -3.4, 4.8, -4.8):
                c = p + way * inset + s * beside
                places.append(
                    Text(
                        words,
                        (float(c[0]), float(c[1])),
                        4.0,
                        Face.FIGURES,
                        "middle",
                        "middle",
                        along_it,
                    )
                )
        out.append(labels.place(places[0], places))
    return out


class _Wood:
    """Where a line from a point of the edge leaves the up face."""

    def __init__(self, mould: Mould) -> None:
        import shapely

        self.area = shapely.Polygon(mould.outline_up_mm).buffer(0)

    def across(self, p: Array, way: Array) -> Array:
        import shapely

        line = shapely.LineString([p + way * 0.01, p + way * 4000.0])
        inside = shapely.intersection(self.area, line)
        parts = [
            g for g in shapely.get_parts(inside) if g.geom_type == "LineString" and g.length > 0
        ]
        if not parts:
            return p + way * 20.0
        near = min(parts, key=lambda g: g.distance(shapely.Point(p)))
        xy = shapely.get_coordinates(near)
        return np.asarray(xy[np.hypot(*(xy - p).T).argmax()])


def _controls(mould: Mould, heading: Heading, labels: Labels, every: float) -> list[Item]:
    """Corners, control diagonals with their lengths, and the tape line with its ticks."""
    out: list[Item] = []
    c = corners(mould)
    out += [path(line, THIN, layer="CONTROL") for line in _control_lines(mould)]
    for a, b in (("A", "D"), ("C", "B")):
        p, q = c[a], c[b]
        span = float(np.hypot(*(q - p)))
        said = f"{a}–{b} {span:.1f} mm"
        if heading.show == "imperial":
            said += f" ({close_length(span, 'imperial')})"
        line = np.array([p + (q - p) * f for f in np.linspace(0, 1, 41)])
        words = Text(said, (0, 0), 3.0, halo=Tone.WHITE)
        out.append(along(labels, words, line, 0.3 * span if a == "A" else 0.72 * span, 3.0, 15))
    middle = mould.grain_mm[len(mould.grain_mm) // 2]
    for name, p in c.items():
        out.append(Arc((float(p[0]), float(p[1])), 0.9, None, Tone.INK, layer="CONTROL"))
        out += labels.beside(
            Text(name, (0, 0), 4.0, Face.FIGURES_BOLD),
            (float(p[0]), float(p[1])),
            bearing(p - middle),
        )
    x0, x1 = float(mould.outline_up_mm[:, 0].min()), float(mould.outline_up_mm[:, 0].max())
    for x in [x0, *tape_stations(mould, every), x1]:
        out.append(path([(x, 0.0), (x, -3.0)], THIN, layer="CONTROL"))
        text = Text(f"{x:.0f}", (x, -5.4), 2.6, anchor="middle", rise="middle", layer="CONTROL")
        out.append(labels.place(text, [(x, -5.4), (x, -8.4), (x, -11.6), (x, -15.0)]))
    return out


def _control_lines(mould: Mould) -> list[Array]:
    """Both control diagonals and the tape line."""
    c = corners(mould)
    x = mould.outline_up_mm[:, 0]
    tape = np.array([[x.min(), 0.0], [x.max(), 0.0]])
    return [np.array([c["A"], c["D"]]), np.array([c["C"], c["B"]]), tape]


def _code(mould: Mould, heading: Heading, labels: Labels) -> list[Item]:
    """The print's code on the wood, 22 mm and its white, where it covers nothing; else none."""
    if not heading.revision:
        return []
    side, white = 22.0, 5.0
    run = run_of(mould.grain_mm)
    from shapely import Polygon, box

    wood = Polygon(mould.outline_up_mm).intersection(Polygon(mould.outline_down_mm))
    for part in (0.15, 0.85, 0.22, 0.78, 0.3, 0.7, 0.1, 0.9, 0.4, 0.6):
        p, _ = at_length(mould.grain_mm, run, part * float(run[-1]))
        x, y = float(p[0]) - side / 2, float(p[1]) - side / 2
        around = (x - white, y - white, x + side + white, y + side + white)
        if wood.contains(box(*around)) and labels.crowded(around) == 0:
            labels.taken(around)
            return [code(code_text(mould.mark, heading.revision, heading.link), (x, y), side)]
    return []


def _mark_on(mould: Mould, labels: Labels) -> Text:
    """The piece mark along the timber, as near its middle as there is room."""
    run = run_of(mould.grain_mm)
    room = _depth_at_middle(mould)
    size = float(np.clip(0.2 * room, 6.0, 14.0))
    text = Text(mould.mark, (0, 0), size, Face.FIGURES_BOLD, halo=Tone.WHITE)
    return along(labels, text, mould.grain_mm, 0.5 * run[-1], 0.0, 15)


def _depth_at_middle(mould: Mould) -> float:
    outer, inner = mould.edges
    k = len(outer.up_mm) // 2
    return float(np.hypot(*(outer.up_mm[k] - inner.up_mm[k])))


def _lettering(mould: Mould, heading: Heading, labels: Labels, doubtful: float) -> list[Item]:
    out: list[Item] = []
    run = run_of(mould.grain_mm)
    total = float(run[-1])
    out.append(_mark_on(mould, labels))
    for kind, at in (("heel", 0.07), ("head", 0.93)):
        text = Text(kind.upper(), (0, 0), 5.0, Face.FIGURES_BOLD, halo=Tone.WHITE)
        out.append(along(labels, text, mould.grain_mm, at * total, 0.0))
    by_kind = {p.kind: p for p in mould.labels}
    room = _depth_at_middle(mould)
    for kind, at in (("up", 0.2), ("out", 0.8)):
        label = by_kind.get(kind)
        if label is None:
            continue
        out += _way(
            mould, labels, label.text, label.direction_deg, at * total, min(0.22 * room, 22.0)
        )
    facts = _facts(mould, heading)
    if heading.revision:
        facts.append(f"revision {heading.revision}" + (f", {heading.date}" if heading.date else ""))
    out += _block(facts, mould, labels, room)
    if mould.doubt_mm > doubtful:
        leave = f"lines in doubt: leave {2 * mould.doubt_mm:.0f} mm on the outer edge"
        text = Text(leave, (0, 0), 3.6, Face.FIGURES_BOLD, tone=Tone.RED, halo=Tone.WHITE)
        placed = along(labels, text, mould.grain_mm, 0.55 * total, 0.3 * room, 15)
        out.append(placed)
        outer = mould.edges[0].up_mm
        out += ring_with(outer[len(outer) // 2], "?", 5.0)
    return out


def _block(lines: Sequence[str], mould: Mould, labels: Labels, room: float) -> list[Item]:
    """Lines of words one under another along the timber, all together where they are free."""
    grain = mould.grain_mm
    run = run_of(grain)
    size, step = 3.2, 4.3
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


def _way(
    mould: Mould, labels: Labels, words: str, way_deg: float, at: float, size: float
) -> list[Item]:
    """An arrow on the wood with its word at the tip, where it is free."""
    run = run_of(mould.grain_mm)
    best: tuple[int, list[Item]] | None = None
    for k in range(11):
        shift = 0.04 * run[-1] * ((k + 1) // 2) * (1 if k % 2 else -1)
        s = float(np.clip(at + shift, 0.08 * run[-1], 0.92 * run[-1]))
        p, _ = at_length(mould.grain_mm, run, s)
        t = np.radians(way_deg)
        u = np.array([np.cos(t), np.sin(t)])
        tail = p - u * size / 2
        tip = p + u * (size / 2 + 2.6)
        text = Text(
            words,
            (float(tip[0]), float(tip[1])),
            3.2,
            Face.FIGURES_BOLD,
            "middle",
            "middle",
            halo=Tone.WHITE,
        )
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


def _table_beside(mould: Mould, heading: Heading, items: Sequence[Item]) -> list[Item]:
    """The offsets as a small table in the emptiest corner of the mould's own rectangle."""
    table = offset_table(mould, heading)
    probe, height = set_table(table, (0.0, 0.0), 2.6)
    w = (box_of(probe) or (0.0, 0.0, 0.0, 0.0))[2]
    box = box_of(items) or (0.0, 0.0, 0.0, 0.0)
    labels = Labels(gap_mm=3.0)
    labels.keep_off_items(items)
    spot = labels.free_spot(box, (w, height))
    if spot is None:
        return set_table(table, (box[0] + 2, box[1] - 4.0), 2.6)[0]
    return set_table(table, (spot[0], spot[1] + height), 2.6)[0]
