"""Long work: begun and stopped by a form, watched by an update, its files handed out."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Form, HTTPException, Path, Request
from starlette.responses import FileResponse, Response

from futtock.web.pages import Desk, go, piece

router = APIRouter()
Kind = Literal["layout", "heal", "enough", "patterns", "sheets", "slabs", "book", "photo", "gives"]
PAGES = {"layout": "/layout", "heal": "/layout", "enough": "/enough", "gives": "/rack"}


@router.post("/works/{kind}/begin")
def begin(
    request: Request,
    desk: Desk,
    kind: Kind,
    seconds: Annotated[float | None, Form(gt=0, le=86_400)] = None,
) -> Response:
    """Begin a piece of work in its own process."""
    if kind == "photo":
        raise HTTPException(422, "A photograph is begun by sending it.")
    desk.tasks.begin(kind, **({} if seconds is None else {"seconds": seconds}))
    return go(request, PAGES.get(kind, "/book"))


@router.post("/works/{kind}/stop")
def stop(request: Request, desk: Desk, kind: Kind) -> Response:
    """Stop it with the best so far."""
    desk.tasks.stop(kind)
    desk.tasks.wait(kind, 3.0)
    return go(request, PAGES.get(kind, "/book"))


@router.get("/works/{kind}")
def watch(request: Request, desk: Desk, kind: Kind) -> Response:
    """How far it has come; once it is done the page is asked to load again."""
    now = desk.tasks.running(kind)
    if now is None:
        return Response(status_code=204, headers={"HX-Refresh": "true"})
    return piece(request, "running-now.html", work=now)


@router.get("/made/{name}")
def made(desk: Desk, name: Annotated[str, Path(pattern=r"^[a-z-]{1,40}\.(zip|pdf)$")]) -> Response:
    """A file that a piece of work made."""
    found = desk.tasks.made(name)
    if found is None:
        raise HTTPException(404)
    return FileResponse(found, filename=name)
