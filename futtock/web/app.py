"""The app: one vessel folder, its pages, and the guard before them."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path
from typing import Any

from fastapi import Depends, FastAPI, HTTPException, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException as AnyHTTPException
from starlette.responses import PlainTextResponse, Response
from starlette.staticfiles import StaticFiles

from futtock.errors import FuttockError
from futtock.job.office.office import NotYet, Office
from futtock.job.office.secret import page_key
from futtock.web import (
    book,
    enough,
    floor,
    frames,
    joining,
    layout,
    lines,
    moulds,
    pages,
    papers,
    photo,
    rack,
    vessel,
    works,
    yard,
)
from futtock.web.door import Door
from futtock.web.guard import HEADERS, LARGEST_BODY, LOOPBACK, Guard, own_form

_ROOMS = (
    vessel, papers, lines, frames, moulds, rack, photo, layout, enough, yard, book, works, floor,
    joining,
)  # fmt: skip
_STATIC = Path(__file__).parent / "static"
_KEEP = "public, max-age=31536000, immutable"


def make_app(
    folder: Path | str,
    *,
    hosts: Collection[str] = LOOPBACK,
    largest_body: int = LARGEST_BODY,
    address: str = "",
) -> FastAPI:
    """The app for a vessel folder.

    Parameters
    ----------
    folder
        The vessel folder; it need not be complete, the pages say what is wanting.
    hosts
        Names by which the server may be called; any other Host is refused.
    largest_body
        Bytes that one request may bring.
    address
        Where the pages are opened from the yard's network: who comes from there must join by a
        code. Empty: they are for this machine alone.
    """
    office = Office(folder)
    key = page_key(office.folder)
    app = FastAPI(
        title="Futtock",
        docs_url=None,
        redoc_url=None,
        dependencies=[Depends(own_form)],
    )
    app.state.office = office
    app.state.key = key
    app.state.door = Door(office.folder, address) if address else None
    app.add_middleware(Guard, hosts=hosts, key=key, largest_body=largest_body, door=app.state.door)
    for room in _ROOMS:
        app.include_router(room.router)
    app.add_api_route("/style.css", _style, include_in_schema=False)
    app.mount("/static", _Static(directory=_STATIC), name="static")
    app.add_exception_handler(FuttockError, _told)
    app.add_exception_handler(AnyHTTPException, _missing)
    app.add_exception_handler(RequestValidationError, _unfit)
    app.add_exception_handler(Exception, _broken)
    return app


class _Static(StaticFiles):
    """Files that never change under their name: those asked for with a version may be kept."""

    async def get_response(self, path: str, scope: Any) -> Response:
        response = await super().get_response(path, scope)
        if b"v=" in scope.get("query_string", b"") or path.startswith("vendor/"):
            response.headers["Cache-Control"] = _KEEP
        return response


def _style() -> Response:
    return Response(pages.style(), media_type="text/css", headers={"Cache-Control": _KEEP})


def _told(request: Request, error: Exception) -> Response:
    if isinstance(error, NotYet):
        return pages.waiting(request, error)
    assert isinstance(error, FuttockError)
    return pages.refusal(request, error)


def _missing(request: Request, error: Exception) -> Response:
    assert isinstance(error, AnyHTTPException)
    said = str(error.detail) if isinstance(error, HTTPException) else "There is no such page."
    if error.status_code == 404:
        said = "There is no such page."
    return _page(request, said, error.status_code)


def _unfit(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    places = ", ".join(str(e["loc"][-1]) for e in error.errors()[:4])
    return _page(request, f"What was sent does not fit: {places}.", 422)


def _broken(request: Request, error: Exception) -> Response:
    words = "Something came to an end here that was not foreseen. What was kept stands."
    answer = _page(request, words, 500)
    # this answer goes out past the guard, so it takes what the guard would set
    answer.headers.update(HEADERS)
    return answer


def _page(request: Request, words: str, status: int) -> Response:
    """Words on a page; bare ones to who is not let in, for a page tells of the vessel."""
    if not request.state.role:
        return PlainTextResponse(words, status)
    return pages.missing(request, words, status)
