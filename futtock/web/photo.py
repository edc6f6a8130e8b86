"""A slab by photograph: sent from a phone, corrected with a finger, put on the rack."""

from __future__ import annotations

from typing import Annotated, Literal
from urllib.parse import quote

from fastapi import APIRouter, File, Form, HTTPException, Path, Query, Request, UploadFile
from starlette.responses import Response

from futtock.job.office import cards as by_hand
from futtock.job.office import face, files, photo
from futtock.web.pages import Desk, Sat, go, handed, is_update, page, piece, typed_of

router = APIRouter()
Id = Annotated[str, Path(pattern=r"^[0-9a-f]{24}$")]


@router.get("/rack/photo")
def begin(
    request: Request, sitting: Sat, first: Annotated[str, Query(pattern=r"^([0-9a-f]{24})?$")] = ""
) -> Response:
    """How to photograph a slab, and the form to send it; ``first``: of its other face."""
    sitting.need("papers")
    return page(request, "photo-begin.html", "rack", first=first)


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
    first: Annotated[str, Form(pattern=r"^([0-9a-f]{24})?$")] = "",
) -> Response:
    """Take a photograph in and begin to read it."""
    content = picture.file.read(photo.LARGEST + 1)
    said = {"lie": lie, "thickness": thickness, "taped": taped, "cards": cards}
    said["first"] = first
    return go(request, f"/rack/photo/{photo.take_in(desk, content, said)}")


@router.get("/rack/photo/{name}")
def seen(
    request: Request,
    desk: Desk,
    name: Id,
    tool: Annotated[str, Query(max_length=10)] = "point",
    line: Annotated[str, Query(max_length=4000, pattern=r"^[0-9., ]*$")] = "",
) -> Response:
    """The photograph as it was read, to correct; ``line`` is one begun without script."""
    view = photo.photo_view(desk, name)
    kinds = photo.FLAW_KINDS
    blank = {"columns": face.WANE, "rows": face.WANE_ROWS}
    return page(
        request, "photo.html", "rack", view=view, tool=tool, line=line, flaw_kinds=kinds, wane=blank
    )


@router.get("/rack/photo/{name}/portrait.jpg")
def portrait(desk: Desk, name: Id) -> Response:
    """The face seen from above."""
    return Response(photo.portrait(desk, name), media_type="image/jpeg")


@router.get("/rack/photo/{name}/corrections.json")
def corrections(desk: Desk, name: Id) -> Response:
    """What was touched, as a file that the command line takes."""
    content = photo.corrections(desk, name).encode()
    return handed(files.Made("corrections.json", "application/json", content))


@router.post("/rack/photo/{name}/touch")
def touched(
    request: Request,
    desk: Desk,
    name: Id,
    what: Annotated[
        Literal[
            "point", "stroke", "sound", "keep", "drop", "flaw", "grain", "corner", "undo", "line"
        ],
        Form(),
    ],
    points: Annotated[str, Form(max_length=60_000)] = "",
    kind: Annotated[str, Form(max_length=20)] = "",
    tool: Annotated[str, Form(max_length=10, pattern=r"^[a-z]*$")] = "",
    x: Annotated[float | None, Form(alias="at.x", allow_inf_nan=False)] = None,
    y: Annotated[float | None, Form(alias="at.y", allow_inf_nan=False)] = None,
) -> Response:
    """One correction, or without script one more point of a line."""
    if x is not None and y is not None:
        points = f"{points} {x:g},{y:g}".strip()
        if what in ("stroke", "sound", "flaw", "grain"):
            return go(request, f"/rack/photo/{name}?tool={what}&line={quote(points)}#photo")
    if what == "sound":
        what, kind = "stroke", "sound"
    photo.touch(desk, name, what, points, kind)
    if is_update(request):
        return piece(request, "photo-now.html", view=photo.photo_view(desk, name))
    return go(request, f"/rack/photo/{name}")


@router.get("/rack/photo/{name}/cards")
def cards_seen(request: Request, desk: Desk, name: Id) -> Response:
    """The whole photograph with the corners of its cards, to set by hand."""
    view = by_hand.cards_view(photo.place_of(desk.folder, name))
    return page(request, "photo-cards.html", "rack", view=view, corners=by_hand.CORNERS)


@router.get("/rack/photo/{name}/upright.jpg")
def upright(desk: Desk, name: Id) -> Response:
    """The photograph as it was sent, upright and smaller."""
    content = by_hand.upright(photo.place_of(desk.folder, name))
    return Response(content, media_type="image/jpeg")


@router.post("/rack/photo/{name}/cards")
async def cards_set(request: Request, desk: Desk, name: Id) -> Response:
    """Read the photograph again with corners set by hand."""
    corners = by_hand.set_by_hand(photo.place_of(desk.folder, name), await typed_of(request))
    photo.read_again(desk, name, corners)
    return go(request, f"/rack/photo/{name}")


@router.post("/rack/photo/{name}/tie")
def tied(
    request: Request, desk: Desk, name: Id, what: Annotated[Literal["tie", "untie"], Form()]
) -> Response:
    """Tie this face to the slab's first one, or leave the other face out again."""
    if what == "untie":
        photo.untie(desk, name)
        return go(request, f"/rack/photo/{name}", "The other face is left out.")
    return go(request, f"/rack/photo/{photo.tie(desk, name)}", "The other face is tied.")


@router.post("/rack/photo/{name}/keep")
async def kept(request: Request, sitting: Sat, name: Id) -> Response:
    """Put the slab on the rack."""
    called = photo.put_on_rack(sitting, name, await typed_of(request))
    return go(request, f"/rack?text={quote(called)}", f"Slab {called} is on the rack.")


@router.get("/rack/slab/portrait.jpg")
def of_slab(sitting: Sat, name: Annotated[str, Query(min_length=1, max_length=80)]) -> Response:
    """The portrait of a slab on the rack."""
    found = photo.slab_portrait(sitting.need("papers"), name)
    if found is None:
        raise HTTPException(404)
    return Response(found, media_type="image/jpeg")
