"""The workbook (XLSX): framing list, bevels, timbers, moulds, marks; figures as numbers.

Lengths are millimetres and angles degrees, as the heads of their columns say, with the yard's own
notation beside them where she is shown in feet and inches.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

import numpy as np

from futtock.bench.fastening import FrameHoles
from futtock.drawing.bevel_board import bevels_at, board_places
from futtock.drawing.heading import Heading
from futtock.framing.frame import Frame
from futtock.layout.placement import Layout
from futtock.measure import feet_inches_eighths
from futtock.moulds.mould import Mould

Row = tuple[Any, ...]
_STILL = datetime(2000, 1, 1, tzinfo=UTC).replace(tzinfo=None)


def workbook(
    frames: Sequence[Frame],
    moulds: Sequence[Mould],
    heading: Heading,
    *,
    layout: Layout | None = None,
    holes: Mapping[int, FrameHoles] | None = None,
) -> bytes:
    """The workbook's bytes, the same for the same data."""
    return book_of(heading.vessel, _sheets(frames, moulds, heading, layout, holes or {}))


def book_of(title: str, sheets: Sequence[tuple[str, list[str], list[Row]]]) -> bytes:
    """A workbook's bytes from its sheets: name, heads of the columns, rows of cells."""
    from openpyxl import Workbook
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    book = Workbook()
    for empty in list(book.worksheets):
        book.remove(empty)
    book.properties.created = book.properties.modified = _STILL
    book.properties.creator = "Futtock"
    book.properties.title = title
    for name, head, rows in sheets:
        sheet = book.create_sheet(name)
        sheet.append(head)
        for cell in sheet[1]:
            cell.font = Font(bold=True)
        for row in rows:
            sheet.append([_cell(v) for v in row])
            for cell in sheet[sheet.max_row]:
                if cell.data_type == "f":
                    # words, whatever they begin with
                    cell.data_type = "s"
        sheet.freeze_panes = "A2"
        for k, title in enumerate(head, 1):
            longest = max((len(str(_cell(r[k - 1]))) for r in rows[:400]), default=0)
            sheet.column_dimensions[get_column_letter(k)].width = min(
                max(len(title), longest) + 2, 44
            )
    stream = io.BytesIO()
    book.save(stream)
    return _still(stream.getvalue())


def _cell(value: Any) -> Any:
    if isinstance(value, float | np.floating):
        return round(float(value), 4)
    return value


def _still(data: bytes) -> bytes:
    """The archive with the hours taken out of it."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w") as new:
        for info in sorted(old.infolist(), key=lambda i: i.filename):
            kept = zipfile.ZipInfo(info.filename, (1980, 1, 1, 0, 0, 0))
            kept.compress_type = zipfile.ZIP_DEFLATED
            body = old.read(info)
            if info.filename == "docProps/core.xml":
                body = _undated(body)
            new.writestr(kept, body)
    return out.getvalue()


def _undated(body: bytes) -> bytes:
    import re

    return re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", b"2000-01-01T00:00:00Z", body)


def _sheets(
    frames: Sequence[Frame],
    moulds: Sequence[Mould],
    heading: Heading,
    layout: Layout | None,
    holes: Mapping[int, FrameHoles],
) -> list[tuple[str, list[str], list[Row]]]:
    imperial = heading.show == "imperial"

    def both(mm: float) -> tuple[Any, ...]:
        return (float(mm), feet_inches_eighths(float(mm))) if imperial else (float(mm),)

    def heads(words: str) -> list[str]:
        return [f"{words}, mm", f"{words}, ft-in-eighths"] if imperial else [f"{words}, mm"]

    out: list[tuple[str, list[str], list[Row]]] = []
    rows: list[Row] = []
    for f in frames:
        p = f.plane
        lean = max(float(np.abs(s.lean_deg).max()) for s in (f.forward, f.joint, f.aft))
        rows.append(
            (
                p.number,
                *both(p.x_mm),
                p.cant_deg,
                p.rake_deg,
                *both(p.sided_mm),
                *both(float(f.joint.girth_mm[-1])),
                len(f.timbers),
                lean,
            )
        )
    head = ["frame", *heads("joint face aft of FP"), "cant, degrees", "rake, degrees"]
    head += [*heads("sided, a layer"), *heads("girth"), "timbers", "largest bevel, degrees"]
    out.append(("framing", head, rows))
    rows = []
    for f in frames:
        for name, girth in board_places(f, 304.8 if imperial else 250.0):
            fo, fi = bevels_at(f, "f", girth)
            ao, ai = bevels_at(f, "a", girth)
            rows.append((f.plane.number, name, *both(girth), fo, fi, ao, ai))
    head = ["frame", "mark", *heads("girth"), "forward outer, degrees", "forward inner, degrees"]
    head += ["after outer, degrees", "after inner, degrees"]
    out.append(("bevels", head, rows))
    rows = [
        (t.mark, t.frame, t.layer, t.side, t.number, *both(t.girth_mm[0]), *both(t.girth_mm[1]),
         *both(t.length_mm), *both(t.wide_mm), *both(t.sweep_mm), *both(t.sided_mm))
        for f in frames for t in f.timbers
    ]  # fmt: skip
    head = ["mark", "frame", "layer", "side", "number", *heads("girth from"), *heads("girth to")]
    head += [*heads("long"), *heads("wide"), *heads("sweep"), *heads("sided")]
    out.append(("timbers", head, rows))
    slab = {p.mark: p.slab for p in layout.placements} if layout else {}
    rows = [
        (m.mark, m.up, m.same_as or "", *both(m.length_mm), *both(m.wide_mm), *both(m.sweep_mm),
         m.square_m2, m.volume_m3, m.mass_kg, m.departure_mm, slab.get(m.mark, ""))
        for m in moulds
    ]  # fmt: skip
    head = ["mark", "face up", "mirrors", *heads("long"), *heads("wide"), *heads("sweep")]
    head += ["blank, m2", "volume, m3", "mass, kg", "ruled cut off true by, mm", "slab"]
    out.append(("moulds", head, rows))
    rows = [(m.mark, *both(b.at_mm), b.outer_deg, b.inner_deg) for m in moulds for b in m.marks]
    out.append(
        (
            "marks",
            ["mark", *heads("along the outer edge"), "outer, degrees", "inner, degrees"],
            rows,
        )
    )
    if holes:
        rows = [
            (n, h.number, *both(h.girth_mm), *both(h.in_mm),
             " + ".join(h.through), *both(h.grip_mm))
            for n, fh in holes.items() for h in fh.holes
        ]  # fmt: skip
        head = [
            "frame",
            "hole",
            *heads("girth"),
            *heads("in from edge"),
            "through",
            *heads("grip"),
        ]
        out.append(("holes", head, rows))
    return out
