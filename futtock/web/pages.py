"""Setting a page: templates, the staff of pages, and what is said where something is wrong."""

from __future__ import annotations

import hashlib
import re
from functools import cache
from importlib.resources import files
from typing import Annotated, Any

from fastapi import Depends, Request
from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape
from starlette.responses import HTMLResponse, RedirectResponse, Response

from futtock.errors import FuttockError
from futtock.job.office import staff
from futtock.job.office.files import Made
from futtock.job.office.folder import begun
from futtock.job.office.office import NotYet, Office, Sitting
from futtock.job.office.picture import style_sheet

WAITING = 202
PATIENCE = 60.0


@cache
def environment() -> Environment:
    """The templates; what is set in is escaped, and a name not given is an error."""
    made = Environment(
        loader=PackageLoader("futtock.web", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["version"] = version()
    made.filters["whole"] = whole
    made.globals["parts"] = made.get_template("parts.html").module
    return made


_MARKS = re.compile(r"\d+-[PSC]-[fa]\d+|\d+-\d+(?:-\d+)*[+-]?")


def whole(text: str) -> Markup:
    """Words in which no mark and no offset breaks over a line."""
    return Markup(_MARKS.sub(lambda m: f'<span class="nb">{m[0]}</span>', str(escape(text))))


@cache
def style() -> str:
    """The whole style sheet."""
    own = files("futtock.web") / "static" / "app.css"
    # words under a gauge's peg: pages carry no style of their own, so each place has its class
    pegs = "".join(
        f".staff-gauge .ends .at-{k}{{left:{k}%;transform:translateX(-{k}%)}}\n" for k in range(101)
    )
    return style_sheet() + own.read_text(encoding="utf-8") + pegs


@cache
def version() -> str:
    """A short code of the style and scripts, by which a browser knows new ones."""
    digest = hashlib.sha256(style().encode())
    for name in ("app.js", "space.js", "photo.js"):
        script = files("futtock.web") / "static" / name
        if script.is_file():
            digest.update(script.read_bytes())
    return digest.hexdigest()[:10]


def office_of(request: Request) -> Office:
    """The office of the app that the request came to."""
    office = request.app.state.office
    assert isinstance(office, Office)
    return office


def sitting_of(request: Request) -> Sitting:
    """What is stated now, and how far its job has come."""
    sitting = office_of(request).sitting()
    # what is sent is done once its step is, never lost to a page that says wait
    return sitting.patient(PATIENCE) if request.method == "POST" else sitting


Desk = Annotated[Office, Depends(office_of)]
Sat = Annotated[Sitting, Depends(sitting_of)]


def page(
    request: Request, template: str, here: str, *, status: int = 200, **given: Any
) -> Response:
    """A page: ``here`` is the step of the staff that it belongs to."""
    office = office_of(request)
    frame = {
        "here": here,
        "staff": staff.staff(office),
        "vessel": staff.vessel_name(office),
        "token": request.state.token,
        "path": request.url.path,
        "note": request.query_params.get("said", "")[:300],
    }
    html = environment().get_template(template).render({**frame, **given})
    return HTMLResponse(html, status)


def piece(request: Request, template: str, *, status: int = 200, **given: Any) -> Response:
    """A piece of a page, for an update."""
    html = environment().get_template(template).render({"token": request.state.token, **given})
    return HTMLResponse(html, status)


def is_update(request: Request) -> bool:
    """Whether a script asks for a piece of the page, not for all of it."""
    return request.headers.get("hx-request") == "true"


def go(request: Request, where: str, said: str = "") -> Response:
    """After a change: go to a page of this app, and say there what was done."""
    from urllib.parse import quote

    path, _, mark = where.partition("#")
    if said:
        path += ("&" if "?" in path else "?") + "said=" + quote(said)
    target = path + (f"#{mark}" if mark else "")
    if is_update(request):
        return Response(status_code=204, headers={"HX-Redirect": target})
    return RedirectResponse(target, 303)


def handed(made: Made) -> Response:
    """A file: a PDF is shown, anything else is kept."""
    how = "inline" if made.kind == "application/pdf" else "attachment"
    said = {"Content-Disposition": f'{how}; filename="{made.name}"'}
    return Response(made.content, media_type=made.kind, headers=said)


async def typed_of(request: Request, most: int = 400) -> dict[str, str]:
    """What was typed into a form, each field at most so many letters."""
    form = await request.form(max_files=0, max_fields=600)
    return {k: v[:most] for k, v in form.items() if isinstance(v, str)}


def waiting(request: Request, error: NotYet) -> Response:
    """What is shown while a step is worked out."""
    if is_update(request) and request.headers.get("hx-target") == "waiting":
        return piece(request, "waiting-now.html", wait=staff.wait(error), status=200)
    return page(request, "waiting.html", _step(request), wait=staff.wait(error), status=WAITING)


def refusal(request: Request, error: FuttockError) -> Response:
    """What is shown where a step cannot be done: each finding as a question with its remedy."""
    told = staff.refused(error)
    if is_update(request) and request.headers.get("hx-target") != "waiting":
        return piece(request, "refused-now.html", told=told, status=422)
    there = begun(office_of(request).folder)
    return page(request, "refused.html", _step(request), told=told, there=there, status=422)


def missing(request: Request, words: str, status: int = 404) -> Response:
    """What is shown where there is no such page, or it may not be had."""
    return page(request, "missing.html", _step(request), words=words, status=status)


def _step(request: Request) -> str:
    first = request.url.path.strip("/").partition("/")[0]
    return first or "vessel"
