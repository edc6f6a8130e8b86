"""The buying list of ``enough --buy``: into the answer, onto a sheet and into a spreadsheet."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from futtock.job.title import heading
from futtock.job.written import Written, write_sheet

if TYPE_CHECKING:
    from futtock.job.stocktaking import Stocktaking
    from futtock.layout.enough import Enough
    from futtock.stock.slab import Slab


def bought(
    taking: Stocktaking, answer: Enough, percent: float, out: str | None, document: dict[str, Any]
) -> str:
    """The buying list into the document and, with ``out``, into a sheet and a spreadsheet."""
    from futtock.layout.buying import buying_list
    from futtock.measure import show

    job = taking.job
    buying = buying_list(
        taking.problem, answer, level=percent / 100.0, price_per_m2=price_per_m2(taking.measured)
    )
    style = job.sound.vessel.show
    costs = [w.cost for w in buying.wanted]
    whole = sum(c for c in costs if c is not None) if None not in costs and costs else None
    document["buying"] = {
        "chance": percent / 100.0,
        "slabs": buying.slabs,
        "before": buying.before,
        "after": buying.after,
        "cost": whole,
        "wanted": [
            {
                "count": w.count,
                "length_mm": w.length_mm,
                "width_mm": w.width_mm,
                "sweep_mm": w.sweep_mm,
                "thickness_mm": w.thickness_mm,
                "marks": list(w.marks),
                "cost": w.cost,
            }
            for w in buying.wanted
        ],
    }
    lines = [buying.says]
    lines += [
        f"  {w.count:3d} slabs {show(w.length_mm, style)} long, {show(w.width_mm, style)} wide, "
        f"swept {show(w.sweep_mm, style)}, {show(w.thickness_mm, style)} thick"
        for w in buying.wanted[:12]
    ]
    if whole is not None:
        lines.append(f"At the price of the slabs on the rack they come to about {whole:,.0f}.")
    if out is not None:
        from futtock.drawing.buying import buying_sheets
        from futtock.export.buying import buying_book

        written = Written(Path(out))
        head, species = heading(job), job.sound.vessel.timber.species
        write_sheet(written, "buying", buying_sheets(buying, head, species))
        written.put("buying.xlsx", buying_book(buying, head, species))
        document["files"] = written.files
        lines.append(written.account)
    return "\n".join(lines)


def price_per_m2(slabs: Sequence[Slab]) -> float | None:
    """Mean price of the sound face of slabs that have one; None where none has."""
    from futtock.stock.rack import areas_m2

    priced = [s for s in slabs if s.price is not None]
    area = min(areas_m2(priced)) if priced else 0.0
    return sum(s.price or 0.0 for s in priced) / area if area > 0 else None
