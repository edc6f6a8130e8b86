"""Sheets laid on a roll of paper: strips that nest by their own shapes, pages under five metres.

Each drawing is let down onto those already lying, column by column of its own lower edge, so that
curved pieces lie in each other's hollows. What is longer than a page is cut with match marks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused
from futtock.progress import Progress, Report, quiet
from futtock.sheet.check import check_cross
from futtock.sheet.extent import text_corners
from futtock.sheet.items import Arc, Face, Group, Item, Move, Path, Text, flat, moved, path
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import EDGE, RULE, Tone

Array = NDArray[np.float64]
PAGE_MM = 4900.0
_CELL = 5.0
_EDGE_MM = 8.0
_HEAD_MM = 122.0  # room at the head of each page for the check lines


@dataclass(frozen=True, slots=True)
class Rolled:
    """Pages of a roll, and how much paper they take.

    ``places`` gives for each drawing its name, page, shift (dx, dy) of its own paper's lower left
    corner, and turn in degrees, in the page's axes (x along the roll, y across).
    """

    pages: tuple[Sheet, ...]
    places: tuple[tuple[str, int, tuple[float, float], float], ...]
    paper_m: float


def rolled(
    sheets: Sequence[Sheet],
    width_mm: float,
    *,
    gap_mm: float = 6.0,
    page_mm: float = PAGE_MM,
    stretch: tuple[float, float] = (1.0, 1.0),
    report: Report = quiet,
) -> Rolled:
    """The sheets on pages as wide as the roll.

    Parameters
    ----------
    stretch
        Measured length of a printed check line over its true length, along and across the roll.

    Raises
    ------
    Misused
        where a drawing is wider than the roll both ways, or there is nothing to lay.
    """
    if not sheets:
        raise Misused("a roll needs one drawing at least")
    if page_mm > 5000.0 or page_mm < 300.0:
        raise Misused(f"page {page_mm:.0f} mm: expected between 300 mm and 5000 mm")
    pieces = [p for s in sheets for p in cut(s, page_mm - _HEAD_MM - 2 * _EDGE_MM)]
    across = width_mm / stretch[1] if stretch[1] > 1 else width_mm
    room = across - 2 * _EDGE_MM
    shaped = [_Shape(p, gap_mm, room) for p in pieces]
    shaped.sort(key=lambda s: (-s.length, s.sheet.name))
    pages: list[_Strip] = []
    for k, shape in enumerate(shaped):
        report(Progress("roll", k, len(shaped), f"{shape.sheet.name} laid on the roll"))
        spot = None
        for page in pages:
            spot = page.spot(shape)
            if spot is not None:
                page.lay(shape, *spot)
                break
        if spot is None:
            page = _Strip(len(pages), page_mm - 2 * _EDGE_MM, room)
            spot = page.spot(shape)
            if spot is None:
                raise Misused(
                    f"{shape.sheet.name} is {min(shape.sheet.size_mm):.0f} mm wide; "
                    f"a roll of {width_mm:.0f} mm takes {room:.0f} mm"
                )
            page.lay(shape, *spot)
            pages.append(page)
    made = [p.page(width_mm, len(pages), stretch) for p in pages]
    places = tuple(place for p in pages for place in p.places())
    return Rolled(tuple(made), places, sum(s.size_mm[0] for s in made) / 1000.0)


def cut(sheet: Sheet, longest_mm: float, overlap_mm: float = 60.0) -> list[Sheet]:
    """The sheet, or its parts no longer than ``longest_mm`` with match marks in their overlaps.

    The long way is x, or y where the sheet is taller than wide.
    """
    length = max(sheet.size_mm)
    if length <= longest_mm:
        return [sheet]
    axis = int(np.argmax(sheet.size_mm))
    step = longest_mm - overlap_mm
    n = int(np.ceil((length - overlap_mm) / step))
    items = sheet.on_paper()
    parts: list[Sheet] = []
    for k in range(n):
        lo = k * step
        hi = min(lo + longest_mm, length)
        size = [sheet.size_mm[0], sheet.size_mm[1]]
        size[axis] = hi - lo
        by = Move(-lo if axis == 0 else 0.0, -lo if axis == 1 else 0.0)
        window = (0.0, 0.0, size[0], size[1])
        drawn: list[Item] = [Group(tuple(moved(i, by) for i in items), clip_mm=window)]
        for j in range(1, n):
            at = j * step + overlap_mm / 2 - lo
            if 0 < at < size[axis]:
                drawn += _match(axis, at, size[1 - axis], f"{sheet.name} {j}")
        origin = by.point(sheet.origin_mm)
        back = Move(-origin[0], -origin[1])
        drawn = [moved(i, back) for i in drawn]
        name = f"{sheet.name} part {k + 1} of {n}"
        parts.append(
            Sheet(name, (size[0], size[1]), origin, tuple(drawn), sheet.title, sheet.about)
        )
    return parts


def _match(axis: int, at: float, width: float, words: str) -> list[Item]:
    """Match marks at a line square to the long way: ticks from both edges and a diamond each."""
    out: list[Item] = []
    for edge, way in ((0.0, 1.0), (width, -1.0)):
        ends = [(at, edge), (at, edge + way * 14)]
        gem = [
            (at - 3, edge + way * 8),
            (at, edge + way * 4),
            (at + 3, edge + way * 8),
            (at, edge + way * 12),
        ]
        if axis == 1:
            ends, gem = [p[::-1] for p in ends], [p[::-1] for p in gem]
        out += [path(ends, EDGE, layer="REGISTER"), path(gem, EDGE, closed=True, layer="REGISTER")]
    spot = (at + 4, 6.0) if axis == 0 else (6.0, at + 4)
    out.append(Text(f"match {words}", spot, 3.0, layer="REGISTER", halo=Tone.WHITE))
    return out


class _Shape:
    """A sheet's lower and upper edge in columns, for both ways round."""

    def __init__(self, sheet: Sheet, gap: float, room: float) -> None:
        self.sheet = sheet
        turn = 0.0 if sheet.size_mm[0] >= sheet.size_mm[1] and sheet.size_mm[1] <= room else 90.0
        if turn and sheet.size_mm[0] > room >= sheet.size_mm[1]:
            turn = 0.0
        self.ways = [self._way(turn, gap), self._way(turn + 180.0, gap)]
        self.length = len(self.ways[0][1]) * _CELL

    def _way(self, turn: float, gap: float) -> tuple[Move, Array, Array, float]:
        points, boxes = _cloud(self.sheet.on_paper(), Move(turn_deg=turn))
        lo = np.minimum(points.min(0), boxes[:, :2].min(0))
        hi = np.maximum(points.max(0), boxes[:, 2:].max(0))
        n = int(np.ceil((hi[0] - lo[0] + gap) / _CELL)) + 1
        low, high = np.full(n, np.inf), np.full(n, -np.inf)
        c0 = np.floor((boxes[:, 0] - lo[0]) / _CELL).astype(int)
        c1 = np.floor((boxes[:, 2] - lo[0]) / _CELL).astype(int)
        count = c1 - c0 + 1
        which = np.repeat(np.arange(len(c0)), count)
        column = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count) + c0[which]
        np.minimum.at(low, column, boxes[which, 1] - lo[1])
        np.maximum.at(high, column, boxes[which, 3] - lo[1])
        # keep the gap sideways too: each column looks at its neighbours
        pad = max(int(np.ceil(gap / _CELL)), 1)
        grown_low, grown_high = low.copy(), high.copy()
        for k in range(1, pad + 1):
            for a, b in ((slice(k, None), slice(None, -k)), (slice(None, -k), slice(k, None))):
                grown_low[a] = np.minimum(grown_low[a], low[b])
                grown_high[a] = np.maximum(grown_high[a], high[b])
        return (
            Move(-float(lo[0]), -float(lo[1]), turn),
            grown_low,
            grown_high + gap,
            float(hi[1] - lo[1]),
        )


def _cloud(items: Sequence[Item], by: Move) -> tuple[Array, Array]:
    """All points drawn (n, 2) and the boxes (m, 4) of all segments and words, moved."""
    points, boxes = [], []
    for item in flat(items):
        if isinstance(item, Path):
            p = by.points(
                np.vstack([item.points_mm, item.points_mm[:1]]) if item.closed else item.points_mm
            )
            if len(p) > 1:
                boxes.append(np.hstack([np.minimum(p[:-1], p[1:]), np.maximum(p[:-1], p[1:])]))
        else:
            if isinstance(item, Text):
                p = by.points(text_corners(item))
            elif isinstance(item, Arc):
                p = by.points(item.points_mm(0.5))
            else:
                x, y = item.at_mm
                p = by.points(np.array([[x, y], [x + item.size_mm[0], y + item.size_mm[1]]]))
            boxes.append(np.hstack([p.min(0), p.max(0)])[None, :])
        points.append(p)
    if not boxes:
        return np.zeros((1, 2)), np.zeros((1, 4))
    return np.vstack(points), np.vstack(boxes)


class _Strip:
    """One page of the roll while it fills: the height already taken in each column."""

    def __init__(self, index: int, length: float, width: float) -> None:
        self.index = index
        self.width = width
        self.top = np.zeros(int(length / _CELL))
        self.top[: int(_HEAD_MM / _CELL)] = _HEAD_MM  # the check lines stand in this corner
        self.laid: list[tuple[_Shape, Move, float, float]] = []
        self.end = 0.0

    def spot(self, shape: _Shape) -> tuple[int, int, float] | None:
        best: tuple[float, int, int, float] | None = None
        for w, (_, low, high, _) in enumerate(shape.ways):
            n = len(low)
            if n > len(self.top):
                continue
            windows = np.lib.stride_tricks.sliding_window_view(self.top, n)
            filled = np.isfinite(low)
            rest = np.maximum((windows[:, filled] - low[filled]).max(axis=1), 0.0)
            roof = rest + high[filled].max()
            ok = np.flatnonzero(roof <= self.width + 1e-9)
            if not len(ok):
                continue
            # paper lost beneath it, and the paper's length if it lies beyond what is begun
            lost = (rest[:, None] + low[filled] - windows[:, filled]).sum(axis=1)[ok] * _CELL
            longer = np.maximum(_EDGE_MM + (ok + n) * _CELL - self.end, 0.0) * self.width
            cost = lost + longer
            x = int(cost.argmin())
            key = (float(cost[x]), w, int(ok[x]), float(rest[ok[x]]))
            if best is None or key < best:
                best = key
        return None if best is None else best[1:]

    def lay(self, shape: _Shape, way: int, column: int, rest: float) -> None:
        move, low, high, _ = shape.ways[way]
        n = len(low)
        here = self.top[column : column + n]
        filled = np.isfinite(low)
        here[filled] = np.maximum(here[filled], rest + high[filled])
        self.laid.append((shape, move, _EDGE_MM + column * _CELL, _EDGE_MM + rest))
        self.end = max(self.end, _EDGE_MM + (column + n) * _CELL)

    def places(self) -> list[tuple[str, int, tuple[float, float], float]]:
        return [
            (s.sheet.name, self.index, (m.dx_mm + x, m.dy_mm + y), m.turn_deg)
            for s, m, x, y in self.laid
        ]

    def page(self, width: float, of: int, stretch: tuple[float, float]) -> Sheet:
        sx, sy = 1 / stretch[0], 1 / stretch[1]
        drawn: list[Item] = []
        for shape, m, x, y in self.laid:
            by = Move((m.dx_mm + x) * sx, (m.dy_mm + y) * sy, m.turn_deg, sx, sy)
            inner = tuple(moved(i, by) for i in shape.sheet.on_paper())
            drawn.append(Group(inner, name=shape.sheet.name, kind="drawing"))
        length = (self.end + _EDGE_MM) * sx
        words = f"Roll page {self.index + 1} of {of}"
        drawn.append(check_cross((_EDGE_MM + 12, _EDGE_MM), stretch))
        drawn.append(Text(words, (_EDGE_MM + 24, _EDGE_MM + 26), 4.5, Face.FIGURES_BOLD))
        drawn.append(
            Text("Full size. Measure the check lines", (_EDGE_MM + 24, _EDGE_MM + 20), 3.0)
        )
        drawn.append(Text("before you trust this print.", (_EDGE_MM + 24, _EDGE_MM + 16), 3.0))
        frame = [(0.0, 0.0), (length, 0.0), (length, width), (0.0, width)]
        drawn.insert(0, path(frame, RULE, closed=True, layer="ROLL"))
        return Sheet(f"roll-{self.index + 1}", (length, width), (0.0, 0.0), tuple(drawn), words)
