"""The door's pages: joining by a code, letting others in, putting them out, leaving."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, Form, HTTPException, Query, Request
from fastapi.responses import RedirectResponse
from starlette.responses import Response

from futtock.job.door import code_svg
from futtock.web.door import Door, TooOften, shown_code
from futtock.web.floor.setting import floor_page
from futtock.web.pages import go
from futtock.web.visit import ROLES, new_visit

router = APIRouter()
AFTER = {"builder": "/", "bench": "/saw"}
MEANS = {
    "bench": "may mark work: ticks, measurements, photographs, notes. It cannot change the vessel.",
    "builder": "may do all that the desk may.",
}


@router.get("/join")
def join(request: Request, to: Annotated[str, Query(max_length=1200)] = "") -> Response:
    """The form for a code; who is in goes on to the page that was asked for."""
    role = request.state.role
    if role:
        return RedirectResponse(_own(to) or AFTER[role], 303)
    return floor_page(request, "join.html", to=_own(to), wrong="", bare=True)


@router.post("/join")
def joined(
    request: Request,
    code: Annotated[str, Form(max_length=40)] = "",
    called: Annotated[str, Form(max_length=40)] = "",
    to: Annotated[str, Form(max_length=1200)] = "",
) -> Response:
    """Let a browser in that gives a right code."""
    door = _door(request)
    address = request.client.host if request.client else ""
    try:
        visit = door.let_in(code, address, called)
    except TooOften as error:
        minutes = -(-error.wait_s // 60)
        wrong = f"Too many wrong codes. Wait {minutes} min, or ask at the desk for a new code."
        answer = floor_page(request, "join.html", status=429, to=_own(to), wrong=wrong, bare=True)
        answer.headers["Retry-After"] = str(error.wait_s)
        return answer
    if visit is None:
        wrong = "That is not the code. It is shown at the desk, and changes each day."
        return floor_page(request, "join.html", status=403, to=_own(to), wrong=wrong, bare=True)
    request.state.visit = visit
    return RedirectResponse(_own(to) or AFTER[visit.role], 303)


@router.get("/door")
def let_in(request: Request) -> Response:
    """The codes that let others in, and who is in."""
    door = _door(request)
    codes = door.codes()
    shown = [
        (role, shown_code(codes[role]), code_svg(door.link(role)), MEANS[role]) for role in ROLES
    ]
    inside = [
        (s.visit.id, door.called(s.visit), s.visit.role, s.address, _clock(s.visit.since),
         _clock(s.last), s.visit is request.state.visit)
        for s in door.inside()
    ]  # fmt: skip
    return floor_page(request, "door.html", address=door.address, shown=shown, inside=inside)


@router.post("/door/codes")
def new_codes(request: Request) -> Response:
    """New codes; who is in stays in."""
    _door(request).new_codes()
    return go(request, "/door", "These codes are new; the former let nobody in any more.")


@router.post("/door/out")
def put_out(request: Request, visit: Annotated[str, Form(max_length=60)]) -> Response:
    """Put a browser out."""
    _door(request).put_out(visit)
    return go(request, "/door", "It is out, and must join again.")


@router.get("/leave")
def leaving(request: Request) -> Response:
    """Asks whether this browser is to be let in no more."""
    return floor_page(request, "leave.html", bare=True, left=False)


@router.post("/leave")
def left(request: Request) -> Response:
    """Put this browser itself out. What waits in it stays there."""
    if request.state.visit.role:
        _door(request).put_out(request.state.visit.id)
        request.state.visit = new_visit()
    answer = floor_page(request, "leave.html", bare=True, left=True)
    answer.headers["Clear-Site-Data"] = '"cache"'
    return answer


def _door(request: Request) -> Door:
    door = request.state.door
    if not isinstance(door, Door):
        raise HTTPException(404)
    return door


def _own(to: str) -> str:
    """A path of this server to go on to; empty where it is none."""
    good = to.startswith("/") and not to.startswith(("//", "/\\", "/join", "/leave"))
    return to if good and to.isprintable() and "\\" not in to else ""


def _clock(at: float) -> str:
    return f"{datetime.fromtimestamp(at, UTC):%H:%M} UTC"
