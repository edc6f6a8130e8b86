"""A slab by photograph: sent from a phone, corrected with a finger, put on the rack."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, File, Form, HTTPException, Path, Query, Request, UploadFile
from starlette.responses import Response

from futtock.job.office import files, photo
from futtock.web.pages import Desk, Sat, go, handed, is_update, page, piece, typed_of

router = APIRouter()
Id = Annotated[str, Path(pattern=r"^[0-9a-f]{24}$")]


@router.get("/rack/photo")
def begin(request: Request, sitting: Sat) -> Response:
    """How to photograph a slab, and the form to send it."""
    sitting.need("papers")
    return page(request, "photo-begin.html", "rack")


@router.get("/rack/photo/cards.pdf")
def cards(sitting: Sat) -> Response:
    """The cards that lie beside the slab, to print."""
    return handed(files.cards_pdf(sitting))


@router.post("/rack/photo")
def taken(
    request: Request,
    desk: Desk,
    picture: Annotated[UploadFile, File()],
    lie: Annotated[str, Form(max_length=10)] = "",
    thickness: Annotated[str, Form(max_length=40)] = "",
    taped: Annotated[str, Form(max_length=40)] = "",
    cards: Annotated[str, Form(max_length=20)] = "",
) -> Response:
    """Take a photograph in and begin to read it."""
    content = picture.file.read(photo.LARGEST + 1)
    said = {"lie": lie, "thickness": thickness, "taped": taped, "cards": cards}
    return go(request, f"/rack/photo/{photo.take_in(desk, content, said)}")


@router.get("/rack/photo/{name}")
def seen(request: Request, desk: Desk, name: Id) -> Response:
    """The photograph as it was read, to correct."""
    view = photo.photo_view(desk, name)
    return page(request, "photo.html", "rack", view=view, flaw_kinds=photo.FLAW_KINDS)


@router.get("/rack/photo/{name}/portrait.jpg")
def portrait(desk: Desk, name: Id) -> Response:
    """The face seen from above."""
    return Response(photo.portrait(desk, name), media_type="image/jpeg")


@router.post("/rack/photo/{name}/touch")
def touched(
    request: Request,
    desk: Desk,
    name: Id,
    what: Annotated[Literal["point", "stroke", "keep", "drop", "flaw", "grain", "undo"], Form()],
    points: Annotated[str, Form(max_length=60_000)] = "",
    kind: Annotated[str, Form(max_length=20)] = "",
) -> Response:
    """One correction."""
    photo.touch(desk, name, what, points, kind)
    if is_update(request):
        return piece(request, "photo-now.html", view=photo.photo_view(desk, name))
    return go(request, f"/rack/photo/{name}")


@router.post("/rack/photo/{name}/keep")
async def kept(request: Request, sitting: Sat, name: Id) -> Response:
    """Put the slab on the rack."""
    from urllib.parse import quote

    called = photo.put_on_rack(sitting, name, await typed_of(request))
    return go(request, f"/rack?text={quote(called)}", f"Slab {called} is on the rack.")


@router.get("/rack/slab/portrait.jpg")
def of_slab(sitting: Sat, name: Annotated[str, Query(min_length=1, max_length=80)]) -> Response:
    """The portrait of a slab on the rack."""
    found = photo.slab_portrait(sitting.need("papers"), name)
    if found is None:
        raise HTTPException(404)
    return Response(found, media_type="image/jpeg")
