"""The rack: the slabs, one of them, and putting new ones on it."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Form, Query, Request
from starlette.responses import Response

from futtock.job.office import files
from futtock.job.office.giving import giving
from futtock.job.office.rack import (
    Asked,
    asked_mm,
    enter_moisture,
    forbid,
    keep_offcuts,
    rack_view,
    slab_view,
)
from futtock.job.office.tape import (
    FLAW_COLUMNS,
    FLAW_KINDS,
    TAPE_COLUMNS,
    tape_blank,
    tape_typed,
)
from futtock.web.pages import Desk, Sat, go, handed, is_update, page, piece, typed_of

router = APIRouter()
Name = Annotated[str, Query(min_length=1, max_length=80)]
Text = Annotated[str, Query(max_length=60)]


@router.get("/rack")
def rack(
    request: Request,
    desk: Desk,
    sitting: Sat,
    sort: Text = "name",
    text: Text = "",
    long: Text = "",
    wide: Text = "",
    thick: Text = "",
    measured: bool = False,
    free: bool = False,
    gives: Text = "",
    show: Literal["drawings", "portraits"] = "drawings",
    page_: Annotated[int, Query(alias="page", ge=1, le=10_000)] = 1,
) -> Response:
    """The slabs, sorted and filtered."""
    style = sitting.need("papers").stated.vessel.show
    long_mm, wide_mm, thick_mm = (asked_mm(t, style) for t in (long, wide, thick))
    which = Asked(
        sort, text, long_mm, wide_mm, thick_mm, measured, free, page_, gives.strip(),
        show == "portraits",
    )  # fmt: skip
    view = rack_view(sitting, which, giving(desk))
    asked = {"sort": sort, "text": text, "long": long, "wide": wide, "thick": thick}
    asked |= {"gives": gives, "show": show}
    flags = {"measured": measured, "free": free}
    return page(request, "rack.html", "rack", view=view, asked={**asked, **flags})


@router.get("/rack/slab")
def slab(request: Request, sitting: Sat, name: Name) -> Response:
    """One slab."""
    return page(request, "slab.html", "rack", view=slab_view(sitting, name))


@router.get("/rack/slab/sheet.pdf")
def sheet(sitting: Sat, name: Name) -> Response:
    """One slab's sheet, to print."""
    return handed(files.slab_pdf(sitting, name))


@router.post("/rack/slab/forbid")
def forbidden(
    request: Request,
    sitting: Sat,
    name: Annotated[str, Form(max_length=80)],
    what: Annotated[Literal["forbid", "allow"], Form()],
) -> Response:
    """Keep layouts off a slab, or let them use it again."""
    from urllib.parse import quote

    said = forbid(sitting.need("papers"), name, what == "forbid")
    return go(request, f"/rack/slab?name={quote(name)}", said)


@router.post("/rack/slab/moisture")
def metered(
    request: Request,
    sitting: Sat,
    name: Annotated[str, Form(max_length=80)],
    percent: Annotated[str, Form(max_length=20)],
    who: Annotated[str, Form(max_length=80)],
) -> Response:
    """Enter a reading of a slab's moisture."""
    from urllib.parse import quote

    said = enter_moisture(sitting.need("papers"), name, percent, who)
    return go(request, f"/rack/slab?name={quote(name)}", said)


@router.post("/rack/slab/offcuts")
def sawn(
    request: Request,
    sitting: Sat,
    name: Annotated[str, Form(max_length=80)],
    who: Annotated[str, Form(max_length=80)],
) -> Response:
    """Put what is left of a slab on the rack; the slab itself is used up."""
    said = keep_offcuts(sitting.need("moulds"), name, who)
    return go(request, "/rack", said)


@router.get("/rack/tape")
def tape(request: Request, sitting: Sat) -> Response:
    """The form for a slab measured by tape."""
    return page(request, "tape.html", "rack", typed=tape_blank(sitting), **_tape())


@router.post("/rack/tape")
async def taped(request: Request, sitting: Sat) -> Response:
    """Draw what is typed, or put it on the rack."""
    form = await typed_of(request)
    keep = form.get("do") == "keep"
    typed = tape_typed(sitting, form, keep=keep)
    if keep and typed.good:
        name = typed.values["slab"]
        return go(request, "/rack?text=" + name, f"Slab {name} is on the rack.")
    if is_update(request):
        return piece(request, "tape-drawn.html", typed=typed)
    status = 422 if keep else 200
    return page(request, "tape.html", "rack", status=status, typed=typed, **_tape())


def _tape() -> dict[str, Any]:
    return {"columns": TAPE_COLUMNS, "flaw_columns": FLAW_COLUMNS, "flaw_kinds": FLAW_KINDS}
