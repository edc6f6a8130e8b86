"""A full-size sheet cut into pages of a small printer, to be laid edge over edge.

Every tile carries registration crosses in its overlap, its name, and check lines of 100 mm and
4 in both ways; the first page is a map. A printer's measured stretch is made good: where it prints
100 mm as 99.7, ``stretch`` is 0.997 and the drawing is laid out by as much larger.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from futtock.errors import Misused
from futtock.sheet.check import INCH_MM, check_line
from futtock.sheet.clip import Near, meets
from futtock.sheet.extent import box_of
from futtock.sheet.items import Box, Face, Group, Item, Move, Path, Text, flat, moved, path
from futtock.sheet.sheet import PAPERS, Sheet
from futtock.sheet.style import EDGE, RULE, SEEN, THIN, Tone

_LEFT, _RIGHT, _LOW, _TOP = 24.0, 8.0, 26.0, 14.0


@dataclass(frozen=True, slots=True)
class Tiling:
    """The pages, with the map first.

    ``places`` gives each tile's name and the box of the sheet (from its lower left corner, mm,
    before stretch) that lies in its window, in the order of ``pages[1:]``.
    """

    pages: tuple[Sheet, ...]
    places: tuple[tuple[str, Box], ...]
    columns: int
    rows: int


def tiled(
    sheet: Sheet,
    paper: str = "A4",
    *,
    overlap_mm: float = 12.0,
    stretch: tuple[float, float] = (1.0, 1.0),
    lying: bool | None = None,
) -> Tiling:
    """The sheet in tiles of a paper (see ``PAPERS``); tiles with nothing on them are left out.

    Parameters
    ----------
    lying
        Paper on its long side; None takes whichever needs fewer tiles.

    Raises
    ------
    Misused
        for an unknown paper, an overlap that leaves no room, or an unbelievable stretch.
    """
    if paper not in PAPERS:
        raise Misused(f"paper {paper!r}: expected one of {', '.join(PAPERS)}")
    if not all(0.95 <= s <= 1.05 for s in stretch):
        raise Misused(f"stretch {stretch}: expected two figures between 0.95 and 1.05")
    if overlap_mm < 6.0:
        raise Misused(f"overlap {overlap_mm:g} mm: expected 6 mm or more, for the crosses")
    lines = _cover(sheet.on_paper())
    ways = (False, True) if lying is None else (lying,)
    grids = [_kept(sheet, lines, paper, way, overlap_mm, stretch) for way in ways]
    fewest = min(range(len(ways)), key=lambda k: len(grids[k][0]))
    (kept, n), lying = grids[fewest], ways[fewest]
    w, h = PAPERS[paper] if not lying else PAPERS[paper][::-1]
    put = Move(sx=1 / stretch[0], sy=1 / stretch[1])
    items = sheet.items if stretch == (1.0, 1.0) else tuple(moved(i, put) for i in sheet.items)
    near = Near(tuple(flat(items)))
    pages = [
        _tile(sheet, name, near, box, (w, h), overlap_mm, stretch, at, n) for name, box, at in kept
    ]
    places = [(name, box) for name, box, _ in kept]
    first = _map(sheet, places, (w, h), paper, stretch)
    return Tiling((first, *pages), tuple(places), int(n[0]), int(n[1]))


def _kept(
    sheet: Sheet,
    lines: np.ndarray,
    paper: str,
    lying: bool,
    overlap: float,
    stretch: tuple[float, float],
) -> tuple[list[tuple[str, Box, tuple[int, int]]], np.ndarray]:
    """Tiles with something on them: name, box of the sheet, (column, row); and the whole grid."""
    w, h = PAPERS[paper] if not lying else PAPERS[paper][::-1]
    win = np.array([w - _LEFT - _RIGHT, h - _LOW - _TOP])
    step = (win - overlap) * np.asarray(stretch)  # of the sheet, from tile to tile
    view = win * np.asarray(stretch)
    if (step <= overlap).any():
        raise Misused(f"overlap {overlap:g} mm leaves no room on {paper}")
    reach = np.asarray(sheet.size_mm) - overlap * np.asarray(stretch)
    n = np.maximum(np.ceil(reach / step).astype(int), 1)
    kept = []
    for row in range(int(n[1]) - 1, -1, -1):
        for col in range(int(n[0])):
            x0, y0 = col * step[0], row * step[1]
            box = (float(x0), float(y0), float(x0 + view[0]), float(y0 + view[1]))
            if meets(lines, box).any():
                kept.append((f"{_letters(int(n[1]) - 1 - row)}{col + 1}", box, (col, row)))
    return kept, n


def _tile(
    sheet: Sheet,
    name: str,
    near: Near,
    box: Box,
    paper: tuple[float, float],
    overlap: float,
    stretch: tuple[float, float],
    at: tuple[int, int],
    n: np.ndarray,
) -> Sheet:
    w, h = paper
    sx, sy = 1 / stretch[0], 1 / stretch[1]
    put = Move(_LEFT - box[0] * sx, _LOW - box[1] * sy, 0.0, sx, sy)
    origin = put.point(sheet.origin_mm)  # the drawing's own, wherever it lies off the page
    window = (_LEFT, _LOW, w - _RIGHT, h - _TOP)
    cut = (
        window[0] - origin[0],
        window[1] - origin[1],
        window[2] - origin[0],
        window[3] - origin[1],
    )
    shown = Group(near.items(cut), clip_mm=cut, kind="tile")
    drawn: list[Item] = []
    x0, y0, x1, y1 = window
    drawn.append(path([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], RULE, closed=True, layer="TILE"))
    half = overlap / 2
    col, row = at
    # the crosses stand in the middle of each overlap, at the same points of the sheet on all tiles
    for cx, xs in ((x0 + half, -1), (x1 - half, 1)):
        for cy, ys in ((y0 + half, -1), (y1 - half, 1)):
            drawn += _cross(cx, cy)
            gx, gy = col + (xs > 0), row + (ys > 0)
            # named in the margin, where nothing is drawn
            margin = y0 - 3.0 if ys < 0 else y1 + 1.2
            name_at = (cx, margin)
            drawn.append(Text(f"+{gx}.{gy}", name_at, 2.2, anchor="middle", layer="TILE"))
    for ok, pts in (
        (col > 0, [(x0 + half, y0), (x0 + half, y0 + 4), (x0 + half, y1 - 4), (x0 + half, y1)]),
        (
            col < n[0] - 1,
            [(x1 - half, y0), (x1 - half, y0 + 4), (x1 - half, y1 - 4), (x1 - half, y1)],
        ),
    ):
        if ok:
            drawn += [path(pts[:2], EDGE, layer="TILE"), path(pts[2:], EDGE, layer="TILE")]
    drawn += [
        check_line((x0, 5.0), 100.0, "100 mm", stretch=stretch[0]),
        check_line((x0, 14.0), 4 * INCH_MM, "4 in", stretch=stretch[0]),
        check_line((20.0, y0), 100.0, "100 mm", way="up", stretch=stretch[1]),
        check_line((11.0, y0), 4 * INCH_MM, "4 in", way="up", stretch=stretch[1]),
        Text(name, (w - _RIGHT, 6.0), 9.0, Face.FIGURES_BOLD, "end"),
        Text(sheet.title or sheet.name, (x0, h - 9.5), 3.6, Face.FIGURES_BOLD),
        Text(
            "Full size. Print at 100 %, never fitted to the page. Lay cross on cross."
            + _said(stretch),
            (x1, h - 9.5),
            2.6,
            anchor="end",
        ),
    ]
    about = f"Tile {name} of {sheet.title or sheet.name}"
    by = Move(-origin[0], -origin[1])
    kept = (shown, *(moved(i, by) for i in drawn))
    return Sheet(f"{sheet.name}-{name}", paper, origin, kept, about, about)


def _cross(x: float, y: float) -> list[Item]:
    return [
        path([(x - 4, y), (x + 4, y)], THIN, layer="REGISTER"),
        path([(x, y - 4), (x, y + 4)], THIN, layer="REGISTER"),
    ]


def _map(
    sheet: Sheet,
    places: list[tuple[str, Box]],
    paper: tuple[float, float],
    name: str,
    stretch: tuple[float, float],
) -> Sheet:
    w, h = paper
    room = np.array([w - 40.0, h - 80.0])
    reach = np.array([b[2:] for _, b in places] or [sheet.size_mm]).max(axis=0)
    scale = float(min(*(room / reach), 1.0))
    put = Move(20.0, 40.0, 0.0, scale, scale)
    drawn: list[Item] = [Text("Map of the tiles", (20, h - 18), 6.0, Face.WORDS_BOLD)]
    drawn.append(Text(sheet.title or sheet.name, (20, h - 25), 3.6, Face.FIGURES_BOLD))
    drawn.append(
        Text(f"{len(places)} pages of {name}, full size." + _said(stretch), (20, h - 30), 3.0)
    )
    drawn += [moved(i, put) for i in flat(sheet.on_paper()) if not isinstance(i, Text)]
    for tile, box in places:
        x0, y0, x1, y1 = (*put.point((box[0], box[1])), *put.point((box[2], box[3])))
        drawn.append(path([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], SEEN, closed=True))
        drawn.append(
            Text(
                tile,
                ((x0 + x1) / 2, (y0 + y1) / 2),
                5.0,
                Face.FIGURES_BOLD,
                "middle",
                "middle",
                halo=Tone.WHITE,
            )
        )
    drawn.append(check_line((20, 12)))
    drawn.append(
        Text(
            "Measure this line first: a print that is not 100 mm long spoils wood.", (125, 13), 2.6
        )
    )
    return Sheet(
        f"{sheet.name}-map", paper, (0.0, 0.0), tuple(drawn), f"Map of {sheet.title or sheet.name}"
    )


def _said(stretch: tuple[float, float]) -> str:
    if stretch == (1.0, 1.0):
        return ""
    return f" Made good for a printer that stretches {stretch[0]:g} across, {stretch[1]:g} up."


def _letters(row: int) -> str:
    out = ""
    row += 1
    while row:
        row, k = divmod(row - 1, 26)
        out = chr(65 + k) + out
    return out


def _cover(items: tuple[Item, ...]) -> np.ndarray:
    """Segments (n, 4) of all that is drawn; words, circles and pictures by their diagonals."""
    rows = []
    for item in flat(items):
        if isinstance(item, Path):
            p = item.points_mm
            if item.closed and len(p):
                p = np.vstack([p, p[:1]])
            if len(p) > 1:
                rows.append(np.hstack([p[:-1], p[1:]]))
        else:
            b = box_of([item])
            if b is not None:
                rows.append(np.array([b, (b[0], b[3], b[2], b[1])]))
    return np.vstack(rows) if rows else np.empty((0, 4))
