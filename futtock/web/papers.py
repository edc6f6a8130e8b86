"""Her papers: begun, read, written."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Literal

from fastapi import APIRouter, File, Form, Query, Request, UploadFile
from starlette.responses import Response

from futtock.job.office import folder
from futtock.web.pages import Desk, Sat, go, page

router = APIRouter()
Paper = Literal[
    "vessel.toml", "offsets.csv", "ends.csv", "mends.csv", "futtocks.csv", "as_built.csv"
]


@router.post("/begin")
def begin(
    request: Request,
    desk: Desk,
    what: Annotated[Literal["new", "blank", "demo"], Form()],
    name: Annotated[str, Form(max_length=80)] = "",
    lines: Annotated[UploadFile | str, File()] = "",
    ends: Annotated[UploadFile | str, File()] = "",
    kind: Annotated[Literal["offsets", "survey"], Form()] = "offsets",
) -> Response:
    """Make the papers of a folder that has none."""
    if what != "new":
        said = folder.begin(desk.folder, what == "demo")
        return go(request, "/" if what == "demo" else "/papers", said)
    sent = [*_sent(kind, lines), *_sent("ends", ends)]
    said = folder.begin_named(desk.folder, name, sent)
    return go(request, "/lines" if sent else "/papers", said)


@router.post("/papers")
def sent(
    request: Request,
    desk: Desk,
    kind: Annotated[str, Form(max_length=20)],
    file: Annotated[UploadFile | str, File()] = "",
) -> Response:
    """Take in a paper as a file."""
    said = [folder.take(desk.folder, one) for one in _sent(kind, file)]
    return go(request, "/papers", " ".join(said) or "No file was sent.")


def _sent(kind: str, file: UploadFile | str) -> list[folder.Sent]:
    if isinstance(file, str) or not file.filename:
        return []
    return [folder.Sent(kind, file.filename, file.file.read(folder.LARGEST_SENT + 1))]


@router.get("/papers")
def papers(
    request: Request, sitting: Sat, kind: Annotated[str, Query(max_length=20)] = ""
) -> Response:
    """Every paper that may be written here, and the form to send one of that kind as a file."""
    rows = folder.papers_list(sitting)
    return page(request, "papers.html", "vessel", papers=rows, kind=kind)


@router.get("/papers/{name}")
def paper(request: Request, sitting: Sat, name: Paper) -> Response:
    """One paper with what is found in it."""
    return page(request, "paper.html", "vessel", view=folder.paper_view(sitting, name))


@router.post("/papers/{name}")
def written(
    request: Request,
    sitting: Sat,
    name: Paper,
    do: Annotated[Literal["write", "try", "back"], Form()],
    text: Annotated[str, Form(max_length=1_000_000)] = "",
    seen: Annotated[str, Form(max_length=16)] = "",
) -> Response:
    """Write a paper, try what is typed, or put the earlier one back."""
    if do == "try":
        view = replace(folder.paper_view(sitting, name, text), seen=seen)
        return page(request, "paper.html", "vessel", view=view)
    if do == "back":
        return go(request, f"/papers/{name}", folder.put_back(sitting, name))
    try:
        return go(request, f"/papers/{name}", folder.write(sitting, name, text, seen))
    except folder.Crossed as crossed:
        view = folder.paper_view(sitting, name, text)
        return page(request, "paper.html", "vessel", view=view, crossed=str(crossed), status=409)
