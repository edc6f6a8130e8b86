"""Her lines: the plan, doubtful figures, and settling them."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request
from starlette.responses import Response

from futtock.job.office.lines import answer, lines_view, settle
from futtock.web.pages import PATIENCE, Sat, go, page

router = APIRouter()


@router.get("/lines")
def lines(request: Request, sitting: Sat) -> Response:
    """The plan and what is to settle."""
    job = sitting.need("papers", "lines")
    view = sitting.drawn("lines", lambda: lines_view(job))
    return page(request, "lines.html", "lines", view=view, says=answer(view))


@router.post("/lines/settle")
def settled(
    request: Request,
    sitting: Sat,
    line: Annotated[str, Form(max_length=80)],
    station: Annotated[str, Form(max_length=40)],
    what: Annotated[str, Form(max_length=8)],
) -> Response:
    """Mend a figure, keep it, or open it again."""
    if what == "mend":
        sitting.wait("hull", PATIENCE)
    job = sitting.need("papers", "hull") if what == "mend" else sitting.need("papers")
    return go(request, "/lines", settle(job, line, station, what))
