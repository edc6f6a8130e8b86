"""The lines plan as the trade draws it: sheer plan over half-breadth plan, body plan to the right.

The bow is to the left. The sheer plan shows buttocks as curves, the half-breadth plan waterlines
and, below its centre line, diagonals; in the body plan the fore body stands to the right of the
centre line and the after body to the left. Each grid line is named at its end.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from futtock.drawing.figures import offset
from futtock.drawing.heading import (
    Heading,
    Scale,
    bare,
    room_on,
    scale_to_fit,
    titled,
)
from futtock.drawing.signs import at_length, bearing, run_of, upright
from futtock.lines.curves_on_hull import buttock, diagonal, section, waterline
from futtock.lines.surface import Hull
from futtock.sheet.check import scale_bar
from futtock.sheet.items import Face, Group, Item, Text, path
from futtock.sheet.labels import Labels
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import BEHIND, CENTRE, EDGE, RULE, SEEN, THIN, Stroke, Tone
from futtock.vessel.table import Diagonal, OffsetTable

Array = NDArray[np.float64]
_BESIDE_MM = 25.0  # how far a faired edge may run from the points it was read by


@dataclass(frozen=True)
class LinesData:
    """The curves of a lines plan, in the vessel's millimetres, starboard.

    ``stations``, ``waterlines``, ``buttocks`` by name with the plane's place; curves are lists of
    (n, 3) polylines, one list a plane. ``bounds`` are the lines that stations do not give: rabbet,
    sheer, keel and the ends, each (n, 3).
    """

    stations: Mapping[str, float]
    waterlines: Mapping[str, float]
    buttocks: Mapping[str, float]
    diagonals: Mapping[str, Diagonal]
    sections: Mapping[str, list[Array]]
    level_curves: Mapping[str, list[Array]]
    buttock_curves: Mapping[str, list[Array]]
    diagonal_curves: Mapping[str, list[Array]]
    bounds: Mapping[str, Array] = field(default_factory=dict)

    @property
    def box(self) -> tuple[float, float, float, float]:
        """x0, x1, greatest half-breadth, height of the sheer."""
        every = [c for g in (self.sections, self.bounds) for v in g.values() for c in _listed(v)]
        points = np.vstack(every)
        x, y, z = points.T
        return (float(x.min()), float(x.max()), float(y.max()), float(z.max()))


def _listed(value: object) -> list[Array]:
    return value if isinstance(value, list) else [value]  # type: ignore[list-item]


def lines_data(hull: Hull, table: OffsetTable) -> LinesData:
    """All curves of a lines plan: the planes of the table of offsets cut through the fair hull."""
    stations = dict(zip(table.stations, (float(x) for x in table.x_mm), strict=True))
    waterlines = {
        r.at.removeprefix("waterline "): r.at_mm for r in table.rows if r.what == "waterline"
    }
    buttocks = {r.at.removeprefix("buttock "): r.at_mm for r in table.rows if r.what == "buttock"}
    bounds: dict[str, Array] = {}
    u = np.linspace(*hull.u_range, 400)
    for name, v in (("rabbet", hull.trim.low(u)), ("sheer", hull.trim.high(u))):
        points = np.asarray(hull.surface.derivatives(u, v)[..., 0, :])
        bounds[name] = points[np.isfinite(points).all(axis=1)]
    x = np.linspace(bounds["rabbet"][0, 0], bounds["rabbet"][-1, 0], 400)
    for name in ("keel", "keel top"):
        if name in hull.profiles:
            z = hull.profiles[name](x)
            kept = np.isfinite(z)
            if kept.sum() > 1:
                bounds[name] = np.column_stack([x, np.zeros_like(x), z])[kept]
    edges = _trimmed_edges(hull)
    for name, points in table.ends.items():
        given = np.asarray(points, float)
        bounds[name] = given if name.startswith("sheer") else _faired_along(given, edges)
    return LinesData(
        stations,
        waterlines,
        buttocks,
        dict(table.diagonals),
        {n: section(hull, x) for n, x in stations.items()},
        {n: waterline(hull, z) for n, z in waterlines.items()},
        {n: buttock(hull, y) for n, y in buttocks.items()},
        {n: diagonal(hull, d) for n, d in table.diagonals.items()},
        bounds,
    )


def _trimmed_edges(hull: Hull) -> Array:
    """Points (n, 3) all along the faired rabbet and transom's edge; none where she has no such."""
    parts = getattr(hull.trim, "parts", ())
    if not parts:
        return np.empty((0, 3))
    uv = np.concatenate(parts)
    return np.asarray(hull.surface.derivatives(uv[:, 0], uv[:, 1])[..., 0, :], float)


def _faired_along(given: Array, edges: Array) -> Array:
    """The stretch of her faired edges that runs along an end line; the line itself if none does.

    What was read are a few points a hand's breadth apart; drawn, they would show as facets.
    """
    steps = np.diff(given, axis=0)
    long = (steps**2).sum(axis=1)
    if not len(edges) or not len(steps) or not long.all():
        return given
    away = edges[:, None, :] - given[None, :-1, :]
    share = np.clip((away * steps).sum(axis=-1) / long, 0.0, 1.0)
    off = np.linalg.norm(away - share[..., None] * steps, axis=-1)
    nearest = off.argmin(axis=1)
    k = np.arange(len(edges))
    start = np.r_[0.0, np.cumsum(np.sqrt(long))]
    along = start[nearest] + share[k, nearest] * np.sqrt(long)[nearest]
    mine = off[k, nearest] < _BESIDE_MM
    if mine.sum() < 3 * len(given):
        return given
    order = np.argsort(along[mine], kind="stable")
    return np.asarray(edges[mine][order])


def lines_plan(
    data: LinesData, heading: Heading, *, paper: str | None = "A2", scale: Scale | None = None
) -> Sheet:
    """The three plans on one sheet.

    Parameters
    ----------
    paper
        A paper to fit on; None: as large as the scale needs.
    scale
        None: the largest trade scale that fits.
    """
    x0, x1, wide, high = data.box
    if scale is None:
        room = room_on(paper or "A2")
        # body plan to the right, names at all ends
        real = ((x1 - x0) + 2 * wide, high + 2.3 * wide)
        scale = scale_to_fit(real, (room[0] - 92.0, room[1] - 70.0), heading.show)
    items = lines_items(data, heading, scale)
    about = (
        f"Lines plan of {heading.vessel}: sheer plan, half-breadth plan and body plan with "
        f"{len(data.stations)} stations, {len(data.waterlines)} waterlines, "
        f"{len(data.buttocks)} buttocks, {len(data.diagonals)} diagonals."
    )
    return titled(
        "lines-plan", items, heading, "Lines plan", scale, paper=paper, about=about,
        notes=["To the surface as measured. Heights above base, half-breadths from centre."],
    )  # fmt: skip


def lines_picture(data: LinesData, heading: Heading, *, width_mm: float = 300.0) -> Sheet:
    """The three plans without border, for a page."""
    x0, x1, wide, _ = data.box
    scale = Scale(((x1 - x0) + 2 * wide) / (width_mm - 70.0), "not to scale")
    items = lines_items(data, heading, scale, bar=False)
    return bare("lines-plan", items, f"Lines plan of {heading.vessel}".strip())


def profile_picture(data: LinesData, heading: Heading, *, width_mm: float) -> Sheet:
    """Sheer plan over half-breadth plan, so wide, for a page; names without room are left out."""
    x0, x1, wide, _ = data.box
    r = (x1 - x0) / (width_mm - 26.0)
    room = Labels(0.5)
    items = _sheer(data, heading, r, room)
    items += _half_breadth(data, heading, r, -(wide / r + 26.0), room)
    title = f"Lines plan of {heading.vessel}".strip()
    about = "Sheer plan above, half-breadth plan with the diagonals below; bow to the left."
    return bare("lines-plan", items, title, about)


def body_picture(data: LinesData, heading: Heading, *, width_mm: float) -> Sheet:
    """The body plan alone, so wide, for a page; names without room are left out."""
    r = 2 * data.box[2] / (width_mm - 32.0)
    items = _body(data, heading, r, 0.0, Labels(0.5))
    return bare("body-plan", items, f"Body plan of {heading.vessel}".strip())


def body_plan(
    data: LinesData, heading: Heading, *, paper: str | None = "A3", scale: Scale | None = None
) -> Sheet:
    """The body plan alone."""
    _, _, wide, high = data.box
    if scale is None:
        room = room_on(paper or "A3")
        scale = scale_to_fit((2 * wide, high), (room[0] - 60.0, room[1] - 30.0), heading.show)
    items = _body(data, heading, scale.ratio, 0.0)
    items += [_bar(heading, scale, (-wide / scale.ratio, -16.0))]
    return titled("body-plan", items, heading, "Body plan", scale, paper=paper)


def lines_items(data: LinesData, heading: Heading, scale: Scale, bar: bool = True) -> list[Item]:
    """The three plans in millimetres of paper: origin at the forward perpendicular on the base."""
    _, x1, wide, _ = data.box
    r = scale.ratio
    below = -(wide / r + 26.0)
    out: list[Item] = []
    out += _sheer(data, heading, r)
    out += _half_breadth(data, heading, r, below)
    out += _body(data, heading, r, x1 / r + 42.0 + wide / r)
    if bar:
        out.append(_bar(heading, scale, (x1 / r + 42.0, below - 6.0)))
    return out


def _bar(heading: Heading, scale: Scale, at: tuple[float, float]) -> Item:
    imperial = heading.show == "imperial"
    unit = 304.8 if imperial else 500.0
    words = [f"{k} ft" if imperial else f"{k / 2:g} m" for k in range(5)]
    return scale_bar(at, unit / scale.ratio, 4, words)


def _curve(
    points: Array, r: float, a: int, b: int, dx: float, dy: float, sign: float = 1.0
) -> Array:
    return np.column_stack([points[:, a] / r * sign + dx, points[:, b] / r + dy])


def _grid(
    ends: Array,
    stroke: Stroke,
    words: str,
    at: tuple[float, float],
    anchor: str,
    room: Labels | None,
) -> list[Item]:
    text = Text(words, at, 2.6, anchor=anchor, rise="middle", tone=Tone.PENCIL)  # type: ignore[arg-type]
    return [path(ends, stroke, layer="GRID"), *_roomy(text, room)]


def _roomy(text: Text, room: Labels | None) -> list[Item]:
    """A name where it has room among the others; on paper (None) all are written."""
    if room is None:
        return [text]
    return [] if room.collisions(text)[1] else [room.put(text)]


def _sheer(data: LinesData, heading: Heading, r: float, room: Labels | None = None) -> list[Item]:
    x0, x1, _, high = data.box
    a, b, top = x0 / r - 6, x1 / r + 6, high / r + 6
    out: list[Item] = [path([(a, 0.0), (b, 0.0)], EDGE, layer="BASE")]
    out += _roomy(
        Text("base", (a - 1.5, 0.0), 2.6, anchor="end", rise="middle", tone=Tone.PENCIL), room
    )
    out.append(Text("Sheer plan", (x0 / r, top + 7.0), 4.2, Face.WORDS_BOLD))
    for name, x in data.stations.items():
        out += [path([(x / r, -2.0), (x / r, top)], RULE, layer="GRID")]
        number = Text(name, (x / r, top + 2.6), 2.6, anchor="middle", rise="middle")
        out += _roomy(number, room)
    for name, z in data.waterlines.items():
        out += _grid(
            np.array([(a, z / r), (b, z / r)]), RULE,
            f"wl {name}" if heading.show == "imperial" else offset(z, "metric"),
            (a - 1.5, z / r), "end", room,
        )  # fmt: skip
    for name, curves in data.buttock_curves.items():
        for c in curves:
            out.append(
                Group(
                    (path(_curve(c, r, 0, 2, 0, 0), THIN, layer="BUTTOCKS"),),
                    name=f"buttock {name}",
                )
            )
    labels = Labels(0.4)
    for c in data.bounds.values():
        labels.keep_off(_curve(c, r, 0, 2, 0, 0))
    for name, curves in data.buttock_curves.items():
        for c in curves[:1]:
            p = _curve(c, r, 0, 2, 0, 0)
            out += _on_curve(labels, p, f"b {name}", (0.0, 1.0), room)
    for name, c in data.bounds.items():
        stroke = {"sheer": SEEN, "rabbet": EDGE, "keel top": BEHIND}.get(name, SEEN)
        out.append(path(_curve(c, r, 0, 2, 0, 0), stroke, layer=name.upper().replace(" ", "-")))
    return out


def _on_curve(
    labels: Labels, p: Array, words: str, parts: tuple[float, ...], room: Labels | None
) -> list[Item]:
    """A curve's name at one of its ends, beyond the line itself."""
    trials = []
    for part in parts:
        k = 0 if part == 0.0 else len(p) - 1
        other = p[min(k + 3, len(p) - 1)] if k == 0 else p[max(k - 3, 0)]
        d = p[k] - other
        d = d / max(float(np.hypot(*d)), 1e-9)
        n = np.array([-d[1], d[0]])
        for off in (0.0, 3.0, -3.0, 5.5, -5.5, 8.0, -8.0):
            c = p[k] + d * 4.5 + n * off
            trials.append(
                Text(
                    words,
                    (float(c[0]), float(c[1])),
                    2.6,
                    anchor="middle",
                    rise="middle",
                    tone=Tone.PENCIL,
                    halo=Tone.WHITE,
                )
            )
    text = labels.place(trials[0], trials)
    return [text] if room is None else _roomy(text, room)


def _named_on_curves(curves: Mapping[str, list[Array]], edges: list[Array]) -> list[Item]:
    """Each curve's name set into it where it stands clear of all other lines."""
    out: list[Item] = []
    placed: list[Text] = []
    for name, parts in curves.items():
        if not parts:
            continue
        labels = Labels(0.3)
        for other, lines in curves.items():
            if other != name:
                for c in lines:
                    labels.keep_off(c)
        for c in edges:
            labels.keep_off(c)
        for text in placed:
            labels.put(text)
        line = max(parts, key=len)
        run = run_of(line)
        trials = []
        for part in (0.5, 0.42, 0.58, 0.34, 0.66, 0.26, 0.74, 0.18, 0.82, 0.12, 0.88, 0.93):
            p, t = at_length(line, run, part * float(run[-1]))
            at = (float(p[0]), float(p[1]))
            turn = upright(bearing(t))
            trials.append(
                Text(name, at, 2.5, Face.FIGURES, "middle", "middle", turn, Tone.PENCIL, Tone.WHITE)
            )
        text = labels.place(trials[0], trials)
        if labels.collisions(text)[0] == 0:
            placed.append(text)
            out.append(text)
    return out


def _half_breadth(
    data: LinesData, heading: Heading, r: float, dy: float, room: Labels | None = None
) -> list[Item]:
    x0, x1, wide, _ = data.box
    a, b = x0 / r - 6, x1 / r + 6
    out: list[Item] = [path([(a, dy), (b, dy)], CENTRE)]
    out += _roomy(
        Text("centre", (a - 1.5, dy), 2.6, anchor="end", rise="middle", tone=Tone.PENCIL), room
    )
    deep = _deepest(data) / r
    out.append(Text("Half-breadth plan", (x0 / r, dy + wide / r + 5.0), 4.2, Face.WORDS_BOLD))
    for x in data.stations.values():
        out += [path([(x / r, dy - deep - 3), (x / r, dy + wide / r + 3)], RULE, layer="GRID")]
    for name, y in data.buttocks.items():
        ends = np.array([(a, dy + y / r), (b, dy + y / r)])
        words = f"b {name}" if heading.show == "imperial" else offset(y, "metric")
        out += _grid(ends, RULE, words, (a - 1.5, dy + y / r), "end", room)
    drawn = {
        f"wl {name}": [_curve(c, r, 0, 1, 0, dy) for c in curves]
        for name, curves in data.level_curves.items()
    }
    for curves in drawn.values():
        out += [path(c, THIN, layer="WATERLINES") for c in curves]
    edges = [
        _curve(data.bounds[name], r, 0, 1, 0, dy)
        for name in ("sheer", "rabbet")
        if name in data.bounds
    ]
    out += _named_on_curves(drawn, edges)
    labels = Labels(0.4)
    for line in (np.array([(a, dy), (b, dy)]), *edges):
        labels.keep_off(line)
    for name in ("sheer", "rabbet"):
        if name in data.bounds:
            out.append(
                path(_curve(data.bounds[name], r, 0, 1, 0, dy), SEEN if name == "sheer" else EDGE)
            )
    laid = {
        name: [
            np.column_stack([c[:, 0] / r, dy - _along(c, data.diagonals[name]) / r]) for c in curves
        ]
        for name, curves in data.diagonal_curves.items()
    }
    for curves in laid.values():
        for p in curves:
            labels.keep_off(p)
            out.append(path(p, THIN, layer="DIAGONALS"))
    for name, curves in laid.items():
        if curves:
            out += _on_curve(labels, max(curves, key=len), f"diagonal {name}", (1.0, 0.0), room)
    if data.diagonal_curves:
        out.append(Text("Diagonals, rabatted", (x0 / r, dy - deep - 7.0), 3.2, Face.WORDS_BOLD))
    return out


def _along(c: Array, plane: Diagonal) -> Array:
    """Distance along a diagonal plane from the centreline."""
    s = np.radians(plane.slope_deg)
    out: Array = c[:, 1] * np.cos(s) + (c[:, 2] - plane.height_mm) * np.sin(s)
    return out


def _deepest(data: LinesData) -> float:
    spans = [
        float(_along(c, data.diagonals[n]).max())
        for n, v in data.diagonal_curves.items()
        for c in v
    ]
    return max(spans, default=0.0)


def _body(
    data: LinesData, heading: Heading, r: float, dx: float, room: Labels | None = None
) -> list[Item]:
    """Body plan about a centre line at dx; the fore body to the right."""
    _, _, wide, high = data.box
    half, top = wide / r + 5, high / r + 6
    out: list[Item] = [path([(dx - half, 0.0), (dx + half, 0.0)], EDGE, layer="BASE")]
    out += [path([(dx, -3.0), (dx, top)], CENTRE)]
    out.append(Text("Body plan", (dx - half, top + 7.0), 4.2, Face.WORDS_BOLD))
    out.append(Text("after body", (dx - half, top + 2.0), 2.6, tone=Tone.PENCIL))
    out.append(Text("fore body", (dx + half, top + 2.0), 2.6, anchor="end", tone=Tone.PENCIL))
    for name, z in data.waterlines.items():
        ends = np.array([(dx - half, z / r), (dx + half, z / r)])
        words = f"wl {name}" if heading.show == "imperial" else offset(z, "metric")
        out += _grid(ends, RULE, words, (dx + half + 1.5, z / r), "start", room)
    for name, y in data.buttocks.items():
        for s in (-1.0, 1.0):
            x = dx + s * y / r
            out.append(path([(x, -2.0), (x, top - 3)], RULE, layer="GRID"))
            size = 2.2 if room is None else 2.6
            text = Text(name, (x, -4.0), size, anchor="middle", rise="middle", tone=Tone.PENCIL)
            out += _roomy(text, room)
    for name, plane in data.diagonals.items():
        t = np.radians(plane.slope_deg)
        reach = _deepest(data) * 1.03
        end = (reach * np.cos(t), plane.height_mm + reach * np.sin(t))
        for s in (-1.0, 1.0):
            line = [(dx, plane.height_mm / r), (dx + s * end[0] / r, end[1] / r)]
            out.append(path(line, RULE, layer="GRID"))
            if s > 0:
                spot = (line[1][0] + 1.5, line[1][1] - 1.0)
                out.append(Text(name, spot, 2.6, tone=Tone.PENCIL, halo=Tone.WHITE))
    largest = max(
        data.sections,
        key=lambda n: max((float(c[:, 1].max()) for c in data.sections[n]), default=0.0),
    )
    middle = data.stations[largest]
    labels = Labels(0.3)
    for name, curves in data.sections.items():
        sides = (
            (1.0, -1.0)
            if name == largest
            else ((1.0,) if data.stations[name] < middle else (-1.0,))
        )
        for c in curves:
            for s in sides:
                p = _curve(c, r, 1, 2, dx, 0.0, s)
                out.append(path(p, SEEN if name == largest else EDGE, layer="SECTIONS"))
                head = p[-1]
                text = Text(
                    name,
                    (float(head[0]), float(head[1]) + 2.4),
                    2.6,
                    anchor="middle",
                    rise="middle",
                    halo=Tone.WHITE,
                )
                spots = [
                    (float(head[0]) + s * k, float(head[1]) + 2.2 + up)
                    for up in (0.0, 2.6)
                    for k in (0.0, 2.0, -2.0, 4.0)
                ]
                out.append(labels.place(text, spots))
    for name in ("sheer", "transom edge"):
        if name in data.bounds:
            c = data.bounds[name]
            for s, part in ((1.0, c[:, 0] <= middle), (-1.0, c[:, 0] >= middle)):
                if part.sum() > 1:
                    out.append(path(_curve(c[part], r, 1, 2, dx, 0.0, s), THIN, layer="SHEER"))
    return out
