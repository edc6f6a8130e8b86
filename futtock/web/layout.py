"""The layout: run, stop, accept; one timber by hand; its ten best places; healing."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Form, Path, Query, Request
from starlette.responses import Response

from futtock.job.office.layout import (
    Pose,
    accept,
    best_places,
    discard,
    hand_view,
    keep_off,
    laid_in_middle,
    layout_view,
    lock,
    put_by_hand,
    take_off,
)
from futtock.job.office.stating import LAYOUT, shown, state
from futtock.web.pages import PATIENCE, Desk, Sat, go, is_update, page, piece, typed_of

router = APIRouter()
Mark = Annotated[str, Path(pattern=r"^[\w. -]{1,40}$")]
Number = Annotated[float, Query(ge=-1e6, le=1e6, allow_inf_nan=False)]
FormNumber = Annotated[float, Form(ge=-1e6, le=1e6, allow_inf_nan=False)]


@router.get("/layout")
def layout(request: Request, desk: Desk) -> Response:
    """What is accepted, what is proposed, what runs."""
    running = desk.tasks.running("layout") or desk.tasks.running("heal")
    return page(
        request,
        "layout.html",
        "layout",
        view=None if running else layout_view(desk),
        running=running,
        settings=shown(desk.folder, LAYOUT),
    )


@router.post("/layout/settings")
async def settings(request: Request, desk: Desk) -> Response:
    """State what the next layout goes by, and run it."""
    typed = await typed_of(request)
    wrong = state(desk.folder, LAYOUT, typed)
    if not wrong:
        desk.tasks.begin("layout")
        return go(request, "/layout")
    return page(
        request,
        "layout.html",
        "layout",
        status=422,
        view=layout_view(desk),
        running=None,
        settings=shown(desk.folder, LAYOUT, typed, wrong),
    )


@router.post("/layout/decide")
def decide(
    request: Request, desk: Desk, what: Annotated[Literal["accept", "discard"], Form()]
) -> Response:
    """Accept the proposed layout, or throw it away."""
    return go(request, "/layout", accept(desk) if what == "accept" else discard(desk))


@router.get("/layout/try")
def try_one(request: Request, mark: Annotated[str, Query(pattern=r"^[\w. -]{1,40}$")]) -> Response:
    """The page of the timber that was named."""
    return go(request, f"/layout/timber/{mark.strip()}")


@router.get("/layout/timber/{mark}")
def timber(
    request: Request,
    sitting: Sat,
    mark: Mark,
    slab: Annotated[str, Query(max_length=80)] = "",
    turn: Number | None = None,
    x: Number = 0.0,
    y: Number = 0.0,
    mirrored: bool = False,
) -> Response:
    """A timber on a slab, turned and slid by hand, with the verdict."""
    pose = None
    if slab:
        pose = (
            laid_in_middle(sitting, mark, slab)
            if turn is None
            else Pose(slab, turn, x, y, mirrored)
        )
    view = hand_view(sitting, mark, pose)
    if is_update(request):
        return piece(request, "hand-now.html", view=view)
    return page(request, "hand.html", "layout", view=view)


@router.get("/layout/timber/{mark}/places")
def places(request: Request, sitting: Sat, mark: Mark) -> Response:
    """The ten best places for a timber."""
    rows = best_places(sitting, mark)
    return page(request, "places.html", "layout", mark=mark, places=rows)


@router.post("/layout/timber/{mark}")
def put(
    request: Request,
    sitting: Sat,
    mark: Mark,
    what: Annotated[Literal["put", "lock", "free", "off", "bar", "allow"], Form()],
    slab: Annotated[str, Form(max_length=80)] = "",
    turn: FormNumber = 0.0,
    x: FormNumber = 0.0,
    y: FormNumber = 0.0,
    mirrored: Annotated[bool, Form()] = False,
) -> Response:
    """Put a timber where it was tried, lock it, free it, take it off, or keep it off a slab."""
    sitting.wait("moulds", PATIENCE)
    if what == "put":
        said = put_by_hand(sitting, mark, Pose(slab, turn, x, y, mirrored))
    elif what == "off":
        said = take_off(sitting, mark)
    elif what in ("bar", "allow"):
        said = keep_off(sitting, mark, slab, what == "bar")
    else:
        said = lock(sitting, mark, what == "lock")
    return go(request, f"/layout/timber/{mark}", said)


@router.post("/layout/heal")
async def heal(request: Request, desk: Desk) -> Response:
    """Heal the accepted layout after spoiled timbers and lost slabs."""
    form = await typed_of(request)
    spoiled = form.get("spoiled", "").replace(",", " ").split()
    lost = [n.strip() for n in form.get("lost", "").split(",") if n.strip()]
    desk.tasks.begin("heal", spoiled=spoiled, lost=lost)
    return go(request, "/layout")
