"""At the saw: the timbers to be sawn, and the guide for the person at the crank."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Request
from starlette.responses import Response

from futtock.job.saw_guide import guide_view, saw_list
from futtock.web.floor.setting import floor_page
from futtock.web.pages import Sat

router = APIRouter()
Mark = Annotated[str, Path(pattern=r"^[\w-]{1,20}$")]


@router.get("/saw")
def saw(request: Request, sitting: Sat) -> Response:
    """The timbers to be sawn."""
    return floor_page(request, "saw-list.html", view=saw_list(sitting))


@router.get("/saw/{mark}")
def guide(request: Request, sitting: Sat, mark: Mark) -> Response:
    """The guide of one timber, with all its cuts: nothing is asked for while they are sawn."""
    return floor_page(request, "saw.html", view=guide_view(sitting, mark))
