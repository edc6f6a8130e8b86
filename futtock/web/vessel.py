"""The vessel's own page."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from futtock.job.office.folder import begun
from futtock.job.office.vessel import vessel_view
from futtock.web.pages import Sat, page

router = APIRouter()


@router.get("/")
def vessel(request: Request, sitting: Sat) -> Response:
    """What she is, what is done, what is next."""
    if not begun(sitting.job.folder):
        return page(request, "begin.html", "vessel")
    return page(request, "vessel.html", "vessel", view=vessel_view(sitting))
