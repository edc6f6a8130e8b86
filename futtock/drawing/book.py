"""The shop book: one document of a vessel, for the yard's shelf and for a surveyor."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from futtock.bench.cautions import cautions
from futtock.bench.fastening import FrameHoles
from futtock.bench.treenails import Fastenings
from futtock.drawing.bevel_board import bevel_table
from futtock.drawing.figures import (
    close_length,
    degrees,
    layer_name,
    length,
    mass,
    offset,
    side_name,
)
from futtock.drawing.floor import check_table, hole_table
from futtock.drawing.frame import frame_picture, plane_words, unrolled_butts
from futtock.drawing.framing_plan import framing_picture, framing_table
from futtock.drawing.heading import Heading, bare
from futtock.drawing.lines_plan import LinesData, lines_picture
from futtock.drawing.slab import slab_picture
from futtock.findings import Finding, told
from futtock.framing.frame import Frame
from futtock.layout.placement import Layout
from futtock.lines.hydrostatics import Hydrostatics
from futtock.lines.judging import FairPoint
from futtock.lines.surface import Hull
from futtock.moulds.mould import Mould
from futtock.progress import Progress, Report, quiet
from futtock.sheet.flow import Block, Break, Figure, Flowed, Head, Para, flowed
from futtock.sheet.table import Table
from futtock.stock.slab import Slab

NOT_A_DESIGN = (
    "This book records geometry and shop figures. Scantlings, fastenings, scarfs and strength are "
    "for discussion with a surveyor, class society or naval architect; nothing here is a design. "
    "Local rules and a competent person come first."
)


@dataclass(frozen=True)
class Book:
    """Everything that a shop book may hold; what is absent is left out of it.

    Attributes
    ----------
    points
        Every figure of the table with what it was faired to.
    stated
        The builder's own statements, as (setting, value) pairs.
    sources
        Where figures come from, a line each.
    log
        What has been done, as (mark, slab, stage, who, when).
    """

    heading: Heading
    hull: Hull | None = None
    lines: LinesData | None = None
    points: tuple[FairPoint, ...] = ()
    hydrostatics: Hydrostatics | None = None
    frames: tuple[Frame, ...] = ()
    moulds: tuple[Mould, ...] = ()
    layout: Layout | None = None
    slabs: Mapping[str, Slab] = field(default_factory=dict)
    holes: Mapping[int, FrameHoles] = field(default_factory=dict)
    fastenings: Fastenings | None = None
    findings: tuple[Finding, ...] = ()
    stated: tuple[tuple[str, str], ...] = ()
    sources: tuple[str, ...] = ()
    log: tuple[tuple[str, str, str, str, str], ...] = ()


def shop_book(book: Book, report: Report = quiet) -> Flowed:
    """The pages of the book, with contents and bookmarks."""
    blocks: list[Block] = []
    chapters = (
        ("general", _general),
        ("lines", _lines),
        ("offsets", _offsets),
        ("framing", _framing),
        ("frames", _frames),
        ("timbers", _timbers),
        ("cutting lists", _cutting),
        ("fastening", _fastening),
        ("log", _log),
        ("cautions", _cautions),
        ("findings", _findings),
        ("sources", _sources),
    )
    for k, (name, chapter) in enumerate(chapters):
        report(Progress("shop book", k, len(chapters), name))
        blocks += chapter(book)
    h = book.heading
    foot = ", ".join(
        p
        for p in (h.vessel, h.date and f"data of {h.date}", h.revision and f"revision {h.revision}")
        if p
    )
    return flowed(
        "shop-book", f"{h.vessel}: shop book".lstrip(": "), blocks, running=h.vessel, foot=foot
    )


def _general(book: Book) -> Iterator[Block]:
    yield Head("Of this book")
    yield Para(NOT_A_DESIGN)
    yield Para(
        "Directions: x aft from the forward perpendicular, half-breadths from the centreline, "
        "heights above the base line. Bevels are square to the edge: standing where the inside "
        "angle is over 90 degrees, under where it is less. Piece marks: frame, side (P port, S "
        "starboard, C across the keel), layer (f forward, a after), number from the keel."
    )
    if book.stated:
        yield Table(("setting", "as stated"), book.stated, "ll", "What the builder states")


def _lines(book: Book) -> Iterator[Block]:
    if book.lines is None:
        return
    yield Head("Lines")
    yield Figure(
        lines_picture(book.lines, book.heading, width_mm=300.0), "Sheer, half-breadth and body plan"
    )
    hs = book.hydrostatics
    if hs is not None:
        yield Table(("what", "figure"), _hydrostatics(hs, book.heading), "lr", "Hydrostatics")


def _hydrostatics(hs: Hydrostatics, heading: Heading) -> tuple[tuple[str, str], ...]:
    style = heading.show
    return (
        ("waterline above base", offset(hs.waterline_mm, style)),
        ("volume to the outside of planking, keel apart", f"{hs.volume_m3:.3f} m³"),
        ("centre of buoyancy aft of the forward perpendicular", offset(hs.lcb_mm, style)),
        ("centre of buoyancy above base", offset(hs.vcb_mm, style)),
        ("waterplane", f"{hs.waterplane_m2:.2f} m²"),
        ("wetted surface", f"{hs.wetted_m2:.2f} m²"),
        ("block, prismatic coefficients", f"{hs.cb:.3f}, {hs.cp:.3f}"),
        ("midship, waterplane coefficients", f"{hs.cm:.3f}, {hs.cw:.3f}"),
    )


def _offsets(book: Book) -> Iterator[Block]:
    if not book.points:
        return
    h = book.heading
    yield Head("Offsets as faired")
    doubtful = [p for p in book.points if p.doubtful]
    yield Para(f"{len(book.points)} figures; {len(doubtful)} doubtful, marked with ?.")
    kinds = ("height", "halfbreadth", "diagonal")
    tabled = [p for p in book.points if p.line.startswith(kinds)]
    stations = list(dict.fromkeys(p.station for p in tabled))
    lines = list(dict.fromkeys(p.line for p in tabled))
    by = {(p.line, p.station): p for p in book.points}
    step = 9
    for k in range(0, len(stations), step):
        some = stations[k : k + step]
        rows = []
        for line in lines:
            cells = [by.get((line, s)) for s in some]
            if any(cells):
                said = [
                    ("? " if c.doubtful else "") + offset(c.fair_mm, h.show) if c else ""
                    for c in cells
                ]
                rows.append((line, *said))
        title = f"Stations {some[0]} to {some[-1]}" if len(some) > 1 else f"Station {some[0]}"
        yield Table(("line", *some), tuple(rows), "l" + "r" * len(some), title)
    ends = [p for p in book.points if not p.line.startswith(kinds)]
    if ends:
        listed = tuple(
            (
                p.line,
                p.station,
                offset(p.given_mm, h.show),
                ("? " if p.doubtful else "") + offset(p.fair_mm, h.show),
            )
            for p in ends
        )
        yield Table(("line", "point", "given", "fair"), listed, "lrrr", "Ends")
    if doubtful:
        rows = [
            (
                p.line,
                p.station,
                offset(p.given_mm, h.show),
                offset(p.fair_mm, h.show),
                p.likely or "no one slip explains it",
            )
            for p in doubtful
        ]
        yield Table(
            ("line", "station", "table", "fair", "likely"), tuple(rows), "llrrl", "Doubtful figures"
        )


def _framing(book: Book) -> Iterator[Block]:
    if not book.frames:
        return
    yield Head("Framing")
    if book.hull is not None:
        yield Figure(framing_picture(book.hull, book.frames, width_mm=176.0), "Framing plan")
    yield framing_table(book.frames, book.heading)


def _frames(book: Book) -> Iterator[Block]:
    if not book.frames:
        return
    yield Head("Frames")
    for k, f in enumerate(book.frames):
        if k:
            yield Break()
        yield Head(f"Frame {f.plane.number}", 1)
        yield Para(plane_words(f, book.heading))
        yield Figure(
            frame_picture(f, book.heading, width_mm=172.0, height_mm=84.0),
            "Seen from forward: forward layer to port, after layer to starboard",
        )
        butts = unrolled_butts(f, book.heading)
        yield Figure(
            bare("butts", butts, "Shift of butts", margin_mm=1.0),
            "Shift of butts, one side unrolled",
        )
        yield bevel_table(f, book.heading)
        yield check_table(f, book.heading)


def _timbers(book: Book) -> Iterator[Block]:
    if not book.moulds:
        return
    h = book.heading
    yield Head("Timbers")
    rows = tuple(
        (
            m.mark,
            layer_name(m.layer),
            side_name(m.side),
            length(m.length_mm, h.show),
            length(m.wide_mm, h.show),
            length(m.sweep_mm, h.show),
            _range(m),
            mass(m.mass_kg, h.show),
            m.same_as or "",
        )
        for m in book.moulds
    )
    head = ("mark", "layer", "side", "long", "wide", "sweep", "outer bevel", "weight", "mirrors")
    yield Table(head, rows, "lllrrrrrl")
    total = sum(m.mass_kg for m in book.moulds)
    yield Para(f"{len(book.moulds)} timbers, {mass(total, h.show)} finished.")


def _range(m: Mould) -> str:
    degs = [mark.outer_deg for mark in m.marks]
    if not degs:
        return ""
    low, high = min(degs), max(degs)
    signs = [("-" if d < -0.125 else "") + degrees(d) for d in (low, high)]
    return signs[0] if signs[0] == signs[1] else f"{signs[0]} to {signs[1]}"


def _cutting(book: Book) -> Iterator[Block]:
    if book.layout is None:
        return
    h = book.heading
    yield Head("Cutting lists")
    lay = book.layout
    yield Para(
        f"{len(lay.placements)} timbers on {lay.slabs_used} slabs, yield {100 * lay.yield_:.1f} %."
    )
    if lay.unplaced:
        yield Para("Without a place: " + ", ".join(lay.unplaced) + ".", bold=True)
    by = {m.mark: m for m in book.moulds}
    for name in sorted({p.slab for p in lay.placements}):
        here = [p for p in lay.placements if p.slab == name]
        slab = book.slabs.get(name)
        yield Head(f"Slab {name}", 2)
        if slab is not None:
            yield Para(f"{slab.species}, {length(slab.thickness_mm, h.show)} thick.")
            yield Figure(slab_picture(slab, here, by, width_mm=120.0, grain=False))
        rows = tuple(
            (
                p.mark,
                "underside" if p.mirrored else "top",
                length(by[p.mark].length_mm, h.show),
                length(by[p.mark].wide_mm, h.show),
                f"1 in {1 / p.slope_worst:.0f}" if p.slope_worst > 1e-3 else "along",
            )
            for p in here
        )
        yield Table(("timber", "laid on", "long", "wide", "steepest grain"), rows, "llrrr")


def _fastening(book: Book) -> Iterator[Block]:
    if book.fastenings is None:
        return
    h, all_ = book.heading, book.fastenings
    yield Head("Fastening")
    yield Para(
        f"{all_.holes} treenails of {close_length(all_.diameter_mm, h.show)}, bored "
        f"{close_length(all_.bore_mm, h.show)}; {all_.wedges.count} wedges."
    )
    rows = tuple(
        (length(c.length_mm, h.show), length(c.grip_mm, h.show), str(c.driven), str(c.to_make))
        for c in all_.lengths
    )
    yield Table(("length", "grip", "driven", "to make"), rows, "rrrr", "Treenails")
    for holes in book.holes.values():
        yield hole_table(holes, h)


def _log(book: Book) -> Iterator[Block]:
    if not book.log:
        return
    yield Head("What has been done")
    yield Table(("mark", "slab", "stage", "who", "when"), book.log, "lllll")


def _cautions(book: Book) -> Iterator[Block]:
    del book
    yield Head("Cautions")
    for sheet in (
        "sawing",
        "thicknessing",
        "fastening",
        "bedding",
        "lifting",
        "rebuilding",
        "scarf",
    ):
        yield Head(sheet.capitalize(), 2)
        for c in cautions(sheet):
            yield Para(c.text, "–")
            for source in c.sources:
                yield Para(source, "   source:")


def _findings(book: Book) -> Iterator[Block]:
    yield Head("Findings")
    if not book.findings:
        yield Para("None.")
    for line in told(book.findings):
        code, _, rest = line.partition(" ")
        yield Para(rest, code)


def _sources(book: Book) -> Iterator[Block]:
    if not book.sources:
        return
    yield Head("Sources")
    for s in book.sources:
        yield Para(s, "–")
