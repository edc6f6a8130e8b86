"""The frames: all of them, one of them, their settings, and the view in space."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Query, Request
from starlette.responses import Response

from futtock.job.office import files
from futtock.job.office.frames import frame_view, frames_view
from futtock.job.office.stating import FRAMES, shown, state
from futtock.job.office.wood import picture_of
from futtock.job.office.works import laid_on
from futtock.web.pages import Sat, go, handed, page, typed_of

router = APIRouter()
FrameNumber = Annotated[int, Path(ge=1, le=9999)]


@router.get("/frames")
def frames(request: Request, sitting: Sat) -> Response:
    """All frames, the bevel map, and the settings that draw them again."""
    view = frames_view(sitting)
    settings = shown(sitting.job.folder, FRAMES)
    return page(request, "frames.html", "frames", view=view, settings=settings)


@router.post("/frames/settings")
async def settings(request: Request, sitting: Sat) -> Response:
    """Change settings; those that cannot be are shown again as they were typed."""
    typed = await typed_of(request)
    wrong = state(sitting.job.folder, FRAMES, typed)
    if not wrong:
        return go(request, "/frames", "Stated. The frames are drawn by it.")
    return page(
        request,
        "frames.html",
        "frames",
        status=422,
        view=frames_view(sitting),
        settings=shown(sitting.job.folder, FRAMES, typed, wrong),
    )


@router.get("/frames/{number}")
def frame(request: Request, sitting: Sat, number: FrameNumber) -> Response:
    """One frame."""
    return page(request, "frame.html", "frames", view=frame_view(sitting, number))


@router.get("/frames/{number}/sheets.pdf")
def sheets(sitting: Sat, number: FrameNumber) -> Response:
    """One frame's working sheets, to print."""
    return handed(files.frame_pdf(sitting, number))


@router.get("/space")
def space(request: Request, sitting: Sat, frame: int = 0) -> Response:
    """Hull, frames and timbers in space."""
    job = sitting.need("papers", "frames", "moulds")
    numbers = [f.number for f in job.framing.frames]
    laid = any(not frame or m.frame == frame for m in job.moulds if m.mark in laid_on(job))
    return page(request, "space.html", "frames", numbers=numbers, frame=frame, laid=laid)


@router.get("/space/vessel.glb")
def vessel_glb(sitting: Sat, frame: int = 0, wood: bool = False) -> Response:
    """What the view in space shows; with ``wood`` as it lies on the slabs' pictures."""
    return handed(files.glb(sitting, frame, wood))


@router.get("/space/slab.jpg")
def slab_face(sitting: Sat, name: Annotated[str, Query(min_length=1, max_length=80)]) -> Response:
    """A slab's portrait, or its drawing, to be laid on its timbers."""
    return Response(picture_of(sitting, name), media_type="image/jpeg")
