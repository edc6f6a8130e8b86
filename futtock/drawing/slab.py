"""A slab drawn with what lies on it: both faces, flaws, grain, placed moulds, transfer grid."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from futtock.drawing.cutting_plan import plan_items, plan_notes
from futtock.drawing.figures import length, mass, offset
from futtock.drawing.grain import grain_items
from futtock.drawing.heading import FULL, Heading, Scale, bare, room_on, scale_to_fit, titled
from futtock.drawing.signs import at_length, bearing, run_of, upright
from futtock.layout.cutting import SlabPlan
from futtock.layout.placement import Placement
from futtock.moulds.mould import Mould
from futtock.sheet.check import scale_bar
from futtock.sheet.extent import box_of
from futtock.sheet.hatch import hatched
from futtock.sheet.items import Anchor, Face, Group, Item, Path, Picture, Text, path
from futtock.sheet.labels import Labels
from futtock.sheet.letters import width_mm
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import BEHIND, CASING, EYE, GRAIN, RULE, SEEN, THIN, WANE, Tone
from futtock.stock.grain import GrainField, grain_field
from futtock.stock.photo.header import read_header
from futtock.stock.slab import Slab

Array = NDArray[np.float64]


def slab_sheet(
    slab: Slab,
    placements: Sequence[Placement],
    moulds: Mapping[str, Mould],
    heading: Heading,
    *,
    paper: str = "A4",
    grid: bool = True,
    portrait: bytes | None = None,
    plan: SlabPlan | None = None,
) -> Sheet:
    """A slab with its placements on a titled sheet, and offsets to lay the moulds down by.

    Parameters
    ----------
    placements
        Placements; those on other slabs are passed over.
    moulds
        By piece mark.
    grid
        Draw the transfer grid: a foot, or 500 mm, along and across from the slab's own axes.
    portrait
        The slab's rectified photograph (JPEG or PNG), to draw over it.
    plan
        How the slab is cut: its base line, rough cuts and offcuts are drawn too.
    """
    here = [p for p in placements if p.slab == slab.name]
    span = np.ptp(_points(slab), axis=0)
    room = room_on(paper)
    scale = scale_to_fit(
        (float(span[0]), float(span[1])), (room[0] - 14, room[1] - 26), heading.show
    )
    field = None if portrait else grain_field(slab)
    items = slab_items(slab, here, moulds, scale.ratio, field, portrait)
    box = box_of(items) or (0.0, 0.0, 0.0, 0.0)
    if grid:
        # over a portrait, which would hide it, and under the wood of a drawing
        under = 1 if portrait else 0
        items[under:under] = _grid(slab, scale, heading)
    if plan is not None:
        items += plan_items(plan, scale.ratio)
        box = box_of(items) or box
    low = float(_points(slab)[:, 0].min()) / scale.ratio
    items.append(_bar(heading, scale, (low, box[1] - 14.0)))
    name = f"{slab.name}-layout".replace("/", "-")
    return titled(
        name,
        items,
        heading,
        f"Slab {slab.name}",
        scale,
        paper=paper,
        about=_about(slab, here),
        notes=[
            *_notes(slab, here, heading, seen=portrait is not None),
            *(plan_notes(plan, heading) if plan is not None else ()),
        ],
    )


def slab_picture(
    slab: Slab,
    placements: Sequence[Placement],
    moulds: Mapping[str, Mould],
    *,
    width_mm: float = 240.0,
    grain: bool = True,
    portrait: bytes | None = None,
    letters_mm: float = 2.6,
    names: bool = True,
) -> Sheet:
    """The slab with its placements, so wide, for a page.

    Parameters
    ----------
    grain
        Draw the grain over the whole slab; without it where many are drawn.
    letters_mm
        The least height of letters.
    names
        Name the flaws, and every timber; without it only timbers as deep as the letters.
    """
    here = [p for p in placements if p.slab == slab.name]
    ratio = max(float(np.ptp(_points(slab)[:, 0])) / width_mm, 0.1)
    field = grain_field(slab) if grain and not portrait else None
    items = slab_items(slab, here, moulds, ratio, field, portrait, letters_mm, names)
    return bare(slab.name.replace("/", "-"), items, f"Slab {slab.name}", _about(slab, here))


def transfer_sheet(
    slab: Slab, placements: Sequence[Placement], moulds: Mapping[str, Mould], heading: Heading
) -> Sheet:
    """The slab full size with its placements, to be laid on the wood (for a roll printer)."""
    here = [p for p in placements if p.slab == slab.name]
    items = slab_items(slab, here, moulds, 1.0, grain_field(slab))
    items = [*_grid(slab, FULL, heading), *items]
    name = f"{slab.name}-transfer".replace("/", "-")
    return titled(
        name,
        items,
        heading,
        f"Slab {slab.name}, transfer",
        FULL,
        about=_about(slab, here),
        notes=_notes(slab, here, heading),
        inches=True,
    )


def slab_items(
    slab: Slab,
    placements: Sequence[Placement],
    moulds: Mapping[str, Mould],
    ratio: float,
    field: GrainField | None,
    portrait: bytes | None = None,
    letters_mm: float = 2.6,
    names: bool = True,
) -> list[Item]:
    """The slab at 1 : ``ratio`` in its own axes: wood, grain, flaws, moulds with their marks.

    ``letters_mm`` and ``names`` are those of :func:`slab_picture`. Over a portrait nothing is
    filled, so that the wood itself is seen within each mould.
    """
    ground = _ground(slab, portrait, ratio) if portrait else None
    if ground is not None:
        out, within = [ground], None
    else:
        out, within = [path(slab.top_mm / ratio, None, True, Tone.OAK)], Tone.OAK
    wood = (
        grain_items(slab, ratio, field) if field else _plain(slab, ratio, seen=ground is not None)
    )
    for item in wood:
        layer = item.layer if isinstance(item, Path) else ""
        if layer == "BOTTOM":
            # what the upper face does not cover of the lower is told by dots alone
            out.append(path(slab.bottom_mm / ratio, WANE, True, layer="BOTTOM"))
        elif layer != "TRACE":
            out.append(item)
    labels = Labels(0.5)
    labels.keep_off(slab.top_mm / ratio, closed=True)
    for flaw in slab.flaws:
        labels.keep_off(flaw.outline_mm / ratio, closed=True)
    for p in placements:
        mould = moulds[p.mark]
        up = p.lay(mould.outline_up_mm) / ratio
        down = p.lay(mould.outline_down_mm) / ratio
        labels.keep_off(up, closed=True)
        out.append(
            Group(
                (
                    path(up, None if within else CASING, True, within),
                    path(down, BEHIND, True, layer="OUTLINE-DOWN"),
                    path(up, SEEN, True, layer="OUTLINE-UP"),
                ),
                name=p.mark,
                kind="placement",
            )
        )
    for p in placements:
        mould = moulds[p.mark]
        line = p.lay(mould.grain_mm) / ratio
        run = run_of(line)
        deep = mould.wide_mm / ratio * 0.5
        most = max(3.6, letters_mm) if ratio > 1 else 12.0
        size = float(np.clip(deep * 0.4, letters_mm, most))
        if not names and (2 * deep < size or run[-1] < width_mm(p.mark, size)):
            continue
        words = p.mark + (" (slab turned over)" if p.mirrored and ratio <= 1.0 else "")
        trials = []
        for part in (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8):
            at, t = at_length(line, run, part * float(run[-1]))
            trials.append(
                Text(
                    words,
                    (float(at[0]), float(at[1])),
                    size,
                    Face.FIGURES_BOLD,
                    "middle",
                    "middle",
                    upright(bearing(t)),
                    halo=Tone.OAK,
                )
            )
        out.append(labels.place(trials[0], trials))
    for flaw in slab.flaws if names else ():
        ring = flaw.outline_mm / ratio
        centre = ring.mean(axis=0)
        reach = float(np.hypot(*(ring - centre).T).max())
        text = Text(flaw.kind, (0, 0), letters_mm, tone=Tone.PENCIL, halo=Tone.OAK)
        spot = (float(centre[0]), float(centre[1]))
        out += labels.beside(text, spot, 0.0, (reach + 0.8, reach + 2.5, reach + 5.0, reach + 9.0))
    return out


def _ground(slab: Slab, portrait: bytes, ratio: float) -> Item | None:
    """The portrait where it lies; None where that is not known, or it is no picture."""
    header = read_header(portrait)
    if slab.portrait_at is None or header.pixels == 0:
        return None
    x, y, mm_per_px = slab.portrait_at
    half = mm_per_px / 2.0  # its lower left pixel's middle lies at x, y
    return Picture(
        portrait,
        ((x - half) / ratio, (y - half) / ratio),
        (header.width * mm_per_px / ratio, header.height * mm_per_px / ratio),
        f"Photograph of slab {slab.name}",
    )


def _plain(slab: Slab, ratio: float, *, seen: bool = False) -> list[Item]:
    """Outlines and flaws without grain; where the wood is ``seen``, flaws by their edges alone."""
    out: list[Item] = [path(line / ratio, GRAIN) for line in slab.grain_mm]
    for flaw in slab.flaws:
        ring = flaw.outline_mm / ratio
        if seen:
            out.append(Group((path(ring, EYE, True, layer="FLAW"),), name=flaw.kind, kind="flaw"))
            continue
        parts: list[Item] = [path(ring, THIN, True, Tone.WHITE, "FLAW")]
        parts += hatched(ring, "cross" if flaw.kind == "knot" else "slants", 1.0)
        out.append(Group(tuple(parts), name=flaw.kind, kind="flaw"))
    out.append(path(slab.bottom_mm / ratio, BEHIND, True, layer="BOTTOM"))
    out.append(path(slab.top_mm / ratio, SEEN, True, layer="TOP"))
    return out


def _points(slab: Slab) -> Array:
    every = [slab.top_mm, slab.bottom_mm]
    every += [f for f in (slab.face_top_mm, slab.face_bottom_mm) if f is not None]
    return np.vstack(every)


def _grid(slab: Slab, scale: Scale, heading: Heading) -> list[Item]:
    """Lines a foot or half a metre apart from the slab's own axes, with their distance."""
    step = 304.8 if heading.show == "imperial" else 500.0
    points = _points(slab)
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    out: list[Item] = []
    r = scale.ratio
    size = 2.4 if r > 1 else 6.0

    def label(words: str, at: tuple[float, float], anchor: Anchor) -> Text:
        """A distance, legible where a portrait lies beneath."""
        return Text(
            words, at, size, Face.FIGURES, anchor, "middle", tone=Tone.PENCIL, halo=Tone.WHITE
        )

    last = -1e9
    for k in range(int(np.floor(x0 / step)), int(np.ceil(x1 / step)) + 1):
        x = k * step / r
        if x0 / r - 1 <= x <= x1 / r + 1:
            out.append(path([(x, y0 / r - 3), (x, y1 / r + 3)], RULE, layer="GRID"))
            words = offset(k * step, heading.show)
            if x - last > width_mm(words, size) + 2.0:
                at = (x, y0 / r - 5)
                out.append(label(words, at, "middle"))
                last = x
    last = -1e9
    for k in range(int(np.floor(y0 / step)), int(np.ceil(y1 / step)) + 1):
        y = k * step / r
        if y0 / r - 1 <= y <= y1 / r + 1:
            out.append(path([(x0 / r - 3, y), (x1 / r + 3, y)], RULE, layer="GRID"))
            if y - last > size * 1.4:
                at = (x0 / r - 4, y)
                words = offset(k * step, heading.show)
                out.append(label(words, at, "end"))
                last = y
    return out


def _bar(heading: Heading, scale: Scale, at: tuple[float, float]) -> Item:
    imperial = heading.show == "imperial"
    unit = 304.8 if imperial else 500.0
    words = [f"{k} ft" if imperial else f"{k / 2:g} m" for k in range(4)]
    return scale_bar(at, unit / scale.ratio, 3, words)


def _about(slab: Slab, here: Sequence[Placement]) -> str:
    marks = ", ".join(p.mark for p in here) or "none"
    return f"Slab {slab.name} of {slab.species}; timbers placed: {marks}."


def _notes(
    slab: Slab, here: Sequence[Placement], heading: Heading, *, seen: bool = False
) -> list[str]:
    worst = max((p.slope_worst for p in here), default=0.0)
    steep = f"steepest grain 1 in {1 / worst:.0f}" if worst > 1e-3 else "grain along every timber"
    turned = [p.mark for p in here if p.mirrored]
    said = [
        f"{slab.species}, {length(slab.thickness_mm, heading.show)} thick"
        + (f", {slab.moisture_percent:g} % moisture" if slab.moisture_percent is not None else ""),
        f"{len(here)} timbers; {steep if here else 'nothing placed'}",
    ]
    if turned:
        said.append("Lay on the underside: " + ", ".join(turned))
    flaws = "Ringed: flaws." if seen else "Hatched: flaws."
    said.append(
        f"Whole line: upper face. Dots: lower face. Dashed: the timber's lower face. {flaws}"
    )
    return said


def cutting_list_rows(
    placements: Sequence[Placement], moulds: Mapping[str, Mould], heading: Heading
) -> tuple[tuple[str, ...], ...]:
    """Rows slab, mark, length, width, finished weight, in the order of slabs."""
    rows = []
    for p in sorted(placements, key=lambda q: (q.slab, q.mark)):
        m = moulds[p.mark]
        rows.append(
            (
                p.slab,
                p.mark,
                length(m.length_mm, heading.show),
                length(m.wide_mm, heading.show),
                mass(m.mass_kg, heading.show),
            )
        )
    return tuple(rows)
