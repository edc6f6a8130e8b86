"""The grain of a slab drawn: lines that run along it, broken where the field is not sure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from futtock.drawing.figures import length, mass
from futtock.drawing.heading import Heading, bare, room_on, scale_to_fit, titled
from futtock.sheet.extent import box_of
from futtock.sheet.hatch import Way, hatched
from futtock.sheet.items import Face, Group, Item, Text, path
from futtock.sheet.letters import wrapped
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import BEHIND, EDGE, GRAIN, SEEN, THIN, WANE, Tone
from futtock.stock.grain import GrainField, GrainRaster, grain_field
from futtock.stock.outline import arc_mm, middle_line, normals
from futtock.stock.slab import Slab
from futtock.stock.weight import weight

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Array = NDArray[np.float64]

_STEP_MM = 6.0
_APART_MM = 22.0  # between lines, on the slab
_SURE = 0.5
_DASH_MM, _GAP_MM = 1.2, 1.6  # on paper
_HATCHES: dict[str, Way] = {"knot": "cross", "rot": "slants", "sapwood": "dots", "bark": "dots"}


def grain_sheet(
    slab: Slab,
    heading: Heading,
    seen: GrainRaster | None = None,
    paper: str | None = "A4",
    said: Sequence[str] = (),
) -> Sheet:
    """The slab with its grain, on a titled sheet.

    Lines along the grain are whole where the field is sure and broken where it is not; traced
    lines are drawn in ink. ``seen`` is a field from a photograph, blended in; ``said`` is set
    below the slab, a line or more each.
    """
    span = np.ptp(np.vstack([slab.top_mm, slab.bottom_mm]), axis=0)
    room = room_on(paper) if paper else (380.0, 200.0)
    lines = [piece for text in said for piece in wrapped(text, 2.7, Face.WORDS, room[0] - 8.0)]
    deep = room[1] - 8.0 - 3.8 * len(lines)
    scale = scale_to_fit((float(span[0]), float(span[1])), (room[0], deep), heading.show)
    field = grain_field(slab, seen)
    items = grain_items(slab, scale.ratio, field)
    box = box_of(items)
    if lines and box is not None:
        left = (box[0] + box[2]) / 2 - room[0] / 2 + 4.0
        items += [
            Text(piece, (left, box[1] - 8.0 - 3.8 * k), 2.7, Face.WORDS)
            for k, piece in enumerate(lines)
        ]
    about = f"Slab {slab.name}: its outline, flaws and the lines along which its grain runs."
    name = f"{slab.name}-grain".replace("/", "-")
    notes = _notes(slab, heading, field)
    title = f"slab {slab.name}, grain"
    return titled(name, items, heading, title, scale, paper=paper, about=about, notes=notes)


def grain_page(slab: Slab, width_mm: float = 240.0, seen: GrainRaster | None = None) -> Sheet:
    """The same for a page of the screen, without border, so wide."""
    span = np.ptp(np.vstack([slab.top_mm, slab.bottom_mm]), axis=0)
    items = grain_items(slab, max(float(span[0]) / width_mm, 0.1), grain_field(slab, seen))
    about = f"Slab {slab.name}: its outline, flaws and the lines along which its grain runs."
    return bare(f"{slab.name}-grain".replace("/", "-"), items, f"Slab {slab.name}, grain", about)


def grain_items(slab: Slab, ratio: float, field: GrainField) -> list[Item]:
    """Outline, flaws, grain and traces at 1 : ``ratio``, in the slab's own axes."""
    items: list[Item] = []
    if slab.face_top_mm is not None:
        items.append(path(slab.face_top_mm / ratio, WANE, closed=True, layer="WANE"))
    for run, sure in grain_lines(slab, field):
        if sure:
            items.append(path(run / ratio, GRAIN))
        else:
            items += [path(piece, GRAIN) for piece in _dashes(run / ratio)]
    for flaw in slab.flaws:
        ring = flaw.outline_mm / ratio
        parts: list[Item] = [path(ring, THIN, closed=True, fill=Tone.WHITE, layer="FLAW")]
        parts += hatched(ring, _HATCHES.get(flaw.kind, "bars"), 1.0)
        items.append(Group(tuple(parts), name=flaw.kind, kind="flaw"))
    if not field.guessed:
        items += [path(line / ratio, EDGE, layer="TRACE") for line in slab.grain_mm]
    if slab.bottom_mm is not slab.top_mm:
        items.append(path(slab.bottom_mm / ratio, BEHIND, closed=True, layer="BOTTOM"))
    items.append(path(slab.top_mm / ratio, SEEN, closed=True, layer="TOP"))
    return items


def grain_lines(slab: Slab, field: GrainField) -> list[tuple[Array, bool]]:
    """Lines (n, 2) along the grain within the top's outline, each with whether it is sure.

    They start on the middle line and between, and are stepped along the field by the midpoint
    rule; a line is cut where it leaves the slab, enters a flaw, or its sureness changes.
    """
    import shapely

    ground: BaseGeometry = shapely.Polygon(slab.top_mm)
    for flaw in slab.flaws:
        if len(flaw.outline_mm) > 2:
            ground = ground.difference(shapely.make_valid(shapely.Polygon(flaw.outline_mm)))
    shapely.prepare(ground)
    starts = _starts(slab)
    runs: list[tuple[Array, bool]] = []
    way = np.radians(field.heading_deg)
    ahead = np.array([np.cos(way), np.sin(way)])
    forth, back = (_followed(field, starts, sign * ahead, slab) for sign in (1.0, -1.0))
    tracks = np.concatenate([back[::-1], forth[1:]])
    for k in range(tracks.shape[1]):
        track = tracks[:, k]
        inside = shapely.contains_xy(ground, track[:, 0], track[:, 1])
        sure = field.at(track)[1] >= _SURE
        state = np.where(inside, 1 + sure.astype(int), 0)
        cuts = np.flatnonzero(np.diff(state)) + 1
        for part in np.split(np.arange(len(track)), cuts):
            if state[part[0]] and len(part) > 1:
                # one step more where only the sureness changes, so that the line shows no gap
                joins = part[-1] + 1 < len(track) and inside[part[-1] + 1]
                run = track[part[0] : part[-1] + (2 if joins else 1)]
                runs.append((run, bool(state[part[0]] == 2)))
    return runs


def _starts(slab: Slab) -> Array:
    """Seeds across the slab, on the square to its middle line at its middle."""
    line = middle_line(slab.top_mm)
    k = len(line) // 2
    reach = float(np.hypot(*np.ptp(slab.top_mm, axis=0))) / 2
    off = np.arange(-reach, reach + 1, _APART_MM)
    starts: Array = line[k] + normals(line)[k] * off[:, None]
    return starts


def _followed(field: GrainField, starts: Array, ahead: Array, slab: Slab) -> Array:
    """Tracks (steps, seeds, 2) along the field from the seeds, one way."""
    count = int(1.2 * arc_mm(middle_line(slab.top_mm))[-1] / _STEP_MM) + 2
    at, heading = starts.copy(), np.tile(ahead, (len(starts), 1))
    tracks = [at]

    def along(points: Array) -> Array:
        a = np.radians(field.at(points)[0])
        v = np.column_stack([np.cos(a), np.sin(a)])
        turned: Array = v * np.where((v * heading).sum(1) < 0, -1.0, 1.0)[:, None]
        return turned

    for _ in range(count):
        half = at + 0.5 * _STEP_MM * along(at)
        heading = along(half)
        at = at + _STEP_MM * heading
        tracks.append(at)
    return np.stack(tracks)


def _dashes(run: Array) -> list[Array]:
    s = arc_mm(run)
    starts = np.arange(0.0, s[-1], _DASH_MM + _GAP_MM)
    ends = np.minimum(starts + _DASH_MM, s[-1])

    def at(d: Array) -> Array:
        return np.column_stack([np.interp(d, s, run[:, 0]), np.interp(d, s, run[:, 1])])

    return [np.vstack(pair) for pair in zip(at(starts), at(ends), strict=True)]


def _notes(slab: Slab, heading: Heading, field: GrainField) -> list[str]:
    source = (
        "grain guessed from the outline's middle line: trace a line before a crook is cut"
        if field.guessed
        else f"grain from {len(slab.grain_mm)} traced lines (ink)"
    )
    heavy = weight(slab)
    weighs = f", about {mass(heavy.kg, heading.show)}" if heavy else ""
    wet = "" if slab.moisture_percent is None else f", {slab.moisture_percent:g} % moisture"
    return [
        source,
        "whole lines: sure; broken lines: not sure, look at the wood",
        f"{slab.species}, {length(slab.thickness_mm, heading.show)} thick{wet}{weighs}",
    ]
