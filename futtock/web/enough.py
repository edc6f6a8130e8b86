"""Whether there is enough."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from futtock.job.office.enough import enough_view
from futtock.web.pages import Desk, page

router = APIRouter()


@router.get("/enough")
def enough(request: Request, desk: Desk) -> Response:
    """The sentence, the gauge, what runs short."""
    running = desk.tasks.running("enough")
    return page(request, "enough.html", "enough", view=enough_view(desk), running=running)
