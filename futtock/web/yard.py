"""The yard: the board, the forecast, the journal."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from futtock.job.office.office import NotYet
from futtock.job.office.yard import forecast_view, yard_view
from futtock.web.pages import Sat, is_update, page, piece

router = APIRouter()


@router.get("/yard")
def yard(request: Request, sitting: Sat) -> Response:
    """Frames by stage, and who did what."""
    return page(request, "yard.html", "yard", view=yard_view(sitting))


@router.get("/yard/forecast")
def forecast(request: Request, sitting: Sat) -> Response:
    """When she will be framed."""
    if not is_update(request):
        return page(request, "forecast.html", "yard", forecast=forecast_view(sitting))
    try:
        return piece(request, "forecast-now.html", forecast=forecast_view(sitting))
    except NotYet:
        return piece(request, "forecast-now.html", forecast=None)
