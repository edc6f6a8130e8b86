"""The buying list as a spreadsheet: a row a shape, figures as numbers."""

from __future__ import annotations

from futtock.drawing.heading import Heading
from futtock.export.workbook import Row, book_of
from futtock.layout.buying import BuyingList
from futtock.measure import feet_inches_eighths

_SIZES = ("length", "width", "sweep", "thickness")


def buying_book(buying: BuyingList, heading: Heading, species: str) -> bytes:
    """The workbook's bytes, the same for the same list."""
    imperial = heading.show == "imperial"
    head = ["slabs", "species"]
    for name in _SIZES:
        head += [f"{name}, mm", f"{name}, ft-in-eighths"] if imperial else [f"{name}, mm"]
    head += ["cost", "for timbers"]
    rows: list[Row] = []
    for w in buying.wanted:
        row: list[object] = [w.count, species]
        for mm in (w.length_mm, w.width_mm, w.sweep_mm, w.thickness_mm):
            row += [float(mm), feet_inches_eighths(float(mm))] if imperial else [float(mm)]
        rows.append((*row, w.cost if w.cost is not None else "", ", ".join(w.marks)))
    rests = [
        ("slabs to get", buying.slabs),
        ("chance before", buying.before),
        ("chance after", buying.after),
        ("what it rests on", buying.says),
    ]
    return book_of(
        heading.vessel, [("buying list", head, rows), ("what it rests on", ["", ""], rests)]
    )
