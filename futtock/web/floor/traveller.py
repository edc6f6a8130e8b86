"""The traveller: stages ticked with a touch, checks, notes, spoiling; kept by the journal."""

from __future__ import annotations

from dataclasses import asdict
from datetime import timedelta
from typing import Annotated, Any

from fastapi import APIRouter, File, Form, HTTPException, Path, Query, Request, UploadFile
from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import JSONResponse, Response

from futtock.errors import FuttockError, Misused
from futtock.job.floor import Sent, enter, slab_for, traveller_view
from futtock.job.work_photo import LARGEST, enter_photograph, work_photograph
from futtock.web.floor.setting import floor_page
from futtock.web.pages import Desk, Sat, go

router = APIRouter()
Mark = Annotated[str, Path(pattern=r"^[\w-]{1,20}$")]
Code = Annotated[str, Query(max_length=80)]
_ID = r"^[A-Za-z0-9._:-]{1,80}$"


class Entry(BaseModel):
    """What a page's script sends: one entry with the id that the browser made for it."""

    model_config = ConfigDict(extra="forbid")

    id: str = Field(pattern=_ID)
    mark: str = Field(max_length=40)
    stage: str = Field(max_length=40)
    who: str = Field(min_length=1, max_length=80)
    because: str = Field("", max_length=400)
    text: str = Field("", max_length=2000)
    name: str = Field("", max_length=120)
    found: str = Field("", max_length=40)
    wanted_mm: float | None = Field(None, ge=0, le=1e6, allow_inf_nan=False)
    slab: str = Field("", max_length=80)
    seen: int | None = Field(None, ge=0, le=2**53)
    age_s: float = Field(0, ge=0, le=1e10, allow_inf_nan=False)
    undo: str = Field("", max_length=80)
    sender: str = Field("", max_length=40)

    def sent(self) -> Sent:
        """The entry as the journal's desk takes it."""
        said = self.model_dump(exclude={"age_s"})
        return Sent(**said, age=timedelta(seconds=min(self.age_s, 1e9)))


@router.get("/traveller")
def scanned(request: Request, sitting: Sat, code: Code = "") -> Response:
    """The traveller of what a code says, or was typed."""
    view = traveller_view(sitting, code)
    return floor_page(request, "traveller.html", view=view)


@router.get("/traveller/{mark}")
def traveller(request: Request, sitting: Sat, mark: Mark, r: Code = "") -> Response:
    """The traveller of a frame or a timber; ``r`` is the revision on the print."""
    return floor_page(request, "traveller.html", view=traveller_view(sitting, mark, r))


@router.get("/traveller/{mark}/now")
def now(sitting: Sat, mark: Mark) -> Response:
    """What the journal has of it now, for a page that is open."""
    view = traveller_view(sitting, mark)
    done = {s.word: s.by for s in view.stages if s.done}
    timbers = {t.mark: {s.word: s.by for s in t.stages if s.done} for t in view.timbers}
    checks = {c.name: c.found for c in view.checks if c.found}
    said: dict[str, Any] = {
        "last": view.last,
        "says": view.says,
        "lead": view.lead,
        "marks": {view.mark: done, **timbers},
        "spoiled": [t.mark for t in view.timbers if t.spoiled] + [view.mark] * view.spoiled,
        "checks": checks,
        "contested": list(view.contested),
        "photographs": [[p.name, p.says] for p in view.photographs],
    }
    return JSONResponse(said)


@router.post("/floor/entries")
def entries(sitting: Sat, entry: Entry) -> Response:
    """Keep one entry. 422: it cannot be meant. 503: send it again later."""
    try:
        kept = enter(sitting, entry.sent())
    except Misused as error:
        return JSONResponse({"refused": str(error)}, 422)
    except FuttockError as error:
        return JSONResponse({"later": str(error)}, 503)
    return JSONResponse(asdict(kept))


@router.post("/floor/photographs")
def photographed(
    sitting: Sat,
    id: Annotated[str, Form(pattern=_ID)],
    mark: Annotated[str, Form(max_length=40)],
    who: Annotated[str, Form(min_length=1, max_length=80)],
    picture: Annotated[UploadFile, File()],
    text: Annotated[str, Form(max_length=400)] = "",
    seen: Annotated[int | None, Form(ge=0, le=2**53)] = None,
    age_s: Annotated[float, Form(ge=0, le=1e10, allow_inf_nan=False)] = 0,
    sender: Annotated[str, Form(max_length=40)] = "",
) -> Response:
    """Keep a photograph. 422: it cannot be kept. 503: send it again later."""
    age = timedelta(seconds=min(age_s, 1e9))
    sent = Sent(id, mark, "photograph", who, text=text, seen=seen, age=age, sender=sender)
    try:
        kept = enter_photograph(sitting, sent, picture.file.read(LARGEST + 1))
    except Misused as error:
        return JSONResponse({"refused": str(error)}, 422)
    except FuttockError as error:
        return JSONResponse({"later": str(error)}, 503)
    return JSONResponse(asdict(kept))


@router.get("/floor/photographs/{name}")
def photograph(desk: Desk, name: Annotated[str, Path(pattern=r"^[0-9a-f]{24}\.jpg$")]) -> Response:
    """A photograph of the work."""
    found = work_photograph(desk.folder, name)
    if found is None:
        raise HTTPException(404)
    return Response(
        found, media_type="image/jpeg", headers={"Cache-Control": "private, max-age=86400"}
    )


@router.post("/traveller/{mark}/photograph")
def photograph_form(
    request: Request,
    sitting: Sat,
    mark: Mark,
    fresh: Annotated[str, Form(pattern=_ID)],
    who: Annotated[str, Form(min_length=1, max_length=80)],
    picture: Annotated[UploadFile, File()],
    text: Annotated[str, Form(max_length=400)] = "",
) -> Response:
    """Keep a photograph that the page's form sends without a script."""
    sent = Sent(f"{fresh}-photo"[:80], mark, "photograph", who, text=text, sender="floor page")
    kept = enter_photograph(sitting, sent, picture.file.read(LARGEST + 1))
    return go(request, f"/traveller/{mark}", " ".join(("Kept: the photograph.", *kept.told)))


@router.post("/traveller/{mark}")
def entered(
    request: Request,
    sitting: Sat,
    mark: Mark,
    fresh: Annotated[str, Form(pattern=_ID)],
    who: Annotated[str, Form(min_length=1, max_length=80)],
    do: Annotated[str, Form(max_length=80)],
    because: Annotated[str, Form(max_length=400)] = "",
    text: Annotated[str, Form(max_length=2000)] = "",
    name: Annotated[str, Form(max_length=120)] = "",
    found: Annotated[str, Form(max_length=40)] = "",
    wanted_mm: Annotated[float | None, Form(ge=0, le=1e6, allow_inf_nan=False)] = None,
    slab: Annotated[str, Form(max_length=80)] = "",
    seen: Annotated[int | None, Form(ge=0, le=2**53)] = None,
) -> Response:
    """Keep what a form of the page sends; ``do`` is mark and stage, as ``12-P-f2 roughed``."""
    of, _, stage = do.rpartition(" ")
    slab = slab or slab_for(sitting, of, stage)
    tag = f"{fresh}-{of}-{stage}" if stage != "checked" else f"{fresh}-{_digest(name)}"
    sent = Sent(
        tag[:80],
        of,
        stage,
        who,
        because=because,
        text=text,
        name=name,
        found=found,
        wanted_mm=wanted_mm,
        slab=slab,
        seen=seen,
        sender="floor page",
    )
    kept = enter(sitting, sent)
    said = f"Kept: {kept.says}. " + " ".join(kept.told)
    return go(request, f"/traveller/{mark}", said.strip())


def _digest(text: str) -> str:
    import hashlib

    return hashlib.sha256(text.encode()).hexdigest()[:12]
