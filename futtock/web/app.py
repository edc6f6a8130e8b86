"""The app: one vessel folder, its pages, and the guard before them."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path
from typing import Any

from fastapi import Depends, FastAPI, HTTPException, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException as AnyHTTPException
from starlette.responses import Response
from starlette.staticfiles import StaticFiles

from futtock.errors import FuttockError
from futtock.job.office.office import NotYet, Office
from futtock.job.office.secret import page_key
from futtock.web import (
    book,
    enough,
    floor,
    frames,
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
from futtock.web.guard import LARGEST_BODY, Guard, own_form

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
_ROOMS = (
    vessel, papers, lines, frames, moulds, rack, photo, layout, enough, yard, book, works, floor,
)  # fmt: skip
_STATIC = Path(__file__).parent / "static"
_KEEP = "public, max-age=31536000, immutable"


def make_app(
    folder: Path | str,
    *,
    hosts: Collection[str] = LOOPBACK,
    largest_body: int = LARGEST_BODY,
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
    app.add_middleware(Guard, hosts=hosts, key=key, largest_body=largest_body)
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
    return pages.missing(request, said, error.status_code)


def _unfit(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    places = ", ".join(str(e["loc"][-1]) for e in error.errors()[:4])
    return pages.missing(request, f"What was sent does not fit: {places}.", 422)


def _broken(request: Request, error: Exception) -> Response:
    words = "Something came to an end here that was not foreseen. What was kept stands."
    return pages.missing(request, words, 500)
