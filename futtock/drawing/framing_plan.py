"""Framing plan and bevel map: where the frames stand, and how much each is bevelled."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from futtock.drawing.figures import degrees, offset
from futtock.drawing.heading import Heading, Scale, bare, room_on, scale_to_fit, titled
from futtock.drawing.signs import long_ring, ring_with
from futtock.framing.frame import Frame
from futtock.lines.surface import Hull
from futtock.sheet.check import scale_bar
from futtock.sheet.hatch import Way, hatched
from futtock.sheet.items import Face, Group, Item, Text, path
from futtock.sheet.labels import Labels
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import BEHIND, CENTRE, EDGE, FREE, LEVEL, RULE, SEEN, Tone
from futtock.sheet.table import Table

Array = NDArray[np.float64]

STATES = ("drawn", "moulded", "laid out", "sawn", "fastened", "standing")
"""States of a frame, in order; the more ink, the nearer to standing."""


def framing_plan(
    hull: Hull,
    frames: Sequence[Frame],
    heading: Heading,
    *,
    states: Mapping[int, str] | None = None,
    doubtful: Sequence[int] = (),
    waterline_mm: float | None = None,
    paper: str = "A3",
) -> Sheet:
    """Profile and half-breadth with every frame on a titled sheet (see :func:`framing_items`)."""
    real = _extent(hull)
    room = room_on(paper)
    scale = scale_to_fit((real[0], real[1] + real[2]), (room[0] - 20, room[1] - 64), heading.show)
    items = framing_items(
        hull, frames, scale, states=states, doubtful=doubtful, waterline_mm=waterline_mm
    )
    x0 = float(hull.u_range[0]) / scale.ratio
    items.append(_bar(heading, scale, (x0, -real[2] / scale.ratio - 46.0)))
    return titled(
        "framing-plan",
        items,
        heading,
        "Framing plan",
        scale,
        paper=paper,
        about=_about(frames),
        notes=[_spacing(frames, heading)],
    )


def framing_picture(
    hull: Hull,
    frames: Sequence[Frame],
    *,
    states: Mapping[int, str] | None = None,
    doubtful: Sequence[int] = (),
    waterline_mm: float | None = None,
    width_mm: float = 240.0,
    links: Mapping[int, str] | None = None,
) -> Sheet:
    """The plan without border for a page; ``links`` gives where each frame's number leads."""
    scale = Scale(_extent(hull)[0] / (width_mm - 16.0), "not to scale")
    items = framing_items(
        hull,
        frames,
        scale,
        states=states,
        doubtful=doubtful,
        waterline_mm=waterline_mm,
        links=links,
    )
    return bare("framing-plan", items, "Framing plan", _about(frames))


def _about(frames: Sequence[Frame]) -> str:
    return (
        f"Framing plan: profile above, half-breadth below, {len(frames)} frames from forward aft."
    )


def _spacing(frames: Sequence[Frame], heading: Heading) -> str:
    x = [f.plane.x_mm for f in frames]
    if len(x) < 2:
        return ""
    steps = np.diff(x)
    low, high = float(steps.min()), float(steps.max())
    said = offset(low, heading.show)
    if high - low > 1.0:
        said += f" to {offset(high, heading.show)}"
    sided = sorted({round(f.plane.sided_mm, 3) for f in frames})
    sizes = " and ".join(offset(s, heading.show) for s in sided)
    return f"{len(frames)} double frames, room and space {said}; each layer sided {sizes}."


def _bounds(hull: Hull) -> tuple[Array, Array]:
    """Rabbet and sheer (n, 3) as the surface has them."""
    u = np.linspace(*hull.u_range, 300)
    lines = [
        hull.surface.derivatives(u, v)[..., 0, :] for v in (hull.trim.low(u), hull.trim.high(u))
    ]
    rabbet, sheer = (np.asarray(p)[np.isfinite(p).all(axis=1)] for p in lines)
    return rabbet, sheer


def _extent(hull: Hull) -> tuple[float, float, float]:
    """Length, greatest height, greatest half-breadth."""
    rabbet, sheer = _bounds(hull)
    body = max(float(sheer[:, 1].max()), *(float(c[:, 1].max()) for c in _widest(hull)))
    return (float(np.ptp(np.r_[rabbet[:, 0], sheer[:, 0]])), float(sheer[:, 2].max()), body)


def _widest(hull: Hull) -> list[Array]:
    """Points over the whole side, for its greatest breadth."""
    u = np.linspace(*hull.u_range, 60)
    low, high = hull.trim.low(u), hull.trim.high(u)
    w = np.linspace(0.0, 1.0, 25)
    v = low[:, None] + (high - low)[:, None] * w
    points = hull.surface.derivatives(np.repeat(u[:, None], 25, axis=1), v)[..., 0, :]
    flat = np.asarray(points).reshape(-1, 3)
    return [flat[np.isfinite(flat).all(axis=1)]]


def framing_items(
    hull: Hull,
    frames: Sequence[Frame],
    scale: Scale,
    *,
    states: Mapping[int, str] | None = None,
    doubtful: Sequence[int] = (),
    waterline_mm: float | None = None,
    links: Mapping[int, str] | None = None,
) -> list[Item]:
    """Profile above, half-breadth below, in paper millimetres from the forward perpendicular.

    Parameters
    ----------
    states
        By frame number, one of :data:`STATES`; other frames are drawn plain.
    doubtful
        Frames that need the eye, ringed.
    """
    r = scale.ratio
    states = states or {}
    links = links or {}
    high, wide = _extent(hull)[1] / r, _extent(hull)[2] / r
    x = np.linspace(*hull.u_range, 300)
    low_y = -18.0
    mid = low_y - 6.0
    out: list[Item] = [Text("Profile", (float(x[0]) / r, high + 5.0), 3.4, Face.WORDS_BOLD)]
    rabbet, sheer = _bounds(hull)
    out.append(path(sheer[:, [0, 2]] / r, SEEN, layer="SHEER"))
    out.append(path(rabbet[:, [0, 2]] / r, EDGE, layer="RABBET"))
    for name, stroke in (("keel top", BEHIND), ("keel", SEEN)):
        if name in hull.profiles:
            z = hull.profiles[name](x)
            kept = np.isfinite(z)
            if kept.sum() > 1:
                line = np.column_stack([x, z])[kept] / r
                out.append(path(line, stroke, layer=name.upper().replace(" ", "-")))
    if waterline_mm is not None:
        ends = [(float(x[0]) / r - 4, waterline_mm / r), (float(x[-1]) / r + 4, waterline_mm / r)]
        out.append(path(ends, LEVEL))
    out.append(path([(float(x[0]) / r - 4, mid), (float(x[-1]) / r + 4, mid)], CENTRE))
    out.append(path(np.column_stack([sheer[:, 0] / r, mid - sheer[:, 1] / r]), SEEN, layer="SHEER"))
    foot = mid - wide - 5.0
    out.append(Text("Half-breadth", (float(x[0]) / r, foot), 3.4, Face.WORDS_BOLD))
    numbered = _numbered(frames, r, doubtful)
    for f in frames:
        state = states.get(f.plane.number, "")
        parts: list[Item] = []
        for ring in _shadows(f, r, mid):
            parts += _inked(ring, state)
        n = f.plane.number
        if n in numbered:
            at = (float(f.plane.x_mm) / r, _NUMBERS)
            parts.append(Text(str(n), at, 2.8, Face.FIGURES_BOLD, "middle", "middle"))
        out.append(Group(tuple(parts), name=str(n), kind="frame", href=links.get(n, "")))
    out += _eyed([float(f.plane.x_mm) / r for f in frames if f.plane.number in doubtful])
    if states:
        out += _key((float(x[0]) / r, foot - 9.0), float(np.ptp(x)) / r)
    return out


_RING_MM = 3.2


def _eyed(places: Sequence[float]) -> list[Item]:
    """A ring round each number that needs the eye; one long ring round neighbours' numbers."""
    out: list[Item] = []
    for run in _runs(places):
        out += long_ring((run[0], _NUMBERS), (run[-1], _NUMBERS), _RING_MM)
        spot = ((run[0] + run[-1]) / 2, _NUMBERS - 7.4)
        out.append(Text("?", spot, 3.6, Face.FIGURES_BOLD, "middle", tone=Tone.RED))
    return out


def _runs(places: Sequence[float]) -> list[list[float]]:
    """Places whose rings would touch, together."""
    runs: list[list[float]] = []
    for at in sorted(places):
        if runs and at - runs[-1][-1] < 2 * _RING_MM + 0.6:
            runs[-1].append(at)
        else:
            runs.append([at])
    return runs


_NUMBERS = -6.0
"""Where the frames' numbers stand, below the base line."""


def _numbered(frames: Sequence[Frame], r: float, doubtful: Sequence[int]) -> set[int]:
    """The frames whose numbers have room: the ends of each ring first, then the others."""
    places = {f.plane.number: float(f.plane.x_mm) / r for f in frames}
    runs = _runs([places[n] for n in places if n in doubtful])
    ends = {at for run in runs for at in (run[0], run[-1])}
    out: dict[int, float] = {}
    for n in sorted(places, key=lambda n: (places[n] not in ends, n not in doubtful, places[n])):
        at = places[n]
        clear = n in doubtful or all(
            not run[0] - _RING_MM - 2.2 < at < run[-1] + _RING_MM + 2.2 for run in runs
        )
        if clear and all(abs(at - b) >= 4.6 for b in out.values()):
            out[n] = at
    return set(out)


def _shadows(f: Frame, r: float, mid: float) -> list[Array]:
    """A frame's outline in profile and in plan, on paper."""
    plane = f.plane
    _, o, u = plane.axes()

    def world(p: Array, s: float) -> Array:
        origin = np.asarray(plane.origin(s))
        placed: Array = origin + p[:, :1] * o + p[:, 1:] * u
        return placed

    fwd = world(f.forward.edge_mm, -plane.sided_mm)
    aft = world(f.aft.edge_mm, plane.sided_mm)
    ends = np.array([fwd[0], fwd[-1], aft[-1], aft[0]])
    top, bottom = ends[[1, 2]], ends[[0, 3]]
    profile = np.array(
        [
            (bottom[0, 0], bottom[0, 2]),
            (top[0, 0], top[0, 2]),
            (top[1, 0], top[1, 2]),
            (bottom[1, 0], bottom[1, 2]),
        ]
    )
    k, j = int(fwd[:, 1].argmax()), int(aft[:, 1].argmax())
    plan = np.array(
        [
            (fwd[0, 0], fwd[0, 1]),
            (fwd[k, 0], fwd[k, 1]),
            (aft[j, 0], aft[j, 1]),
            (aft[0, 0], aft[0, 1]),
        ]
    )
    return [profile / r, np.column_stack([plan[:, 0] / r, mid - plan[:, 1] / r])]


_HATCH: dict[str, Way] = {"laid out": "dots", "sawn": "slants", "fastened": "bars"}


def _inked(ring: Array, state: str) -> list[Item]:
    """A frame's outline with the ink of its state."""
    if state == "standing":
        return [path(ring, EDGE, True, Tone.INK)]
    out: list[Item] = [path(ring, None, True, Tone.WHITE)]
    if state in _HATCH:
        out += hatched(ring, _HATCH[state], 1.1)
    out.append(path(ring, FREE if state == "drawn" else EDGE, True))
    return out


def _key(at: tuple[float, float], wide: float) -> list[Item]:
    """What each ink means, in as many rows as the width asks for."""
    x0, y = at
    x = x0
    out: list[Item] = []
    for state in STATES:
        if x > x0 and x + 29.0 > x0 + max(wide, 29.0):
            x, y = x0, y - 6.0
        ring = np.array([(x, y), (x + 9, y), (x + 9, y + 3.4), (x, y + 3.4)])
        out += _inked(ring, state)
        out.append(Text(state, (x + 11, y + 1.7), 2.8, rise="middle"))
        x += 31.0
    return out


def _bar(heading: Heading, scale: Scale, at: tuple[float, float]) -> Item:
    imperial = heading.show == "imperial"
    unit = 304.8 * 2 if imperial else 1000.0
    words = [f"{2 * k} ft" if imperial else f"{k} m" for k in range(5)]
    return scale_bar(at, unit / scale.ratio, 4, words)


def framing_table(frames: Sequence[Frame], heading: Heading) -> Table:
    """The framing list: number, place, cant, sizes, timbers, largest bevel."""
    rows = []
    for f in frames:
        p = f.plane
        lean = max(float(np.abs(face.lean_deg).max()) for face in (f.forward, f.joint, f.aft))
        depth = np.hypot(*(f.joint.edge_mm - f.joint.inner_mm).T)
        rows.append(
            (
                str(p.number),
                offset(p.x_mm, heading.show),
                degrees(p.cant_deg) if p.cant_deg else "square",
                offset(p.sided_mm, heading.show),
                offset(float(depth[0]), heading.show),
                offset(float(depth[-1]), heading.show),
                offset(float(f.joint.girth_mm[-1]), heading.show),
                str(len(f.timbers)),
                degrees(lean),
            )
        )
    head = ("frame", "joint at", "cant", "sided", "heel", "head", "girth", "timbers", "bevel to")
    return Table(head, tuple(rows), "rrrrrrrrr", "Framing list")


def bevel_map(
    frames: Sequence[Frame],
    heading: Heading,
    *,
    paper: str = "A3",
    levels_deg: Sequence[float] = (),
) -> Sheet:
    """Bevels over the whole vessel: frames along, girth up, a line for each whole bevel.

    The lines join places of equal bevel (chord lean of the forward layer); the frames' girths are
    drawn to a common height, heel below and head above.
    """
    w, h = room_on(paper)
    out, notes = _bevels(frames, w - 30.0, h - 30.0, levels_deg)
    return titled(
        "bevel-map",
        out,
        heading,
        "Bevel map",
        Scale(0, "not to scale"),
        paper=paper,
        about="Lines of equal bevel over all frames, heel to head.",
        notes=notes,
    )


def bevel_picture(
    frames: Sequence[Frame], *, width_mm: float = 240.0, height_mm: float = 110.0
) -> tuple[Sheet, tuple[str, ...]]:
    """The bevel map alone, for a page that has its own heading, and what is to be said of it."""
    out, notes = _bevels(frames, width_mm, height_mm, ())
    about = "Lines of equal bevel over all frames, heel to head."
    return bare("bevel-map", out, "Bevel map", about), tuple(notes)


def _bevels(
    frames: Sequence[Frame], wide: float, tall: float, levels_deg: Sequence[float]
) -> tuple[list[Item], list[str]]:
    x = np.array([f.plane.x_mm for f in frames])
    xs = (x - x.min()) / max(float(np.ptp(x)), 1.0) * wide
    part = np.linspace(0.0, 1.0, 121)
    lean = np.array(
        [
            np.interp(part, f.joint.girth_mm / f.joint.girth_mm[-1], f.layer("f").chord_deg)
            for f in frames
        ]
    )
    out: list[Item] = []
    last = -1e9
    for f, at in zip(frames, xs, strict=True):
        out.append(path([(at, 0.0), (at, tall)], RULE, layer="GRID"))
        if at - last >= 4.6:
            last = float(at)
            number = Text(
                str(f.plane.number), (float(at), -4.0), 2.8, anchor="middle", rise="middle"
            )
            out.append(number)
    out += [
        path([(0.0, 0.0), (wide, 0.0)], EDGE),
        path([(0.0, tall), (wide, tall)], EDGE),
        Text("heel", (-3.0, 0.0), 2.8, anchor="end", rise="middle", tone=Tone.PENCIL),
        Text("head", (-3.0, tall), 2.8, anchor="end", rise="middle", tone=Tone.PENCIL),
        Text("frame", (-3.0, -4.0), 2.8, anchor="end", rise="middle", tone=Tone.PENCIL),
    ]
    if len(frames) > 1:
        out += _contours(lean, xs, part * tall, levels_deg)
    frame, row = divmod(int(np.abs(lean).argmax()), lean.shape[1])
    out += ring_with((float(xs[frame]), float(part[row] * tall)), "", 2.6)
    most = degrees(float(lean[frame, row]))
    notes = [
        "Positive: the hull widens going aft (standing from the forward face). Zero is heavy.",
        f"Largest, ringed: {most} at frame {frames[frame].plane.number}.",
    ]
    return out, notes


def _contours(lean: Array, xs: Array, ys: Array, levels: Sequence[float]) -> list[Item]:
    from futtock.lines.curves_on_hull import trace

    if not len(levels):
        span = max(abs(float(lean.min())), abs(float(lean.max())))
        step = 1.0 if span < 8 else 2.0 if span < 16 else 5.0
        levels = [k * step for k in range(int(lean.min() // step), int(lean.max() // step) + 2)]
    labels = Labels(0.4)
    out: list[Item] = []
    words: list[Item] = []
    for level in levels:
        for line in trace(lean - level):
            p = np.column_stack(
                [
                    np.interp(line[:, 0], np.arange(len(xs)), xs),
                    np.interp(line[:, 1], np.arange(len(ys)), ys),
                ]
            )
            if len(p) < 4:
                continue
            stroke = SEEN if level == 0 else EDGE if level > 0 else BEHIND
            out.append(path(p, stroke, layer="BEVELS"))
            k = len(p) // 2
            spots = [(float(p[j, 0]), float(p[j, 1])) for j in (k, k // 2, k + k // 2, k // 3, -2)]
            text = Text(
                f"{level:g}°", spots[0], 3.0, Face.FIGURES_BOLD, "middle", "middle", halo=Tone.WHITE
            )
            words.append(labels.place(text, spots))
    return [*out, *words]
