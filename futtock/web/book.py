"""The book and the sheets: made with progress, then kept."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from futtock.job.office.papers import papers_view
from futtock.web.pages import Desk, page

router = APIRouter()


@router.get("/book")
def book(request: Request, desk: Desk) -> Response:
    """What can be made, and what is made."""
    return page(request, "book.html", "book", papers=papers_view(desk))
