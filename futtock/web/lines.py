"""Her lines: the plan, doubtful figures, and settling them."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request
from starlette.responses import Response

from futtock.job.office.lines import answer, lines_view, settle
from futtock.job.office.survey import choices_shown, choose, survey_view
from futtock.web.pages import PATIENCE, Sat, go, page, typed_of

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


@router.get("/lines/survey")
def survey(request: Request, sitting: Sat) -> Response:
    """What was taken out of a worn hull, and the choices that it rests on."""
    view = survey_view(sitting)
    choices, rows = choices_shown(sitting.job.folder)
    return page(request, "survey.html", "lines", view=view, settings=choices, rows=rows)


@router.post("/lines/survey")
async def chosen(request: Request, sitting: Sat) -> Response:
    """State the choices; those that cannot be are shown again as they were typed."""
    typed = await typed_of(request, 4000)
    wrong = choose(sitting.job.folder, typed)
    if not wrong:
        return go(request, "/lines/survey", "Stated. She is restored by it.")
    view = survey_view(sitting)
    choices, rows = choices_shown(sitting.job.folder, typed, wrong)
    return page(request, "survey.html", "lines", status=422, view=view, settings=choices, rows=rows)
