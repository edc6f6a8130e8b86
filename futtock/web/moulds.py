"""The moulds: every timber, one of them, and its patterns."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Path, Query, Request
from starlette.responses import Response

from futtock.job.office import files
from futtock.job.office.moulds import mould_view, moulds_view
from futtock.web.pages import Sat, handed, page

router = APIRouter()
Mark = Annotated[str, Path(pattern=r"^[\w. -]{1,40}$")]


@router.get("/moulds")
def moulds(
    request: Request,
    sitting: Sat,
    frame: Annotated[int, Query(ge=0, le=9999)] = 0,
    page_: Annotated[int, Query(alias="page", ge=1, le=9999)] = 1,
) -> Response:
    """Every timber, or those of one frame."""
    return page(request, "moulds.html", "moulds", view=moulds_view(sitting, frame, page_))


@router.get("/moulds/{mark}")
def mould(request: Request, sitting: Sat, mark: Mark) -> Response:
    """One timber's mould."""
    return page(request, "mould.html", "moulds", view=mould_view(sitting, mark))


@router.get("/moulds/{mark}/pattern")
def pattern(
    sitting: Sat,
    mark: Mark,
    form: Literal["pdf", "dxf", "svg", "tiles"] = "pdf",
    scale: Annotated[float, Query(ge=1, le=100)] = 1.0,
    paper: Annotated[str, Query(max_length=10)] = "A4",
) -> Response:
    """A pattern to print or to cut by."""
    return handed(files.mould_file(sitting, mark, form, scale, paper))
