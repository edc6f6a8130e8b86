"""At the bench: a frame's thicknessing, boring, heel and standing on one page."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Request
from starlette.responses import Response

from futtock.job.bench_page import bench_view
from futtock.web.floor.setting import floor_page
from futtock.web.pages import Sat

router = APIRouter()
FrameNumber = Annotated[int, Path(ge=1, le=9999)]


@router.get("/bench/{number}")
def bench(request: Request, sitting: Sat, number: FrameNumber) -> Response:
    """One frame at the bench."""
    return floor_page(request, "bench.html", view=bench_view(sitting, number))
