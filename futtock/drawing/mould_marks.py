"""What is marked on a mould: ends, holes, bevels on their ticks, sirmarks and levels, its code."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from futtock.drawing.code import code, code_text
from futtock.drawing.figures import (
    degrees,
    level_name,
    standing,
)
from futtock.drawing.heading import Heading
from futtock.drawing.signs import (
    at_length,
    bearing,
    butt,
    lozenge,
    run_of,
    tick,
    upright,
)
from futtock.moulds.mould import Mould
from futtock.sheet.hatch import hatched
from futtock.sheet.items import Arc, Face, Item, Text, path
from futtock.sheet.labels import Labels
from futtock.sheet.letters import width_mm
from futtock.sheet.style import BEHIND, EDGE, FREE, LEVEL, SEEN, THIN, Tone

Array = NDArray[np.float64]


def ends(mould: Mould) -> list[Item]:
    """The ends of the up face: butts heavy, a heel in its own outline."""
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


def holes(mould: Mould, labels: Labels) -> list[Item]:
    """Treenail holes with their centres crossed; no words may lie on them."""
    out: list[Item] = []
    size = next((p.size_mm for p in mould.labels if p.kind == "hole"), 0.0) or 19.05
    for x, y in np.asarray(mould.holes_mm).reshape(-1, 2).tolist():
        r = size / 2
        out.append(Arc((x, y), r, EDGE, layer="HOLES"))
        out += [
            path([(x - r - 3, y), (x + r + 3, y)], THIN, layer="HOLES"),
            path([(x, y - r - 3), (x, y + r + 3)], THIN, layer="HOLES"),
        ]
        labels.taken((x - r - 3, y - r - 3, x + r + 3, y + r + 3))
    return out


def _outward(mould: Mould, edge: int, p: Array, tangent: Array) -> Array:
    """Unit normal of an edge at a point, away from the wood."""
    other = mould.edges[1 - edge].up_mm
    n = np.array([-tangent[1], tangent[0]])
    across = other[int(np.hypot(*(other - p).T).argmin())] - p
    return n if n @ across < 0 else -n


def bevels(mould: Mould, labels: Labels) -> list[Item]:
    """Ticks outside both edges with degrees on them, clear of the far face's line."""
    out: list[Item] = []
    outer = mould.edges[0]
    index = np.arange(len(outer.at_mm), dtype=float)
    runs = [run_of(edge.up_mm) for edge in mould.edges]
    slides = (0.0, 6.0, -6.0, 12.0, -12.0)
    for k, m in enumerate(mould.marks):
        at = float(np.interp(m.at_mm, outer.at_mm, index))
        for e, deg in ((0, m.outer_deg), (1, m.inner_deg)):
            edge = mould.edges[e]
            run = runs[e]
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
            spots = [(reach + f, o) for f in (0.0, 5.0, 10.0) for o in slides]
            if k in (0, len(mould.marks) - 1):
                spots.insert(0, (reach, 8.0 if k == 0 else -8.0))
            said = Text(words, (0.0, 0.0), size, Face.FIGURES_BOLD, "middle", "middle", turn)
            labels.keep_off([p, p + n * 5.0])
            out.append(labels.place(said, [_pair(p + n * away + t * off) for away, off in spots]))
    return out


def _pair(p: Array) -> tuple[float, float]:
    x, y = p.tolist()
    return (x, y)


def _repeats(mould: Mould, k: int, edge: int) -> bool:
    """True where a mark has the same degrees, near by, as the one before it."""
    if k == 0:
        return False
    a, b = mould.marks[k - 1], mould.marks[k]
    before, here = (a.outer_deg, b.outer_deg) if edge == 0 else (a.inner_deg, b.inner_deg)
    return b.at_mm - a.at_mm < 40.0 and degrees(before) == degrees(here) and before * here >= 0


def marks(mould: Mould, labels: Labels, heading: Heading) -> list[Item]:
    """Sirmarks, level lines, sheer, ribbands, butts of the other layer: on the wood, named."""
    out: list[Item] = []
    named: list[tuple[str, Array, float]] = []
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
        named.append((words, p, mark.direction_deg))
    # every line has its place before the first word is set
    out += [_beside_mark(words, p, way_deg, labels) for words, p, way_deg in named]
    return out


def _beside_mark(words: str, p: Array, way_deg: float, labels: Labels) -> Text:
    """The name of a mark along it, on the wood, where it is free."""
    t = np.radians(way_deg)
    way = np.array([np.cos(t), np.sin(t)])
    s = np.array([-way[1], way[0]])
    turn = upright(way_deg)
    half = width_mm(words, 4.0) / 2
    spots = [
        p + way * (half + inset) + s * beside
        for inset in (12.0, 18.0, 8.0, 26.0, 36.0, 48.0, 60.0, 74.0)
        for beside in (3.4, -3.4, 4.8, -4.8, 7.0, -7.0)
    ]
    places = [
        Text(words, _pair(c), 4.0, Face.FIGURES, "middle", "middle", turn, halo=Tone.WHITE)
        for c in spots
    ]
    return labels.place(places[0], places)


_WORK = {"notch": "notch, when assembled", "limber": "limber", "bolts": "keep clear: bolts"}


def heel_lines(mould: Mould, labels: Labels) -> list[Item]:
    """Notch, limber hole and the heel bolts' zone, as far as they lie on the wood."""
    out: list[Item] = []
    for line in mould.work:
        closed = line.kind == "bolts"
        stroke = {"notch": FREE, "limber": SEEN, "bolts": THIN}[line.kind]
        out.append(path(line.points_mm, stroke, closed, layer=line.kind.upper()))
        if closed:
            out += hatched(line.points_mm, "slants", 5.0)
        labels.keep_off(line.points_mm, closed)
    return out


def heel_words(mould: Mould, labels: Labels) -> list[Item]:
    """The names of what is worked at the heel, each once."""
    out: list[Item] = []
    named: set[str] = set()
    middle = mould.outline_up_mm.mean(axis=0)
    for line in mould.work:
        if line.kind in named:
            continue
        named.add(line.kind)
        spot = line.points_mm.mean(axis=0)
        text = Text(_WORK[line.kind], (0.0, 0.0), 3.2, halo=Tone.WHITE)
        out += labels.beside(
            text, _pair(spot), bearing(middle - spot), (4.0, 8.0, 14.0, 22.0, 32.0)
        )
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


def code_on_wood(mould: Mould, heading: Heading, labels: Labels) -> list[Item]:
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
